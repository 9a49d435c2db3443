//! The family of grey estimators: Minkowski means of the picture or of its derivatives.
//!
//! `e = (mean of |dⁿ(G_sigma * I)|^p)^(1/p)` per channel: n = 0, p = 1 is grey-world (Buchsbaum, J. Franklin Inst. 310:1,
//! 1980); n = 0, p = 6 shades of grey (Finlayson and Trezzi, CIC 12, 2004); n = 1, p = 6 or 7 grey-edge and n = 2 its
//! second order (van de Weijer, Gevers and Gijsenij, IEEE TIP 16:2207, 2007). They work on linear camera RGB before any
//! matrix and see only the values that are marked as valid.

use crate::light::raster::{Raster, gaussian, gaussian_derivative};

/// Minkowski mean of each channel over the valid values, scaled to unit length; `None` when nothing valid is positive.
/// An infinite `p` takes the greatest value.
#[must_use]
pub fn shades_of_grey(raster: &Raster, p: f64) -> Option<[f64; 3]> {
    let values = raster.valid_values();
    minkowski(values, p)
}

/// Minkowski mean of first (`order` 1) or second derivatives at scale `sigma` (in values of the raster).
#[must_use]
pub fn grey_edge(raster: &Raster, order: usize, p: f64, sigma: f64) -> Option<[f64; 3]> {
    let blur = gaussian(sigma);
    let (first, second) = (gaussian_derivative(sigma, 1), gaussian_derivative(sigma, 2));
    let edges: Vec<Vec<f64>> = (0..3)
        .map(|channel| {
            let plane = raster.channel(channel);
            let filtered = |along: &[f64], down: &[f64]| raster.separable(&plane, along, down);
            if order < 2 {
                raster.gradient(&plane, &first, &blur)
            } else {
                let (xx, yy, xy) = (
                    filtered(&second, &blur),
                    filtered(&blur, &second),
                    filtered(&first, &first),
                );
                (0..xx.len())
                    .map(|at| (xx[at].powi(2) + 4.0 * xy[at].powi(2) + yy[at].powi(2)).sqrt())
                    .collect()
            }
        })
        .collect();
    let valid = raster.eroded_valid(blur.len() / 2);
    minkowski(
        (0..valid.len())
            .filter(|&at| valid[at])
            .map(|at| [edges[0][at], edges[1][at], edges[2][at]]),
        p,
    )
}

/// The Minkowski mean of each channel, scaled to unit length.
fn minkowski(values: impl Iterator<Item = [f64; 3]>, p: f64) -> Option<[f64; 3]> {
    let (mut sums, mut count) = ([0.0_f64; 3], 0.0);
    for value in values {
        for (sum, value) in sums.iter_mut().zip(value) {
            let value = value.max(0.0);
            if p.is_infinite() {
                *sum = sum.max(value);
            } else {
                *sum += power(value, p);
            }
        }
        count += 1.0;
    }
    let means = sums.map(|sum| {
        if p.is_infinite() {
            sum
        } else {
            (sum / count).powf(p.recip())
        }
    });
    unit(means)
}

/// The powers that a frame's tiles are raised to, without the library's logarithm.
fn power(value: f64, p: f64) -> f64 {
    if p == 1.0 {
        value
    } else if p == 6.0 {
        let cube = value * value * value;
        cube * cube
    } else {
        value.powf(p)
    }
}

/// Scales to unit length; `None` unless every channel is positive and finite.
#[must_use]
pub fn unit(colour: [f64; 3]) -> Option<[f64; 3]> {
    let length = colour.iter().map(|value| value * value).sum::<f64>().sqrt();
    let scaled = colour.map(|value| value / length);
    scaled
        .iter()
        .all(|value| *value > 0.0 && value.is_finite())
        .then_some(scaled)
}
