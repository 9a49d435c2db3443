//! Into a picture whose noise is the same everywhere, and back.
//!
//! The generalised Anscombe transform gives a value with Poisson-Gaussian noise (variance a·x + b) a variance of one
//! whatever its level; on the way back the closed form of the exact unbiased inverse is used (Makitalo and Foi, "Optimal
//! inversion of the generalized Anscombe transformation for Poisson-Gaussian noise", IEEE TIP 22:91, 2013). The plain
//! algebraic inverse would darken shadows by a tenth.
//!
//! Channels are divided by the square root of the neutral's share, so that greys of photon noise have three equal values
//! again, and then turned into orthonormal opponent axes: sum, red against blue, green against both. A picture's detail
//! gathers in the sum, so colour can be smoothed more strongly than detail.

use crate::base::kernel::row_kernel;

/// The transform of one channel of white-balanced light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stabiliser {
    /// Variance per level.
    slope: f32,
    /// b / a²: variance at black in units of the slope's square.
    floor_in_slopes: f32,
    /// Standard deviation of the noise of one photosite after the transform.
    deviation: f32,
    /// Share of the noise's variance that is taken away between the transform and its inverse.
    removed: f32,
}

/// Largest b / a²: beyond it the inverse would subtract numbers so large that single precision shows. A frame without
/// photon noise counts as one with that little.
const MOST_FLOOR_IN_SLOPES: f64 = 1e6;

/// Least value that is transformed back: the closed form's series holds down to here.
const LEAST_STABILISED: f32 = 1.0;

/// √(3/2).
const ROOT_OF_THREE_HALVES: f32 = 1.224_744_9;

impl Stabiliser {
    /// For variance `slope · x + floor` of a photosite in white-balanced light, with noise of standard deviation
    /// `deviation` after the transform. `floor` must be above 0.
    #[must_use]
    pub fn new(slope: f64, floor: f64, deviation: f64, removed: f64) -> Self {
        let slope = slope.max((floor / MOST_FLOOR_IN_SLOPES).sqrt());
        Self {
            slope: slope as f32,
            floor_in_slopes: (floor / (slope * slope)) as f32,
            deviation: deviation as f32,
            removed: removed as f32,
        }
    }

    /// Factor and summand under the root.
    fn forward(&self) -> (f32, f32) {
        let scale = 4.0 * self.deviation * self.deviation;
        (
            scale / self.slope,
            scale * (self.floor_in_slopes + 3.0 / 8.0),
        )
    }

    /// Reciprocal of the deviation, the slope, and what is subtracted from the closed form. Noise that is kept has no
    /// bias to be undone: the unbiased inverse lies a quarter above the algebraic one for a variance of one.
    fn back(&self) -> (f32, f32, f32) {
        let kept = (1.0 - self.removed) / 4.0;
        (
            1.0 / self.deviation,
            self.slope,
            1.0 / 8.0 + self.floor_in_slopes + kept,
        )
    }
}

/// 1/√3, 1/√2, 1/√6: the opponent axes' lengths.
const THIRD: f32 = 0.577_350_26;
const HALF: f32 = 0.707_106_77;
const SIXTH: f32 = 0.408_248_28;

#[inline(always)]
fn root(value: f32, (factor, summand): (f32, f32)) -> f32 {
    (value * factor + summand).max(0.0).sqrt()
}

#[inline(always)]
fn light(stabilised: f32, (per_deviation, slope, subtracted): (f32, f32, f32)) -> f32 {
    let d = (stabilised * per_deviation).max(LEAST_STABILISED);
    let i = 1.0 / d;
    let series = i
        * (ROOT_OF_THREE_HALVES / 4.0 + i * (-11.0 / 8.0 + i * (5.0 / 8.0 * ROOT_OF_THREE_HALVES)));
    slope * (d * d * 0.25 - subtracted + series)
}

/// Turns rows of white-balanced light into stabilised opponent axes, in place.
pub(super) fn stabilise(channels: &[Stabiliser; 3], [r, g, b]: [&mut [f32]; 3]) {
    let [red, green, blue] = channels.each_ref().map(Stabiliser::forward);
    stabilise_row(red, green, blue, r, g, b);
}

/// The way back, in place.
pub(super) fn restore(channels: &[Stabiliser; 3], [r, g, b]: [&mut [f32]; 3]) {
    let [red, green, blue] = channels.each_ref().map(Stabiliser::back);
    restore_row(red, green, blue, r, g, b);
}

row_kernel! {
    /// Red, green, blue light to sum, red against blue, green against both.
    fn stabilise_row(
        red: (f32, f32),
        green: (f32, f32),
        blue: (f32, f32),
        r: &mut [f32],
        g: &mut [f32],
        b: &mut [f32],
    ) {
        let length = r.len();
        let (g, b) = (&mut g[..length], &mut b[..length]);
        for x in 0..length {
            let (u, v, w) = (root(r[x], red), root(g[x], green), root(b[x], blue));
            r[x] = (u + v + w) * THIRD;
            g[x] = (u - w) * HALF;
            b[x] = (u + w - 2.0 * v) * SIXTH;
        }
    }
}

row_kernel! {
    /// Sum, red against blue, green against both to red, green, blue light.
    fn restore_row(
        red: (f32, f32, f32),
        green: (f32, f32, f32),
        blue: (f32, f32, f32),
        r: &mut [f32],
        g: &mut [f32],
        b: &mut [f32],
    ) {
        let length = r.len();
        let (g, b) = (&mut g[..length], &mut b[..length]);
        for x in 0..length {
            let (sum, across, other) = (r[x] * THIRD, g[x] * HALF, b[x] * SIXTH);
            r[x] = light(sum + across + other, red);
            g[x] = light(sum - 2.0 * other, green);
            b[x] = light(sum - across + other, blue);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        let channels = [0.5, 1.0, 0.7].map(|n: f64| Stabiliser::new(1e-3 / n, 2e-5, n.sqrt(), 1.0));
        let forward = channels.map(|channel| channel.forward());
        hold_together(&stabilise_row::levels(), |kernel, length| {
            let [mut r, mut g, mut b] = [1, 2, 3].map(|seed| unordered_row(seed, length));
            kernel(forward[0], forward[1], forward[2], &mut r, &mut g, &mut b);
            [r, g, b].concat()
        });
        let back = channels.map(|channel| channel.back());
        hold_together(&restore_row::levels(), |kernel, length| {
            let [mut r, mut g, mut b] = [1, 2, 3].map(|seed| {
                unordered_row(seed, length)
                    .iter()
                    .map(|v| v * 40.0)
                    .collect::<Vec<f32>>()
            });
            kernel(back[0], back[1], back[2], &mut r, &mut g, &mut b);
            [r, g, b].concat()
        });
    }

    /// `tests/data/noise_gat.json`: transform and closed-form inverse, computed with numpy from the formulas of Foi et
    /// al. 2008 and Makitalo and Foi 2013 over Monte Carlo draws.
    #[test]
    fn the_transform_and_its_inverse_equal_the_table() {
        let table: serde_json::Value =
            serde_json::from_str(include_str!("../../../tests/data/noise_gat.json"))
                .expect("a table");
        let rows = table["rows"].as_array().expect("rows");
        assert!(rows.len() >= 20);
        for row in rows {
            let number = |name: &str| row[name].as_f64().expect("a number");
            let (a, sigma, mean) = (number("a"), number("sigma"), number("mean"));
            let channel = Stabiliser {
                slope: a as f32,
                floor_in_slopes: (sigma * sigma / (a * a)) as f32,
                deviation: 1.0,
                removed: 1.0,
            };
            let transformed = f64::from(root(mean as f32, channel.forward()));
            assert!((transformed - number("gat_of_mean")).abs() < 2e-5, "{row}");
            // The table's inverse is that of the mean of transformed draws.
            let back = f64::from(light(number("mc_mean_of_gat") as f32, channel.back()));
            let expected = number("inverse_closed_form_unbiased");
            // The table is rounded to five decimals, its mean of draws to four: 5e-5 in D is D·5e-5/2 in units of a.
            let tolerance = 1e-5 + a * (number("mc_mean_of_gat") * 5e-5 + 1e-5);
            assert!((back - expected).abs() < tolerance, "{back} {row}");
        }
    }
}
