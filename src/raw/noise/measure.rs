//! The noise model of a frame, measured from the frame itself.
//!
//! Small blocks all over the picture each give a mean and, after a plane is fitted to take out shading, a variance per
//! channel. Most blocks hold some texture, so in each range of means the lower quartile of the variances is taken for the
//! noise; a line through these, weighted by relative error, is the model.

use crate::base::robust;
use crate::raw::frame::Mosaic;
use crate::raw::noise::NoiseModel;
use crate::raw::noise::strip::Strip;
use crate::raw::photosites::Photosites;

/// Side of a block in photosites: whole periods of both the 2 x 2 and the 6 x 6 pattern.
pub(super) const BLOCK: usize = 12;
/// Blocks along each side of the picture, at most.
const BLOCKS: usize = 64;
/// Quartile of the variances that is taken for the noise, per cent, and what it is of the true variance when a block has
/// about 45 degrees of freedom and no texture (quantile of the chi-square distribution: 38.3 / 45).
const QUARTILE: f64 = 25.0;
const QUARTILE_OF_VARIANCE: f64 = 0.85;
/// Ranges of means, per stop, over which variances are compared, and the level of the lowest: 14 stops below full.
const RANGES_PER_STOP: f64 = 2.0;
const STOPS: usize = 14;
/// A range with fewer blocks than this says nothing.
const LEAST_BLOCKS: usize = 8;

/// Mean and variance of one channel of one block.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sample {
    pub(super) mean: f64,
    pub(super) variance: f64,
}

/// Measures the noise of a mosaic: of all its active area, so that two crops of one exposure have one noise.
#[must_use]
pub fn measure(mosaic: &Mosaic) -> NoiseModel {
    let photosites = Photosites::of_active_area(mosaic);
    let rounding = {
        let range = f64::from(mosaic.white[1] - mosaic.black.at(0, 0, 0));
        (range * range * 12.0).recip()
    };
    fit(&samples(&photosites), rounding)
}

fn samples(photosites: &Photosites) -> Vec<Sample> {
    let (width, height) = (photosites.width(), photosites.height());
    let step = |length: usize| (length / BLOCKS).max(BLOCK).next_multiple_of(BLOCK);
    let lefts: Vec<usize> = (0..width.saturating_sub(BLOCK - 1))
        .step_by(step(width))
        .collect();
    let mut strip = Strip::new(photosites, &lefts);
    let mut all = Vec::new();
    for top in (0..height.saturating_sub(BLOCK - 1)).step_by(step(height)) {
        strip.sum(photosites, top);
        strip.samples(&mut all);
    }
    all
}

/// The line through the lower quartiles of each range of means.
fn fit(samples: &[Sample], rounding: f64) -> NoiseModel {
    let count = STOPS * RANGES_PER_STOP as usize + 1;
    let mut ranges: Vec<Vec<Sample>> = vec![Vec::new(); count];
    for sample in samples {
        let stops = sample.mean.max(f64::MIN_POSITIVE).log2() + STOPS as f64;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped to the ranges"
        )]
        let range = ((stops * RANGES_PER_STOP).max(0.0) as usize).min(count - 1);
        ranges[range].push(*sample);
    }
    let points: Vec<(f64, f64, f64)> = ranges
        .iter()
        .filter(|range| range.len() >= LEAST_BLOCKS)
        .filter_map(|range| {
            let mut variances: Vec<f64> = range.iter().map(|sample| sample.variance).collect();
            let mean = range.iter().map(|sample| sample.mean).sum::<f64>() / range.len() as f64;
            let variance = robust::percentile(&mut variances, QUARTILE)? / QUARTILE_OF_VARIANCE;
            Some((
                mean.max(0.0),
                variance.max(rounding),
                (range.len() as f64).sqrt(),
            ))
        })
        .collect();
    let lowest = points
        .iter()
        .map(|point| point.1)
        .fold(f64::INFINITY, f64::min);
    if !lowest.is_finite() {
        // Nothing to measure: a picture of a few photosites, or one that is clipped all over.
        return NoiseModel {
            slope: 0.0,
            floor: rounding,
        };
    }
    let mut model = NoiseModel {
        slope: 0.0,
        floor: lowest,
    };
    /// Re-weighted least squares settles in a few rounds; a range that lies a factor above the line is texture.
    const ROUNDS: usize = 12;
    for _ in 0..ROUNDS {
        let (mut w, mut wx, mut wxx, mut wv, mut wxv) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for &(x, variance, trust) in &points {
            let expected = model.variance(x);
            let excess = (variance / expected - 1.0).max(0.0);
            let weight = trust / (expected * expected) / (1.0 + excess * excess);
            w += weight;
            wx += weight * x;
            wxx += weight * x * x;
            wv += weight * variance;
            wxv += weight * x * variance;
        }
        let determinant = w * wxx - wx * wx;
        let slope = (w * wxv - wx * wv) / determinant;
        model.slope = if slope.is_finite() {
            slope.max(0.0)
        } else {
            0.0
        };
        model.floor = ((wv - model.slope * wx) / w).max(rounding);
    }
    model
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::chance::Normal;
    use crate::base::geometry::Rect;
    use crate::base::plane;
    use crate::raw::frame::{BlackLevels, EXAMPLE_SIX_BY_SIX, Layout};

    fn frame(layout: Layout, slope: f64, floor: f64) -> Mosaic {
        let (width, height) = (600, 400);
        let (black, white) = (512.0, 15_871.0);
        let values = if layout == Layout::Linear { 3 } else { 1 };
        let mut noise = Normal::new(7);
        let counts = (0..width * height * values)
            .map(|at| {
                let (x, y) = (at / values % width, at / values / width);
                // Five stops of ramp across, dark lower half.
                let mean = if y < height / 2 {
                    0.02 * (x as f64 / width as f64 * 5.0).exp2()
                } else {
                    0.001
                };
                let value = mean + noise.draw() * (slope * mean + floor).sqrt();
                (value * (white - black) + black).round().max(0.0) as u16
            })
            .collect();
        Mosaic {
            counts: plane::Plane::from_values(width * values, height, counts).expect("sizes fit"),
            layout,
            black: BlackLevels::flat(512.0, values),
            white: [white as f32; 3],
            crop: Rect {
                left: 0,
                top: 0,
                width,
                height,
            },
        }
    }

    #[test]
    fn the_model_of_a_simulated_frame_comes_back() {
        let (slope, floor) = (4e-4, 4e-6);
        for layout in [
            Layout::Bayer([[0, 1], [1, 2]]),
            Layout::XTrans(EXAMPLE_SIX_BY_SIX),
            Layout::Linear,
        ] {
            let model = measure(&frame(layout, slope, floor));
            // The quartile's correction is one number for blocks of 16 to 144 values: within a tenth of the standard
            // deviation.
            assert!(
                (model.slope / slope - 1.0).abs() < 0.2,
                "{layout:?} {model:?}"
            );
            assert!(
                (model.floor / floor - 1.0).abs() < 0.2,
                "{layout:?} {model:?}"
            );
        }
    }

    #[test]
    fn a_picture_too_small_to_measure_has_rounding_noise() {
        let mut mosaic = frame(Layout::Bayer([[0, 1], [1, 2]]), 1e-4, 1e-6);
        mosaic.counts = plane::Plane::filled(5, 5, 600);
        mosaic.crop = Rect {
            left: 0,
            top: 0,
            width: 5,
            height: 5,
        };
        let model = measure(&mosaic);
        assert_eq!(model.slope, 0.0);
        assert!(model.floor > 0.0);
    }
}
