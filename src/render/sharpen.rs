//! Output sharpening: an unsharp mask on luminance in linear light, after resizing, in the output's own pixels.
//!
//! What a resize and a screen or a print take from an edge is a matter of output pixels, so the radius is one of those,
//! whatever the size of the sensor. Luminance alone is sharpened and the pixel scaled by its ratio: chromaticity, hence
//! the colour of an edge and of a wash, stays, and grey stays grey. What the mask adds beyond the range of the pixel's
//! neighbours is held to a share of that range, so that a step edge gets no halo worth the name; and no channel is driven
//! over white. Radius and share are common practice, no source.

use crate::render::kernel::row_kernel;
use crate::render::row::{RgbRow, Window, mirrored};
use std::ops::Range;

/// Standard deviation of the mask's Gaussian, in output pixels.
pub(crate) const RADIUS: f64 = 0.7;
/// Rows and columns to each side that the mask looks at: beyond three standard deviations nothing is left.
pub(crate) const REACH: usize = 2;
/// How far a sharpened pixel may lie beyond its eight neighbours, as a share of their range.
pub(crate) const OVERSHOOT: f32 = 0.08;

/// Numbers of the sharpening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SharpenStep {
    /// Share of the difference from the mask that is added, 0 to 2.
    pub amount: f64,
    /// Standard deviation of the mask, in output pixels.
    pub radius: f64,
    /// Shares of red, green and blue in luminance: those of the space of the pixels. Their sum is 1.
    pub luminance: [f64; 3],
}

impl SharpenStep {
    /// Weights of the mask at distances 0, 1 and 2 along one axis; the weights of all five places sum to 1.
    fn weights(&self) -> [f32; REACH + 1] {
        let gauss = |distance: f64| (-0.5 * (distance / self.radius).powi(2)).exp();
        let sum = 1.0 + 2.0 * (gauss(1.0) + gauss(2.0));
        [1.0, gauss(1.0), gauss(2.0)].map(|weight| (weight / sum) as f32)
    }
}

/// One row of the picture with what sharpening needs of it.
#[derive(Clone, Debug, Default)]
struct Prepared {
    rgb: RgbRow,
    luminance: Vec<f32>,
    /// Luminance blurred along the row.
    soft: Vec<f32>,
    /// Least and largest luminance of each pixel and its two neighbours in the row.
    low: Vec<f32>,
    high: Vec<f32>,
}

/// The sharpening of one band.
#[derive(Debug)]
pub(crate) struct Sharpener {
    amount: f32,
    weights: [f32; REACH + 1],
    luminance_of: [f32; 3],
    /// Size of the picture.
    picture: (usize, usize),
    /// Columns that are made, and columns that are looked at.
    columns: Range<usize>,
    source_columns: Range<usize>,
    first_row: usize,
    window: Window<Prepared>,
    /// Luminance with mirrored columns at both ends.
    padded: Vec<f32>,
}

impl Sharpener {
    /// For a run of columns of a picture of this size, from `first_row` on.
    pub(crate) fn new(
        step: &SharpenStep,
        picture: (usize, usize),
        columns: Range<usize>,
        first_row: usize,
    ) -> Self {
        let source_columns =
            columns.start.saturating_sub(REACH)..(columns.end + REACH).min(picture.0);
        let first_row = first_row.saturating_sub(REACH);
        let (length, source_length) = (columns.len(), source_columns.len());
        let empty = || Prepared {
            rgb: RgbRow::new(source_length),
            luminance: vec![0.0; length],
            soft: vec![0.0; length],
            low: vec![0.0; length],
            high: vec![0.0; length],
        };
        Self {
            amount: step.amount as f32,
            weights: step.weights(),
            luminance_of: step.luminance.map(|share| share as f32),
            picture,
            window: Window::new(2 * REACH + 1, first_row, empty),
            padded: vec![0.0; length + 2 * REACH],
            columns,
            source_columns,
            first_row,
        }
    }

    /// The source columns and the first source row that are needed.
    pub(crate) fn source(&self) -> (Range<usize>, usize) {
        (self.source_columns.clone(), self.first_row)
    }

    /// Makes row `y` from rows that `make` makes, from top to bottom.
    pub(crate) fn row(
        &mut self,
        y: usize,
        row: &mut RgbRow,
        mut make: impl FnMut(usize, &mut RgbRow),
    ) {
        let height = self.picture.1;
        let (weights, luminance_of) = (self.weights, self.luminance_of);
        let (columns, source_columns) = (&self.columns, &self.source_columns);
        let (padded, width) = (&mut self.padded, self.picture.0);
        self.window
            .fill_to((y + REACH + 1).min(height), |y, prepared| {
                make(y, &mut prepared.rgb);
                for (at, value) in padded.iter_mut().enumerate() {
                    let column = mirrored((columns.start + at) as isize - REACH as isize, width);
                    let place = column - source_columns.start;
                    let [red, green, blue] = &prepared.rgb.planes;
                    let (r, g, b) = (red[place], green[place], blue[place]);
                    *value = g + (luminance_of[0] * (r - g) + luminance_of[2] * (b - g));
                }
                prepared
                    .luminance
                    .copy_from_slice(&padded[REACH..REACH + columns.len()]);
                along_row(
                    weights,
                    padded,
                    &mut prepared.soft,
                    &mut prepared.low,
                    &mut prepared.high,
                );
            });
        let kept = |down: isize| self.window.row(mirrored(y as isize + down, height));
        let around = [-2, -1, 0, 1, 2].map(kept);
        let own = around[2];
        let inside = self.columns.start - self.source_columns.start;
        let inside = inside..inside + self.columns.len();
        for (to, from) in row.planes.iter_mut().zip(&own.rgb.planes) {
            to[..inside.len()].copy_from_slice(&from[inside.clone()]);
        }
        let [red, green, blue] = row.columns_mut(0..inside.len());
        sharpen_row(
            self.amount,
            self.weights,
            &own.luminance,
            around.map(|kept| kept.soft.as_slice()),
            [&around[1].low, &own.low, &around[3].low],
            [&around[1].high, &own.high, &around[3].high],
            red,
            green,
            blue,
        );
    }
}

row_kernel! {
    /// Along one row: the blur, and the least and largest of each pixel and its two neighbours. `luminance` is longer by
    /// [`REACH`] on both sides.
    fn along_row(
        weights: [f32; REACH + 1],
        luminance: &[f32],
        soft: &mut [f32],
        low: &mut [f32],
        high: &mut [f32],
    ) {
        let length = soft.len();
        let (low, high) = (&mut low[..length], &mut high[..length]);
        let (a, b, c) = (&luminance[..length], &luminance[1..1 + length], &luminance[2..2 + length]);
        let (d, e) = (&luminance[3..3 + length], &luminance[4..4 + length]);
        for x in 0..length {
            // As the pixel plus differences: flat stays flat to the last bit.
            let own = c[x];
            let near = (b[x] - own) + (d[x] - own);
            let far = (a[x] - own) + (e[x] - own);
            soft[x] = own + (weights[1] * near + weights[2] * far);
            low[x] = own.min(b[x]).min(d[x]);
            high[x] = own.max(b[x]).max(d[x]);
        }
    }
}

row_kernel! {
    /// Sharpens one row: blurs across rows, adds the difference, holds the overshoot, scales the pixels.
    fn sharpen_row(
        amount: f32,
        weights: [f32; REACH + 1],
        luminance: &[f32],
        soft: [&[f32]; 5],
        low: [&[f32]; 3],
        high: [&[f32]; 3],
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        /// Below this there is no luminance to take a ratio of.
        const LEAST: f32 = 1e-6;
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        let luminance = &luminance[..length];
        let soft = [
            &soft[0][..length], &soft[1][..length], &soft[2][..length], &soft[3][..length], &soft[4][..length],
        ];
        let low = [&low[0][..length], &low[1][..length], &low[2][..length]];
        let high = [&high[0][..length], &high[1][..length], &high[2][..length]];
        for x in 0..length {
            let own = soft[2][x];
            let near = (soft[1][x] - own) + (soft[3][x] - own);
            let far = (soft[0][x] - own) + (soft[4][x] - own);
            let mask = own + (weights[1] * near + weights[2] * far);
            let here = luminance[x];
            let least = low[0][x].min(low[1][x]).min(low[2][x]);
            let largest = high[0][x].max(high[1][x]).max(high[2][x]);
            let room = OVERSHOOT * (largest - least);
            let sharpened = (here + amount * (here - mask)).max(least - room).min(largest + room);
            let brightest = red[x].max(green[x]).max(blue[x]);
            let most = (1.0 / brightest.max(LEAST)).max(1.0);
            let ratio = (sharpened / here.max(LEAST)).max(0.0).min(most);
            let ratio = if here > LEAST { ratio } else { 1.0 };
            red[x] *= ratio;
            green[x] *= ratio;
            blue[x] *= ratio;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        let weights = [0.5, 0.2, 0.05];
        hold_together(&along_row::levels(), |kernel, length| {
            let [mut soft, mut low, mut high] = [0, 1, 2].map(|_| vec![0.0; length]);
            let luminance = unordered_row(1, length + 2 * REACH);
            kernel(weights, &luminance, &mut soft, &mut low, &mut high);
            [soft, low, high].concat()
        });
        hold_together(&sharpen_row::levels(), |kernel, length| {
            let rows = [0, 1, 2, 3, 4, 5, 6, 7, 8].map(|seed| unordered_row(seed, length));
            let mut planes = [9, 10, 11].map(|seed| unordered_row(seed, length));
            let [red, green, blue] = &mut planes;
            let [a, b, c, d, e, f, g, h, i] = &rows;
            kernel(
                0.8,
                weights,
                a,
                [b, c, d, e, f],
                [a, g, h],
                [f, i, e],
                red,
                green,
                blue,
            );
            planes.concat()
        });
    }

    fn sharpened(picture: &[Vec<f32>], amount: f64) -> Vec<[Vec<f32>; 3]> {
        let (width, height) = (picture[0].len(), picture.len());
        let step = SharpenStep {
            amount,
            radius: RADIUS,
            luminance: crate::colour::spaces::SRGB.to_xyz().0[1],
        };
        let mut sharpener = Sharpener::new(&step, (width, height), 0..width, 0);
        (0..height)
            .map(|y| {
                let mut row = RgbRow::new(width);
                sharpener.row(y, &mut row, |y, row| {
                    for plane in &mut row.planes {
                        plane.copy_from_slice(&picture[y]);
                    }
                });
                row.planes
            })
            .collect()
    }

    #[test]
    fn flat_stays_flat_and_a_step_overshoots_no_more_than_stated() {
        for size in [1, 2, 3, 9] {
            let flat = vec![vec![0.37; size]; size];
            for row in sharpened(&flat, 2.0) {
                assert!(row.iter().flatten().all(|value| *value == 0.37));
            }
        }
        let step: Vec<f32> = (0..20).map(|x| if x < 10 { 0.2 } else { 0.6 }).collect();
        let rows = sharpened(&vec![step; 9], 2.0);
        let [red, green, blue] = &rows[4];
        assert!(red == green && green == blue);
        let (least, largest) = (
            red.iter().copied().fold(1.0, f32::min),
            red.iter().copied().fold(0.0, f32::max),
        );
        assert!(least < 0.2 && largest > 0.6, "nothing was sharpened");
        let room = OVERSHOOT * 0.4 + 1e-6;
        assert!(
            least >= 0.2 - room && largest <= 0.6 + room,
            "{least} {largest}"
        );
    }
}
