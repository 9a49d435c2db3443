//! Clipped stage light from mosaic to picture: every LED and two whites on a ramp through the sensor's full level.
//!
//! Lights are those of a measured sensor (Darrodi and others 2015, JOSA A 32:381) under LEDs by Ohno's formula (2005,
//! Optical Engineering 44:111302), from `led_through_sensor.json`; the two whites are neutrals of the same body. Hue is that
//! of ICtCp (ITU-R BT.2100), because Oklab's turns blue to azure.

#![allow(
    clippy::expect_used,
    clippy::print_stderr,
    reason = "a test that meets the unexpected should stop there, and says what it found"
)]

mod render_support;

use houselights::base::matrix::Matrix3;
use houselights::base::units::{Chromaticity, Kelvin};
use houselights::colour::camera::{Calibration, CameraColour};
use houselights::colour::ictcp::{hue, ictcp_of_bt2020};
use houselights::colour::spaces::{BT2020, SRGB, conversion};
use houselights::colour::transfer::srgb_decode;
use houselights::raw::frame::{Frame, Layout};
use houselights::render::Rendered;
use render_support::{BLACK, PHASES, SIX_BY_SIX, WHITE, counts_of, faithful, frame, full, stage};
use serde_json::Value;

const PATTERN: [[u8; 2]; 2] = [[0, 1], [1, 2]];
/// Stops that the ramp covers, the middle one filling the light's brightest channel, and columns a stop.
const STOPS: usize = 8;
const COLUMNS: usize = 64;
const ROWS: usize = 48;

fn table(name: &str) -> Value {
    let path = format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"));
    serde_json::from_str(&std::fs::read_to_string(path).expect("a table")).expect("JSON")
}

fn triple(value: &Value) -> [f64; 3] {
    [0, 1, 2].map(|at| value[at].as_f64().expect("a number"))
}

/// The measured body with its two matrices.
fn body() -> CameraColour {
    let table = table("dng_dual_illuminant.json");
    let calibration = |kelvin, name: &str| {
        let rows = &table[name];
        let matrix = Matrix3([0, 1, 2].map(|row| triple(&rows[row])));
        Calibration::of_matrix(Some(Kelvin(kelvin)), matrix)
    };
    CameraColour {
        calibrations: vec![
            calibration(2850.0, "ColorMatrix1_A"),
            calibration(6500.0, "ColorMatrix2_D65"),
        ],
        analog_balance: [1.0; 3],
        as_shot_neutral: None,
    }
}

/// Every light as the body counts it under no balance, the brightest channel 1.
fn lights() -> Vec<(String, [f64; 3])> {
    let neutral = body()
        .neutral_of_white(Chromaticity::D65)
        .expect("daylight");
    let rows = table("led_through_sensor.json");
    let mut lights: Vec<_> = rows["rows"]
        .as_array()
        .expect("rows")
        .iter()
        .map(|row| {
            let balanced = triple(&row["camera_RGB_D65_balanced_max1"]);
            let counts = [0, 1, 2].map(|k| balanced[k] * neutral[k]);
            (row["light"].as_str().expect("a name").to_owned(), counts)
        })
        .collect();
    for (name, x, y) in [
        ("warm white", 0.4369, 0.4041),
        ("cool white", 0.3324, 0.3474),
    ] {
        let white = body().neutral_of_white(Chromaticity { x, y });
        lights.push((name.to_owned(), white.expect("a light")));
    }
    for (_, counts) in &mut lights {
        let brightest = counts[0].max(counts[1]).max(counts[2]);
        *counts = counts.map(|value| value / brightest);
    }
    lights
}

/// A frame of one light that doubles every `COLUMNS` columns.
fn ramp(counts: [f64; 3]) -> Frame {
    let range = f64::from(WHITE - BLACK);
    let mut made = frame(STOPS * COLUMNS, ROWS, Layout::Bayer(PATTERN), |x, y| {
        let level = 2_f64.powf(x as f64 / COLUMNS as f64 - STOPS as f64 / 2.0);
        let channel = usize::from(PATTERN[y % 2][x % 2]);
        (f64::from(BLACK) + (level * counts[channel]).min(1.0) * range).round() as u16
    });
    made.colour = body();
    made
}

/// Linear sRGB of the middle row.
fn middle_row(picture: &Rendered) -> Vec<[f64; 3]> {
    let row = picture.height / 2 * picture.width;
    (row..row + picture.width)
        .map(|at| [0, 1, 2].map(|k| srgb_decode(f64::from(picture.rgb[3 * at + k]) / 255.0)))
        .collect()
}

#[test]
fn every_light_rises_and_keeps_its_hue_over_four_clipped_stops() {
    let to_bt2020 = conversion(&SRGB, &BT2020);
    let luminances = SRGB.to_xyz();
    let mut greatest = [0.0_f64; 2];
    for (name, counts) in lights() {
        let row = middle_row(&full(&ramp(counts), &stage()));
        let luminance = |rgb: [f64; 3]| luminances.apply(rgb)[1];
        let ictcp = |rgb: [f64; 3]| ictcp_of_bt2020(to_bt2020.apply(rgb), 100.0);
        let start = STOPS / 2 * COLUMNS;
        // The hue where nothing is clipped yet, half a stop below.
        let first = hue(ictcp(row[start - COLUMNS / 2]));
        let (mut worst, mut fall, mut highest) = (0.0_f64, 0.0_f64, 0.0_f64);
        for (x, rgb) in row.iter().enumerate().skip(8) {
            highest = highest.max(luminance(*rgb));
            fall = fall.max(highest - luminance(*rgb));
            let here = ictcp(*rgb);
            // Next to white a hue means nothing: 0.02 is about two just noticeable differences.
            if x >= start && here[1].hypot(here[2]) > 0.02 {
                let drift = (hue(here) - first + 540.0).rem_euclid(360.0) - 180.0;
                worst = worst.max(drift.abs());
            }
        }
        eprintln!("{name}: hue drift {worst:.1} degrees, luminance falls {fall:.4}");
        greatest = [greatest[0].max(worst), greatest[1].max(fall)];
    }
    assert!(greatest[0] <= 15.0, "{:.1} degrees", greatest[0]);
    // One code near white is 0.009 of linear light. The rest is one column where the demosaic meets the kink at which the
    // brightest channel stops rising; measured.
    assert!(greatest[1] <= 0.03, "luminance falls by {:.4}", greatest[1]);
}

/// A lamp with a hard rim in a blue wash: where every photosite around is full, all is white, up to the rim.
#[test]
fn a_lamp_is_white_up_to_its_rim() {
    const SIDE: usize = 48;
    let bayer = PHASES.map(|pattern| (Layout::Bayer(pattern), 1));
    for (layout, reach) in bayer.into_iter().chain([(Layout::XTrans(SIX_BY_SIX), 2)]) {
        // Radii that meet the rows and columns of the pattern in different ways.
        for radius in [6.3, 9.8, 13.1] {
            let is_lamp = |x: usize, y: usize| (x as f64 - 22.6).hypot(y as f64 - 23.2) < radius;
            let channels = frame(1, 1, layout, |_, _| 0).mosaic;
            let lamp = frame(SIDE, SIDE, layout, |x, y| {
                if is_lamp(x, y) {
                    WHITE
                } else {
                    counts_of([0.01, 0.04, 0.2][channels.channel_at(x, y)])
                }
            });
            let picture = full(&lamp, &faithful());
            for (y, row) in picture.rgb.chunks_exact(3 * SIDE).enumerate() {
                for (x, pixel) in row.as_chunks::<3>().0.iter().enumerate() {
                    let is_inside = is_lamp(x.saturating_sub(reach), y.saturating_sub(reach))
                        && is_lamp(x + reach, y.saturating_sub(reach))
                        && is_lamp(x.saturating_sub(reach), y + reach)
                        && is_lamp(x + reach, y + reach);
                    assert!(
                        !is_inside || *pixel == [255; 3],
                        "{layout:?}, radius {radius}: {pixel:?} at {x}, {y}"
                    );
                }
            }
        }
    }
}
