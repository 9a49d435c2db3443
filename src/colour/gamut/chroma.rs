//! The map into the picture's space: only where a channel is negative, and by ratios only.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use super::blocks::{Lane, Lanes, Marks, TOGETHER, for_rows_of_asking, for_stretches_that_ask};
use super::destination::Destination;
use super::hues::place;
use super::outside::is_outside;
use crate::base::arithmetic::{largest, smallest};
use crate::base::kernel::row_kernel;

/// Share of clipping in the blue treatment; the rest is mixing with white at a constant brightest channel.
const CLIPPED_SHARE: f32 = 0.5;

impl Destination {
    /// One pixel of the space's linear RGB with negative channels to one without. Colours that have none come out as they
    /// went in; a pixel without a positive channel is black. Values above 1 are kept: brightness is the curve's business.
    /// The plain twin of [`Destination::map_row`].
    #[must_use]
    pub fn map(&self, rgb: [f32; 3]) -> [f32; 3] {
        let brightest = rgb[0].max(rgb[1]).max(rgb[2]);
        let least = rgb[0].min(rgb[1]).min(rgb[2]);
        let is_lit = brightest > 0.0;
        if !is_lit {
            return [0.0; 3];
        }
        if rgb.iter().all(|value| *value >= 0.0) {
            return rgb;
        }
        let ratio = rgb.map(|value| value / brightest);
        let [lightness, a, b] = self.oklab.oklab(ratio, f32::cbrt);
        let hue = place(a, b);
        let held = held_share(self.hues.largest.at(hue), lightness, a, b);
        let reduced = self.oklab.rgb([lightness, a * held, b * held]);
        let blueness = self.hues.blueness.at(hue);
        let per_depth = 1.0 / (1.0 - least / brightest);
        [0, 1, 2]
            .map(|channel| brightest * mixed(ratio[channel], per_depth, reduced[channel], blueness))
    }

    /// A row of the space's linear RGB to one without negative channels, in place: each pixel as [`Destination::map`] has
    /// it, within 1e-5 of the brightest channel. The three rows have one length; what is beyond the shortest may stay.
    /// Returns how many pixels were clearly outside ([`super::OUTSIDE`]).
    pub fn map_row(&self, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) -> u32 {
        let mut outside = 0;
        for_stretches_that_ask([red, green, blue], mark_negative, |marks, stretch| {
            outside += map_stretch(self, marks, stretch);
        });
        outside
    }
}

/// The share of chroma that the largest saturation leaves.
#[inline(always)]
fn held_share(largest: f32, lightness: f32, a: f32, b: f32) -> f32 {
    (largest * lightness / (a * a + b * b).sqrt())
        .max(0.0)
        .min(1.0)
}

/// One channel's ratio after both treatments, mixed by the share of the blue one. `per_depth` is 1 / (1 - the lowest ratio).
#[inline(always)]
fn mixed(ratio: f32, per_depth: f32, reduced: f32, blueness: f32) -> f32 {
    let whitened = 1.0 - (1.0 - ratio) * per_depth;
    let blue = CLIPPED_SHARE * ratio.max(0.0) + (1.0 - CLIPPED_SHARE) * whitened;
    let reduced = reduced.max(0.0);
    (reduced + blueness * (blue - reduced)).max(0.0)
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn map_stretch(destination: &Destination, marks: &[Marks], stretch: [&mut [Lane]; 3]) -> u32 {
    let mut work = Work {
        lab: [[0.0; TOGETHER]; 3],
        places: [0.0; TOGETHER],
        looked_up: [0.0; TOGETHER],
        outside: 0,
    };
    for_rows_of_asking(marks, stretch, |red, green, blue| {
        work.map(destination, red, green, blue);
    });
    work.outside
}

row_kernel! {
    /// Marks pixels with a channel that is negative, or no number.
    fn mark_negative(red: &[f32], green: &[f32], blue: &[f32], marks: &mut [u8]) {
        for (((mark, red), green), blue) in marks.iter_mut().zip(red).zip(green).zip(blue) {
            let is_inside = (*red >= 0.0) & (*green >= 0.0) & (*blue >= 0.0);
            *mark = u8::from(!is_inside);
        }
    }
}

/// What pixels are mapped in.
struct Work {
    /// Oklab of ratios, and then what it becomes.
    lab: [Lanes; 3],
    places: Lanes,
    /// What a table has there.
    looked_up: Lanes,
    /// How many pixels were clearly outside, so far.
    outside: u32,
}

impl Work {
    /// At most [`TOGETHER`] pixels, step after step over all of them: each loop fills vectors.
    #[inline(always)]
    fn map(
        &mut self,
        Destination { oklab, hues }: &Destination,
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        let [lightness, a, b] = &mut self.lab;
        let (lightness, a, b) = (&mut lightness[..length], &mut a[..length], &mut b[..length]);
        let places = &mut self.places[..length];
        let looked_up = &mut self.looked_up[..length];
        let mut outside = 0;
        for x in 0..length {
            let colour = [red[x], green[x], blue[x]];
            outside += u32::from(is_outside(colour));
            let per_top = 1.0 / largest(colour);
            lightness[x] = colour[0] * per_top;
            a[x] = colour[1] * per_top;
            b[x] = colour[2] * per_top;
        }
        self.outside += outside;
        oklab.to_oklab(lightness, a, b);
        for x in 0..length {
            places[x] = place(a[x], b[x]);
        }
        hues.largest.at_each(places, looked_up);
        for x in 0..length {
            let held = held_share(looked_up[x], lightness[x], a[x], b[x]);
            a[x] *= held;
            b[x] *= held;
        }
        oklab.to_rgb(lightness, a, b);
        // What comes out is put down beside what went in, in place of the ratios, and copied: where a pixel keeps what it had, a
        // compiler would leave it out of the writing, and some machines are slow to write a part of a vector.
        if hues.has_blue(places) {
            hues.blueness.at_each(places, looked_up);
            for x in 0..length {
                let colour = [red[x], green[x], blue[x]];
                let per_top = 1.0 / largest(colour);
                let lowest = smallest(colour) * per_top;
                let per_depth = 1.0 / (1.0 - lowest);
                let reduced = [lightness[x], a[x], b[x]];
                let share = |channel: usize| {
                    let ratio = colour[channel] * per_top;
                    mixed(ratio, per_depth, reduced[channel], looked_up[x])
                };
                let shares = [share(0), share(1), share(2)];
                [lightness[x], a[x], b[x]] = unless_inside(colour, shares);
            }
        } else {
            for x in 0..length {
                let shares = [lightness[x], a[x], b[x]].map(|share| share.max(0.0));
                [lightness[x], a[x], b[x]] = unless_inside([red[x], green[x], blue[x]], shares);
            }
        }
        red.copy_from_slice(lightness);
        green.copy_from_slice(a);
        blue.copy_from_slice(b);
    }
}

/// A colour by its channels' shares of the brightest, unless it had no need to be mapped.
#[inline(always)]
fn unless_inside(colour: [f32; 3], shares: [f32; 3]) -> [f32; 3] {
    let [red, green, blue] = colour;
    let is_inside = (red >= 0.0) & (green >= 0.0) & (blue >= 0.0);
    let top = largest(colour);
    let new = |channel: usize| {
        let mapped = if top > 0.0 {
            top * shares[channel]
        } else {
            0.0
        };
        if is_inside { colour[channel] } else { mapped }
    };
    [new(0), new(1), new(2)]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};
    use crate::colour::spaces::SRGB;

    #[test]
    fn every_copy_marks_the_same() {
        hold_together(&mark_negative::levels(), |kernel, length| {
            let [red, green, blue] = marked_rows(length);
            let mut marks = vec![0; length];
            kernel(&red, &green, &blue, &mut marks);
            marks.into_iter().map(f32::from).collect()
        });
    }

    #[test]
    fn a_row_counts_the_pixels_outside() {
        for length in [0, 1, 15, 16, 17, 250, 2049] {
            let [mut red, mut green, mut blue] = marked_rows(length);
            let colours = red.iter().zip(&green).zip(&blue);
            let wanted = colours
                .filter(|((r, g), b)| is_outside([**r, **g, **b]))
                .count();
            let counted = Destination::of(&SRGB).map_row(&mut red, &mut green, &mut blue);
            assert_eq!(counted as usize, wanted, "{length}");
            assert!(length < 20 || wanted > 0);
        }
    }

    /// Rows with negative channels and one that is no number.
    fn marked_rows(length: usize) -> [Vec<f32>; 3] {
        let mut rows = [1, 2, 3].map(|seed| unordered_row(seed, length));
        if let Some(value) = rows[1].last_mut() {
            *value = f32::NAN;
        }
        rows
    }
}
