//! The small picture that a body puts before its mosaic.

use crate::body::Body;
use crate::colorimetry::{D50_XY, D65_XY, Matrix, apply, bradford, product};
use crate::optics::Light;

/// Linear sRGB of XYZ D65 (IEC 61966-2-1).
const XYZ_TO_SRGB: Matrix = [
    [3.2406, -1.5372, -0.4986],
    [-0.9689, 1.8758, 0.0415],
    [0.0557, -0.2040, 1.0570],
];
/// A preview is this many times smaller than the sensor.
const PREVIEW_STEP: usize = 8;

/// A small picture as the body itself would show it: as-shot neutral, the daylight matrix, sRGB.
pub(crate) fn preview(light: &Light, neutral: [f64; 3], body: &Body) -> (usize, usize, Vec<u8>) {
    let to_d65 = bradford(D50_XY, D65_XY);
    let matrix = product(
        &XYZ_TO_SRGB,
        &product(&to_d65, &body.colour.under_d65.forward_matrix),
    );
    let (width, height) = (light.width / PREVIEW_STEP, light.height / PREVIEW_STEP);
    let mut samples = Vec::with_capacity(width * height * 3);
    for y in 0..height {
        for x in 0..width {
            let mut sum = [0.0; 3];
            for row in 0..PREVIEW_STEP {
                let start = (y * PREVIEW_STEP + row) * light.width + x * PREVIEW_STEP;
                for pixel in &light.pixels[start..start + PREVIEW_STEP] {
                    for k in 0..3 {
                        sum[k] += pixel[k].min(1.0) / neutral[k];
                    }
                }
            }
            let mean = sum.map(|value| (value / (PREVIEW_STEP * PREVIEW_STEP) as f64).min(1.0));
            samples.extend(apply(&matrix, mean).map(srgb_code));
        }
    }
    (width, height, samples)
}

/// 8-bit code of linear light (IEC 61966-2-1).
fn srgb_code(linear: f64) -> u8 {
    let linear = linear.clamp(0.0, 1.0);
    let encoded = if linear <= 0.003_130_8 {
        12.92 * linear
    } else {
        1.055 * libm::pow(linear, 1.0 / 2.4) - 0.055
    };
    (encoded * 255.0).round() as u8
}
