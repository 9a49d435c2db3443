//! A frame to measure on: an invented stage of 24 megapixels.
#![allow(dead_code, reason = "each bench takes what it needs")]

use houselights::base::geometry::Rect;
use houselights::base::matrix::Matrix3;
use houselights::base::plane::Plane;
use houselights::base::units::{Chromaticity, Kelvin};
use houselights::colour::camera::{Calibration, CameraColour};
use houselights::look::correction::{Correction, Curve, Levels, RollOff};
use houselights::raw::facts::Facts;
use houselights::raw::frame::{BlackLevels, Frame, Layout, Mosaic};

/// Columns and rows: the 24 megapixels of the most common bodies.
pub(crate) const SIZE: (usize, usize) = (6000, 4000);

/// 14-bit counts.
const BLACK: f64 = 512.0;
const WHITE: f64 = 16_383.0;

/// A body with a matrix of the usual magnitude (invented): saturated blue comes out with negative luminance.
fn body() -> CameraColour {
    let matrix = Matrix3([
        [0.82, -0.22, -0.07],
        [-0.49, 1.24, 0.28],
        [-0.10, 0.21, 0.72],
    ]);
    CameraColour {
        calibrations: vec![Calibration::of_matrix(Some(Kelvin(6504.0)), matrix)],
        analog_balance: [1.0; 3],
        as_shot_neutral: None,
    }
}

/// Camera light (red, green, blue before white balance, 1 is a full photosite) at a place of the stage.
fn light(x: f64, y: f64) -> [f64; 3] {
    let blob = |cx: f64, cy: f64, radius: f64| {
        let d2 = ((x - cx).powi(2) + (y - cy).powi(2)) / (radius * radius);
        (-d2).exp()
    };
    // Two performers under a key, a blue wash over the back, a magenta one at the side, lamps, haze, dark.
    let key = 0.35 * (blob(0.35, 0.6, 0.10) + blob(0.62, 0.55, 0.08));
    let weave = 1.0 + 0.25 * (x * 900.0).sin() * (y * 600.0).sin();
    let blue = 0.25 * blob(0.5, 0.2, 0.35);
    let magenta = 0.2 * blob(0.95, 0.7, 0.2);
    let lamps: f64 = (0..6)
        .map(|i| 4.0 * blob(0.1 + 0.16 * f64::from(i), 0.08, 0.012))
        .sum();
    let haze = 0.004;
    [
        (0.50 * key + 0.8 * magenta + 0.03 * blue) * weave + 0.5 * lamps + haze,
        (key + 0.06 * magenta + 0.15 * blue) * weave + lamps + haze,
        (0.65 * key + 0.6 * magenta + blue) * weave + 0.65 * lamps + haze,
    ]
}

/// The frame, with the noise of a high ISO (variance 0.001 x + 1e-6 in shares of the range).
pub(crate) fn stage_frame(width: usize, height: usize) -> Frame {
    let mut state = 1u64;
    // Irwin-Hall sum of four uniforms: near enough to a normal deviate for noise to look and cost like noise.
    let mut normal = move || {
        let mut sum = -2.0;
        for _ in 0..4 {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            sum += (state >> 40) as f64 / (1u64 << 24) as f64;
        }
        sum * 3f64.sqrt()
    };
    let pattern = [[0u8, 1], [1, 2]];
    let mut counts = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            let fraction = |at: usize, of: usize| at as f64 / of as f64;
            let level =
                light(fraction(x, width), fraction(y, height))[usize::from(pattern[y % 2][x % 2])];
            let noisy = level + (0.001 * level + 1e-6).sqrt() * normal();
            counts.push((BLACK + noisy * (WHITE - BLACK)).round().clamp(0.0, WHITE) as u16);
        }
    }
    Frame {
        facts: Facts::default(),
        mosaic: Mosaic {
            counts: Plane::from_values(width, height, counts)
                .unwrap_or_else(|| Plane::filled(width, height, 0)),
            layout: Layout::Bayer(pattern),
            black: BlackLevels::flat(BLACK as f32, 1),
            white: [WHITE as f32; 3],
            crop: Rect {
                left: 0,
                top: 0,
                width,
                height,
            },
        },
        colour: body(),
        notes: Vec::new(),
    }
}

/// A modest curve, roll-off, everything but noise reduction and sharpening.
pub(crate) fn stage_look() -> Correction {
    Correction {
        gain: 1.6,
        levels: Levels {
            black: 0.002,
            middle: 1.0,
            white: 1.0,
        },
        curve: Curve::Shoulder {
            contrast: 1.3,
            ceiling: 8.0,
        },
        roll_off: RollOff {
            amount: 1.0,
            start: 1.0,
            end: 16.0,
        },
        ..Correction::neutral(Chromaticity::D65)
    }
}
