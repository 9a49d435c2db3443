//! What colours a picture holds: how lighting states are told apart.
//!
//! A change of framing moves every level and share in a picture, but it still shows air, cloth and skin in the colours of the
//! same lamps. A histogram of colours over the *whole* picture, lit and dark, tells states of simulated shows apart better than
//! anything that is read of the key: two frames of one body in one state differ less than two in different states with
//! a probability of 0.988; 0.94 by the lit region's colours, 0.79 by its washed share, 0.61 by the key's level.

use crate::base::short;
use crate::light::locus::log_chroma;
use crate::light::reduce::Reduced;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Tiles of nearly one colour.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ColourTrace {
    /// Mean (ln R/G, ln B/G) against the grey that the traces were taken with.
    #[serde(with = "short::pair")]
    pub chroma: [f64; 2],
    /// How many tiles, as a share of the picture, 0 to 1.
    #[serde(with = "short")]
    pub share: f64,
}

/// Width of a bin in log-chroma.
pub const COLOUR_BIN: f64 = 0.2;
/// Channels weaker than this share of the strongest tell no more than that they are weak.
const WEAK: f64 = 0.02;
/// A tile's strongest channel must be this many standard deviations of noise above black. Asking more loses the air that the
/// washes light.
const ABOVE_NOISE: f64 = 3.0;
/// A tile with more clipped photosites than this share has no colour.
const CLIPPED: f32 = 0.5;

/// Takes the colours of a picture, most frequent first, against a grey's camera RGB.
#[must_use]
pub fn of_picture(reduced: &Reduced, grey: [f64; 3]) -> Vec<ColourTrace> {
    let mut bins = BTreeMap::<[i64; 2], ([f64; 2], f64)>::new();
    let tiles = reduced.colour.values().iter().zip(reduced.clipped.values());
    for (colour, clipped) in tiles {
        if *clipped >= CLIPPED {
            continue;
        }
        let noise = reduced.noise_variance(*colour).map(f64::sqrt);
        if let Some(chroma) = colour_of(*colour, noise, grey) {
            #[expect(
                clippy::cast_possible_truncation,
                reason = "a logarithm of a bounded ratio by a bin's width fits"
            )]
            let bin = chroma.map(|value| (value / COLOUR_BIN).floor() as i64);
            let (sum, count) = bins.entry(bin).or_default();
            for axis in 0..2 {
                sum[axis] += chroma[axis];
            }
            *count += 1.0;
        }
    }
    let all = reduced.len().max(1) as f64;
    let mut traces: Vec<ColourTrace> = bins
        .into_values()
        .map(|(sum, count)| ColourTrace {
            chroma: sum.map(|value| value / count),
            share: count / all,
        })
        .collect();
    traces.sort_by(|a, b| b.share.total_cmp(&a.share));
    traces
}

fn colour_of(colour: [f64; 3], noise: [f64; 3], grey: [f64; 3]) -> Option<[f64; 2]> {
    let balanced = [0, 1, 2].map(|c| colour[c] / grey[c]);
    let strongest = (0..3).max_by(|&a, &b| balanced[a].total_cmp(&balanced[b]))?;
    if !(balanced[strongest] * grey[strongest] > ABOVE_NOISE * noise[strongest]) {
        return None;
    }
    let floor = WEAK * balanced[strongest];
    log_chroma([0, 1, 2].map(|c| balanced[c].max(floor).max(noise[c] / grey[c])))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_colour_is_the_same_at_every_exposure_and_has_an_end() {
        let grey = [0.5, 1.0, 0.7];
        let noise = [1e-4; 3];
        let of = |level: f64| colour_of([0.5, 1.0, 0.7].map(|v| v * level), noise, grey);
        assert_eq!(of(0.5).map(|c| c.map(|v| v.abs() < 1e-12)), Some([true; 2]));
        assert_eq!(
            of(0.01).map(|c| c.map(|v| v.abs() < 1e-12)),
            Some([true; 2])
        );
        assert_eq!(of(1e-4), None, "noise has no colour");
        // A pure red: both other channels are as weak as they are taken to be.
        let red = colour_of([0.5, 0.0, -0.001], noise, grey).expect("a colour");
        assert!((red[0] + WEAK.ln()).abs() < 1e-12 && red[1].abs() < 1e-12);
        assert_eq!(colour_of([f64::NAN; 3], noise, grey), None);
    }
}
