//! The grayness index: where the logarithms of all channels change alike, the surface is grey.
//!
//! Qian, Kämäräinen, Nikkanen and Matas, "On Finding Gray Pixels" (CVPR 2019, arXiv 1901.03198), written from the paper:
//! the picture is smoothed, the local contrast of ln(R/S) and ln(B/S) with S = R + G + B is taken, and the mean colour
//! of the pixels with the least contrast is the light. Pixels without contrast in any channel say nothing and are left
//! out, as are clipped and dark ones; darkness is told by the noise of the frame, because near-black pixels win
//! otherwise.

use crate::light::estimators::unit;
use crate::light::raster::{Raster, gaussian_derivative};

/// Radius of the square over which picture and index are smoothed.
const SMOOTHING: usize = 3;
/// Standard deviation of the derivative kernel.
const SIGMA: f64 = 0.5;
/// Contrast (of black-subtracted fractions of range) below which a channel counts as flat.
const FLAT: f64 = 1e-4;

/// The mean colour of the greyest `share` (0 to 1) of the valid values, scaled to unit length; at least one value is
/// used. `None` when no value is valid and has contrast.
#[must_use]
pub fn grayness_index(raster: &Raster, share: f64) -> Option<[f64; 3]> {
    if raster.colours.is_empty() {
        return None;
    }
    // Sums of a filter can dip below nothing; a logarithm must not see that.
    let smooth: Vec<Vec<f64>> = (0..3)
        .map(|channel| {
            let mut plane = raster.box_mean(&raster.channel(channel), SMOOTHING);
            plane
                .iter_mut()
                .for_each(|value| *value = value.max(f64::EPSILON));
            plane
        })
        .collect();
    let contrast = |plane: &[f64]| -> Vec<f64> {
        let derivative = derivative_kernel();
        let blur = blur_kernel();
        let dx = raster.separable(plane, &derivative, &blur);
        let dy = raster.separable(plane, &blur, &derivative);
        dx.iter()
            .zip(&dy)
            .map(|(dx, dy)| (dx * dx + dy * dy).sqrt())
            .collect()
    };
    let sum: Vec<f64> = (0..raster.colours.len())
        .map(|at| smooth[0][at] + smooth[1][at] + smooth[2][at])
        .collect();
    let ratio = |channel: usize| -> Vec<f64> {
        contrast(
            &smooth[channel]
                .iter()
                .zip(&sum)
                .map(|(v, s)| (v / s).ln())
                .collect::<Vec<_>>(),
        )
    };
    let (red, blue) = (ratio(0), ratio(2));
    let changes: Vec<Vec<f64>> = smooth.iter().map(|plane| contrast(plane)).collect();
    let masked: Vec<bool> = (0..sum.len())
        .map(|at| !raster.valid[at] || changes.iter().all(|change| change[at] <= FLAT))
        .collect();
    let mut index: Vec<f64> = red
        .iter()
        .zip(&blue)
        .map(|(r, b)| (r * r + b * b).sqrt())
        .collect();
    let greatest = index.iter().copied().fold(0.0, f64::max);
    for (index, masked) in index.iter_mut().zip(&masked) {
        if *masked {
            *index = greatest;
        }
    }
    let index = raster.box_mean(&index, SMOOTHING);
    let mut order: Vec<usize> = (0..index.len()).filter(|&at| !masked[at]).collect();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a count"
    )]
    let count = ((share * index.len() as f64).round() as usize).clamp(1, order.len().max(1));
    if order.is_empty() {
        return None;
    }
    order.sort_by(|&a, &b| index[a].total_cmp(&index[b]).then(a.cmp(&b)));
    let mut mean = [0.0; 3];
    for &at in &order[..count] {
        for (sum, value) in mean.iter_mut().zip(raster.colours[at]) {
            *sum += value / count as f64;
        }
    }
    unit(mean)
}

/// The derivative kernel of five values.
fn derivative_kernel() -> Vec<f64> {
    gaussian_derivative(SIGMA, 1)
}

/// The smoothing kernel across it.
fn blur_kernel() -> Vec<f64> {
    crate::light::raster::gaussian(SIGMA)
}
