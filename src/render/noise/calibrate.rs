//! How much noise each level holds after a demosaic, measured by sending pure noise through it.

use super::bank::Threshold;
use super::haar::BANDS;
use super::{COARSE_STEPS, FINE_STEPS, LEVELS, NoiseStep, Stabiliser};
use crate::base::bands::Threads;
use crate::base::chance::Normal;
use crate::base::geometry::Rect;
use crate::base::plane::Plane;
use crate::look::correction::NoiseReduction;
use crate::raw::frame::{BlackLevels, Layout, Mosaic};
use crate::raw::noise::SensorNoise;
use crate::render::demosaic::Method;
use crate::render::develop::Strip;
use crate::render::row::RgbRow;
use crate::render::sensor::{Sensor, SensorStep};

/// Noise variances that count as noise at the full amount: luminance, and colour, where the eye misses detail less.
/// Measured on test pictures through a simulated mosaic: more gains nothing in the mean square and costs texture.
const LUMINANCE_STRENGTH: f64 = 2.0;
const COLOUR_STRENGTH: f64 = 3.0;

/// Levels that grain is kept in: it is fine, and blotches are none.
const GRAIN_LEVELS: usize = 2;

/// Grey, as a share of the range of white-balanced light, at which the channels' noise is compared.
const GREY: f64 = 0.05;

/// Side of the picture of noise, in pixels: the coarsest differences span 32, so that a hundred of them fit.
const SIDE: usize = 320;

/// Counts of the synthetic sensor: no light, far enough above 0 for noise below it, and the range.
const BLACK: f64 = 16_384.0;
const RANGE: f64 = 49_151.0;
/// Least standard deviation in counts, so that rounding is no part of the noise; quieter frames are measured louder.
const LEAST_DEVIATION: f64 = 16.0;

/// Compiles the step.
pub(crate) fn reduction(
    noise: &SensorNoise,
    sensor: &SensorStep,
    layout: &Layout,
    method: Method,
    amounts: NoiseReduction,
) -> NoiseStep {
    let neutral = sensor.neutral;
    let kept = |amount: f64, strength: f64| (1.0 - (amount * strength).min(1.0)).powi(2);
    let removed = 1.0
        - kept(amounts.luminance, LUMINANCE_STRENGTH) / 3.0
        - kept(amounts.colour, COLOUR_STRENGTH) * 2.0 / 3.0;
    let light: [(f64, f64); 3] = std::array::from_fn(|channel| {
        let (model, share) = (noise.channels[channel], neutral[channel]);
        (model.slope / share, model.floor / (share * share))
    });
    let deviation: [f64; 3] = std::array::from_fn(|channel| neutral[channel].sqrt().recip());
    let channels = std::array::from_fn(|channel| {
        let (slope, floor) = light[channel];
        Stabiliser::new(slope, floor, deviation[channel], removed)
    });
    let in_grey = light.map(|(slope, floor)| (slope * GREY + floor).sqrt());
    let variances = variances(&in_grey, &deviation, layout, method);
    let thresholds = std::array::from_fn(|axis| {
        let (amount, strength) = if axis == 0 {
            (amounts.luminance, LUMINANCE_STRENGTH)
        } else {
            (amounts.colour, COLOUR_STRENGTH)
        };
        std::array::from_fn(|level| Threshold {
            variance: variances[axis][level].map(|variance| (variance * amount * strength) as f32),
            most: if axis == 0 && level < GRAIN_LEVELS {
                (1.0 - amounts.grain) as f32
            } else {
                1.0
            },
        })
    });
    NoiseStep {
        channels,
        thresholds,
        amounts,
        found: noise.green(),
        full: sensor.full(),
    }
}

/// Variances of the opponent axes' differences, level by level, for noise of these standard deviations in white-balanced
/// light, where one photosite's is to become `deviation`.
fn variances(
    in_light: &[f64; 3],
    deviation: &[f64; 3],
    layout: &Layout,
    method: Method,
) -> [[[f64; BANDS]; LEVELS]; 3] {
    let planes = demosaiced_noise(in_light, layout, method);
    // Around grey the transform is a straight line: a photosite's noise becomes `deviation`.
    let scale: [f64; 3] = std::array::from_fn(|channel| deviation[channel] / in_light[channel]);
    let axes = opponents(&planes, &scale);
    axes.map(level_variances)
}

/// Red, green and blue of a grey picture with nothing but noise, after the demosaic, less the grey.
fn demosaiced_noise(in_light: &[f64; 3], layout: &Layout, method: Method) -> [Vec<f64>; 3] {
    let values = if *layout == Layout::Linear { 3 } else { 1 };
    let side = SIDE * method.reduction();
    let mut mosaic = Mosaic {
        counts: Plane::filled(side * values, side, 0u16),
        layout: *layout,
        black: BlackLevels::flat(BLACK as f32, values),
        white: [(BLACK + RANGE) as f32; 3],
        crop: Rect {
            left: 0,
            top: 0,
            width: side,
            height: side,
        },
    };
    let quietest = in_light.iter().copied().fold(f64::INFINITY, f64::min) * RANGE;
    let louder = (LEAST_DEVIATION / quietest).max(1.0);
    let mut random = Normal::new(1);
    for y in 0..side {
        for x in 0..side * values {
            let channel = mosaic.channel_at(x, y);
            let light = GREY + louder * in_light[channel] * random.draw();
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "rounded and saturated to a count"
            )]
            {
                mosaic.counts.row_mut(y)[x] = (BLACK + RANGE * light).round() as u16;
            }
        }
    }
    // The sensor step of a body that counts the same for grey in every channel.
    let sensor = SensorStep {
        black: mosaic.black.clone(),
        white: mosaic.white,
        neutral: [1.0; 3],
        noise: None,
    };
    let sensor = Sensor::new(&sensor, &mosaic, &Threads::one());
    let mut strip = Strip::new(&sensor, method, 0..SIDE, 0);
    let mut row = RgbRow::new(SIDE);
    let mut planes = [const { Vec::new() }; 3];
    for y in 0..SIDE {
        strip.row(y, &mut row, |_, _| ());
        for (plane, row) in planes.iter_mut().zip(&row.planes) {
            plane.extend(row.iter().map(|value| (f64::from(*value) - GREY) / louder));
        }
    }
    planes
}

/// The opponent axes of [`super::stabilise`], in double precision.
fn opponents(planes: &[Vec<f64>; 3], scale: &[f64; 3]) -> [Vec<f64>; 3] {
    let mut axes = [const { Vec::new() }; 3];
    for ((r, g), b) in planes[0].iter().zip(&planes[1]).zip(&planes[2]) {
        let (r, g, b) = (r * scale[0], g * scale[1], b * scale[2]);
        axes[0].push((r + g + b) / 3f64.sqrt());
        axes[1].push((r - b) / 2f64.sqrt());
        axes[2].push((r + b - 2.0 * g) / 6f64.sqrt());
    }
    axes
}

/// Mean squares of the differences of each level: the transform of [`super::haar`], plainly.
fn level_variances(mut plane: Vec<f64>) -> [[f64; BANDS]; LEVELS] {
    let (mut width, mut height) = (SIDE, SIDE);
    let mut variances = [[0.0; BANDS]; LEVELS];
    let steps = FINE_STEPS.iter().chain(&COARSE_STEPS);
    for (level, (&step, variances)) in steps.zip(&mut variances).enumerate() {
        if level == FINE_STEPS.len() {
            let halved = (0..height / 2)
                .flat_map(|y| (0..width / 2).map(move |x| (x, y)))
                .map(|(x, y)| plane[2 * y * width + 2 * x])
                .collect();
            (plane, width, height) = (halved, width / 2, height / 2);
        }
        let (columns, rows) = (width - step, height - step);
        let mut averages = Vec::with_capacity(columns * rows);
        let mut sums = [0.0; BANDS];
        for y in 0..rows {
            for x in 0..columns {
                let at = y * width + x;
                let (a, b) = (plane[at], plane[at + step]);
                let (c, d) = (plane[at + step * width], plane[at + step * width + step]);
                averages.push((a + b + c + d) / 4.0);
                let differences = [a + b - c - d, a - b + c - d, a - b - c + d];
                for (sum, difference) in sums.iter_mut().zip(differences) {
                    *sum += (difference / 4.0).powi(2);
                }
            }
        }
        *variances = sums.map(|sum| sum / (columns * rows) as f64);
        (plane, width, height) = (averages, columns, rows);
    }
    variances
}
