//! Lights and a body that tests share.

use crate::tables::{matrix, rows, table, triple};
use houselights::base::matrix::Matrix3;
use houselights::base::units::{Chromaticity, Kelvin};
use houselights::colour::camera::{Calibration, CameraColour};
use houselights::colour::gamut::{Compression, Destination};
use houselights::colour::spaces::{AP1, BT2020, SRGB, conversion};

/// The body of `dng_dual_illuminant.json`: measured sensitivities (Darrodi and others 2015, JOSA A 32:381), fitted
/// matrices.
pub(crate) fn body(forward: bool) -> CameraColour {
    let table = table("dng_dual_illuminant.json");
    let calibration = |kelvin, colour: &str, forward_name: &str| Calibration {
        forward_matrix: forward.then(|| matrix(&table[forward_name])),
        ..Calibration::of_matrix(Some(Kelvin(kelvin)), matrix(&table[colour]))
    };
    CameraColour {
        calibrations: vec![
            calibration(2850.0, "ColorMatrix1_A", "ForwardMatrix1_A"),
            calibration(6500.0, "ColorMatrix2_D65", "ForwardMatrix2_D65"),
        ],
        analog_balance: [1.0; 3],
        as_shot_neutral: None,
    }
}

/// That body's matrix for daylight.
pub(crate) fn daylight_matrix() -> Matrix3 {
    body(false).to_working(Chromaticity::D65).unwrap()
}

/// Ten stage lights as that body sees them, white-balanced for D65, the largest channel 1.
pub(crate) fn lights() -> Vec<(String, [f64; 3])> {
    rows(&table("led_through_sensor.json"), "rows")
        .iter()
        .map(|row| {
            (
                row["light"].as_str().unwrap().to_string(),
                triple(&row["camera_RGB_D65_balanced_max1"]),
            )
        })
        .collect()
}

/// The guard and the map in a row, as rendering has them: linear BT.2020 to linear sRGB.
pub(crate) struct Gamut {
    pub(crate) compression: Compression,
    to_ap1: Matrix3,
    to_srgb: Matrix3,
}

impl Gamut {
    /// For the body of the tables under daylight.
    pub(crate) fn new() -> Self {
        Self {
            compression: Compression::for_camera(|camera| {
                (conversion(&BT2020, &AP1) * daylight_matrix()).apply(camera)
            }),
            to_ap1: conversion(&BT2020, &AP1),
            to_srgb: conversion(&AP1, &SRGB),
        }
    }

    /// Linear AP1 after the guard.
    pub(crate) fn guarded(&self, working: [f64; 3]) -> [f32; 3] {
        self.compression
            .compress(single(self.to_ap1.apply(working)))
    }

    /// Linear sRGB after guard and map.
    pub(crate) fn srgb(&self, working: [f64; 3]) -> [f32; 3] {
        Destination::of(&SRGB).map(single(self.to_srgb.apply(double(self.guarded(working)))))
    }
}

pub(crate) fn single(v: [f64; 3]) -> [f32; 3] {
    v.map(|value| value as f32)
}

pub(crate) fn double(v: [f32; 3]) -> [f64; 3] {
    v.map(f64::from)
}
