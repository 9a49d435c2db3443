//! Output sharpening: an unsharp mask on luminance in linear light, after resizing, in the output's own pixels.
//!
//! What a resize, a screen or ink on paper, and an eye at its usual distance take from an edge is a matter of the
//! delivered pixels' size, so the mask is as wide as that blur ([`SharpenStep::new`]), whatever the size of the sensor.
//! Luminance alone is sharpened and the pixel scaled by its ratio: chromaticity, hence the colour of an edge and of a
//! wash, stays, and grey stays grey. What the mask adds beyond the range of the pixel's neighbours is held to a share of
//! that range, counted in square roots of light. Those are nearly equal steps to the eye: a share of the light itself
//! would let the dark side of an edge in a spot go all the way to black. No channel is driven over white, and where
//! there is nearly no light there is nothing but noise, which is left alone.

use crate::colour::spaces::RgbSpace;
use crate::look::correction::{Medium, Sharpening};
use crate::render::arithmetic::smooth_step;
use crate::render::kernel::row_kernel;
use crate::render::row::{RgbRow, Window, mirrored};
use std::ops::Range;

/// Blur of the pixels themselves and of the resize, standard deviation in pixels (a pixel as wide as its pitch has 0.29,
/// a resize as much again and more; common practice, no source).
const PIXEL_BLUR: f64 = 0.5;
/// Standard deviation of the eye's line spread: one arcminute across at half its height, which is normal acuity (common
/// practice, no source). Radians.
const EYE_BLUR: f64 = 0.42 / 60.0 * std::f64::consts::PI / 180.0;
/// Millimetres an inch.
const INCH: f64 = 25.4;
/// Rows and columns to each side that the widest mask looks at: three standard deviations of the widest radius.
const MOST_REACH: usize = 7;
/// What a pixel keeps of the darkest around it at least, in square roots of light: beside a lamp the range is many times the
/// dark's own light, and a share of it would leave a black ring. Common practice, no source.
const KEPT_OF_DARK: f32 = 0.9;
/// Display light, as a square root, below which nothing is sharpened, and above which everything is: luminance 0.0025 and
/// 0.0225 (common practice, no source).
const DARK: [f32; 2] = [0.05, 0.15];

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
#[derive(Clone, Debug, Default)]
struct Prepared {
    rgb: RgbRow,
    luminance: Vec<f32>,
    /// Luminance blurred along the row.
    soft: Vec<f32>,
    /// Least and largest square root of luminance of each pixel and its neighbours in the row.
    low: Vec<f32>,
    high: Vec<f32>,
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
    /// Luminance, and its square root, with mirrored columns at both ends.
    padded: Vec<f32>,
    roots: Vec<f32>,
    /// The mask, and the bounds, of one row.
    mask: Vec<f32>,
    low: Vec<f32>,
    high: Vec<f32>,
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
            luminance: vec![0.0; length],
            soft: vec![0.0; length],
            low: vec![0.0; length],
            high: vec![0.0; length],
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
            padded: vec![0.0; length + 2 * reach],
            roots: vec![0.0; length + 2 * reach],
            mask: vec![0.0; length],
            low: vec![0.0; length],
            high: vec![0.0; length],
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
        let (reach, near, luminance_of) = (self.reach, self.near, self.luminance_of);
        let (columns, source_columns) = (&self.columns, &self.source_columns);
        let (padded, roots, weights) = (&mut self.padded, &mut self.roots, &self.weights);
        self.window
            .fill_to((y + reach + 1).min(height), |y, prepared| {
                make(y, &mut prepared.rgb);
                let inside = columns.start - source_columns.start;
                // What lies inside the source, in one run; the mirrored ends by themselves.
                let before = reach - reach.min(inside);
                let run = source_columns.len().min(padded.len() - before);
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
                let left = columns.start as isize - reach as isize;
                for at in (0..before).chain(before + run..padded.len()) {
                    let column = mirrored(left + at as isize, width);
                    padded[at] = padded[(column as isize - left) as usize];
                }
                square_roots(padded, roots);
                prepared
                    .luminance
                    .copy_from_slice(&padded[reach..reach + columns.len()]);
                blur_along(weights, padded, &mut prepared.soft);
                range_along(
                    near,
                    &roots[reach - near..reach + columns.len() + near],
                    &mut prepared.low,
                    &mut prepared.high,
                );
            });
        let kept = |down: isize| self.window.row(mirrored(y as isize + down, height));
        let own = kept(0);
        self.mask.copy_from_slice(&own.soft);
        self.low.copy_from_slice(&own.low);
        self.high.copy_from_slice(&own.high);
        for distance in 1..=reach {
            let (above, below) = (kept(-(distance as isize)), kept(distance as isize));
            add_pair(
                self.weights[distance],
                &own.soft,
                &above.soft,
                &below.soft,
                &mut self.mask,
            );
            if distance <= near {
                widen(
                    &above.low,
                    &below.low,
                    &above.high,
                    &below.high,
                    &mut self.low,
                    &mut self.high,
                );
            }
        }
        let inside = self.columns.start - self.source_columns.start;
        let inside = inside..inside + self.columns.len();
        for (to, from) in row.planes.iter_mut().zip(&own.rgb.planes) {
            to[..inside.len()].copy_from_slice(&from[inside.clone()]);
        }
        let [red, green, blue] = row.columns_mut(0..inside.len());
        sharpen_row(
            self.amount,
            self.overshoot,
            &own.luminance,
            &self.mask,
            &self.low,
            &self.high,
            red,
            green,
            blue,
        );
    }
}

row_kernel! {
    /// Luminance, as green plus differences: grey has its own value.
    fn luminance(of: [f32; 3], red: &[f32], green: &[f32], blue: &[f32], luminance: &mut [f32]) {
        let length = luminance.len();
        let (red, green, blue) = (&red[..length], &green[..length], &blue[..length]);
        for x in 0..length {
            let g = green[x];
            luminance[x] = g + (of[0] * (red[x] - g) + of[2] * (blue[x] - g));
        }
    }
}

row_kernel! {
    /// Square roots; of negative numbers and NaN 0.
    fn square_roots(values: &[f32], roots: &mut [f32]) {
        let length = roots.len();
        let values = &values[..length];
        for x in 0..length {
            roots[x] = values[x].max(0.0).sqrt();
        }
    }
}

row_kernel! {
    /// Blurs along a row; `values` is longer by the mask's reach on both sides. As the pixel plus differences: flat stays
    /// flat to the last bit.
    fn blur_along(weights: &[f32], values: &[f32], soft: &mut [f32]) {
        let length = soft.len();
        let reach = weights.len() - 1;
        let own = &values[reach..reach + length];
        soft.copy_from_slice(own);
        for distance in 1..=reach {
            let weight = weights[distance];
            let before = &values[reach - distance..reach - distance + length];
            let after = &values[reach + distance..reach + distance + length];
            for x in 0..length {
                soft[x] += weight * ((before[x] - own[x]) + (after[x] - own[x]));
            }
        }
    }
}

row_kernel! {
    /// Least and largest of each value and its neighbours up to `near` away; `values` is longer by that on both sides.
    fn range_along(near: usize, values: &[f32], low: &mut [f32], high: &mut [f32]) {
        let length = low.len();
        let high = &mut high[..length];
        low.copy_from_slice(&values[near..near + length]);
        high.copy_from_slice(&values[near..near + length]);
        for distance in 1..=near {
            let before = &values[near - distance..near - distance + length];
            let after = &values[near + distance..near + distance + length];
            for x in 0..length {
                low[x] = low[x].min(before[x]).min(after[x]);
                high[x] = high[x].max(before[x]).max(after[x]);
            }
        }
    }
}

row_kernel! {
    /// Adds the rows at one distance above and below to the mask.
    fn add_pair(weight: f32, own: &[f32], above: &[f32], below: &[f32], mask: &mut [f32]) {
        let length = mask.len();
        let (own, above, below) = (&own[..length], &above[..length], &below[..length]);
        for x in 0..length {
            mask[x] += weight * ((above[x] - own[x]) + (below[x] - own[x]));
        }
    }
}

row_kernel! {
    /// Takes two rows more into the bounds.
    fn widen(
        low_above: &[f32],
        low_below: &[f32],
        high_above: &[f32],
        high_below: &[f32],
        low: &mut [f32],
        high: &mut [f32],
    ) {
        let length = low.len();
        let high = &mut high[..length];
        let (low_above, low_below) = (&low_above[..length], &low_below[..length]);
        let (high_above, high_below) = (&high_above[..length], &high_below[..length]);
        for x in 0..length {
            low[x] = low[x].min(low_above[x]).min(low_below[x]);
            high[x] = high[x].max(high_above[x]).max(high_below[x]);
        }
    }
}

row_kernel! {
    /// Sharpens one row: adds the difference from the mask, holds the overshoot, scales the pixels.
    fn sharpen_row(
        amount: f32,
        overshoot: f32,
        luminance: &[f32],
        mask: &[f32],
        low: &[f32],
        high: &[f32],
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        /// Below this there is no luminance to take a ratio of.
        const LEAST: f32 = 1e-6;
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        let (luminance, mask) = (&luminance[..length], &mask[..length]);
        let (low, high) = (&low[..length], &high[..length]);
        for x in 0..length {
            let here = luminance[x];
            let share = amount * smooth_step(mask[x].max(0.0).sqrt(), DARK[0], DARK[1]);
            let room = overshoot * (high[x] - low[x]);
            let (least, most) = ((low[x] - room).max(low[x] * KEPT_OF_DARK), high[x] + room);
            let sharpened = (here + share * (here - mask[x])).max(least * least).min(most * most);
            let brightest = red[x].max(green[x]).max(blue[x]);
            let to_white = (1.0 / brightest.max(LEAST)).max(1.0);
            let ratio = (sharpened / here.max(LEAST)).max(0.0).min(to_white);
            // Where nothing is added, not even rounding is.
            let is_sharpened = (here > LEAST) & (high[x] > low[x]);
            let ratio = if is_sharpened { ratio } else { 1.0 };
            red[x] *= ratio;
            green[x] *= ratio;
            blue[x] *= ratio;
        }
    }
}

#[cfg(test)]
mod tests;
