//! The traces of a cue's frames put together, one body's at a time.

use crate::light::reading::FrameLight;
use crate::light::traces::{self, Difference};
use std::collections::BTreeMap;

/// Width of a bin of lit colours in log-chroma, and how many are kept: every white is tried on all.
const BIN: f64 = 0.04;
const MOST_COLOURS: usize = 140;
/// Colours are those of the brightest nats, and this share of the surfaces is brighter than their bright end. With everything that is lit
/// the whites of simulated shows were half a degree worse.
const BRIGHT: f64 = 1.0;
const BRIGHTEST: f64 = 0.02;

/// A surface as a body sees it: (chroma, ln G per relative exposure, share of a picture).
pub(super) type SeenSurface = ([f64; 2], f64, f64);

/// What the frames of one cue and body left.
#[derive(Clone, Debug, Default)]
pub(super) struct Pool {
    pub(super) differences: Vec<Difference>,
    /// One frame's after another's.
    pub(super) surfaces: Vec<SeenSurface>,
    /// What glows beside the lit region, strongest channel 1.
    pub(super) glow: Option<[f64; 3]>,
    /// Where each frame's surfaces end, and the share of its lit region that is blown.
    ends: Vec<(usize, f64)>,
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
            let blown = reading.lit.map_or(0.0, |lit| lit.blown_share);
            pool.ends.push((pool.surfaces.len(), blown));
        }
        let traces = traces::of_differences(all.into_iter());
        pool.differences = traces.iter().map(Difference::of).collect();
        let most = glow.iter().copied().fold(0.0, f64::max);
        pool.glow = (most > 0.0).then(|| glow.map(|value| value / most));
        pool.exposure =
            (!exposures.is_empty()).then(|| exposures.iter().sum::<f64>() / exposures.len() as f64);
        pool
    }

    /// How many frames there are.
    pub(super) fn frames(&self) -> usize {
        self.ends.len()
    }

    /// The surfaces of each frame, and the share of its lit region that is blown.
    pub(super) fn pictures(&self) -> impl Iterator<Item = (&[SeenSurface], f64)> {
        self.ends.iter().enumerate().map(|(at, &(end, blown))| {
            let from = at.checked_sub(1).map_or(0, |before| self.ends[before].0);
            (&self.surfaces[from..end], blown)
        })
    }

    /// The colours of what the key lights best, most frequent first, with shares that sum to 1. What turns away from the key, or is
    /// dark by itself, has more of the washes in it than of the key.
    pub(super) fn colours(&self) -> Vec<([f64; 2], f64)> {
        let least = self.bright_end() - BRIGHT;
        let mut bins = BTreeMap::<[i64; 2], ([f64; 2], f64)>::new();
        for (chroma, level, share) in &self.surfaces {
            if *level < least {
                continue;
            }
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

    /// The level above which only a little of all surfaces lies.
    fn bright_end(&self) -> f64 {
        let mut levels: Vec<(f64, f64)> = self
            .surfaces
            .iter()
            .map(|(_, level, share)| (*level, *share))
            .collect();
        levels.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut left = BRIGHTEST * levels.iter().map(|(_, share)| share).sum::<f64>();
        for (level, share) in &levels {
            left -= share;
            if left <= 0.0 {
                return *level;
            }
        }
        f64::NEG_INFINITY
    }
}
