//! Frames that need a person's eye, and why: one rule, for whoever counts them, prints them or puts them on a page.

use super::solving::SolvedShow;
use crate::colour::angle::reproduction;
use crate::crew::task::TaskError;
use crate::light::reading::{FrameLight, TRUSTED_CONFIDENCE};
use crate::light::sheet::{FramePlace, KeyWhite};
use crate::look::reason::Reason;
use serde::{Deserialize, Serialize};

/// Why a person should look at a frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum EyeReason {
    /// It could not be read.
    Unreadable(TaskError),
    /// Something is lit in it, and nothing tells by what white.
    NoKey,
    /// Its cue's white is hardly known.
    UnsureKey {
        /// 0 to 1.
        confidence: f64,
    },
    /// Its own white, read with confidence, is another than its cue's.
    OtherWhite {
        /// Degrees of reproduction error.
        degrees: f64,
    },
    /// Its level needed more than is allowed.
    LevelLimited,
    /// Its exposure settings are unknown or beyond belief.
    Exposure,
    /// Much of the performer is blown.
    Blown {
        /// Share of the lit region, 0 to 1.
        share: f64,
    },
    /// It has no time, so that its cue is a guess.
    NoTime,
}

/// A frame's own white is told as another from here on: above the errors of single readings that are trusted, about 3
/// degrees on simulated frames (no other source).
const OTHER_WHITE: f64 = 5.0;
/// Share of the lit region that is much (common practice, no source).
const MUCH_BLOWN: f64 = 0.10;

/// Why a person should look at the frame of a light; nothing where there is no need.
#[must_use]
pub fn eye_reasons(solved: &SolvedShow, lights: &[FrameLight], at: usize) -> Vec<EyeReason> {
    let Some(light) = lights.get(at) else {
        return Vec::new();
    };
    let carried = solved.carried.get(at);
    let applied = carried.map_or(&[][..], |carried| &carried.reasons);
    let mut reasons = Vec::new();
    let place = solved.light.sheet.places.get(at);
    if place.is_some_and(|place| place.seconds.is_none()) {
        reasons.push(EyeReason::NoTime);
    }
    let key = solved.light.key_of(at).and_then(|key| key.white);
    let is_settled = light.is_reference || applied.iter().any(Reason::is_a_persons_white);
    if !is_settled {
        reasons.extend(of_white(light, place, key));
    }
    if let Some(lit) = light.reading.as_ref().and_then(|reading| reading.lit)
        && lit.blown_share > MUCH_BLOWN
    {
        let share = lit.blown_share;
        reasons.push(EyeReason::Blown { share });
    }
    for reason in applied {
        match reason {
            Reason::LevelHeld { limited: true, .. } => reasons.push(EyeReason::LevelLimited),
            Reason::ExposureUnknown | Reason::ExposureLimited { .. } => {
                reasons.push(EyeReason::Exposure);
            }
            _ => {}
        }
    }
    reasons
}

fn of_white(
    light: &FrameLight,
    place: Option<&FramePlace>,
    key: Option<KeyWhite>,
) -> Option<EyeReason> {
    let reading = light.reading.as_ref()?;
    let Some(key) = key else {
        // What a wash lights has no key by right.
        let is_lit = reading.lit.is_some_and(|lit| lit.washed_share < 0.5);
        return is_lit.then_some(EyeReason::NoKey);
    };
    if key.confidence < TRUSTED_CONFIDENCE {
        let confidence = key.confidence;
        return Some(EyeReason::UnsureKey { confidence });
    }
    // In a cross-fade its white is between two by right.
    let estimate = reading.estimate.as_ref()?;
    let degrees = reproduction(estimate.neutral, key.neutral);
    let is_other = place.is_none_or(|place| place.fade.is_none())
        && estimate.confidence >= TRUSTED_CONFIDENCE
        && degrees > OTHER_WHITE;
    is_other.then_some(EyeReason::OtherWhite { degrees })
}
