//! Black and white point of a cue: the performer sits where the reference's performer sits, and the dark stays dark.
//!
//! A cue's lit region and dark class are pooled over its frames, after evening out the settings and holding the level. The
//! white point goes where the region's bright end asks for it, as the reference's did, and the black point where its dark
//! class asks for it; both within narrow bounds about the reference's, since a picture's contrast is the look's and no
//! cue's. Few frames carry less. All frames of a cue get the same, so that nothing flickers.

use super::Show;
use crate::base::robust;
use crate::look::correction::Levels;
use crate::look::curve::MIDDLE_GREY;
use crate::look::file::LevelsPolicy;
use crate::look::reason::Reason;
use crate::look::solve::{measured_levels, with_middle_grey_kept};

/// The white point's bounds about the reference's: a quarter of a stop (common practice, no source).
const MOST_WHITE: f64 = 0.25;
/// Frames at which half of what a cue asks for is followed: single frames show little of a performer.
const HALF_TRUST: f64 = 2.0;

/// The points of a cue whose frames are `members`; `remaining` stops of its own difference are kept, and stay.
pub(super) fn of_cue(
    show: &Show<'_>,
    members: &[usize],
    applied: f64,
    remaining: f64,
) -> (Levels, Option<Reason>) {
    let reference = show.base.levels;
    if show.look.levels.policy == LevelsPolicy::Fixed {
        return (reference, None);
    }
    let (mut bright, mut floor) = (Vec::new(), Vec::new());
    for &at in members {
        let Some((reading, (_, evened))) = show.frames[at].reading.as_ref().zip(show.evened(at))
        else {
            continue;
        };
        let Some(lit) = reading.lit else { continue };
        let gain = show.base.gain * (evened.0 + applied).exp2();
        bright.push(lit.bright * gain / remaining.exp2());
        floor.push(reading.dark.floor * gain);
    }
    let count = bright.len() as f64;
    let Some((bright, floor)) = robust::median(&mut bright).zip(robust::median(&mut floor)) else {
        return (reference, None);
    };
    let share = count / (count + HALF_TRUST);
    let asked = measured_levels(bright, floor);
    let black = reference.black + share * (asked.black - reference.black);
    let change = share * (asked.white / reference.white).log2();
    let white = reference.white * change.max(-MOST_WHITE).min(MOST_WHITE).exp2();
    // Middle grey stays where the reference's levels show it.
    let shown = ((MIDDLE_GREY - reference.black) / (reference.white - reference.black))
        .powf(1.0 / reference.middle);
    let levels = with_middle_grey_kept(black, white, shown);
    let reason = Reason::LevelsOfCue {
        black: levels.black,
        white: levels.white,
    };
    (levels, Some(reason))
}
