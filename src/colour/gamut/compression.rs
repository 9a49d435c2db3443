//! The reference gamut compression of ACES 1.3 with its limits fitted to a body.
//!
//! A channel's distance is how far it lies below the brightest one, relative to it: 0 for neutral, 1 at the gamut's
//! boundary, above 1 outside. Distances beyond a threshold are squeezed so that a limit lands on 1 (Academy of Motion
//! Picture Arts and Sciences, "ACES Reference Gamut Compression", 2021; parameters as published with ACES 1.3).

use super::blocks::{Lane, Lanes, Marks, TOGETHER, for_rows_of_asking, for_stretches_that_ask};
use crate::base::arithmetic::{Power, largest};
use crate::base::kernel::row_kernel;

/// Steepness of the knee (ACES 1.3).
const POWER: f64 = 1.2;
/// Limits and thresholds of ACES 1.3 for cyan, magenta and yellow: distances of red, green and blue.
const REFERENCE_LIMITS: [f64; 3] = [1.147, 1.264, 1.312];
const REFERENCE_THRESHOLDS: [f64; 3] = [0.815, 0.803, 0.880];
/// Thresholds for stills: those of ACES 1.3 touch saturated reds of a chart that sRGB holds; these leave them alone
/// (0.01 % of a real chart's lit pixels moved, against 0.92 %).
const STILL_THRESHOLDS: [f64; 3] = [0.90, 0.90, 0.92];
/// Room above the largest distance that was met in sampling: the true largest lies between samples.
const MARGIN: f64 = 1.01;
/// Samples on each edge of the camera's triangle.
const SAMPLES: usize = 64;
/// No limit beyond this: where a camera colour has next to no positive channel in AP1 its distance has no bound, and
/// such a pixel ends on the boundary anyway.
const LARGEST_LIMIT: f64 = 20.0;

/// A gamut compression in linear AP1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compression {
    /// Per channel: where it begins.
    thresholds: [f32; 3],
    scales: [f32; 3],
    limits: [f64; 3],
}

impl Compression {
    /// The parameters of ACES 1.3.
    #[must_use]
    pub fn reference() -> Self {
        Self::with(REFERENCE_THRESHOLDS, REFERENCE_LIMITS)
    }

    /// For a body under a white: `to_ap1` maps white-balanced camera RGB to linear AP1. The limits hold every colour that
    /// the camera can send, found by sampling its RGB triangle, not only its corners: the distance is not convex.
    #[must_use]
    pub fn for_camera(to_ap1: impl Fn([f64; 3]) -> [f64; 3]) -> Self {
        let mut limits = REFERENCE_LIMITS;
        for red in 0..=SAMPLES {
            for green in 0..=SAMPLES - red {
                let blue = SAMPLES - red - green;
                #[expect(clippy::cast_precision_loss, reason = "at most 64")]
                let colour = to_ap1([red, green, blue].map(|share| share as f64));
                let brightest = colour[0].max(colour[1]).max(colour[2]);
                for (limit, value) in limits.iter_mut().zip(colour) {
                    let distance = (brightest - value) / brightest;
                    if distance.is_finite() && brightest > 0.0 {
                        *limit = limit.max(MARGIN * distance);
                    }
                }
            }
        }
        Self::with(
            STILL_THRESHOLDS,
            limits.map(|limit| limit.min(LARGEST_LIMIT)),
        )
    }

    /// Thresholds below 1, limits above 1.
    fn with(thresholds: [f64; 3], limits: [f64; 3]) -> Self {
        let scales = [0, 1, 2].map(|channel| {
            let (threshold, limit) = (thresholds[channel], limits[channel]);
            (limit - threshold)
                / (((1.0 - threshold) / (limit - threshold)).powf(-POWER) - 1.0).powf(1.0 / POWER)
        });
        #[expect(
            clippy::cast_possible_truncation,
            reason = "rounding to single precision is meant"
        )]
        Self {
            thresholds: thresholds.map(|value| value as f32),
            scales: scales.map(|value| value as f32),
            limits,
        }
    }

    /// The distances that land on the gamut's boundary, for red, green and blue.
    #[must_use]
    pub fn limits(&self) -> [f64; 3] {
        self.limits
    }

    /// One pixel of linear AP1. What comes out is not negative; colours below the thresholds come out as they went in;
    /// a pixel without a positive channel is black. The plain twin of [`Compression::compress_row`].
    #[must_use]
    pub fn compress(&self, ap1: [f32; 3]) -> [f32; 3] {
        let brightest = ap1[0].max(ap1[1]).max(ap1[2]);
        let is_lit = brightest > 0.0;
        if !is_lit {
            return [0.0; 3];
        }
        let mut compressed = ap1;
        for (channel, value) in compressed.iter_mut().enumerate() {
            let (threshold, scale) = (self.thresholds[channel], self.scales[channel]);
            if brightest - *value <= threshold * brightest {
                continue;
            }
            #[expect(clippy::cast_possible_truncation, reason = "a constant")]
            const P: f32 = POWER as f32;
            let beyond = ((brightest - *value) / brightest - threshold) / scale;
            let squeezed = threshold + scale * beyond / (1.0 + beyond.powf(P)).powf(1.0 / P);
            // What is beyond the limit ends on the boundary; a NaN too.
            *value = brightest * (1.0 - squeezed.min(1.0));
        }
        compressed
    }

    /// A row of linear AP1, in place: each pixel as [`Compression::compress`] has it, within 1e-6 of the brightest
    /// channel. The three rows have one length; what is beyond the shortest may stay.
    pub fn compress_row(&self, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        for_stretches_that_ask(
            [red, green, blue],
            |red, green, blue, marks| mark_beyond(self.thresholds, red, green, blue, marks),
            |marks, stretch| compress_stretch(self, marks, stretch),
        );
    }
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn compress_stretch(compression: &Compression, marks: &[Marks], stretch: [&mut [Lane]; 3]) {
    let mut work = Work::new();
    for_rows_of_asking(marks, stretch, |red, green, blue| {
        work.compress(compression, red, green, blue);
    });
}

row_kernel! {
    /// Marks pixels with a channel beyond its threshold.
    fn mark_beyond(
        thresholds: [f32; 3],
        red: &[f32],
        green: &[f32],
        blue: &[f32],
        marks: &mut [u8],
    ) {
        for (((mark, red), green), blue) in marks.iter_mut().zip(red).zip(green).zip(blue) {
            let top = largest([*red, *green, *blue]);
            let [c, m, y] = thresholds;
            let beyond = is_beyond(*red, top, c) | is_beyond(*green, top, m) | is_beyond(*blue, top, y);
            *mark = u8::from(beyond);
        }
    }
}

/// Whether a channel lies further below the brightest than a threshold; a NaN does.
#[inline(always)]
fn is_beyond(value: f32, top: f32, threshold: f32) -> bool {
    let is_inside = top - value <= threshold * top;
    !is_inside
}

/// What blocks are compressed in.
struct Work {
    power: Power,
    root: Power,
    tops: Lanes,
    per_tops: Lanes,
    /// The distance of each value beyond its threshold, and its power.
    beyond: Lanes,
    raised: Lanes,
}

impl Work {
    fn new() -> Self {
        #[expect(clippy::cast_possible_truncation, reason = "a constant")]
        const P: f32 = POWER as f32;
        Self {
            power: Power::new(P),
            root: Power::new(-1.0 / P),
            tops: [0.0; TOGETHER],
            per_tops: [0.0; TOGETHER],
            beyond: [0.0; TOGETHER],
            raised: [0.0; TOGETHER],
        }
    }

    #[inline(always)]
    fn compress(
        &mut self,
        compression: &Compression,
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        let length = red.len();
        let tops = &mut self.tops[..length];
        let per_tops = &mut self.per_tops[..length];
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        for x in 0..length {
            tops[x] = largest([red[x], green[x], blue[x]]);
            per_tops[x] = 1.0 / tops[x];
        }
        // A lamp's colour is far from neutral in one channel, or two.
        for (channel, row) in [red, green, blue].into_iter().enumerate() {
            let threshold = compression.thresholds[channel];
            let mut beyond = 0_u32;
            for (value, top) in row.iter().zip(&self.tops) {
                beyond |= u32::from(is_beyond(*value, *top, threshold));
            }
            if beyond != 0 {
                self.compress_channel(row, threshold, compression.scales[channel]);
            }
        }
    }

    /// One channel, in three steps, as [`Power`] advises.
    #[inline(always)]
    fn compress_channel(&mut self, row: &mut [f32], threshold: f32, scale: f32) {
        /// So far beyond a threshold every distance ends on the boundary.
        const FARTHEST: f32 = 1e4;
        let length = row.len();
        let (tops, per_tops) = (&self.tops[..length], &self.per_tops[..length]);
        let (beyond, raised) = (&mut self.beyond[..length], &mut self.raised[..length]);
        let (power, root) = (self.power, self.root);
        let per_scale = 1.0 / scale;
        for x in 0..length {
            // What is no number goes to the far end, beyond the boundary, and so to 0.
            beyond[x] = (((tops[x] - row[x]) * per_tops[x] - threshold) * per_scale)
                .min(FARTHEST)
                .max(0.0);
            raised[x] = power.logarithm(beyond[x]);
        }
        for value in &mut *raised {
            *value = root.logarithm(1.0 + Power::raised(*value));
        }
        for x in 0..length {
            let squeezed = threshold + scale * beyond[x] * Power::raised(raised[x]);
            let compressed = tops[x] * (1.0 - squeezed.min(1.0));
            let kept = if is_beyond(row[x], tops[x], threshold) {
                compressed
            } else {
                row[x]
            };
            row[x] = if tops[x] > 0.0 { kept } else { 0.0 };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_marks_the_same() {
        hold_together(&mark_beyond::levels(), |kernel, length| {
            let [mut red, green, blue] = [1, 2, 3].map(|seed| unordered_row(seed, length));
            if let Some(value) = red.last_mut() {
                *value = f32::NAN;
            }
            let mut marks = vec![0; length];
            kernel(
                STILL_THRESHOLDS.map(|value| value as f32),
                &red,
                &green,
                &blue,
                &mut marks,
            );
            marks.into_iter().map(f32::from).collect()
        });
    }
}
