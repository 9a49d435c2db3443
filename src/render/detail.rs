//! Capture sharpening: what lens, filter and demosaic took from fine detail is brought back, at full size, in camera light.
//!
//! One step of van Cittert's iteration for undoing a blur (P. H. van Cittert, "Zum Einfluß der Spaltbreite auf die
//! Intensitätsverteilung in Spektrallinien II", Zeitschrift für Physik 69:298, 1931): the difference between the
//! light and its own blurred copy is added to it, more than once to make up for the steps that follow. Differences are weighed by d² / (d² + c s²), where s² is the noise's
//! variance at that level by the frame's own model: what does not stand out from noise stays as it is, so that darkness is
//! not sharpened. Luminance alone is changed and the pixel scaled by its ratio, which keeps its colour; what goes
//! beyond the neighbours is held to a share of their range. Radius, weight and share are common practice, no source.

use crate::raw::noise::SensorNoise;
use crate::render::kernel::row_kernel;
use crate::render::row::{RgbRow, Window, mirrored};
use crate::render::sensor::SensorStep;
use std::fmt;
use std::ops::Range;

/// Standard deviation of the blur that is undone, in pixels.
const RADIUS: f64 = 0.7;
/// Rows and columns on each side that the blur looks at: beyond three standard deviations nothing is left.
const REACH: usize = 2;
/// Times that the difference is added at the full amount. One step adds it once; the iteration's limit at a quarter of the
/// sampling frequency, where this blur leaves 55 %, adds it 1.8 times, and less at lower frequencies.
const STRENGTH: f64 = 2.0;
/// Noise variances at which half of a difference is brought back: four standard deviations.
const HELD_BACK: f64 = 16.0;
/// How far a sharpened pixel may lie beyond its eight neighbours, as a share of their range.
const OVERSHOOT: f32 = 0.05;
/// What a sharpened pixel keeps of the darkest of them at least: beside a lamp the range is many times the dark's own
/// light, and a share of it would leave a black ring. Common practice, no source.
const KEPT_OF_DARK: f32 = 0.85;

/// Numbers of the capture sharpening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DetailStep {
    /// Multiple of the difference that is added.
    pub amount: f32,
    /// Variance of the noise in luminance, per level of white-balanced light.
    pub slope: f32,
    /// The same at black.
    pub floor: f32,
    /// White-balanced light at which each channel is full: pixels with a full channel are left alone.
    pub full: [f32; 3],
}

impl DetailStep {
    /// For a frame with this noise; luminance is the mean of the three channels, whose noise is independent.
    pub(crate) fn new(amount: f64, noise: &SensorNoise, sensor: &SensorStep) -> Self {
        let sum = |of: &dyn Fn(usize) -> f64| (0..3).map(of).sum::<f64>() / 9.0;
        Self {
            amount: (amount * STRENGTH) as f32,
            slope: sum(&|c| noise.channels[c].slope / sensor.neutral[c]) as f32,
            floor: sum(&|c| noise.channels[c].floor / sensor.neutral[c].powi(2)) as f32,
            full: sensor.full(),
        }
    }
}

impl fmt::Display for DetailStep {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            to,
            "detail: {:.2} of luminance's difference from a blur of {RADIUS} pixels, where it stands out from noise",
            self.amount
        )
    }
}

/// Weights of the blur at distances 0, 1 and 2; the weights of all five places sum to 1.
fn weights() -> [f32; REACH + 1] {
    let gauss = |distance: f64| (-0.5 * (distance / RADIUS).powi(2)).exp();
    let sum = 1.0 + 2.0 * (gauss(1.0) + gauss(2.0));
    [1.0, gauss(1.0), gauss(2.0)].map(|weight| (weight / sum) as f32)
}

/// One row with what sharpening needs of it.
#[derive(Clone, Debug)]
struct Kept {
    rgb: RgbRow,
    /// Luminance, with [`REACH`] more columns at each end.
    luminance: Vec<f32>,
    /// Luminance blurred along the row.
    soft: Vec<f32>,
}

/// Capture sharpening of a strip of columns, from some row on.
#[derive(Debug)]
pub(crate) struct Sharpness<'a> {
    step: &'a DetailStep,
    size: (usize, usize),
    columns: Range<usize>,
    asked: Range<usize>,
    first_row: usize,
    weights: [f32; REACH + 1],
    window: Window<Kept>,
}

impl<'a> Sharpness<'a> {
    /// Ready for the columns of a picture of `size`, from row `first_row` on.
    pub(crate) fn new(
        step: &'a DetailStep,
        size: (usize, usize),
        columns: Range<usize>,
        first_row: usize,
    ) -> Self {
        let asked = columns.start.saturating_sub(REACH)..(columns.end + REACH).min(size.0);
        let first_row = first_row.saturating_sub(REACH).min(size.1 - 1);
        let empty = || Kept {
            rgb: RgbRow::new(asked.len()),
            luminance: vec![0.0; columns.len() + 2 * REACH],
            soft: vec![0.0; columns.len()],
        };
        Self {
            step,
            size,
            first_row,
            weights: weights(),
            window: Window::new(2 * REACH + 1, first_row, empty),
            columns,
            asked,
        }
    }

    /// Columns that rows of the stage before must have, and the first row that is asked for.
    pub(crate) fn source(&self) -> (Range<usize>, usize) {
        (self.asked.clone(), self.first_row)
    }

    /// Makes row `y`, from top to bottom; `make` gives a row of the stage before.
    pub(crate) fn row(
        &mut self,
        y: usize,
        row: &mut RgbRow,
        mut make: impl FnMut(usize, &mut RgbRow),
    ) {
        let (width, height) = self.size;
        let (columns, asked, weights) = (&self.columns, &self.asked, self.weights);
        self.window.fill_to((y + REACH + 1).min(height), |y, kept| {
            make(y, &mut kept.rgb);
            let left = columns.start as isize - REACH as isize;
            let before = (asked.start as isize - left) as usize;
            let inside = before..before + asked.len();
            let [red, green, blue] = kept.rgb.columns_mut(0..asked.len());
            mean_of_three(red, green, blue, &mut kept.luminance[inside.clone()]);
            for at in (0..inside.start).chain(inside.end..kept.luminance.len()) {
                let stand_in = mirrored(left + at as isize, width) as isize - left;
                kept.luminance[at] = kept.luminance[stand_in as usize];
            }
            blur_along(weights, &kept.luminance, &mut kept.soft);
        });
        let rows: [&Kept; 2 * REACH + 1] = std::array::from_fn(|at| {
            self.window
                .row(mirrored((y + at) as isize - REACH as isize, height))
        });
        let own = rows[REACH];
        let start = columns.start - asked.start;
        for (plane, from) in row.planes.iter_mut().zip(&own.rgb.planes) {
            plane[..columns.len()].copy_from_slice(&from[start..start + columns.len()]);
        }
        let [red, green, blue] = row.columns_mut(0..columns.len());
        sharpen_row(
            *self.step,
            weights,
            [
                &rows[0].soft,
                &rows[1].soft,
                &rows[2].soft,
                &rows[3].soft,
                &rows[4].soft,
            ],
            [&rows[1].luminance, &rows[2].luminance, &rows[3].luminance],
            red,
            green,
            blue,
        );
    }
}

row_kernel! {
    /// Luminance in camera light: the mean of three channels.
    fn mean_of_three(red: &[f32], green: &[f32], blue: &[f32], mean: &mut [f32]) {
        let length = mean.len();
        let (red, green, blue) = (&red[..length], &green[..length], &blue[..length]);
        for x in 0..length {
            // A value plus differences, so that a grey is its own mean.
            mean[x] = green[x] + ((red[x] - green[x]) + (blue[x] - green[x])) * (1.0 / 3.0);
        }
    }
}

row_kernel! {
    /// Blurs along a row; `row` has two more values at each end than `soft`.
    fn blur_along(weights: [f32; REACH + 1], row: &[f32], soft: &mut [f32]) {
        let length = soft.len();
        let at: [&[f32]; 2 * REACH + 1] = [
            &row[..length], &row[1..][..length], &row[2..][..length], &row[3..][..length], &row[4..][..length],
        ];
        for x in 0..length {
            let own = at[2][x];
            soft[x] = own
                + weights[1] * ((at[1][x] - own) + (at[3][x] - own))
                + weights[2] * ((at[0][x] - own) + (at[4][x] - own));
        }
    }
}

row_kernel! {
    /// Sharpens a row: blurred rows from two above to two below, luminance (with two more values at each end) from one
    /// above to one below, and the row's channels.
    fn sharpen_row(
        step: DetailStep,
        weights: [f32; REACH + 1],
        soft: [&[f32]; 2 * REACH + 1],
        luminance: [&[f32]; 3],
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        /// A pixel is at most doubled or halved.
        const MOST: f32 = 2.0;
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        let soft = [&soft[0][..length], &soft[1][..length], &soft[2][..length], &soft[3][..length], &soft[4][..length]];
        let [above, own, below] = luminance;
        let above = [&above[1..][..length], &above[2..][..length], &above[3..][..length]];
        let own = [&own[1..][..length], &own[2..][..length], &own[3..][..length]];
        let below = [&below[1..][..length], &below[2..][..length], &below[3..][..length]];
        let [slope, floor] = [step.slope, step.floor].map(|of| of * HELD_BACK as f32);
        for x in 0..length {
            let y = own[1][x];
            let middle = soft[2][x];
            let blurred = middle
                + weights[1] * ((soft[1][x] - middle) + (soft[3][x] - middle))
                + weights[2] * ((soft[0][x] - middle) + (soft[4][x] - middle));
            let difference = y - blurred;
            let square = difference * difference;
            let noise = blurred.max(0.0) * slope + floor;
            let wanted = y + step.amount * difference * (square / (square + noise));
            let low = y
                .min(above[0][x]).min(above[1][x]).min(above[2][x])
                .min(own[0][x]).min(own[2][x])
                .min(below[0][x]).min(below[1][x]).min(below[2][x]);
            let high = y
                .max(above[0][x]).max(above[1][x]).max(above[2][x])
                .max(own[0][x]).max(own[2][x])
                .max(below[0][x]).max(below[1][x]).max(below[2][x]);
            let beyond = (high - low) * OVERSHOOT;
            let held = wanted.max((low - beyond).max(low * KEPT_OF_DARK)).min(high + beyond);
            let is_full = (red[x] >= step.full[0]) | (green[x] >= step.full[1]) | (blue[x] >= step.full[2]);
            let ratio = (held / y).max(1.0 / MOST).min(MOST);
            let ratio = if is_full | (y <= 0.0) { 1.0 } else { ratio };
            red[x] *= ratio;
            green[x] *= ratio;
            blue[x] *= ratio;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::chance::Normal;
    use crate::render::kernel::{hold_together, unordered_row};

    const STEP: DetailStep = DetailStep {
        amount: STRENGTH as f32,
        slope: 4e-4,
        floor: 4e-6,
        full: [1.0; 3],
    };

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&mean_of_three::levels(), |kernel, length| {
            let [red, green, blue] = [1, 2, 3].map(|seed| unordered_row(seed, length));
            let mut mean = vec![0.0; length];
            kernel(&red, &green, &blue, &mut mean);
            mean
        });
        hold_together(&blur_along::levels(), |kernel, length| {
            let mut soft = vec![0.0; length];
            kernel(weights(), &unordered_row(1, length + 4), &mut soft);
            soft
        });
        hold_together(&sharpen_row::levels(), |kernel, length| {
            let soft: [Vec<f32>; 5] = std::array::from_fn(|seed| unordered_row(seed, length));
            let luminance: [Vec<f32>; 3] =
                std::array::from_fn(|seed| unordered_row(seed + 5, length + 4));
            let [mut red, mut green, mut blue] = [8, 9, 10].map(|seed| unordered_row(seed, length));
            kernel(
                STEP,
                weights(),
                soft.each_ref().map(Vec::as_slice),
                luminance.each_ref().map(Vec::as_slice),
                &mut red,
                &mut green,
                &mut blue,
            );
            [red, green, blue].concat()
        });
    }

    /// A picture sharpened row by row; `light` gives three channels.
    fn sharpened(
        (width, height): (usize, usize),
        light: impl Fn(usize, usize) -> [f32; 3],
    ) -> Vec<[Vec<f32>; 3]> {
        let mut sharpness = Sharpness::new(&STEP, (width, height), 0..width, 0);
        let mut row = RgbRow::new(width);
        (0..height)
            .map(|y| {
                sharpness.row(y, &mut row, |y, row| {
                    for x in 0..width {
                        for (plane, value) in row.planes.iter_mut().zip(light(x, y)) {
                            plane[x] = value;
                        }
                    }
                });
                row.planes.clone()
            })
            .collect()
    }

    #[test]
    fn flat_stays_flat_at_any_size() {
        for size in [(1, 1), (1, 7), (7, 1), (2, 2), (3, 5), (40, 9)] {
            for row in sharpened(size, |_, _| [0.3, 0.2, 0.1]) {
                let expected = [0.3, 0.2, 0.1].map(|value| vec![value; size.0]);
                assert_eq!(row, expected, "{size:?}");
            }
        }
    }

    #[test]
    fn beside_a_lamp_stays_no_black_ring() {
        let (dark, bright) = (0.05, 0.95);
        let light = |x: usize, _: usize| [if x < 16 { dark } else { bright }; 3];
        let made = &sharpened((33, 9), light)[4];
        let darkest = made[0].iter().copied().fold(bright, f32::min);
        assert!(darkest >= KEPT_OF_DARK * dark - 1e-6, "{darkest}");
        assert!(darkest < dark, "nothing was sharpened");
    }

    #[test]
    fn an_edge_grows_steeper_without_a_halo_and_keeps_its_colour() {
        // A step blurred by the radius, as a good lens and a demosaic draw it; 25 to 1 in noise at its middle.
        let (dark, bright) = (0.1, 0.5);
        let light = |x: usize, _: usize| {
            let t = f64::from(x as u32) - 16.3;
            let share = 1.0 / (1.0 + (-t * 1.702 / RADIUS).exp());
            let value = dark + (bright - dark) * share as f32;
            [value, value * 0.8, value * 0.5]
        };
        let made = &sharpened((33, 9), light)[4];
        let steepest =
            |of: &dyn Fn(usize) -> f32| (1..33).map(|x| of(x) - of(x - 1)).fold(0.0, f32::max);
        let before = steepest(&|x| light(x, 0)[0]);
        let after = steepest(&|x| made[0][x]);
        assert!(after > 1.1 * before, "{before} {after}");
        let halo = OVERSHOOT * (bright - dark);
        for (x, (red, green)) in made[0].iter().zip(&made[1]).enumerate() {
            assert!(*red <= bright + halo && *red >= dark - halo, "{x}: {red}");
            assert!((green / red - 0.8).abs() < 1e-5);
        }
    }

    #[test]
    fn noise_on_flat_ground_stays_what_it_is() {
        // Noise of the stated model, independent in each channel: at most a twentieth more of it (measured: 2 %).
        for level in [0.001f64, 0.02, 0.3] {
            let deviation = (3.0 * (f64::from(STEP.slope) * level + f64::from(STEP.floor))).sqrt();
            let mut normal = Normal::new(5);
            let mut next = || (level + normal.draw() * deviation) as f32;
            let side = 64;
            let noisy: Vec<[f32; 3]> = (0..side * side).map(|_| [next(), next(), next()]).collect();
            let made = sharpened((side, side), |x, y| noisy[y * side + x]);
            let spread = |values: &[f32]| {
                let count = values.len() as f64;
                let mean = values.iter().map(|v| f64::from(*v)).sum::<f64>() / count;
                let squares = values
                    .iter()
                    .map(|v| (f64::from(*v) - mean).powi(2))
                    .sum::<f64>();
                (squares / count).sqrt()
            };
            let before = spread(&noisy.iter().map(|p| p[1]).collect::<Vec<_>>());
            let after = spread(
                &made
                    .iter()
                    .flat_map(|row| row[1].clone())
                    .collect::<Vec<_>>(),
            );
            assert!(after < 1.05 * before, "{level}: {before} {after}");
        }
    }
}
