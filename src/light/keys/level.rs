//! The level of a key: how much brighter the same things are than under the anchor.
//!
//! Surfaces of the lit region, cleared of the wash, as colours adapted to the key's white and as luminance per relative
//! exposure, are counted by colour and by logarithm of luminance; the counts of a cue are moved along the luminance until they
//! lie best on the anchor's. What is nearly grey counts most, because cloth changes its luminance with the light's
//! spectrum. Framing changes what is counted more than the light does, so the counts alone are wrong by 0.4 stops in the mean
//! on simulated shows, and by three where a wash floods the picture. The settings know something too: whoever photographs a show
//! follows the key with them (common practice, no source; the simulated shows are drawn so). So do the brightest plain things
//! (`brightest`). All bodies that saw a cue say together how bright its one key was. Together the error is 0.17 stops in the mean.

use crate::base::robust;
use crate::light::keys::anchors::Ready;
use crate::light::keys::eyes::Eye;
use crate::light::keys::pool::Pool;
use crate::light::keys::unmix::Wash;
use crate::light::locus::neutral_of;

/// Side of a cell in (ln L/M, ln S/M), and cells each way around grey.
const CELL: f64 = 0.10;
const CELLS: usize = 24;
/// Step of ln luminance, and how many: 10 nats.
const STEP: f64 = 0.04;
const STEPS: usize = 250;
/// Blur along the luminance, in steps.
const BLUR: f64 = 1.5;
/// What lies this far below the bright end does not count, in nats; and which percentile the bright end is.
const DEPTH: f64 = 3.0;
const BRIGHT_END: f64 = 99.0;
/// Farthest difference of level that is looked for, in steps: 5 stops.
const REACH: usize = 87;
/// Distance from grey at which a colour speaks less, and what the farthest still says.
const GREY: f64 = 0.25;
const FAR: f32 = 0.02;

/// Width, in nats, of what settings leave of the key's level: whoever takes pictures of a show follows it. The tails are Cauchy's, so
/// that settings that were not changed with the light, or changed by mistake, give way to surfaces that fit.
const FOLLOWED: f64 = 0.25;
/// Width, in nats, of what the brightest plain things leave of it. With 0.2 or without them the levels of simulated shows were
/// 0.02 stops worse.
const BRIGHTEST: f64 = 0.3;
/// What the fit of the surfaces is worth beside the settings is the first by the cube of the misfit that is left at best, which
/// is never below the second: the same things in the same light must outweigh any settings, other things hardly any.
const SURFACES: f64 = 0.12;
const LEAST_MISFIT: f64 = 0.05;
/// Half of the width of what is likely, in nats, at which a level is worth half. Settings alone give 0.45.
const HALF_SURE: f64 = 0.6;

/// Surfaces as (colour, ln luminance per relative exposure, share).
pub(super) type Surface = ([f64; 2], f64, f64);

/// Surfaces of a pool under a white, cleared of a wash, of its brightest nats.
pub(super) fn surfaces(pool: &Pool, eye: &Eye, wash: &Wash) -> Vec<Surface> {
    let excess = wash.excess(neutral_of(eye.chroma));
    let all: Vec<Surface> = pool
        .surfaces
        .iter()
        .filter_map(|(chroma, level, share)| {
            let chroma = [
                chroma[0] - (excess[0] - excess[1]),
                chroma[1] - (excess[2] - excess[1]),
            ];
            let level = level - excess[1] + eye.luminance(chroma)?;
            Some((eye.colour(chroma)?, level, *share))
        })
        .collect();
    let mut levels: Vec<f64> = all.iter().map(|surface| surface.1).collect();
    let Some(bright) = robust::percentile(&mut levels, BRIGHT_END) else {
        return all;
    };
    all.into_iter()
        .filter(|surface| surface.1 > bright - DEPTH)
        .collect()
}

/// Counts by colour and ln luminance, as square roots.
pub(super) struct Counts {
    roots: Vec<f32>,
    /// ln luminance of the first step.
    from: f64,
    /// What they fit themselves.
    own: f32,
}

impl Counts {
    /// Counts surfaces; `None` of nothing.
    pub(super) fn of(surfaces: &[Surface]) -> Option<Self> {
        let brightest = surfaces
            .iter()
            .map(|surface| surface.1)
            .fold(f64::NEG_INFINITY, f64::max);
        let from = ((brightest / STEP).round() - STEPS as f64 * 0.7) * STEP;
        let mut counts = vec![0.0_f32; CELLS * CELLS * STEPS];
        let kernel = [-4, -3, -2, -1, 0, 1, 2, 3, 4_i32]
            .map(|step| (step, (-0.5 * (f64::from(step) / BLUR).powi(2)).exp()));
        let mut total = 0.0;
        for (colour, level, share) in surfaces {
            let at = colour.map(|value| value / CELL + CELLS as f64 / 2.0);
            let height = (level - from) / STEP;
            let inside = at
                .iter()
                .all(|value| *value >= 0.0 && *value < (CELLS - 1) as f64)
                && height >= 5.0
                && height < STEPS as f64 - 5.0;
            if !inside {
                continue;
            }
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "seen to be inside"
            )]
            let (x, y, z) = (at[0] as usize, at[1] as usize, height.round() as usize);
            let (fx, fy) = (at[0].fract(), at[1].fract());
            for (cx, cy, part) in [
                (x, y, (1.0 - fx) * (1.0 - fy)),
                (x + 1, y, fx * (1.0 - fy)),
                (x, y + 1, (1.0 - fx) * fy),
                (x + 1, y + 1, fx * fy),
            ] {
                for (step, weight) in kernel {
                    let level = z.saturating_add_signed(step as isize);
                    counts[(cy * CELLS + cx) * STEPS + level] += (share * part * weight) as f32;
                }
            }
            total += share * kernel.iter().map(|(_, weight)| weight).sum::<f64>();
        }
        if total <= 0.0 {
            return None;
        }
        let roots: Vec<f32> = counts
            .iter()
            .map(|count| (count / total as f32).sqrt())
            .collect();
        let own = roots
            .chunks_exact(STEPS)
            .enumerate()
            .map(|(cell, levels)| {
                greyness(cell) * levels.iter().map(|root| root * root).sum::<f32>()
            })
            .sum();
        Some(Self { roots, from, own })
    }

    /// How well `other` fits when it is taken to be brighter by each number of steps from `-REACH` to `REACH`, 0 to 1.
    fn correlations(&self, other: &Self) -> Vec<f32> {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "both ends are whole steps of logarithms"
        )]
        let between = ((other.from - self.from) / STEP).round() as isize;
        let reach = REACH as isize;
        let correlation = |shift: isize| -> f32 {
            // `other` at step z lies on this at z + between - shift.
            let move_by = between - shift;
            let mut sum = 0.0;
            for cell in 0..CELLS * CELLS {
                let weight = greyness(cell);
                let base = cell * STEPS;
                let (mine, theirs) = (
                    &self.roots[base..base + STEPS],
                    &other.roots[base..base + STEPS],
                );
                let (mine, theirs) = if move_by >= 0 {
                    (mine.get(move_by.unsigned_abs()..), Some(theirs))
                } else {
                    (Some(mine), theirs.get(move_by.unsigned_abs()..))
                };
                if let (Some(mine), Some(theirs)) = (mine, theirs) {
                    let part: f32 = mine.iter().zip(theirs).map(|(a, b)| a * b).sum();
                    sum += weight * part;
                }
            }
            // As a share of what each fits itself.
            sum / (self.own * other.own).sqrt()
        };
        (-reach..=reach).map(correlation).collect()
    }
}

/// What one body's part of a cue says about the level.
pub(super) struct Evidence {
    correlations: Vec<f32>,
    hints: Hints,
}

/// By how many nats a key is brighter than the anchor's, as single numbers tell it.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Hints {
    /// By the brightest plain things.
    pub(super) brightest: Option<f64>,
    /// By the settings.
    pub(super) settings: Option<f64>,
}

impl Hints {
    /// Logarithm of how likely a level is by them. The tails are Cauchy's: what is wrong gives way to what agrees.
    fn likely(self, nats: f64) -> f64 {
        [(self.brightest, BRIGHTEST), (self.settings, FOLLOWED)]
            .into_iter()
            .filter_map(|(told, width)| Some((nats - told?) / width))
            .map(|off| -(1.0 + off * off).ln())
            .sum()
    }
}

impl Evidence {
    /// Of `own` surfaces against those `known` of the anchor.
    pub(super) fn of(known: &Counts, own: &Counts, hints: Hints) -> Self {
        Self {
            correlations: known.correlations(own),
            hints,
        }
    }
}

impl Evidence {
    /// What the fit of the surfaces is worth beside the settings: the better it is at its best, the more.
    fn worth(&self) -> f64 {
        let best = self.correlations.iter().copied().fold(0.0, f32::max);
        SURFACES
            / (1.0 + LEAST_MISFIT - f64::from(best))
                .max(LEAST_MISFIT)
                .powi(3)
    }
}

/// By how many nats the settings say that what was exposed like `own` is brighter than what was exposed like `known`; both are
/// mean ln of relative exposure.
pub(super) fn expected(known: Option<f64>, own: Option<f64>) -> Option<f64> {
    Some(known? - own?)
}

/// By how many nats an anchor's key is brighter than the first's.
pub(super) fn above(first: &Ready, other: &Ready) -> Option<f64> {
    let hints = Hints {
        brightest: (other.brightest.zip(first.brightest)).map(|(own, known)| own - known),
        settings: expected(first.exposure, other.exposure),
    };
    let evidence = Evidence::of(first.counts.as_ref()?, other.counts.as_ref()?, hints);
    together(&[evidence]).map(|(nats, _)| nats)
}

/// By how many nats a cue's key is brighter than the anchor's, and how sure that is, 0 to 1: what the bodies that saw the cue say
/// together, since it is one key. Half of what lies between the 16th and 84th percentile of what is likely tells how sure it is: the
/// tails would tell nothing but where the search ended. `None` without evidence.
pub(super) fn together(evidence: &[Evidence]) -> Option<(f64, f64)> {
    if evidence.is_empty() {
        return None;
    }
    let nats = |at: f64| (at - REACH as f64) * STEP;
    let scores: Vec<f64> = (0..=2 * REACH)
        .map(|at| {
            evidence
                .iter()
                .map(|one| {
                    let fit = f64::from(one.correlations[at].max(1e-6)).ln();
                    one.worth() * fit + one.hints.likely(nats(at as f64))
                })
                .sum()
        })
        .collect();
    let best = (1..scores.len() - 1).max_by(|&a, &b| scores[a].total_cmp(&scores[b]))?;
    let bend = scores[best - 1] - 2.0 * scores[best] + scores[best + 1];
    let top = if bend < 0.0 {
        0.5 * (scores[best - 1] - scores[best + 1]) / bend
    } else {
        0.0
    };
    let likely: Vec<f64> = scores
        .iter()
        .map(|score| (score - scores[best]).exp())
        .collect();
    let total: f64 = likely.iter().sum();
    let quantile = |share: f64| {
        let mut left = share * total;
        for (at, likely) in likely.iter().enumerate() {
            if *likely >= left {
                return nats(at as f64 - 0.5 + left / likely);
            }
            left -= likely;
        }
        nats(2.0 * REACH as f64)
    };
    let width = 0.5 * (quantile(0.84) - quantile(0.16));
    let confidence = 1.0 / (1.0 + (width / HALF_SURE).powi(2));
    Some((nats(best as f64) + top * STEP, confidence))
}

/// What a cell's colour says about the level, by its distance from grey.
fn greyness(cell: usize) -> f32 {
    let middle = CELLS as f64 / 2.0;
    let (x, y) = (
        (cell % CELLS) as f64 - middle,
        (cell / CELLS) as f64 - middle,
    );
    let square = (x * x + y * y) * CELL * CELL;
    FAR + (-square / (2.0 * GREY * GREY)).exp() as f32
}
