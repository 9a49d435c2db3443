//! From a look and a reference frame to a look that can be carried: white, gain, levels.
//!
//! The white is the reference's. The gain brings the median of its lit region to middle grey, as far as the region's
//! bright end stays on the display; the whole frame is never metered, because a spot-lit frame is mostly darkness. The
//! black point comes from the dark class and is limited, so that the dark stays dark without being cut; the white point
//! comes from the lit region, within limits, and the middle is set so that middle grey stays where it is. Lamps may clip.

use crate::base::units::{Chromaticity, Stops};
use crate::light::reading::{Reading, Reference};
use crate::look::correction::{Correction, Levels};
use crate::look::curve::MIDDLE_GREY;
use crate::look::file::{ExposurePolicy, LevelsPolicy, Look, Remembered};
use crate::look::reason::Reason;
use serde::Serialize;

/// Display light that the bright end of the lit region may reach (common practice, no source).
const HIGHLIGHT_LIMIT: f64 = 0.90;
/// Greatest black point, of diffuse white: more would cut shadows of the performer (common practice, no source).
const MOST_BLACK: f64 = 0.004;
/// Least white point: a lit region without any highlight is stretched by half a stop at most (common practice, no source).
const LEAST_WHITE: f64 = 0.7;
/// Gains outside this are the sign of a frame that is no reference: sixteen times, four stops either way (common practice,
/// no source).
const GAINS: (f64, f64) = (1.0 / 16.0, 16.0);

/// A look that can be carried, and why its numbers are what they are.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Solved {
    /// The look, with its white and what it remembers of the reference.
    pub look: Look,
    /// What was decided, for people and programs.
    pub reasons: Vec<Reason>,
    /// What a person should know and can do about it.
    pub warnings: Vec<String>,
}

/// Solves a look for a reference frame called `name`. Curve, taste and output stay the look's; white, gain and measured
/// levels are the reference's, whatever the look remembered before.
#[must_use]
pub fn solve(look: &Look, name: &str, reference: &Reference) -> Solved {
    let reading = &reference.reading;
    let mut reasons = vec![Reason::WhiteSolved {
        source: reference.white.source,
    }];
    let gain = gain(look, reading, &mut reasons);
    let levels = levels(look, reading, gain, &mut reasons);
    let warnings = reference.white.source.warning().into_iter().collect();
    let look = Look {
        white: Some(reference.white.white),
        reference: Some(Remembered {
            frame: name.to_owned(),
            body: reference.facts.body.clone(),
            gain,
            levels,
            relative_exposure: reference.facts.relative_exposure(),
            key_level: reading.lit.and_then(|lit| lit.key_level),
        }),
        ..look.clone()
    };
    Solved {
        look,
        reasons,
        warnings,
    }
}

fn gain(look: &Look, reading: &Reading, reasons: &mut Vec<Reason>) -> f64 {
    let wish = look.exposure.stops.factor();
    let lit = match (look.exposure.policy, reading.lit) {
        (ExposurePolicy::AsShot, _) => {
            reasons.push(Reason::GainAsShot);
            return wish;
        }
        (ExposurePolicy::Lit, None) => {
            reasons.push(Reason::NoLitRegion);
            return wish;
        }
        (ExposurePolicy::Lit, Some(lit)) => lit,
    };
    let asked = MIDDLE_GREY / lit.median;
    let allowed = look.curve.scene_light(HIGHLIGHT_LIMIT) / lit.bright;
    let gain = asked.min(allowed).max(GAINS.0).min(GAINS.1);
    reasons.push(if gain != asked.min(allowed) {
        Reason::GainLimited { gain }
    } else if allowed < asked {
        Reason::GainHeldByHighlights {
            short: Stops((asked / gain).log2()),
            gain,
        }
    } else {
        Reason::GainFromLit {
            median: lit.median,
            gain,
        }
    });
    gain * wish
}

fn levels(look: &Look, reading: &Reading, gain: f64, reasons: &mut Vec<Reason>) -> Levels {
    let (LevelsPolicy::Measured, Some(lit)) = (look.levels.policy, reading.lit) else {
        return look.levels.fixed;
    };
    let levels = measured_levels(lit.bright * gain, reading.dark.floor * gain);
    reasons.push(Reason::LevelsMeasured {
        black: levels.black,
        white: levels.white,
    });
    levels
}

/// The levels that a lit region's bright end and a dark class's floor ask for, both after the gain.
pub(super) fn measured_levels(bright: f64, floor: f64) -> Levels {
    let black = floor.max(0.0).min(MOST_BLACK);
    let white = (bright / HIGHLIGHT_LIMIT).max(LEAST_WHITE).min(1.0);
    with_middle_grey_kept(black, white, MIDDLE_GREY)
}

/// Levels with these ends under which middle grey becomes `shown`: ((0.18 - black) / (white - black))^(1 / middle).
pub(super) fn with_middle_grey_kept(black: f64, white: f64, shown: f64) -> Levels {
    Levels {
        black,
        middle: ((MIDDLE_GREY - black) / (white - black)).ln() / shown.ln(),
        white,
    }
}

/// The correction of the reference frame itself; `None` when the look is not solved.
#[must_use]
pub fn correction(look: &Look) -> Option<Correction> {
    let (white, reference): (Chromaticity, &Remembered) = (look.white?, look.reference.as_ref()?);
    Some(Correction {
        white,
        gain: reference.gain,
        levels: reference.levels,
        curve: look.curve,
        roll_off: look.roll_off,
        saturation: look.saturation,
        monochrome: look.monochrome,
        tint: look.tint,
        noise: look.noise,
        detail: look.detail,
        sharpening: look.sharpening,
    })
}
