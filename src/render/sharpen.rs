//! Output sharpening: an unsharp mask on luminance in linear light, after resizing, in the output's own pixels.
//!
//! What a resize, a screen or ink on paper, and an eye at its usual distance take from an edge is a matter of the
//! delivered pixels' size, so the mask is as wide as that blur ([`SharpenStep::new`]), whatever the size of the sensor.
//! Luminance alone is sharpened and the pixel scaled by its ratio: chromaticity, hence the colour of an edge and of a
//! wash, stays, and grey stays grey. What the mask adds beyond the range of the pixel's neighbours is held to a share of
//! that range, counted in square roots of light. Those are nearly equal steps to the eye: a share of the light itself
//! would let the dark side of an edge in a spot go all the way to black. No channel is driven over white, and where
//! there is nearly no light there is nothing but noise, which is left alone.

mod kernels;

use crate::colour::spaces::RgbSpace;
use crate::look::correction::{Medium, Sharpening};
use crate::render::around::{Around, BLOCK, MOST_REACH, PADDING};
use crate::render::row::{RgbRow, Row, Window, mirrored, row_of};
use kernels::{luminance, sharpen};
use std::ops::Range;

/// Blur of the pixels themselves and of the resize, standard deviation in pixels (a pixel as wide as its pitch has 0.29,
/// a resize as much again and more; common practice, no source).
const PIXEL_BLUR: f64 = 0.5;
/// Standard deviation of the eye's line spread: one arcminute across at half its height, which is normal acuity (common
/// practice, no source). Radians.
const EYE_BLUR: f64 = 0.42 / 60.0 * std::f64::consts::PI / 180.0;
/// Millimetres an inch.
const INCH: f64 = 25.4;
/// What a pixel keeps of the darkest around it at least, in square roots of light: beside a lamp the range is many times the
/// dark's own light, and a share of it would leave a black ring. Common practice, no source.
const KEPT_OF_DARK: f32 = 0.9;
/// Luminance of display light below which nothing is sharpened, and above which everything is (common practice, no source).
const DARK: [f32; 2] = [0.002, 0.018];

/// What a medium does to an edge, and what it bears.
struct Character {
    /// Spread of ink or light, standard deviation in millimetres.
    spread: f64,
    /// Usual distance of the eye in millimetres.
    distance: f64,
    /// Usual resolution in pixels an inch.
    resolution: f64,
    /// Factor on the amount: paper scatters light below the ink, matte paper more, and takes contrast from fine detail.
    strength: f64,
    /// How far a pixel may go beyond its neighbours, as a share of their range in square roots of light.
    overshoot: f64,
}

/// Common practice, no source: a screen on a desk and prints in the hand; ink of an office or laboratory printer spreads
/// by about its droplet on coated paper and two to three of them on uncoated paper.
const fn character(medium: Medium) -> Character {
    match medium {
        Medium::Screen => Character {
            spread: 0.0,
            distance: 600.0,
            resolution: 110.0,
            strength: 1.0,
            overshoot: 0.06,
        },
        Medium::Glossy => Character {
            spread: 0.02,
            distance: 350.0,
            resolution: 300.0,
            strength: 1.25,
            overshoot: 0.09,
        },
        Medium::Matte => Character {
            spread: 0.05,
            distance: 350.0,
            resolution: 300.0,
            strength: 1.6,
            overshoot: 0.13,
        },
    }
}

/// Numbers of the sharpening.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SharpenStep {
    /// Share of the difference from the mask that is added.
    pub amount: f64,
    /// Standard deviation of the mask's Gaussian, in output pixels.
    pub radius: f64,
    /// How far a sharpened pixel may lie beyond its neighbours, as a share of their range in square roots of light.
    pub overshoot: f64,
    /// Shares of red, green and blue in the luminance of the picture's space.
    pub luminance: [f64; 3],
}

impl SharpenStep {
    /// What a medium at a resolution needs; `None` for none. The radius is the blur that the mask undoes: the pixel's, the
    /// medium's and the eye's, which add as variances.
    #[must_use]
    pub fn new(wish: &Sharpening, space: &RgbSpace) -> Option<Self> {
        if wish.amount <= 0.0 {
            return None;
        }
        let character = character(wish.medium);
        let per_millimetre = wish.resolution.unwrap_or(character.resolution) / INCH;
        let eye = EYE_BLUR * character.distance;
        let seen = per_millimetre * character.spread.hypot(eye);
        Some(Self {
            amount: wish.amount * character.strength,
            radius: PIXEL_BLUR.hypot(seen),
            overshoot: character.overshoot,
            luminance: space.to_xyz().0[1],
        })
    }

    /// Rows and columns to each side that the mask looks at: beyond three standard deviations nothing is left.
    fn reach(&self) -> usize {
        ((3.0 * self.radius).ceil() as usize).clamp(1, MOST_REACH)
    }

    /// How far a pixel's neighbours reach, whose range holds the overshoot.
    fn near(&self) -> usize {
        (self.radius.round() as usize).clamp(1, self.reach())
    }

    /// Weights of the mask at the distances from 0 along one axis; the weights of all places sum to 1.
    fn weights(&self) -> Vec<f32> {
        let gauss = |distance: usize| (-0.5 * (distance as f64 / self.radius).powi(2)).exp();
        let around: f64 = (1..=self.reach()).map(gauss).sum();
        let sum = 1.0 + 2.0 * around;
        (0..=self.reach())
            .map(|distance| (gauss(distance) / sum) as f32)
            .collect()
    }
}

/// One row of the picture with what sharpening needs of it.
#[derive(Clone, Debug)]
struct Prepared {
    rgb: RgbRow,
    /// Luminance, with [`PADDING`] columns at both ends, of which the inner ones that the mask reaches are mirrored.
    luminance: Row,
}

/// The sharpening of one band.
#[derive(Debug)]
pub(crate) struct Sharpener {
    amount: f32,
    overshoot: f32,
    reach: usize,
    near: usize,
    weights: Vec<f32>,
    luminance_of: [f32; 3],
    /// Size of the picture.
    picture: (usize, usize),
    /// Columns that are made, and columns that are looked at.
    columns: Range<usize>,
    source_columns: Range<usize>,
    first_row: usize,
    window: Window<Prepared>,
    around: Around,
}

impl Sharpener {
    /// For a run of columns of a picture of this size, from `first_row` on.
    pub(crate) fn new(
        step: &SharpenStep,
        picture: (usize, usize),
        columns: Range<usize>,
        first_row: usize,
    ) -> Self {
        let reach = step.reach();
        let source_columns =
            columns.start.saturating_sub(reach)..(columns.end + reach).min(picture.0);
        let first_row = first_row.saturating_sub(reach);
        let (length, source_length) = (columns.len(), source_columns.len());
        let empty = || Prepared {
            rgb: RgbRow::new(source_length),
            luminance: row_of(length + 2 * PADDING),
        };
        Self {
            amount: step.amount as f32,
            overshoot: step.overshoot as f32,
            reach,
            near: step.near(),
            weights: step.weights(),
            luminance_of: step.luminance.map(|share| share as f32),
            picture,
            window: Window::new(2 * reach + 1, first_row, empty),
            around: Around::new(),
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
        let (width, height) = self.picture;
        let (reach, luminance_of) = (self.reach, self.luminance_of);
        let (columns, source_columns) = (&self.columns, &self.source_columns);
        self.window
            .fill_to((y + reach + 1).min(height), |y, prepared| {
                make(y, &mut prepared.rgb);
                let padded = &mut prepared.luminance;
                let inside = columns.start - source_columns.start;
                // What lies inside the source, in one run; the mirrored ends by themselves.
                let looked_at = PADDING - reach..PADDING + columns.len() + reach;
                let before = PADDING - reach.min(inside);
                let run = source_columns.len().min(looked_at.end - before);
                let [red, green, blue] = &prepared.rgb.planes;
                let skipped = inside - reach.min(inside);
                let of_source = skipped..skipped + run;
                luminance(
                    luminance_of,
                    &red[of_source.clone()],
                    &green[of_source.clone()],
                    &blue[of_source],
                    &mut padded[before..before + run],
                );
                let left = columns.start as isize - PADDING as isize;
                for at in (looked_at.start..before).chain(before + run..looked_at.end) {
                    let column = mirrored(left + at as isize, width);
                    padded[at] = padded[(column as isize - left) as usize];
                }
            });
        // Rows at the distances from above to below; of those beyond the mask's reach none is looked at.
        let kept: [&Prepared; 2 * MOST_REACH + 1] = std::array::from_fn(|at| {
            let down = at.min(2 * reach) as isize - reach as isize;
            self.window.row(mirrored(y as isize + down, height))
        });
        let own = kept[reach];
        let inside = self.columns.start - self.source_columns.start;
        let from = own.rgb.planes.each_ref().map(|plane| &plane[inside..]);
        let rows = kept.map(|row| &row.luminance[..]);
        for start in (0..self.columns.len()).step_by(BLOCK) {
            let size = BLOCK.min(self.columns.len() - start);
            let rows = &rows[..=2 * reach];
            let [mask, low, high] = self
                .around
                .gather(&self.weights, self.near, rows, start, size);
            let luminance = &own.luminance[PADDING + start..];
            let from = from.map(|plane| &plane[start..]);
            let [red, green, blue] = row.columns_mut(start..start + size);
            let strength = [self.amount, self.overshoot];
            sharpen(strength, luminance, mask, low, high, from, red, green, blue);
        }
    }
}

#[cfg(test)]
mod tests;
