//! Candidate neutral patches: places that are grey, white or black by themselves and stand under the key.
//!
//! The picture's lit region is searched for *places*: compact, even, unclipped, of one material. A place says a white if it
//! is neutral; which ones are is told by agreement. Things of unlike lightness (a shirt, a case, a stand) that have one colour, and
//! that colour on the locus of plausible whites, are neutral: a wash adds the same light to each and so turns a dark one
//! more than a bright one, and coloured things have no reason to agree. On simulated shows, where a wash
//! reaches every neutral thing in four keyed frames of five, agreement of confidence 0.5 and more is within 3 degrees of the key in 89
//! % of frames (25 of 28), of 0.4 and more in 79 %; whatever most places agree on, whether on the locus or not, in 14 %.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use crate::base::geometry::Orientation;
use crate::light::locus::{self, Candidate};
use crate::light::patch::Patch;
use crate::light::places::{Place, places};
use crate::light::reading::{Lightness, NeutralCandidate};
use crate::light::reduce::Reduced;
use crate::light::region::Region;
use crate::light::tiles::Tiles;

/// Candidates that are kept of a frame.
pub const MOST: usize = 8;
/// Width of the agreement of places in log-chroma; and the distance within which a place belongs to those that agree (2 degrees).
const WIDTH: f64 = 0.05;
const NEAR: f64 = 0.06;
/// Width of the agreement of skin, and what it is worth beside that of neutral things.
const SKIN_WIDTH: f64 = 0.09;
const SKIN_WORTH: f64 = 0.5;
/// Distance in log-chroma from the nearest plausible white at which it is no longer that one.
const OFF_LOCUS: f64 = 0.03;
/// Range of lightness among those that agree (of ln green), and their number, at which their agreement is worth 63 %.
const LIGHTNESS: f64 = 0.8;
const NUMBER: f64 = 1.0;
/// An agreement of less confidence shows no neutral things.
const LEAST_CONFIDENCE: f64 = 0.4;
/// Deeper places than this are as good as any.
const DEEP: f64 = 5.0;
/// Share of the depth that is taken for the patch's radius: away from the edge.
const WITHIN: f64 = 0.8;
/// Largest radius of a patch, as a share of the picture's width.
const LARGEST: f64 = 0.03;
/// Distance from the white, and unevenness of log-chroma, at which a place's confidence falls to 1/e.
const OFF: f64 = 0.06;
const UNEVEN: f64 = 0.15;
/// Share of the key's level from which a thing is white, and below which it is black.
const WHITE: f64 = 0.5;
const BLACK: f64 = 0.125;

/// A white that places agree on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Agreement {
    /// Its (ln R/G, ln B/G).
    pub chroma: [f64; 2],
    /// 0 (nothing agrees) to 1.
    pub confidence: f64,
}

/// The places of a frame, and the white that they agree on.
#[derive(Clone, Debug)]
pub struct Evidence {
    places: Vec<Place>,
    /// The white; `None` without a place that is plausibly neutral.
    pub agreement: Option<Agreement>,
}

impl Evidence {
    /// Searches a frame.
    #[must_use]
    pub fn of(tiles: &Tiles, region: &Region, candidates: &[Candidate]) -> Self {
        let places = places(tiles, region);
        let agreement = agreement(&places, candidates);
        Self { places, agreement }
    }

    /// The neutral things of a frame, most credible first: those that agree, or, where `given` is a white that is known otherwise with
    /// its credibility, those that have its colour.
    #[must_use]
    pub fn candidates(
        &self,
        given: Option<Agreement>,
        reduced: &Reduced,
        whereabouts: &Whereabouts,
    ) -> Vec<NeutralCandidate> {
        let Some(white) = given
            .or(self.agreement)
            .filter(|white| white.confidence >= LEAST_CONFIDENCE)
        else {
            return Vec::new();
        };
        let mut found: Vec<NeutralCandidate> = self
            .places
            .iter()
            .filter(|place| locus::distance(place.chroma, white.chroma) <= NEAR)
            .map(|place| candidate(place, white, reduced, whereabouts))
            .collect();
        found.sort_by(|a, b| b.confidence.total_cmp(&a.confidence));
        found.truncate(MOST);
        found
    }
}

/// What turns tiles into patches.
#[derive(Clone, Copy, Debug)]
pub struct Whereabouts {
    /// The key's level, fraction of range, where known.
    pub key_level: Option<f64>,
    /// How the stored picture is turned upright.
    pub orientation: Orientation,
    /// Share of the picture's width and height that the tiles cover, from the left and top.
    pub covered: (f64, f64),
}

/// What a place is worth among others: large and bright ones more.
fn worth(place: &Place) -> f64 {
    ((place.radius + 1) as f64).min(DEEP).sqrt() * place.green.sqrt()
}

/// The white on which most of what is plausible agrees.
fn agreement(places: &[Place], candidates: &[Candidate]) -> Option<Agreement> {
    let plausible: Vec<f64> = places
        .iter()
        .map(|place| plausibility(place.chroma, candidates))
        .collect();
    let kernel = |distance: f64, width: f64| (-0.5 * (distance / width).powi(2)).exp();
    let score = |at: usize| {
        let white = places[at].chroma;
        let skin = [white[0] + locus::SKIN[0], white[1] + locus::SKIN[1]];
        let sum = |around: [f64; 2], width: f64| -> f64 {
            places
                .iter()
                .map(|place| worth(place) * kernel(locus::distance(place.chroma, around), width))
                .sum()
        };
        let neutral = sum(white, WIDTH);
        plausible[at] * (neutral + SKIN_WORTH * sum(skin, SKIN_WIDTH).min(neutral))
    };
    let winner =
        (0..places.len()).max_by(|&a, &b| score(a).total_cmp(&score(b)).then(b.cmp(&a)))?;
    let agreeing: Vec<&Place> = places
        .iter()
        .filter(|place| locus::distance(place.chroma, places[winner].chroma) <= NEAR)
        .collect();
    let total: f64 = agreeing.iter().map(|place| worth(place)).sum();
    let mean = |axis: usize| {
        agreeing
            .iter()
            .map(|place| worth(place) * place.chroma[axis])
            .sum::<f64>()
            / total
    };
    let chroma = [mean(0), mean(1)];
    let range = |pick: fn(f64, f64) -> f64, start: f64| {
        agreeing
            .iter()
            .map(|place| place.green.ln())
            .fold(start, pick)
    };
    let lightness = range(f64::max, f64::NEG_INFINITY) - range(f64::min, f64::INFINITY);
    let others = (agreeing.len() - 1) as f64;
    Some(Agreement {
        chroma,
        confidence: plausible[winner].powi(2)
            * (1.0 - (-lightness / LIGHTNESS).exp())
            * (1.0 - (-(others + 1.0) / NUMBER).exp()),
    })
}

/// How plausible a log-chroma is for a white.
fn plausibility(chroma: [f64; 2], candidates: &[Candidate]) -> f64 {
    candidates
        .iter()
        .map(|candidate| (locus::square_distance(chroma, candidate.chroma), candidate))
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(0.0, |(square, candidate)| {
            locus::plausibility(candidate.white) * (-0.5 * square / OFF_LOCUS.powi(2)).exp()
        })
}

/// A place as a patch.
fn candidate(
    place: &Place,
    white: Agreement,
    reduced: &Reduced,
    whereabouts: &Whereabouts,
) -> NeutralCandidate {
    let (width, height) = (reduced.colour.width(), reduced.colour.height());
    let off_white = locus::distance(place.chroma, white.chroma);
    let level = place.green / whereabouts.key_level.unwrap_or(1.0);
    let (across, down) = whereabouts.covered;
    let middle = |at: usize, count: usize, covered: f64| (at as f64 + 0.5) / count as f64 * covered;
    let (x, y) = whereabouts.orientation.upright_fraction(
        middle(place.x, width, across),
        middle(place.y, height, down),
    );
    let (tiles, covered) = if whereabouts.orientation.swaps_sides() {
        (height, down)
    } else {
        (width, across)
    };
    let reach = WITHIN * (place.radius as f64 + 0.5);
    NeutralCandidate {
        patch: Patch {
            x,
            y,
            radius: (reach / tiles as f64 * covered).min(LARGEST),
        },
        chroma: place.chroma,
        off_white,
        level,
        lightness: match level {
            level if level >= WHITE => Lightness::White,
            level if level < BLACK => Lightness::Black,
            _ => Lightness::Grey,
        },
        confidence: white.confidence
            * (-(off_white / OFF).powi(2)).exp()
            * (-(place.uneven / UNEVEN).powi(2)).exp(),
    }
}
