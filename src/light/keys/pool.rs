//! The traces of a cue's frames put together, one body's at a time.

use crate::light::reading::FrameLight;
use crate::light::traces::{self, Difference};
use std::collections::BTreeMap;

/// Width of a bin of lit colours in log-chroma, and how many are kept: every white is tried on all.
const BIN: f64 = 0.04;
const MOST_COLOURS: usize = 140;

/// What the frames of one cue and body left.
#[derive(Clone, Debug, Default)]
pub(super) struct Pool {
    pub(super) differences: Vec<Difference>,
    /// (chroma, ln G per relative exposure, share of a picture).
    pub(super) surfaces: Vec<([f64; 2], f64, f64)>,
    /// What glows beside the lit region, strongest channel 1.
    pub(super) glow: Option<[f64; 3]>,
    /// How many differences there are.
    pub(super) count: u32,
    /// Mean ln of the frames' relative exposure, where it is known.
    pub(super) exposure: Option<f64>,
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
            for trace in &reading.traces.differences {
                pool.count += trace.count;
                all.push(Difference::of(trace));
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
        let traces = traces::of_differences(all.into_iter());
        pool.differences = traces.iter().map(Difference::of).collect();
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
}
