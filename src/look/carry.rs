//! Carrying a solved look over the frames of a show: one correction a frame, with reasons.
//!
//! Three ways to follow. With none, the reference's numbers are copied. With exposure, the exposure settings are evened
//! out exactly: gain times H_ref / H with H = t S / N². With light, the level of the lit region is held to the
//! reference's on top of that, within a limit and less the share of a cue's own difference that the look keeps, and the
//! white is the frame's own where its reading can be trusted. The white goes over as a chromaticity: each body's own
//! matrices turn it into that body's neutral, so multipliers never pass between bodies.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use crate::base::units::Stops;
use crate::light::reading::FrameLight;
use crate::light::sheet::{BodyKey, ShowLight};
use crate::look::correction::Correction;
use crate::look::file::{Look, Remembered};
use crate::look::reason::Reason;
use crate::look::solve;
use serde::{Deserialize, Serialize};

/// What is solved anew for each frame.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Follow {
    /// Nothing: the reference's numbers are copied.
    None,
    /// The body's exposure settings are evened out.
    Exposure,
    /// The light itself.
    #[default]
    Light,
}

impl Follow {
    /// Whether frames must be decoded and read before they can be solved.
    #[must_use]
    pub fn needs_reading(self) -> bool {
        self == Self::Light
    }
}

/// One frame's correction and why.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Carried {
    /// The numbers.
    pub correction: Correction,
    /// What was measured, trusted and applied.
    pub reasons: Vec<Reason>,
}

/// The look has no reference to follow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "the look remembers no reference frame; solve it first by naming one with --reference FRAME"
)]
pub struct NotSolved;

/// Settings that differ more than this from the reference's are taken for nonsense in a file. Stops.
const MOST_EXPOSURE: f64 = 10.0;
/// With unknown settings the level may have to make up for them too: least limit then. Stops.
const MOST_WITHOUT_SETTINGS: f64 = 3.0;
/// Carries a solved look over frames, in their order.
///
/// # Errors
/// When the look is not solved.
pub fn carry(
    look: &Look,
    frames: &[FrameLight],
    light: &ShowLight,
    follow: Follow,
) -> Result<Vec<Carried>, NotSolved> {
    let base = solve::correction(look).ok_or(NotSolved)?;
    let reference = look.reference.as_ref().ok_or(NotSolved)?;
    Ok(frames
        .iter()
        .enumerate()
        .map(|(at, frame)| carry_one(look, &base, reference, frame, light.key_of(at), follow))
        .collect())
}

fn carry_one(
    look: &Look,
    base: &Correction,
    reference: &Remembered,
    frame: &FrameLight,
    key: Option<&BodyKey>,
    follow: Follow,
) -> Carried {
    let mut correction = base.clone();
    let mut reasons = Vec::new();
    if follow == Follow::None || frame.is_reference {
        reasons.push(Reason::Copied);
        return Carried {
            correction,
            reasons,
        };
    }
    let evened = even_exposure(reference, frame, &mut reasons);
    correction.gain *= evened.unwrap_or(1.0);
    match (follow, key) {
        (Follow::Light, Some(key)) => {
            follow_white(key, &mut correction, &mut reasons);
            correction.gain *= hold_level(look, key, evened, &mut reasons);
        }
        (Follow::Light, None) => reasons.push(Reason::NotRead),
        (Follow::Exposure | Follow::None, _) => {}
    }
    Carried {
        correction,
        reasons,
    }
}

/// The factor that evens out the exposure settings; `None` when they are unknown.
fn even_exposure(
    reference: &Remembered,
    frame: &FrameLight,
    reasons: &mut Vec<Reason>,
) -> Option<f64> {
    let asked = reference
        .relative_exposure
        .zip(frame.facts.relative_exposure())
        .and_then(|(reference, frame)| Stops::from_factor(reference / frame));
    let Some(asked) = asked else {
        reasons.push(Reason::ExposureUnknown);
        return None;
    };
    let applied = Stops(asked.0.max(-MOST_EXPOSURE).min(MOST_EXPOSURE));
    reasons.push(if applied == asked {
        Reason::ExposureEvened { stops: applied }
    } else {
        Reason::ExposureLimited { asked, applied }
    });
    Some(applied.factor())
}

/// Sets the white of the correction: the key's where it is known.
fn follow_white(key: &BodyKey, correction: &mut Correction, reasons: &mut Vec<Reason>) {
    let Some(white) = key.white else {
        reasons.push(Reason::WhiteKept { confidence: None });
        return;
    };
    correction.white = white.white;
    reasons.push(Reason::WhiteFollowed {
        confidence: white.confidence,
        share: 1.0,
    });
}

/// The factor that holds the key's level to the reference's.
fn hold_level(look: &Look, key: &BodyKey, evened: Option<f64>, reasons: &mut Vec<Reason>) -> f64 {
    let Some(level) = key.level else {
        reasons.push(Reason::LevelWithoutLit);
        return 1.0;
    };
    let limit = match evened {
        Some(_) => look.exposure.most_correction.0,
        None => look.exposure.most_correction.0.max(MOST_WITHOUT_SETTINGS),
    };
    let asked = -level.stops.0 * (1.0 - look.exposure.kept_difference);
    let applied = Stops(asked.max(-limit).min(limit));
    reasons.push(Reason::LevelHeld {
        difference: level.stops,
        applied,
        limited: applied.0 != asked,
    });
    applied.factor()
}
