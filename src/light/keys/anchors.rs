//! The anchors: their whites and what is remembered of the light under them.

use crate::base::units::Chromaticity;
use crate::light::ballots::Ballots;
use crate::light::differences::refined;
use crate::light::keys::brightest::brightest;
use crate::light::keys::eyes::{Eye, Eyes};
use crate::light::keys::level::{self, Counts};
use crate::light::keys::pool::Pool;
use crate::light::keys::unmix::Wash;
use crate::light::locus::plausibility;
use crate::light::sheet::{KeyMemory, SolvedAnchor};

/// An anchor whose white was given is as good as its patch; one that only its cue's vote tells is a guess.
const GIVEN: f64 = 1.0;
const READ: f64 = 0.3;
/// Fewer differences than this are no vote.
const LEAST_VOTERS: u32 = 40;
/// Most surfaces that are remembered: a look's file stays small.
const MOST_SURFACES: usize = 240;

/// An anchor as cues are solved against it.
pub(super) struct Ready {
    pub(super) solved: SolvedAnchor,
    /// Whether its white is known and it showed colours.
    pub(super) usable: bool,
    pub(super) counts: Option<Counts>,
    /// The level of its brightest plain things; a look does not remember it.
    pub(super) brightest: Option<f64>,
    /// Mean ln of relative exposure of its frames: what whoever took them found right for this key. A look does not
    /// remember it.
    pub(super) exposure: Option<f64>,
}

impl Ready {
    /// Reads an anchor from what its cue shows; `estimate` is the anchor's own frame's white and its confidence. It comes
    /// before the pooled vote: on simulated shows a reference frame alone is wrong by 0.8 degrees in the mean, its cue's vote by 2.6.
    /// `others` is what other bodies saw of the cue: the same things in the same light, from other places.
    pub(super) fn seen(
        pool: &Pool,
        eyes: &Eyes,
        others: &[(Pool, &Eyes)],
        given: Option<Chromaticity>,
        estimate: Option<(Chromaticity, f64)>,
    ) -> Self {
        let eye = match given {
            Some(white) => Eye::of(eyes.colour, white),
            None => estimate
                .and_then(|(white, _)| Eye::of(eyes.colour, white))
                .or_else(|| vote(pool, eyes)),
        };
        let Some(eye) = eye else {
            return Self::remembered(&KeyMemory::default(), given);
        };
        let mut surfaces = level::surfaces(pool, &eye, &Wash::default());
        let counts = Counts::of(&surfaces);
        surfaces.sort_by(|a, b| b.2.total_cmp(&a.2));
        surfaces.truncate(MOST_SURFACES);
        let mut palette = colours_under(pool, &eye);
        for (pool, eyes) in others {
            palette.extend(
                Eye::of(eyes.colour, eye.white)
                    .iter()
                    .flat_map(|eye| colours_under(pool, eye)),
            );
        }
        let frames: f64 = palette.iter().map(|(_, share)| share).sum();
        for (_, share) in &mut palette {
            *share /= frames;
        }
        Self {
            usable: !palette.is_empty(),
            counts,
            brightest: brightest(pool, eye.chroma),
            exposure: pool.exposure,
            solved: SolvedAnchor {
                white: eye.white,
                confidence: match (given, estimate) {
                    (Some(_), _) => GIVEN,
                    (None, Some((_, confidence))) => confidence,
                    (None, None) => READ,
                },
                memory: KeyMemory { palette, surfaces },
            },
        }
    }

    /// An anchor that a look remembers.
    pub(super) fn remembered(memory: &KeyMemory, white: Option<Chromaticity>) -> Self {
        Self {
            usable: !memory.palette.is_empty(),
            counts: Counts::of(&memory.surfaces),
            brightest: None,
            exposure: None,
            solved: SolvedAnchor {
                white: white.unwrap_or(Chromaticity::D65),
                confidence: if white.is_some() { GIVEN } else { 0.0 },
                memory: memory.clone(),
            },
        }
    }
}

/// A pool's colours adapted to a white; each of its frames counts 1.
fn colours_under(pool: &Pool, eye: &Eye) -> Vec<([f64; 2], f64)> {
    pool.colours()
        .into_iter()
        .filter_map(|(chroma, share)| Some((eye.colour(chroma)?, share * pool.frames() as f64)))
        .collect()
}

/// The white that differences alone give: the plausible white with the most votes, then its pile.
fn vote(pool: &Pool, eyes: &Eyes) -> Option<Eye> {
    if pool.count < LEAST_VOTERS {
        return None;
    }
    let ballots = Ballots::of(&pool.differences);
    let winner = eyes
        .grid
        .iter()
        .flatten()
        .map(|eye| (plausibility(eye.white) * ballots.score(eye.chroma), eye))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(votes, _)| *votes > 0.0)?;
    Eye::of_neutral(eyes.colour, refined(&pool.differences, winner.1.chroma)?)
}
