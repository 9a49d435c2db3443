//! One frame's reading, put together.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use crate::base::robust;
use crate::base::units::Chromaticity;
use crate::light::colours;
use crate::light::estimate::{estimate, lit_surfaces, lit_voters};
use crate::light::glow::glow;
use crate::light::locus;
use crate::light::neutrals::{Agreement, Evidence, Whereabouts};
use crate::light::reading::{DarkClass, LitRegion, Reading};
use crate::light::reduce::{covered, reduce};
use crate::light::reference::TRUSTED_CONFIDENCE;
use crate::light::region::{Region, part};
use crate::light::sharpness::sharpness;
use crate::light::skin::skin;
use crate::light::tiles::Tiles;
use crate::light::traces::Traces;
use crate::light::washes::washes;
use crate::raw::frame::Frame;

/// Percentile of the level in the lit region that counts as its bright end, and of the dark class that counts as black.
const BRIGHT: f64 = 98.0;
const BLACK: f64 = 0.5;

/// A tile whose green is less than this many standard deviations of its noise shows nothing.
const BLOCKED: f64 = 2.0;

/// Percentile of green that tells the key's level, distance in log-chroma from grey and skin within which a tile may
/// speak, and the least share of the lit region that must.
const KEY_LEVEL: f64 = 90.0;
const PLAIN: f64 = 0.30;
const LEAST_PLAIN: f64 = 0.02;

/// Reads the light of a frame. Levels are measured under `white`; without one, under the estimate where it can be
/// trusted, else under what the body took for white, else under daylight.
#[must_use]
pub fn read_light(frame: &Frame, white: Option<Chromaticity>) -> Reading {
    let reduced = reduce(&frame.mosaic);
    let colour = &frame.colour;
    let as_shot = colour
        .as_shot_neutral
        .and_then(|neutral| colour.white_of_neutral(neutral).ok());
    let usable = |white: Chromaticity| Some((white, colour.neutral_of_white(white).ok()?));
    // A body whose matrices give no neutral for any white still has levels: of its bare channels.
    let fallback = as_shot
        .and_then(usable)
        .or_else(|| usable(Chromaticity::D65))
        .unwrap_or((Chromaticity::D65, [1.0; 3]));
    let daylight = usable(Chromaticity::D65).map_or([1.0; 3], |(_, neutral)| neutral);
    let given = white.and_then(usable);
    let candidates = locus::candidates(colour);
    let whites = locus::on_locus(&candidates);
    let known = Tiles::of(&reduced, &whites);

    let first = part(&reduced, given.unwrap_or(fallback).1);
    let voters = lit_voters(&known, &first);
    let evidence = Evidence::of(&known, &first, &candidates);
    let estimate = estimate(
        &known,
        &first,
        colour,
        &candidates,
        &voters,
        evidence.agreement,
    );
    let trusted = estimate
        .as_ref()
        .filter(|estimate| estimate.confidence >= TRUSTED_CONFIDENCE)
        .map(|estimate| (estimate.white, estimate.neutral));
    let (white, neutral) = given.or(trusted).unwrap_or(fallback);
    let region = if given.is_some() || trusted.is_none() {
        first
    } else {
        part(&reduced, neutral)
    };
    // What is grey is told under the frame's own light where that is known.
    let own = trusted.map_or(neutral, |(_, neutral)| neutral);
    let tiles = reduced.len().max(1) as f64;
    let lit = lit_region(&known, &region, own);
    // What is told by a white that cannot be believed would only repeat the mistake.
    let believed = match (&estimate, given) {
        (_, Some((_, neutral))) => Some((neutral, 1.0)),
        (Some(estimate), None) if trusted.is_some() => Some((own, estimate.confidence)),
        _ => None,
    };
    let whereabouts = Whereabouts {
        key_level: lit.and_then(|lit| lit.key_level),
        orientation: frame.facts.orientation,
        covered: covered(&frame.mosaic),
    };
    let told = believed.and_then(|(neutral, confidence)| {
        let chroma = locus::log_chroma(neutral)?;
        Some(Agreement { chroma, confidence })
    });
    Reading {
        white,
        neutral,
        as_shot,
        neutrals: evidence.candidates(told, &reduced, &whereabouts),
        skin: believed.and_then(|(neutral, _)| skin(&known, &region, neutral)),
        washes: washes(&known, &region, colour),
        sharpness: sharpness(&frame.mosaic, &reduced.noise, &region),
        estimate,
        lit,
        dark: dark_class(&region),
        clipped_share: reduced
            .clipped
            .values()
            .iter()
            .map(|share| f64::from(*share))
            .sum::<f64>()
            / tiles,
        noise_floor: reduced.noise.floor.sqrt(),
        traces: Traces {
            differences: voters.traces(),
            surfaces: lit_surfaces(&known, &region),
            glow: glow(&known, &region),
            colours: colours::of_picture(&known, daylight),
        },
    }
}

fn lit_region(known: &Tiles, region: &Region, neutral: [f64; 3]) -> Option<LitRegion> {
    let tiles: Vec<usize> = (0..known.len())
        .filter(|&at| region.lit.values()[at])
        .collect();
    let mut levels: Vec<f64> = tiles.iter().map(|&at| region.levels.values()[at]).collect();
    let median = robust::median(&mut levels).filter(|median| *median > 0.0)?;
    let bright = robust::percentile(&mut levels, BRIGHT)?;
    let washed = tiles
        .iter()
        // A channel that is nothing but noise is a strong colour too.
        .filter(|&&at| known.is_coloured(at).unwrap_or(true))
        .count();
    let clipped = known.reduced.clipped.values();
    Some(LitRegion {
        share: tiles.len() as f64 / known.len() as f64,
        median,
        bright,
        key_level: key_level(known, &tiles, neutral),
        washed_share: washed as f64 / tiles.len() as f64,
        blown_share: tiles.iter().map(|&at| f64::from(clipped[at])).sum::<f64>()
            / tiles.len() as f64,
        blocked_share: blocked_share(known, region),
    })
}

/// Share of the performer that drowns in noise: a black shirt or trousers may be too dark to be lit themselves.
fn blocked_share(known: &Tiles, region: &Region) -> f64 {
    let performer = region.closed();
    let (mut all, mut blocked) = (0_usize, 0_usize);
    for at in (0..known.len()).filter(|&at| performer[at]) {
        all += 1;
        blocked += usize::from(known.colour(at)[1] < BLOCKED * known.noise[at][1]);
    }
    blocked as f64 / all.max(1) as f64
}

/// The level of the key: a high percentile of green over what of the lit tiles can be grey or skin under this white.
fn key_level(known: &Tiles, lit: &[usize], neutral: [f64; 3]) -> Option<f64> {
    let white = locus::log_chroma(neutral)?;
    let mut greens: Vec<f64> = lit
        .iter()
        .filter(|&&at| {
            known
                .chroma(at)
                .is_some_and(|chroma| locus::distance_from_grey_or_skin(chroma, white) <= PLAIN)
        })
        .map(|&at| known.colour(at)[1])
        .collect();
    if (greens.len() as f64) < LEAST_PLAIN * lit.len() as f64 {
        return None;
    }
    robust::percentile(&mut greens, KEY_LEVEL).filter(|level| *level > 0.0)
}

/// What the key does not light and no lamp fills; where the whole picture is lit, the whole picture.
fn dark_class(region: &Region) -> DarkClass {
    let dark = |with_lit: bool| -> Vec<f64> {
        (0..region.levels.values().len())
            .filter(|&at| !region.lamps.values()[at] && (with_lit || !region.lit.values()[at]))
            .filter(|&at| {
                with_lit
                    || region
                        .threshold
                        .is_none_or(|t| region.weakest.values()[at] <= t)
            })
            .map(|at| region.levels.values()[at])
            .collect()
    };
    let mut levels = dark(false);
    if levels.is_empty() {
        levels = dark(true);
    }
    DarkClass {
        median: robust::median(&mut levels).unwrap_or(0.0),
        floor: robust::percentile(&mut levels, BLACK).unwrap_or(0.0),
    }
}
