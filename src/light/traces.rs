//! What a frame leaves behind of its picture: a few hundred numbers that can be pooled with those of other frames.
//!
//! A cue is read from all its frames together, long after their pixels are gone. Two things are kept, both as camera RGB
//! ratios of this body, before any matrix: the differences that vote for the key's white (see
//! [`crate::light::differences`]), and the surfaces that the lit region shows, which tell the key's level. Both are put into
//! small bins; a bin keeps the mean of what fell into it, so that binning costs no accuracy where a bin holds one surface.

use crate::base::short;
use crate::light::bins::Bins;
use crate::light::colours::ColourTrace;
use serde::{Deserialize, Serialize};

/// Traces of one frame, heaviest first.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Traces {
    /// Differences inside one material.
    pub differences: Vec<DifferenceTrace>,
    /// Surfaces of the lit region that are neither clipped nor lamps nor noise.
    pub surfaces: Vec<SurfaceTrace>,
    /// Camera RGB of what glows beside the lit region, strongest channel = 1 (see [`crate::light::glow`]).
    #[serde(default)]
    pub glow: Option<[f64; 3]>,
    /// Colours of the whole picture, against the grey of daylight of 6500 K: what lighting states are told apart by.
    pub colours: Vec<ColourTrace>,
}

/// Differences of nearly one colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct DifferenceTrace {
    /// Mean (ln R/G, ln B/G).
    #[serde(with = "short::pair")]
    pub chroma: [f64; 2],
    /// Mean relative error of one of them.
    #[serde(with = "short")]
    pub error: f64,
    /// Their weight together: 1 each when free of noise, less with it, and less where many are equally bright.
    #[serde(with = "short")]
    pub weight: f64,
    /// How many there are.
    pub count: u32,
}

/// Tiles of nearly one colour and level.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SurfaceTrace {
    /// Mean (ln R/G, ln B/G).
    #[serde(with = "short::pair")]
    pub chroma: [f64; 2],
    /// Mean of ln G, G as a fraction of the sensor's range.
    #[serde(with = "short")]
    pub level: f64,
    /// How many tiles, as a share of the picture, 0 to 1.
    #[serde(with = "short")]
    pub share: f64,
}

/// Width of a bin of differences and of surfaces in log-chroma.
const DIFFERENCE_BIN: f64 = 0.02;
const SURFACE_BIN: f64 = 0.05;
/// Width of a bin of surfaces in ln G.
const LEVEL_BIN: f64 = 0.1;
/// Bins that are kept, heaviest first: a frame in pass B stays a few kilobytes. A surface weighs what light comes from it, its
/// share times its level: what the key lights best tells most of it, and would be the first to go by its share, the more so the
/// larger the picture (measured on simulated shows of 144 and 360 pixels).
const MOST_DIFFERENCES: usize = 240;
const MOST_SURFACES: usize = 240;

/// A difference as it is counted.
#[derive(Clone, Copy, Debug)]
pub struct Difference {
    /// (ln R/G, ln B/G).
    pub chroma: [f64; 2],
    /// Relative error.
    pub error: f64,
    /// Weight.
    pub weight: f64,
}

impl Difference {
    /// Those of a trace, as one.
    #[must_use]
    pub fn of(trace: &DifferenceTrace) -> Self {
        Self {
            chroma: trace.chroma,
            error: trace.error,
            weight: trace.weight,
        }
    }
}

/// Puts differences into bins.
#[must_use]
pub fn of_differences(differences: impl Iterator<Item = Difference>) -> Vec<DifferenceTrace> {
    let mut bins = Bins::<2, DifferenceTrace>::new();
    for one in differences {
        let sum = bins.at(one.chroma, [DIFFERENCE_BIN; 2]);
        for axis in 0..2 {
            sum.chroma[axis] += one.weight * one.chroma[axis];
        }
        sum.error += one.weight * one.error;
        sum.weight += one.weight;
        sum.count += 1;
    }
    let mut traces: Vec<DifferenceTrace> = bins
        .in_order()
        .filter(|sum| sum.weight > 0.0)
        .map(|sum| DifferenceTrace {
            chroma: sum.chroma.map(|value| value / sum.weight),
            error: sum.error / sum.weight,
            ..sum
        })
        .collect();
    traces.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    traces.truncate(MOST_DIFFERENCES);
    traces
}

/// Puts tiles, each (chroma, ln G), into bins; `all` is the number of tiles of the picture.
#[must_use]
pub fn of_surfaces(tiles: impl Iterator<Item = ([f64; 2], f64)>, all: usize) -> Vec<SurfaceTrace> {
    let mut bins = Bins::<3, (SurfaceTrace, f64)>::new();
    for (chroma, level) in tiles {
        let widths = [SURFACE_BIN, SURFACE_BIN, LEVEL_BIN];
        let (sum, count) = bins.at([chroma[0], chroma[1], level], widths);
        sum.chroma = [sum.chroma[0] + chroma[0], sum.chroma[1] + chroma[1]];
        sum.level += level;
        *count += 1.0;
    }
    // Each with the light that comes from it.
    let mut lights: Vec<(f64, SurfaceTrace)> = bins
        .in_order()
        .map(|(sum, count)| SurfaceTrace {
            chroma: sum.chroma.map(|value| value / count),
            level: sum.level / count,
            share: count / all.max(1) as f64,
        })
        .map(|trace| (trace.share * trace.level.exp(), trace))
        .collect();
    lights.sort_by(|a, b| b.0.total_cmp(&a.0));
    lights.truncate(MOST_SURFACES);
    let mut traces: Vec<SurfaceTrace> = lights.into_iter().map(|(_, trace)| trace).collect();
    traces.sort_by(|a, b| b.share.total_cmp(&a.share));
    traces
}
