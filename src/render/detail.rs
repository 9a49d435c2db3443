//! Capture sharpening: what lens, filter and demosaic took from fine detail is brought back, at full size, in camera light.
//!
//! One step of van Cittert's iteration for undoing a blur (P. H. van Cittert, "Zum Einfluß der Spaltbreite auf die
//! Intensitätsverteilung in Spektrallinien II", Zeitschrift für Physik 69:298, 1931): the difference between the
//! light and its own blurred copy is added to it, more than once to make up for the steps that follow. Differences are weighed by d² / (d² + c s²), where s² is the noise's
//! variance at that level by the frame's own model: what does not stand out from noise stays as it is, so that darkness is
//! not sharpened. Luminance alone is changed and the pixel scaled by its ratio, which keeps its colour; what goes
//! beyond the neighbours is held to a share of their range. Radius, weight and share are common practice, no source.

use crate::base::arithmetic::{larger, smaller};
use crate::base::kernel::row_kernel;
use crate::raw::noise::SensorNoise;
use crate::render::row::{LINE_VALUES, RgbRow, Row, Window, mirrored, row_of};
use crate::render::sensor::SensorStep;
use std::fmt;
use std::ops::Range;

/// Standard deviation of the blur that is undone, in pixels.
const RADIUS: f64 = 0.7;
/// Rows and columns on each side that the blur looks at: beyond three standard deviations nothing is left.
const REACH: usize = 2;
/// Columns before the first of a row of luminance: its own pixels begin at a line of memory.
const PADDING: usize = LINE_VALUES;
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
    /// Luminance, with [`PADDING`] more columns at each end, of which the inner [`REACH`] are looked at.
    luminance: Row,
    /// Luminance blurred along the row.
    soft: Row,
    /// Least and largest luminance of each pixel and the two beside it.
    low: Row,
    high: Row,
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
            luminance: row_of(columns.len() + 2 * PADDING),
            soft: row_of(columns.len()),
            low: row_of(columns.len()),
            high: row_of(columns.len()),
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
            let left = columns.start as isize - PADDING as isize;
            let before = (asked.start as isize - left) as usize;
            let inside = before..before + asked.len();
            let [red, green, blue] = kept.rgb.columns_mut(0..asked.len());
            mean_of_three(red, green, blue, &mut kept.luminance[inside.clone()]);
            let looked_at = PADDING - REACH..PADDING + columns.len() + REACH;
            for at in (looked_at.start..inside.start).chain(inside.end..looked_at.end) {
                let stand_in = mirrored(left + at as isize, width) as isize - left;
                kept.luminance[at] = kept.luminance[stand_in as usize];
            }
            blur_and_range_along(
                weights,
                &kept.luminance[looked_at],
                &mut kept.soft,
                &mut kept.low,
                &mut kept.high,
            );
        });
        let rows: [&Kept; 2 * REACH + 1] = std::array::from_fn(|at| {
            self.window
                .row(mirrored((y + at) as isize - REACH as isize, height))
        });
        let own = rows[REACH];
        let start = columns.start - asked.start;
        let from = own.rgb.planes.each_ref().map(|plane| &plane[start..]);
        let near = [REACH - 1, REACH, REACH + 1].map(|at| rows[at]);
        let [red, green, blue] = row.columns_mut(0..columns.len());
        sharpen_row(
            *self.step,
            weights,
            rows.map(|row| &row.soft[..]),
            &own.luminance[PADDING..],
            near.map(|row| &row.low[..]),
            near.map(|row| &row.high[..]),
            from,
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
    /// Blurs along a row, and finds the least and the largest of each value and the two beside it; `row` has two more values
    /// at each end than `soft`.
    fn blur_and_range_along(
        weights: [f32; REACH + 1],
        row: &[f32],
        soft: &mut [f32],
        low: &mut [f32],
        high: &mut [f32],
    ) {
        let length = soft.len();
        let (low, high) = (&mut low[..length], &mut high[..length]);
        let at: [&[f32]; 2 * REACH + 1] = [
            &row[..length], &row[1..][..length], &row[2..][..length], &row[3..][..length], &row[4..][..length],
        ];
        for x in 0..length {
            let own = at[2][x];
            let near = (at[1][x] - own) + (at[3][x] - own);
            let far = (at[0][x] - own) + (at[4][x] - own);
            soft[x] = weights[2].mul_add(far, weights[1].mul_add(near, own));
            low[x] = smaller(smaller(own, at[1][x]), at[3][x]);
            high[x] = larger(larger(own, at[1][x]), at[3][x]);
        }
    }
}

row_kernel! {
    /// Sharpens a row: blurred rows from two above to two below, its own luminance, the bounds along the rows from one
    /// above to one below, and the row's channels before and after.
    fn sharpen_row(
        step: DetailStep,
        weights: [f32; REACH + 1],
        soft: [&[f32]; 2 * REACH + 1],
        luminance: &[f32],
        low: [&[f32]; 3],
        high: [&[f32]; 3],
        from: [&[f32]; 3],
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        /// A pixel is at most doubled or halved.
        const MOST: f32 = 2.0;
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        let soft = [&soft[0][..length], &soft[1][..length], &soft[2][..length], &soft[3][..length], &soft[4][..length]];
        let luminance = &luminance[..length];
        let low = [&low[0][..length], &low[1][..length], &low[2][..length]];
        let high = [&high[0][..length], &high[1][..length], &high[2][..length]];
        let from = [&from[0][..length], &from[1][..length], &from[2][..length]];
        let [slope, floor] = [step.slope, step.floor].map(|of| of * HELD_BACK as f32);
        for x in 0..length {
            let y = luminance[x];
            let middle = soft[2][x];
            let near = (soft[1][x] - middle) + (soft[3][x] - middle);
            let far = (soft[0][x] - middle) + (soft[4][x] - middle);
            let blurred = weights[2].mul_add(far, weights[1].mul_add(near, middle));
            let difference = y - blurred;
            let square = difference * difference;
            let noise = blurred.max(0.0) * slope + floor;
            let wanted = y + step.amount * difference * (square / (square + noise));
            let low = smaller(smaller(low[0][x], low[1][x]), low[2][x]);
            let high = larger(larger(high[0][x], high[1][x]), high[2][x]);
            let beyond = (high - low) * OVERSHOOT;
            let held = smaller(larger(wanted, larger(low - beyond, low * KEPT_OF_DARK)), high + beyond);
            let colour = [from[0][x], from[1][x], from[2][x]];
            let is_full = (colour[0] >= step.full[0]) | (colour[1] >= step.full[1]) | (colour[2] >= step.full[2]);
            let ratio = (held / y).max(1.0 / MOST).min(MOST);
            let ratio = if is_full | (y <= 0.0) { 1.0 } else { ratio };
            red[x] = colour[0] * ratio;
            green[x] = colour[1] * ratio;
            blue[x] = colour[2] * ratio;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::chance::Normal;
    use crate::base::kernel::{hold_together, unordered_row};

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
        hold_together(&blur_and_range_along::levels(), |kernel, length| {
            let [mut soft, mut low, mut high] = [0, 1, 2].map(|_| vec![0.0; length]);
            kernel(
                weights(),
                &unordered_row(1, length + 4),
                &mut soft,
                &mut low,
                &mut high,
            );
            [soft, low, high].concat()
        });
        hold_together(&sharpen_row::levels(), |kernel, length| {
            let rows: [Vec<f32>; 15] = std::array::from_fn(|seed| unordered_row(seed, length));
            let row = |at: usize| &rows[at][..];
            let [mut red, mut green, mut blue] = [0, 1, 2].map(|_| vec![0.0; length]);
            kernel(
                STEP,
                weights(),
                [0, 1, 2, 3, 4].map(row),
                row(5),
                [6, 7, 8].map(row),
                [9, 10, 11].map(row),
                [12, 13, 14].map(row),
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
                row.planes.each_ref().map(|plane| plane.to_vec())
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
