//! From a look and a reference frame to a look that can be carried: white, gain, levels.
//!
//! The white is the reference's. The gain brings the median of its lit region to middle grey, as far as the region's
//! bright end stays on the display; the whole frame is never metered, because a spot-lit frame is mostly darkness. The
//! black point comes from the dark class and is limited, so that the dark stays dark without being cut; the white point
//! comes from the lit region, within limits, and the middle is set so that middle grey stays where it is. Lamps may clip.

use crate::base::units::{Chromaticity, Stops};
use crate::light::reading::{Reading, Reference};
use crate::look::correction::{Correction, Curve, Levels};
use crate::look::file::{ExposurePolicy, LevelsPolicy, Look, Remembered};
use crate::look::reason::Reason;
use serde::Serialize;

/// Middle grey: where the median of the lit region goes. The key value of Reinhard, Stark, Shirley and Ferwerda,
/// "Photographic tone reproduction for digital images" (SIGGRAPH 2002), and the value that the shoulder curve keeps.
pub const MIDDLE_GREY: f64 = 0.18;
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
    let allowed = scene_light(look.curve, HIGHLIGHT_LIMIT) / lit.bright;
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
    let black = (reading.dark.floor * gain).max(0.0).min(MOST_BLACK);
    let white = (lit.bright * gain / HIGHLIGHT_LIMIT)
        .max(LEAST_WHITE)
        .min(1.0);
    // Middle grey stays: ((0.18 - black) / (white - black))^(1 / middle) = 0.18.
    let middle = ((MIDDLE_GREY - black) / (white - black)).ln() / MIDDLE_GREY.ln();
    reasons.push(Reason::LevelsMeasured { black, white });
    Levels {
        black,
        middle,
        white,
    }
}

/// The scene light that a curve turns into this display light (below 1).
#[must_use]
pub fn scene_light(curve: Curve, display: f64) -> f64 {
    match curve {
        Curve::Straight => display,
        Curve::Shoulder { contrast, ceiling } => {
            let (scale, toe) = shoulder(contrast, ceiling);
            // y = m xᵃ / (xᵃ + b), solved for x.
            (display * toe / (scale - display)).powf(contrast.recip())
        }
    }
}

/// Scale m and toe b of the shoulder f(x) = m xᵃ / (xᵃ + b) with f(0.18) = 0.18 and f(ceiling) = 1.
#[must_use]
pub fn shoulder(contrast: f64, ceiling: f64) -> (f64, f64) {
    let (grey, top) = (MIDDLE_GREY.powf(contrast), ceiling.powf(contrast));
    // m = 1 + b / top and 0.18 (grey + b) = m grey.
    let toe = grey * (1.0 - MIDDLE_GREY) / (MIDDLE_GREY - grey / top);
    (1.0 + toe / top, toe)
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
        noise_reduction: look.noise_reduction,
        sharpening: look.sharpening,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shoulder_keeps_middle_grey_and_reaches_its_ceiling() {
        for (contrast, ceiling) in [(1.0, 8.0), (1.3, 4.0), (1.5, 16.0), (0.8, 1.05)] {
            let (scale, toe) = shoulder(contrast, ceiling);
            let curve = |x: f64| scale * x.powf(contrast) / (x.powf(contrast) + toe);
            assert!((curve(MIDDLE_GREY) - MIDDLE_GREY).abs() < 1e-12);
            assert!((curve(ceiling) - 1.0).abs() < 1e-12);
            for display in [0.01, 0.18, 0.5, 0.9] {
                let scene = scene_light(Curve::Shoulder { contrast, ceiling }, display);
                assert!((curve(scene) - display).abs() < 1e-12);
            }
        }
    }
}
