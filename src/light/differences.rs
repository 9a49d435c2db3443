//! A vote of differences: what neighbouring places inside one material say about the key.
//!
//! A place on stage counts `reflectance * (key * shading + wash) + haze`. Inside one material under one wash, two places
//! differ mainly by the key's shading, so their difference is the reflectance times the key: haze, the even part of a
//! wash and an error of the black level cancel. Under an even grey the difference is the white itself. Differences of
//! tiles that are linked without an edge between them (no step in any channel beyond shading and noise, no texture)
//! therefore vote for plausible whites; votes are weighed so that a large surface does not shout down the others. The
//! simpler way, to vote with the values themselves, is several degrees wrong wherever a blue or magenta wash reaches the
//! performer. What a vote cannot know: whether the largest pile of votes is grey. A stage dressed in one colour looks
//! like another light, so confidence also asks the other methods.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use crate::base::robust;
use crate::light::ballots::Ballots;
use crate::light::locus::{self, Candidate, log_chroma};
use crate::light::reduce::Reduced;
use crate::light::traces::{self, Difference, DifferenceTrace};
use serde::{Deserialize, Serialize};

/// Tiles of the vote across the picture that are aimed at: a tile is then a few reduced tiles wide, or one where the picture
/// is small.
const TILES_ACROSS: f64 = 150.0;
/// A tile is even when its variance is below this many times the noise's, or its excess standard deviation below this
/// share of its level.
const EVEN_NOISE: f64 = 6.0;
const EVEN_SHARE: f64 = 0.12;
/// Neighbours are of one material when no channel steps by more than this (as logarithm) plus this many standard
/// deviations of noise. The heart of the method: without it edges between materials vote, and errors grow sevenfold.
const STEP: f64 = 0.45;
const STEP_NOISE: f64 = 4.0;
/// Distances over which differences are taken, as shares of the picture's longer side: near ones see folds, far ones the
/// beam's own slope. At least so many tiles.
const OFFSETS: [f64; 2] = [0.027, 0.08];
const LEAST_OFFSETS: [usize; 2] = [2, 4];
/// A difference must be this many standard deviations in every channel, and this share of the brighter tile in green.
const ABOVE_NOISE: f64 = 2.0;
const LEAST_SHARE: f64 = 0.12;
/// Voters with a greater relative error than this are not heard; half weight at the other.
const MOST_ERROR: f64 = 0.12;
const HALF_ERROR: f64 = 0.04;
/// The refinement: so many weighted medians, over voters within a radius that shrinks from the first to the last.
const ROUNDS: usize = 8;
const RADII: (f64, f64) = (0.10, 0.04);
/// More voters than this are thinned evenly: the vote's cost is voters times candidates.
const MOST_VOTERS: usize = 4000;
/// A rival is a candidate at least this far from the winner, in log-chroma.
const RIVAL: f64 = 0.20;

/// What the vote came to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Vote {
    /// (ln R/G, ln B/G) of the winning white, refined; not forced onto a locus.
    pub chroma: [f64; 2],
    /// Differences that agree with it.
    pub count: usize,
    /// Their share of all weight, 0 to 1.
    pub share: f64,
    /// Score of the best candidate far from the winner, as a share of the winner's.
    pub rival: f64,
}

/// A difference and its green, by which weights are balanced.
#[derive(Clone, Copy, Debug)]
struct Voter {
    difference: Difference,
    green: f64,
}

/// Tiles of the vote with what linking needs to know.
#[derive(Debug)]
struct Tiles {
    width: usize,
    height: usize,
    mean: Vec<[f64; 3]>,
    noise: Vec<[f64; 3]>,
    even: Vec<bool>,
}

/// Every difference of a picture that may vote.
#[derive(Clone, Debug)]
pub struct Voters(Vec<Difference>);

impl Voters {
    /// Takes the differences of a picture. `usable` marks the tiles of the reduced picture that may take part (unclipped,
    /// not lamps).
    #[must_use]
    pub fn of(reduced: &Reduced, usable: &[bool]) -> Self {
        Self(voters(&tiles(reduced, usable)))
    }

    /// What is kept of them for whoever pools frames.
    #[must_use]
    pub fn traces(&self) -> Vec<DifferenceTrace> {
        traces::of_differences(self.0.iter().copied())
    }
}

/// Votes; `None` when nothing votes or there is no candidate.
#[must_use]
pub fn vote(voters: &Voters, candidates: &[Candidate]) -> Option<Vote> {
    let voters = thinned(&voters.0);
    let ballots = Ballots::of(&voters);
    let scores: Vec<f64> = candidates
        .iter()
        .map(|candidate| ballots.score(candidate.chroma))
        .collect();
    let winner = (0..candidates.len()).max_by(|&a, &b| scores[a].total_cmp(&scores[b]))?;
    let start = candidates[winner].chroma;
    let rival = candidates
        .iter()
        .zip(&scores)
        .filter(|(candidate, _)| locus::distance(candidate.chroma, start) > RIVAL)
        .map(|(_, score)| *score)
        .fold(0.0, f64::max);
    let chroma = refined(&voters, start)?;
    let agreeing: Vec<&Difference> = voters
        .iter()
        .filter(|voter| locus::distance(voter.chroma, chroma) < RADII.1 + 2.0 * voter.error)
        .collect();
    let total: f64 = voters.iter().map(|voter| voter.weight).sum();
    Some(Vote {
        chroma,
        count: agreeing.len(),
        share: agreeing.iter().map(|voter| voter.weight).sum::<f64>() / total,
        rival: rival / scores[winner],
    })
}

/// A share of a length, rounded.
fn share_of(length: usize, share: f64) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a picture's side"
    )]
    let rounded = (length as f64 * share).round() as usize;
    rounded
}

fn tiles(reduced: &Reduced, usable: &[bool]) -> Tiles {
    let longer = reduced.colour.width().max(reduced.colour.height());
    let factor = share_of(longer, 1.0 / TILES_ACROSS).max(1);
    let coarse = reduced.coarser(factor);
    let (width, height) = (coarse.colour.width(), coarse.colour.height());
    let mut even = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            even.push(is_even(reduced, usable, &coarse, factor, (x, y)));
        }
    }
    Tiles {
        width,
        height,
        noise: coarse
            .colour
            .values()
            .iter()
            .map(|colour| coarse.noise_variance(*colour))
            .collect(),
        mean: coarse.colour.into_values(),
        even,
    }
}

/// Whether a tile is usable throughout and has no texture beyond noise and slight shading.
fn is_even(
    reduced: &Reduced,
    usable: &[bool],
    coarse: &Reduced,
    factor: usize,
    (x, y): (usize, usize),
) -> bool {
    let mean = coarse.colour.at(x, y);
    let mut squares = [0.0; 3];
    for sub_y in y * factor..(y + 1) * factor {
        for sub_x in x * factor..(x + 1) * factor {
            if !usable[sub_y * reduced.colour.width() + sub_x] {
                return false;
            }
            for (sum, (value, mean)) in squares
                .iter_mut()
                .zip(reduced.colour.at(sub_x, sub_y).iter().zip(mean))
            {
                *sum += (value - mean).powi(2);
            }
        }
    }
    let noise = reduced.noise_variance(mean);
    (0..3).all(|channel| {
        let variance = squares[channel] / (factor * factor - 1).max(1) as f64;
        let excess = (variance - noise[channel]).max(0.0).sqrt();
        variance < EVEN_NOISE * noise[channel] || excess < EVEN_SHARE * mean[channel]
    })
}

impl Tiles {
    /// Whether two neighbours are of one material.
    fn linked(&self, a: usize, b: usize) -> bool {
        self.even[a]
            && self.even[b]
            && (0..3).all(|channel| {
                let (va, vb) = (self.noise[a][channel], self.noise[b][channel]);
                let ma = self.mean[a][channel].max(2.0 * va.sqrt());
                let mb = self.mean[b][channel].max(2.0 * vb.sqrt());
                let noise = (va / (ma * ma) + vb / (mb * mb)).sqrt();
                (ma / mb).ln().abs() < STEP + STEP_NOISE * noise
            })
    }

    /// The difference of two places of one material as a voter.
    fn voter(&self, a: usize, b: usize) -> Option<Voter> {
        let (bright, dark) = if self.mean[a][1] >= self.mean[b][1] {
            (a, b)
        } else {
            (b, a)
        };
        let difference = [0, 1, 2].map(|c| self.mean[bright][c] - self.mean[dark][c]);
        let error = [0, 1, 2].map(|c| (self.noise[bright][c] + self.noise[dark][c]).sqrt());
        if (0..3).any(|c| !(difference[c] > ABOVE_NOISE * error[c]))
            || difference[1] <= LEAST_SHARE * self.mean[bright][1]
        {
            return None;
        }
        let relative = [0, 1, 2].map(|c| (error[c] / difference[c]).powi(2));
        let error = (relative[0] / 2.0 + relative[1] + relative[2] / 2.0).sqrt();
        (error < MOST_ERROR).then_some(Voter {
            difference: Difference {
                chroma: log_chroma(difference)?,
                error,
                weight: 1.0 / (1.0 + (error / HALF_ERROR).powi(2)),
            },
            green: difference[1],
        })
    }
}

fn voters(tiles: &Tiles) -> Vec<Difference> {
    let mut voters = Vec::new();
    let (width, height) = (tiles.width, tiles.height);
    let longer = width.max(height);
    let offsets = [0, 1].map(|at| share_of(longer, OFFSETS[at]).max(LEAST_OFFSETS[at]));
    // Along rows, then down columns: lines of (count, length, step within, step between).
    for (lines, length, within, between) in [(height, width, 1, width), (width, height, width, 1)] {
        for line in 0..lines {
            let at = |position: usize| line * between + position * within;
            // Broken links up to each position: a stretch is whole when the count does not change over it.
            let mut broken = vec![0_usize; length];
            for position in 1..length {
                let whole = tiles.linked(at(position - 1), at(position));
                broken[position] = broken[position - 1] + usize::from(!whole);
            }
            for offset in offsets {
                for position in offset..length {
                    if broken[position] == broken[position - offset] {
                        voters.extend(tiles.voter(at(position - offset), at(position)));
                    }
                }
            }
        }
    }
    balance(&mut voters);
    voters.into_iter().map(|voter| voter.difference).collect()
}

/// Divides weights by the square root of all weight in their octave of brightness, so that neither the brightest nor the
/// largest surface speaks alone.
fn balance(voters: &mut [Voter]) {
    /// Octaves below full range; what is darker joins the last.
    const OCTAVES: usize = 20;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to the octaves"
    )]
    let octave = |voter: &Voter| ((-voter.green.log2()).max(0.0) as usize).min(OCTAVES - 1);
    let mut totals = [0.0; OCTAVES];
    for voter in voters.iter() {
        totals[octave(voter)] += voter.difference.weight;
    }
    for voter in voters.iter_mut() {
        voter.difference.weight /= totals[octave(voter)].sqrt();
    }
}

fn thinned(voters: &[Difference]) -> Vec<Difference> {
    let step = voters.len().div_ceil(MOST_VOTERS).max(1);
    voters.iter().step_by(step).copied().collect()
}

/// Weighted medians of the voters around a start.
pub(super) fn refined(voters: &[Difference], start: [f64; 2]) -> Option<[f64; 2]> {
    let mut chroma = start;
    for round in 0..ROUNDS {
        let along = round as f64 / (ROUNDS - 1) as f64;
        let radius = RADII.0 + along * (RADII.1 - RADII.0);
        let near: Vec<&Difference> = voters
            .iter()
            .filter(|voter| locus::distance(voter.chroma, chroma) < radius + 2.0 * voter.error)
            .collect();
        let weights: Vec<f64> = near
            .iter()
            .map(|voter| voter.weight / (voter.error.powi(2) + 0.01_f64.powi(2)))
            .collect();
        let median = |axis: usize| {
            let values: Vec<f64> = near.iter().map(|voter| voter.chroma[axis]).collect();
            robust::weighted_median(&values, &weights)
        };
        chroma = [median(0)?, median(1)?];
    }
    Some(chroma)
}
