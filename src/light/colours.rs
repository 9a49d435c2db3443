//! What colours a picture holds: how lighting states are told apart.
//!
//! A change of framing moves every level and share in a picture, but it still shows air, cloth and skin in the colours of the
//! same lamps. A histogram of colours over the *whole* picture, lit and dark, tells states of simulated shows apart better than
//! anything that is read of the key: two frames of one body in one state differ less than two in different states with
//! a probability of 0.988; 0.94 by the lit region's colours, 0.79 by its washed share, 0.61 by the key's level.

use crate::base::short;
use crate::light::bins::Bins;
use crate::light::tiles::Tiles;
use serde::{Deserialize, Serialize};

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
pub fn of_picture(tiles: &Tiles, grey: [f64; 3]) -> Vec<ColourTrace> {
    let mut bins = Bins::<2, ([f64; 2], f64)>::new();
    let (ln_grey, ln_weak) = (grey.map(f64::ln), WEAK.ln());
    for (at, clipped) in tiles.reduced.clipped.values().iter().enumerate() {
        if *clipped >= CLIPPED || !is_clear(tiles.colour(at), tiles.noise[at], grey) {
            continue;
        }
        if let Some(chroma) = chroma_of(tiles.ln_above_noise(at), ln_grey, ln_weak) {
            let (sum, count) = bins.at(chroma, [COLOUR_BIN; 2]);
            for axis in 0..2 {
                sum[axis] += chroma[axis];
            }
            *count += 1.0;
        }
    }
    let all = tiles.len().max(1) as f64;
    let mut traces: Vec<ColourTrace> = bins
        .in_order()
        .map(|(sum, count)| ColourTrace {
            chroma: sum.map(|value| value / count),
            share: count / all,
        })
        .collect();
    traces.sort_by(|a, b| b.share.total_cmp(&a.share));
    traces
}

/// Whether the strongest channel against grey is no mere noise.
fn is_clear(colour: [f64; 3], noise: [f64; 3], grey: [f64; 3]) -> bool {
    let balanced = [0, 1, 2].map(|c| colour[c] / grey[c]);
    let strongest = (0..3)
        .max_by(|&a, &b| balanced[a].total_cmp(&balanced[b]))
        .unwrap_or(1);
    colour[strongest] > ABOVE_NOISE * noise[strongest]
}

/// The colour against grey of the logarithms of channels, none of them weaker than its noise; what is weaker than `ln_weak` below
/// the strongest counts as just so weak.
fn chroma_of(logarithms: [f64; 3], ln_grey: [f64; 3], ln_weak: f64) -> Option<[f64; 2]> {
    let balanced = [0, 1, 2].map(|c| logarithms[c] - ln_grey[c]);
    let strongest = balanced[0].max(balanced[1]).max(balanced[2]);
    let [red, green, blue] = balanced.map(|value| value.max(strongest + ln_weak));
    let chroma = [red - green, blue - green];
    (chroma[0] + chroma[1]).is_finite().then_some(chroma)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn colour_of(colour: [f64; 3], noise: [f64; 3], grey: [f64; 3]) -> Option<[f64; 2]> {
        let logarithms = [0, 1, 2].map(|c| colour[c].max(noise[c]).ln());
        is_clear(colour, noise, grey)
            .then(|| chroma_of(logarithms, grey.map(f64::ln), WEAK.ln()))?
    }

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
