//! Carrying a solved look over the cues of a show: one correction a frame, with reasons.
//!
//! Three ways to follow. With none, the reference's numbers are copied. With exposure, the exposure settings are evened
//! out exactly: gain times H_ref / H with H = t S / N². With light, every cue gets one white, one change of level and one
//! pair of black and white points, for each body and for all of the cue's frames alike, so that neighbours never differ
//! by what one of them happened to show; frames in a cross-fade get what lies between their two cues. What is not certain
//! goes part of the way, in proportion, so that no cue jumps for having just missed a threshold. What a person says in an
//! overrule file goes before all of it.
//!
//! The white goes over as a chromaticity: each body's own matrices turn it into that body's neutral, so multipliers never
//! pass between bodies.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

mod drift;
mod fade;
mod level;
mod plan;
mod points;
mod trust;

use self::fade::between;
use self::plan::{Plans, Setting};
use crate::base::units::Stops;
use crate::light::reading::FrameLight;
use crate::light::sheet::ShowLight;
use crate::look::correction::Correction;
use crate::look::file::{Look, Remembered};
use crate::look::overrule::{CueWish, Overruling};
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

impl Carried {
    /// Whether the frame has the reference's white because its own light could not be read.
    #[must_use]
    pub fn keeps_the_references_white(&self) -> bool {
        let is_kept =
            |reason: &Reason| matches!(reason, Reason::WhiteKept { .. } | Reason::NotRead);
        self.reasons.iter().any(is_kept)
    }
}

/// The look has no reference to follow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "the look remembers no reference frame; solve it first by naming one with --reference FRAME"
)]
pub struct NotSolved;

/// Settings that differ more than this from the reference's are taken for nonsense in a file. Stops.
const MOST_EXPOSURE: f64 = 10.0;

/// Carries a solved look over frames, in their order.
///
/// # Errors
/// When the look is not solved.
pub fn carry(
    look: &Look,
    frames: &[FrameLight],
    light: &ShowLight,
    follow: Follow,
    overruling: &Overruling,
) -> Result<Vec<Carried>, NotSolved> {
    let base = solve::correction(look).ok_or(NotSolved)?;
    let reference = look.reference.as_ref().ok_or(NotSolved)?;
    let show = Show {
        look,
        base: &base,
        reference,
        frames,
        light,
        overruling,
    };
    let plans = match follow {
        Follow::Light => Some(Plans::of(&show)),
        Follow::None | Follow::Exposure => None,
    };
    Ok((0..frames.len())
        .map(|at| match (&plans, follow) {
            (_, Follow::None) => copied(&base),
            (None, _) => evened_only(&show, at),
            (Some(plans), _) => carry_one(&show, plans, at),
        })
        .collect())
}

/// What all frames of a show have in common.
struct Show<'a> {
    look: &'a Look,
    /// The reference's own correction.
    base: &'a Correction,
    reference: &'a Remembered,
    frames: &'a [FrameLight],
    light: &'a ShowLight,
    overruling: &'a Overruling,
}

impl Show<'_> {
    /// The factor that evens out a frame's exposure settings; `None` when they are unknown.
    fn evened(&self, at: usize) -> Option<(Stops, Stops)> {
        let asked = self
            .reference
            .relative_exposure
            .zip(self.frames[at].facts.relative_exposure())
            .and_then(|(reference, frame)| Stops::from_factor(reference / frame))?;
        Some((asked, Stops(asked.0.max(-MOST_EXPOSURE).min(MOST_EXPOSURE))))
    }
}

fn copied(base: &Correction) -> Carried {
    Carried {
        correction: base.clone(),
        reasons: vec![Reason::Copied],
    }
}

fn evened_only(show: &Show<'_>, at: usize) -> Carried {
    if show.frames[at].is_reference {
        return copied(show.base);
    }
    let mut reasons = Vec::new();
    let mut correction = show.base.clone();
    correction.gain *= even_exposure(show, at, &mut reasons);
    Carried {
        correction,
        reasons,
    }
}

/// The factor that evens out the exposure settings; 1 when they are unknown.
fn even_exposure(show: &Show<'_>, at: usize, reasons: &mut Vec<Reason>) -> f64 {
    let Some((asked, applied)) = show.evened(at) else {
        reasons.push(Reason::ExposureUnknown);
        return 1.0;
    };
    reasons.push(if applied == asked {
        Reason::ExposureEvened { stops: applied }
    } else {
        Reason::ExposureLimited { asked, applied }
    });
    applied.factor()
}

fn carry_one(show: &Show<'_>, plans: &Plans, at: usize) -> Carried {
    let frame = &show.frames[at];
    let of_frame = show.overruling.frames.get(&at);
    let place = show.light.sheet.places.get(at);
    let cue = place
        .and_then(|place| show.light.sheet.runs.get(place.run))
        .map(|run| run.cue);
    let is_overruled =
        of_frame.is_some() || cue.is_some_and(|cue| show.overruling.cues.contains_key(&cue));
    if frame.is_reference && !is_overruled {
        return copied(show.base);
    }
    let mut reasons = Vec::new();
    let mut correction = show.base.clone();
    correction.gain *= even_exposure(show, at, &mut reasons);
    if frame.reading.is_none() {
        reasons.push(Reason::NotRead);
    }
    let mut setting = match (place.and_then(|place| place.fade), place, cue) {
        (Some(fade), Some(place), _) => {
            let from = plans.setting(show, at, fade.from, place.body);
            let to = plans.setting(show, at, fade.to, place.body);
            between(show, at, &from, &to, fade.arrived)
        }
        (None, Some(place), Some(cue)) => plans.setting(show, at, cue, place.body),
        _ => Setting::of_reference(show),
    };
    if let Some(wish) = of_frame {
        setting.overrule(show, at, wish);
    }
    correction.white = setting.white;
    correction.gain *= setting.stops.factor();
    correction.levels = setting.levels;
    reasons.append(&mut setting.reasons);
    if setting.as_shot {
        // What the body did, not what evening out made of it.
        correction.gain = 1.0;
    }
    Carried {
        correction,
        reasons,
    }
}

/// Whether a wish leaves frames as shot.
fn is_as_shot(wish: Option<&CueWish>) -> bool {
    wish.is_some_and(|wish| wish.as_shot)
}
