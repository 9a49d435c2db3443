//! How a body sees colour: the matrices of the Digital Negative specification (1.7.1, chapter 6, "Mapping Camera Color
//! Space to CIE XYZ Space").
//!
//! A body has been calibrated under one, two or three lights. Under a light of another temperature its matrices are
//! blended, linearly in reciprocal temperature (mired) between the two nearest calibrations; beyond the coolest and the
//! warmest the end's own matrices hold. The blend looks at temperatures, not at the order in which a file lists its
//! calibrations. For three calibrations the specification (from 1.6) weighs by distance of chromaticity; a file's third
//! light is here placed by its temperature as well, which is the same at each calibration and on a line between two.
//!
//! Here the light is always a chromaticity: it goes from one body to another through each one's own matrices, never as
//! channel multipliers.

mod hue_map;
mod light_source;
mod neutral;
mod sanity;
mod working;

pub use hue_map::HueMap;
pub use light_source::light_source_temperature;

use crate::base::matrix::Matrix3;
use crate::base::units::{Chromaticity, Kelvin};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// A body's camera colour: up to three calibrations under known lights.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CameraColour {
    /// At least one; sorted by temperature, coolest number first.
    pub calibrations: Vec<Calibration>,
    /// Gain per channel that the body applied before the counts (DNG AnalogBalance); all 1 by default.
    pub analog_balance: [f64; 3],
    /// What the body's automatic took for neutral: camera RGB of grey, green scaled to 1. `None` when unknown.
    pub as_shot_neutral: Option<[f64; 3]>,
}

/// Matrices measured under one light.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    /// Temperature of the calibration light; `None` when the source does not say (then it serves for every light).
    pub temperature: Option<Kelvin>,
    /// CIE XYZ to reference camera RGB (DNG ColorMatrix).
    pub colour_matrix: Matrix3,
    /// Reference camera to this very body (DNG CameraCalibration); identity by default.
    pub camera_calibration: Matrix3,
    /// White-balanced camera RGB to XYZ under D50 (DNG ForwardMatrix), where the file has one.
    pub forward_matrix: Option<Matrix3>,
    /// Corrections by hue and saturation after the matrix (DNG ProfileHueSatMap), where the file has them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hue_map: Option<HueMap>,
}

/// Why a body's matrices give no answer.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum CameraColourError {
    /// The neutral is not three positive numbers.
    #[error(
        "camera RGB {neutral:?} is no neutral: it needs three positive numbers; choose another patch"
    )]
    NotANeutral {
        /// What was given.
        neutral: [f64; 3],
    },
    /// The matrices turn the neutral into a colour that no light has.
    #[error(
        "camera RGB {neutral:?} is no light's colour by this body's matrices (a saturated wash, not a neutral?); choose another patch"
    )]
    NoLight {
        /// What was given.
        neutral: [f64; 3],
    },
    /// The white is no light's chromaticity, or this body sees a channel of it dark.
    #[error(
        "white x {:.4}, y {:.4} is no light that this body's matrices can balance; choose another white",
        white.x,
        white.y
    )]
    NotAWhite {
        /// What was given.
        white: Chromaticity,
    },
    /// A matrix of the file cannot be inverted.
    #[error("a colour matrix of this body is singular: the file's colour data is damaged")]
    Singular,
}

impl Calibration {
    /// A calibration with nothing but its colour matrix.
    #[must_use]
    pub fn of_matrix(temperature: Option<Kelvin>, xyz_to_camera: Matrix3) -> Self {
        Self {
            temperature,
            colour_matrix: xyz_to_camera,
            camera_calibration: Matrix3::IDENTITY,
            forward_matrix: None,
            hue_map: None,
        }
    }
}

/// Two calibrations and the share of the second.
struct Blend<'a> {
    first: &'a Calibration,
    second: &'a Calibration,
    share: f64,
}

impl Blend<'_> {
    /// A matrix of both, blended; at the ends the end's own, bit for bit.
    fn of(&self, matrix: impl Fn(&Calibration) -> Matrix3) -> Matrix3 {
        if self.share <= 0.0 {
            matrix(self.first)
        } else if self.share >= 1.0 {
            matrix(self.second)
        } else {
            matrix(self.first).blend(&matrix(self.second), self.share)
        }
    }
}

impl Default for CameraColour {
    /// A body of which nothing is known: no calibration, no gain.
    fn default() -> Self {
        Self {
            calibrations: Vec::new(),
            analog_balance: [1.0; 3],
            as_shot_neutral: None,
        }
    }
}

impl CameraColour {
    /// The same body without its corrections by hue and saturation: all that whites and neutrals need, in a few hundred
    /// bytes.
    #[must_use]
    pub fn without_hue_maps(&self) -> Self {
        let mut colour = self.clone();
        for calibration in &mut colour.calibrations {
            calibration.hue_map = None;
        }
        colour
    }

    /// XYZ to this body's camera RGB under a light of this temperature: AnalogBalance × CameraCalibration ×
    /// ColorMatrix. Identity when the body has no calibration at all.
    #[must_use]
    pub fn xyz_to_camera(&self, temperature: Kelvin) -> Matrix3 {
        self.blend(temperature, |_| true)
            .map_or(Matrix3::IDENTITY, |blend| {
                self.body_of(&blend) * blend.of(|calibration| calibration.colour_matrix)
            })
    }

    /// AnalogBalance × CameraCalibration: the reference camera's RGB to this body's.
    fn body_of(&self, blend: &Blend) -> Matrix3 {
        Matrix3::diagonal(self.analog_balance)
            * blend.of(|calibration| calibration.camera_calibration)
    }

    /// The two calibrations around a temperature, of those that `serve`.
    fn blend(
        &self,
        temperature: Kelvin,
        serve: impl Fn(&Calibration) -> bool,
    ) -> Option<Blend<'_>> {
        let mired = 1.0 / temperature.0;
        // The nearest on either side; a calibration without a temperature serves only when none has one.
        let mut warmer: Option<(f64, &Calibration)> = None;
        let mut cooler: Option<(f64, &Calibration)> = None;
        let mut timeless = None;
        for calibration in self.calibrations.iter().filter(|entry| serve(entry)) {
            let Some(own) = calibration.temperature.filter(|own| own.0 > 0.0) else {
                timeless = timeless.or(Some(calibration));
                continue;
            };
            let own = 1.0 / own.0;
            if own >= mired && warmer.is_none_or(|(best, _)| own < best) {
                warmer = Some((own, calibration));
            }
            if own <= mired && cooler.is_none_or(|(best, _)| own > best) {
                cooler = Some((own, calibration));
            }
        }
        let alone = |only| Blend {
            first: only,
            second: only,
            share: 0.0,
        };
        match (warmer, cooler) {
            (Some((warm_mired, first)), Some((cool_mired, second))) => Some(Blend {
                first,
                second,
                share: if warm_mired > cool_mired {
                    (warm_mired - mired) / (warm_mired - cool_mired)
                } else {
                    0.0
                },
            }),
            (Some((_, only)), None) | (None, Some((_, only))) => Some(alone(only)),
            (None, None) => timeless.map(alone),
        }
    }
}
