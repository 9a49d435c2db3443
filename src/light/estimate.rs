//! The white of a frame from the picture alone: several published methods, and what they say together.
//!
//! Each method sees only tiles that can carry the key's colour: lit, unclipped, well above noise, and not coloured beyond
//! what plausible whites make of grey and skin. The vote of differences speaks first, because a wash that lies evenly on
//! the performer cancels in it; the others confirm or doubt it. Where too few differences vote, the others are put
//! together in the body's log-chroma by a weighted median, with little confidence. Confidence falls with rivals, with
//! few voters, and with an implausible result: a coloured wash must never come out as a confident white.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use crate::base::robust;
use crate::colour::camera::CameraColour;
use crate::light::differences::{Vote, Voters, vote};
use crate::light::estimators::{grey_edge, shades_of_grey};
use crate::light::grayness::grayness_index;
use crate::light::locus::{self, Candidate, log_chroma};
use crate::light::neutrals::Agreement;
use crate::light::raster::Raster;
use crate::light::reading::{Method, Opinion, WhiteEstimate};
use crate::light::region::Region;
use crate::light::tiles::Tiles;
use crate::light::traces::{self, SurfaceTrace};

/// A tile's green must be this many standard deviations of its noise above black, its other channels a third of that.
const ABOVE_NOISE: f64 = 6.0;
/// Share of the valid tiles that the grayness index averages; the paper's 0.1 % of a full picture is a handful of tiles
/// here, so that noise would choose.
const GREYEST: f64 = 0.01;
/// Disagreement of the methods (robust standard deviation in log-chroma) at which confidence falls to 1/e.
const DISAGREEMENT: f64 = 0.08;
/// Valid tiles, as a share of the picture, at which half of the confidence that more tiles give is reached.
const ENOUGH_TILES: f64 = 0.01;
/// Fewer voters than this are no vote; so many give half of the confidence that more give. In trials on simulated shows
/// good votes had thousands and bad ones a few hundred over a whole cue.
const LEAST_VOTERS: usize = 30;
const ENOUGH_VOTERS: f64 = 150.0;
/// A method agrees with the vote within this distance in log-chroma (about 3 degrees), and then takes away this share of
/// the doubt, times its own weight.
const AGREEMENT: f64 = 0.10;
const AGREEING: f64 = 0.25;
/// A vote of less weight than this has its agreement counted in proportion: a strong wash makes all methods agree.
const HEARD: f64 = 0.1;
/// Most confidence of methods that agree without a vote: on simulated stages washes fooled all of them together by 6
/// degrees, so this alone is never trusted.
const WITHOUT_VOTE: f64 = 0.4;
/// Agreement of neutral things that is surer than this is heard (see [`crate::light::neutrals`]).
const LEAST_AGREEMENT: f64 = 0.4;
/// Fewer tiles than this say nothing.
const LEAST_TILES: usize = 16;

/// Estimates the white of a frame; `None` when too little can carry the key's colour, or no method gives a white.
#[must_use]
pub fn estimate(
    tiles: &Tiles,
    region: &Region,
    colour: &CameraColour,
    candidates: &[Candidate],
    voters: &Voters,
    agreement: Option<Agreement>,
) -> Option<WhiteEstimate> {
    let valid = valid_tiles(tiles, region);
    let count = valid.iter().filter(|valid| **valid).count();
    if count < LEAST_TILES {
        return None;
    }
    let raster = Raster {
        width: tiles.reduced.colour.width(),
        colours: tiles.reduced.colour.values(),
        valid: &valid,
    };
    let share = GREYEST * count as f64 / valid.len() as f64;
    let opinions: Vec<Opinion> = [
        (Method::GreyWorld, shades_of_grey(&raster, 1.0)),
        (Method::ShadesOfGrey, shades_of_grey(&raster, 6.0)),
        (Method::GreyEdge, grey_edge(&raster, 1, 6.0, 2.0)),
        (Method::GraynessIndex, grayness_index(&raster, share)),
    ]
    .into_iter()
    .filter_map(|(method, light)| {
        let neutral = light.map(|light| light.map(|value| value / light[1]))?;
        let white = colour.white_of_neutral(neutral).ok()?;
        Some(Opinion {
            method,
            neutral,
            weight: locus::plausibility(white),
        })
    })
    .collect();
    let vote = vote(voters, candidates);
    let estimate = fuse(opinions, vote, colour, count as f64 / valid.len() as f64);
    match agreement.filter(|agreement| agreement.confidence >= LEAST_AGREEMENT) {
        Some(agreement) => with_agreement(estimate, agreement, colour),
        None => estimate,
    }
}

/// Holds an estimate against the white that neutral things agree on. Where they say the same, each takes away a part of the
/// doubt that the other leaves; where they do not, the surer one stands, as much less sure.
fn with_agreement(
    estimate: Option<WhiteEstimate>,
    agreement: Agreement,
    colour: &CameraColour,
) -> Option<WhiteEstimate> {
    let neutral = locus::neutral_of(agreement.chroma);
    let Ok(white) = colour.white_of_neutral(neutral) else {
        return estimate;
    };
    let (confidence, mut opinions, vote) = match &estimate {
        Some(estimate) => (
            estimate.confidence,
            estimate.opinions.clone(),
            estimate.vote,
        ),
        None => (0.0, Vec::new(), None),
    };
    opinions.push(Opinion {
        method: Method::NeutralThings,
        neutral,
        weight: agreement.confidence,
    });
    let own = estimate.filter(|estimate| estimate.confidence > agreement.confidence);
    let apart = own
        .as_ref()
        .and_then(|estimate| log_chroma(estimate.neutral))
        .or_else(|| {
            opinions
                .iter()
                .find(|o| o.method == Method::Differences)
                .and_then(|o| log_chroma(o.neutral))
        })
        .map_or(f64::INFINITY, |chroma| {
            locus::distance(chroma, agreement.chroma)
        });
    let (greater, lesser) = (
        confidence.max(agreement.confidence),
        confidence.min(agreement.confidence),
    );
    let (white, neutral) = own.map_or((white, neutral), |own| (own.white, own.neutral));
    Some(WhiteEstimate {
        white,
        neutral,
        confidence: if apart < AGREEMENT {
            1.0 - (1.0 - greater) * (1.0 - lesser)
        } else {
            greater * (1.0 - lesser)
        },
        opinions,
        vote,
    })
}

/// Puts the methods' opinions and the vote together.
fn fuse(
    mut opinions: Vec<Opinion>,
    vote: Option<Vote>,
    colour: &CameraColour,
    tiles: f64,
) -> Option<WhiteEstimate> {
    let chromas: Vec<[f64; 2]> = opinions
        .iter()
        .filter_map(|opinion| log_chroma(opinion.neutral))
        .collect();
    let weights: Vec<f64> = opinions.iter().map(|opinion| opinion.weight).collect();
    let median = |axis: usize| {
        let values: Vec<f64> = chromas.iter().map(|chroma| chroma[axis]).collect();
        robust::weighted_median(&values, &weights)
    };
    let consensus = median(0).zip(median(1)).map(|(red, blue)| [red, blue]);
    let distances = |from: [f64; 2]| -> Vec<f64> {
        chromas
            .iter()
            .map(|other| locus::distance(*other, from))
            .collect()
    };
    if let Some(vote) = vote.filter(|vote| vote.count >= LEAST_VOTERS) {
        let neutral = locus::neutral_of(vote.chroma);
        let white = colour.white_of_neutral(neutral).ok()?;
        let weight = locus::plausibility(white)
            * (1.0 - (-(vote.count as f64) / ENOUGH_VOTERS).exp())
            * (1.0 - vote.rival);
        // Each method that agrees takes away a part of what doubt is left.
        let doubt: f64 = opinions
            .iter()
            .zip(distances(vote.chroma))
            .filter(|(_, distance)| *distance < AGREEMENT)
            .map(|(opinion, _)| 1.0 - AGREEING * opinion.weight * (weight / HEARD).min(1.0))
            .product();
        opinions.push(Opinion {
            method: Method::Differences,
            neutral,
            weight,
        });
        return Some(WhiteEstimate {
            white,
            neutral,
            confidence: locus::plausibility(white) * (1.0 - (1.0 - weight) * doubt),
            opinions,
            vote: Some(vote),
        });
    }
    let chroma = consensus?;
    let neutral = locus::neutral_of(chroma);
    let white = colour.white_of_neutral(neutral).ok()?;
    let spread = robust::weighted_median(&distances(chroma), &weights)? / robust::MAD_OF_NORMAL;
    let confidence = WITHOUT_VOTE
        * locus::plausibility(white)
        * (-(spread / DISAGREEMENT).powi(2)).exp()
        * (1.0 - (-tiles / ENOUGH_TILES).exp());
    Some(WhiteEstimate {
        white,
        neutral,
        confidence,
        opinions,
        vote,
    })
}

/// The differences that may vote for the key: backdrop and haze under a wash have no vote, their shading is the wash's.
#[must_use]
pub fn lit_voters(tiles: &Tiles, region: &Region) -> Voters {
    let usable: Vec<bool> = tiles
        .unclipped
        .iter()
        .zip(region.lit.values())
        .map(|(unclipped, lit)| *unclipped && *lit)
        .collect();
    Voters::of(tiles.reduced, &usable)
}

/// What the lit region shows, for whoever pools frames: its tiles that are unclipped and above the noise.
#[must_use]
pub fn lit_surfaces(tiles: &Tiles, region: &Region) -> Vec<SurfaceTrace> {
    let shown = (0..tiles.len())
        .filter(|&at| tiles.unclipped[at] && region.lit.values()[at])
        .filter(|&at| tiles.is_above(at, [ABOVE_NOISE / 3.0; 3]))
        .filter_map(|at| Some((tiles.chroma(at)?, tiles.ln_green(at))));
    traces::of_surfaces(shown, tiles.len())
}

/// Which tiles can carry the key's colour.
fn valid_tiles(tiles: &Tiles, region: &Region) -> Vec<bool> {
    let weaker = ABOVE_NOISE / 3.0;
    (0..tiles.len())
        .map(|at| {
            tiles.unclipped[at]
                && region.lit.values()[at]
                && tiles.is_above(at, [weaker, ABOVE_NOISE, weaker])
                && !tiles.is_coloured_above_noise(at)
        })
        .collect()
}
