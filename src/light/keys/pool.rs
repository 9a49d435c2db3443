//! The traces of a cue's frames put together, one body's at a time.

use crate::base::robust;
use crate::light::locus;
use crate::light::reading::FrameLight;
use crate::light::traces::{self, Difference, DifferenceTrace};
use std::collections::BTreeMap;

/// Width of a bin of lit colours in log-chroma, and how many are kept: every white is tried on all.
const BIN: f64 = 0.04;
const MOST_COLOURS: usize = 140;
/// The pile of differences: so many weighted medians, within a radius that shrinks from the first to the last.
const ROUNDS: usize = 8;
const RADII: (f64, f64) = (0.10, 0.04);
/// Width of a vote in log-chroma.
const WIDTH: f64 = 0.05;

/// What the frames of one cue and body left.
#[derive(Clone, Debug, Default)]
pub(super) struct Pool {
    pub(super) differences: Vec<DifferenceTrace>,
    /// (chroma, ln G per relative exposure, share of a picture).
    pub(super) surfaces: Vec<([f64; 2], f64, f64)>,
    /// What glows beside the lit region, strongest channel 1.
    pub(super) glow: Option<[f64; 3]>,
    /// How many differences there are.
    pub(super) count: u32,
    /// Mean ln of the frames' relative exposure, where it is known.
    pub(super) exposure: Option<f64>,
    /// How many frames were read.
    pub(super) frames: usize,
}

impl Pool {
    /// Puts frames together.
    pub(super) fn of<'a>(frames: impl Iterator<Item = &'a FrameLight>) -> Self {
        let mut pool = Self::default();
        let mut all = Vec::new();
        let mut glow = [0.0; 3];
        let mut exposures = Vec::new();
        for frame in frames {
            let Some(reading) = &frame.reading else {
                continue;
            };
            pool.frames += 1;
            for trace in &reading.traces.differences {
                pool.count += trace.count;
                all.push(Difference {
                    chroma: trace.chroma,
                    error: trace.error,
                    weight: trace.weight,
                });
            }
            if let Some(own) = reading.traces.glow {
                glow = [0, 1, 2].map(|channel| glow[channel] + own[channel]);
            }
            // Without settings the level is that of the file.
            let exposure = frame.facts.relative_exposure().filter(|e| *e > 0.0);
            if let Some(known) = exposure {
                exposures.push(known.ln());
            }
            let exposure = exposure.unwrap_or(1.0).ln();
            pool.surfaces.extend(
                reading
                    .traces
                    .surfaces
                    .iter()
                    .map(|trace| (trace.chroma, trace.level - exposure, trace.share)),
            );
        }
        pool.differences = traces::of_differences(all.into_iter());
        let most = glow.iter().copied().fold(0.0, f64::max);
        pool.glow = (most > 0.0).then(|| glow.map(|value| value / most));
        pool.exposure =
            (!exposures.is_empty()).then(|| exposures.iter().sum::<f64>() / exposures.len() as f64);
        pool
    }

    /// The colours of the lit region, most frequent first, with shares that sum to 1.
    pub(super) fn colours(&self) -> Vec<([f64; 2], f64)> {
        let mut bins = BTreeMap::<[i64; 2], ([f64; 2], f64)>::new();
        for (chroma, _, share) in &self.surfaces {
            #[expect(
                clippy::cast_possible_truncation,
                reason = "logarithms of positive finite doubles by a bin's width fit"
            )]
            let key = chroma.map(|value| (value / BIN).floor() as i64);
            let (sum, total) = bins.entry(key).or_default();
            for axis in 0..2 {
                sum[axis] += share * chroma[axis];
            }
            *total += share;
        }
        let mut colours: Vec<([f64; 2], f64)> = bins
            .into_values()
            .filter(|(_, total)| *total > 0.0)
            .map(|(sum, total)| (sum.map(|value| value / total), total))
            .collect();
        colours.sort_by(|a, b| b.1.total_cmp(&a.1));
        colours.truncate(MOST_COLOURS);
        let all: f64 = colours.iter().map(|colour| colour.1).sum();
        for colour in &mut colours {
            colour.1 /= all;
        }
        colours
    }

    /// The weight that differences give to a white by themselves.
    pub(super) fn votes(&self, chroma: [f64; 2]) -> f64 {
        self.differences
            .iter()
            .map(|one| {
                let square = locus::square_distance(one.chroma, chroma);
                let error = one.error.powi(2);
                one.weight * (-square / (2.0 * (WIDTH * WIDTH + error))).exp()
                    / (1.0 + error / (WIDTH * WIDTH))
            })
            .sum()
    }

    /// The pile of differences around a start, by weighted medians.
    pub(super) fn pile(&self, start: [f64; 2]) -> Option<[f64; 2]> {
        let mut chroma = start;
        for round in 0..ROUNDS {
            let along = round as f64 / (ROUNDS - 1) as f64;
            let radius = RADII.0 + along * (RADII.1 - RADII.0);
            let near: Vec<&DifferenceTrace> = self
                .differences
                .iter()
                .filter(|one| locus::distance(one.chroma, chroma) < radius + 2.0 * one.error)
                .collect();
            let weights: Vec<f64> = near
                .iter()
                .map(|one| one.weight / (one.error.powi(2) + 0.01_f64.powi(2)))
                .collect();
            let median = |axis: usize| {
                let values: Vec<f64> = near.iter().map(|one| one.chroma[axis]).collect();
                robust::weighted_median(&values, &weights)
            };
            chroma = [median(0)?, median(1)?];
        }
        Some(chroma)
    }
}
