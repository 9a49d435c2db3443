//! Reading the light of a show from the readings of its frames.

use crate::light::cues::{GivenClock, read_cues};
use crate::light::keys::solve_keys;
use crate::light::reading::FrameLight;
use crate::light::sheet::{Anchor, ShowLight};

/// Cuts a show into cues and solves their keys against the anchors, of which the first is the reference's.
#[must_use]
pub fn read_show(frames: &[FrameLight], given: &[GivenClock], anchors: &[Anchor]) -> ShowLight {
    if frames.is_empty() {
        return ShowLight::default();
    }
    let sheet = read_cues(frames, given);
    let keys = solve_keys(frames, &sheet, anchors);
    ShowLight { sheet, keys }
}
