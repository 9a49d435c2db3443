//! The reference gamut compression of ACES 1.3 with its limits fitted to a body.
//!
//! A channel's distance is how far it lies below the brightest one, relative to it: 0 for neutral, 1 at the gamut's
//! boundary, above 1 outside. Distances beyond a threshold are squeezed so that a limit lands on 1 (Academy of Motion
//! Picture Arts and Sciences, "ACES Reference Gamut Compression", 2021; parameters as published with ACES 1.3).

use super::blocks::{BLOCK, Lane, for_each_block};
use crate::base::arithmetic::{larger, power};

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
        compress_row(self, red, green, blue);
    }
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn compress_row(compression: &Compression, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
    for_each_block(red, green, blue, |red, green, blue| {
        let mut brightest = [0.0; BLOCK];
        // As numbers, which a compiler ORs in vectors; of truth values it makes single steps.
        let mut outside = 0_u32;
        for index in 0..BLOCK {
            let colour = [red[index], green[index], blue[index]];
            let top = larger(larger(colour[0], colour[1]), colour[2]);
            brightest[index] = top;
            for (value, threshold) in colour.iter().zip(compression.thresholds) {
                let is_inside = top - value <= threshold * top;
                outside |= u32::from(!is_inside);
            }
        }
        if outside == 0 {
            return;
        }
        let per_top = brightest.map(|top| 1.0 / top);
        for (channel, lane) in [red, green, blue].into_iter().enumerate() {
            compress_lane(
                lane,
                &brightest,
                &per_top,
                compression.thresholds[channel],
                compression.scales[channel],
            );
        }
    });
}

#[inline(always)]
fn compress_lane(lane: &mut Lane, brightest: &Lane, per_top: &Lane, threshold: f32, scale: f32) {
    /// So far beyond a threshold every distance ends on the boundary.
    const FARTHEST: f32 = 1e4;
    #[expect(clippy::cast_possible_truncation, reason = "a constant")]
    const P: f32 = POWER as f32;
    let per_scale = 1.0 / scale;
    for ((value, top), per_top) in lane.iter_mut().zip(brightest).zip(per_top) {
        let below = top - *value;
        // What is no number goes to the far end, beyond the boundary, and so to 0.
        let beyond = ((below * per_top - threshold) * per_scale)
            .min(FARTHEST)
            .max(0.0);
        let squeezed = threshold + scale * beyond * power(1.0 + power(beyond, P), -1.0 / P);
        let compressed = top * (1.0 - squeezed.min(1.0));
        let kept = if below <= threshold * top {
            *value
        } else {
            compressed
        };
        *value = if *top > 0.0 { kept } else { 0.0 };
    }
}
