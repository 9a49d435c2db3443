//! The grayness index: where the logarithms of all channels change alike, the surface is grey.
//!
//! Qian, Kämäräinen, Nikkanen and Matas, "On Finding Gray Pixels" (CVPR 2019, arXiv 1901.03198), written from the paper:
//! the picture is smoothed, the local contrast of ln(R/S) and ln(B/S) with S = R + G + B is taken, and the mean colour
//! of the pixels with the least contrast is the light. Pixels without contrast in any channel say nothing and are left
//! out, as are clipped and dark ones; darkness is told by the noise of the frame, because near-black pixels win
//! otherwise.

use crate::base::kernel::row_kernel;
use crate::base::logarithm::ln;
use crate::light::estimators::unit;
use crate::light::raster::{Raster, gaussian, gaussian_derivative};

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
    let smooth = [0, 1, 2].map(|channel| {
        let mut plane = raster.box_mean(&raster.channel(channel), SMOOTHING);
        raise(&mut plane);
        plane
    });
    let contrast = |plane: &[f64]| -> Vec<f64> {
        raster.gradient(plane, &gaussian_derivative(SIGMA, 1), &gaussian(SIGMA))
    };
    let mut ratios = [
        vec![0.0; raster.colours.len()],
        vec![0.0; raster.colours.len()],
    ];
    let [red, blue] = &mut ratios;
    logarithms_of_ratios(&smooth, red, blue);
    let [red, blue] = ratios.map(|plane| contrast(&plane));
    let changes = smooth.map(|plane| contrast(&plane));
    let (mut index, mut masked) = (red, raster.valid.to_vec());
    let mut greatest = [0.0; LANES];
    put_together(&blue, &changes, &mut index, &mut masked, &mut greatest);
    let greatest = greatest.into_iter().fold(0.0, f64::max);
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
    let greyer = |a: &usize, b: &usize| index[*a].total_cmp(&index[*b]).then(a.cmp(b));
    order.select_nth_unstable_by(count - 1, greyer);
    order.truncate(count);
    // Selecting leaves them in no order that means anything; a sum must not hang on it.
    order.sort_unstable();
    let mut mean = [0.0; 3];
    for at in order {
        for (sum, value) in mean.iter_mut().zip(raster.colours[at]) {
            *sum += value / count as f64;
        }
    }
    unit(mean)
}

/// Places whose greatest index is sought side by side.
const LANES: usize = 8;

row_kernel! {
    /// Sums of a filter can dip below nothing; a logarithm must not see that.
    fn raise(plane: &mut [f64]) {
        for value in plane {
            *value = value.max(f64::EPSILON);
        }
    }
}

row_kernel! {
    /// ln(R/S) and ln(B/S), S being the sum of three channels.
    fn logarithms_of_ratios(channels: &[Vec<f64>; 3], red: &mut [f64], blue: &mut [f64]) {
        let [reds, greens, blues] = channels;
        let channels = reds.iter().zip(greens).zip(blues);
        for ((red, blue), ((r, g), b)) in red.iter_mut().zip(blue).zip(channels) {
            let sum = r + g + b;
            (*red, *blue) = (ln(r / sum), ln(b / sum));
        }
    }
}

row_kernel! {
    /// Makes the index of what its two parts are, the first standing in its place; masks what is not valid, or flat in all channels; and
    /// finds the greatest index.
    fn put_together(
        blue: &[f64],
        changes: &[Vec<f64>; 3],
        index: &mut [f64],
        masked: &mut [bool],
        greatest: &mut [f64; LANES],
    ) {
        let [reds, greens, blues] = changes;
        let changes = reds.iter().zip(greens).zip(blues);
        let places = index.iter_mut().zip(blue).zip(masked.iter_mut());
        for (((index, blue), masked), ((r, g), b)) in places.zip(changes) {
            *index = (*index * *index + blue * blue).sqrt();
            *masked = !*masked | (r.max(*g).max(*b) <= FLAT);
        }
        for indices in index.chunks(LANES) {
            for (greatest, index) in greatest.iter_mut().zip(indices) {
                *greatest = greatest.max(*index);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::hold_together;

    fn row(seed: usize, length: usize) -> Vec<f64> {
        (0..length)
            .map(|at| ((at * 7919 + seed * 104_729) % 1009) as f64 / 800.0 - 0.01)
            .collect()
    }

    #[test]
    fn all_copies_of_the_kernels_are_one_and_say_what_each_place_says() {
        hold_together(&raise::levels(), |raise, length| {
            let mut plane = row(1, length);
            raise(&mut plane);
            assert!(plane.iter().all(|value| *value > 0.0));
            plane
        });
        hold_together(&logarithms_of_ratios::levels(), |logarithms, length| {
            let channels =
                [1, 2, 3].map(|seed| row(seed, length).iter().map(|v| v + 0.1).collect());
            let (mut red, mut blue) = (vec![0.0; length], vec![0.0; length]);
            logarithms(&channels, &mut red, &mut blue);
            for at in 0..length {
                let sum = channels[0][at] + channels[1][at] + channels[2][at];
                assert!((red[at] - (channels[0][at] / sum).ln()).abs() < 1e-14);
                assert!((blue[at] - (channels[2][at] / sum).ln()).abs() < 1e-14);
            }
            [red, blue].concat()
        });
        hold_together(&put_together::levels(), |put_together, length| {
            let changes =
                [1, 2, 3].map(|seed| row(seed, length).iter().map(|v| v.abs() / 80.0).collect());
            let (blue, red) = (row(4, length), row(5, length));
            let (mut index, mut greatest) = (red.clone(), [0.0; LANES]);
            let mut masked: Vec<bool> = (0..length).map(|at| at % 5 > 0).collect();
            put_together(&blue, &changes, &mut index, &mut masked, &mut greatest);
            for at in 0..length {
                let flat = changes.iter().all(|change: &Vec<f64>| change[at] <= FLAT);
                assert_eq!(masked[at], at % 5 == 0 || flat);
                assert_eq!(index[at], (red[at] * red[at] + blue[at] * blue[at]).sqrt());
            }
            let most = greatest.iter().copied().fold(0.0, f64::max);
            assert_eq!(most, index.iter().copied().fold(0.0, f64::max));
            index.into_iter().chain(greatest).collect()
        });
    }
}
