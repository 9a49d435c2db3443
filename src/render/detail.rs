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
use crate::render::around::{Around, BLOCK, PADDING};
use crate::render::row::{RgbRow, Row, Window, mirrored, row_of};
use crate::render::sensor::SensorStep;
use std::fmt;
use std::ops::Range;

/// Standard deviation of the blur that is undone, in pixels.
const RADIUS: f64 = 0.7;
/// Rows and columns on each side that the blur looks at: beyond three standard deviations nothing is left.
const REACH: usize = 2;
/// How far the neighbours reach, whose range holds the overshoot.
const NEAR: usize = 1;
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
    around: Around,
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
        };
        Self {
            step,
            size,
            first_row,
            weights: weights(),
            window: Window::new(2 * REACH + 1, first_row, empty),
            around: Around::new(),
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
        });
        let rows: [&Kept; 2 * REACH + 1] = std::array::from_fn(|at| {
            self.window
                .row(mirrored((y + at) as isize - REACH as isize, height))
        });
        let own = rows[REACH];
        let start = columns.start - asked.start;
        let from = own.rgb.planes.each_ref().map(|plane| &plane[start..]);
        let luminance = rows.map(|row| &row.luminance[..]);
        for start in (0..columns.len()).step_by(BLOCK) {
            let size = BLOCK.min(columns.len() - start);
            let [blurred, low, high] = self.around.gather(&weights, NEAR, &luminance, start, size);
            let own = &luminance[REACH][PADDING + start..];
            let from = from.map(|plane| &plane[start..]);
            let [red, green, blue] = row.columns_mut(start..start + size);
            sharpen(*self.step, own, blurred, low, high, from, red, green, blue);
        }
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
    /// Sharpens pixels: their luminance, blurred, the least and the largest around them, and their channels before and after.
    fn sharpen(
        step: DetailStep,
        luminance: &[f32],
        blurred: &[f32],
        low: &[f32],
        high: &[f32],
        from: [&[f32]; 3],
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        /// A pixel is at most doubled or halved.
        const MOST: f32 = 2.0;
        /// Below this there is no luminance to take a ratio of, nor a variance: far below any count, and the product of two of
        /// them is a number still.
        const LEAST: f32 = 1e-15;
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        let (luminance, blurred) = (&luminance[..length], &blurred[..length]);
        let (low, high) = (&low[..length], &high[..length]);
        let from = [&from[0][..length], &from[1][..length], &from[2][..length]];
        let [slope, floor] = [step.slope, step.floor].map(|of| of * HELD_BACK as f32);
        for x in 0..length {
            let y = luminance[x];
            let difference = y - blurred[x];
            let square = difference * difference;
            let noise = blurred[x].max(0.0) * slope + floor;
            // Both quotients in one division: of the difference's share, and of what is held to what was.
            let with_noise = (square + noise).max(LEAST);
            let per_both = 1.0 / (with_noise * y);
            let wanted = y + step.amount * difference * (square * y * per_both);
            let beyond = (high[x] - low[x]) * OVERSHOOT;
            let least = larger(low[x] - beyond, low[x] * KEPT_OF_DARK);
            let held = smaller(larger(wanted, least), high[x] + beyond);
            let colour = [from[0][x], from[1][x], from[2][x]];
            let is_full = (colour[0] >= step.full[0]) | (colour[1] >= step.full[1]) | (colour[2] >= step.full[2]);
            // Where nothing is added, not even rounding is.
            let ratio = (1.0 + (held - y) * with_noise * per_both).max(1.0 / MOST).min(MOST);
            let ratio = if is_full | (y <= LEAST) { 1.0 } else { ratio };
            red[x] = colour[0] * ratio;
            green[x] = colour[1] * ratio;
            blue[x] = colour[2] * ratio;
        }
    }
}

#[cfg(test)]
mod tests;
