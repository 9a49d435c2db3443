//! Small pictures of some frames of each cue, before and after.

use super::MeteredShow;
use crate::base::progress::{Progress, StopWish};
use crate::crew::Workforce;
use crate::crew::task::{Answer, Task};
use crate::look::correction::{Correction, NoiseReduction, Sharpening};
use crate::look::solve::correction;
use crate::show::metering::ask_each;
use crate::show::runs::spread_over;
use std::collections::BTreeMap;

/// Longest edge of a small picture in pixels.
pub const SMALL_LONG_EDGE: u32 = 240;
/// Frames of the whole show that are shown: so a page has a few megabytes whatever the show has.
const MOST: usize = 160;

/// A frame before and after: JPEG files in base64 (RFC 4648).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SmallPictures {
    /// With the body's own white and exposure.
    pub before: String,
    /// As it is carried.
    pub after: String,
}

/// Has small pictures made, by the index of the light. Frames of which none can be made are missing.
pub fn small_pictures(
    show: &MeteredShow,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    progress: &dyn Progress,
) -> BTreeMap<usize, SmallPictures> {
    let mut pictures = BTreeMap::new();
    let chosen = chosen(show);
    let tasks = chosen
        .into_iter()
        .filter_map(|at| Some((at, task(show, at)?)));
    ask_each(
        tasks.collect(),
        "small pictures",
        workforce,
        stop,
        progress,
        &mut |at, outcome| {
            if let Ok(Answer::Small(small)) = outcome
                && let [before, after] = &small[..]
            {
                let (before, after) = (before.clone(), after.clone());
                pictures.insert(at, SmallPictures { before, after });
            }
        },
    );
    pictures
}

/// Frames of each run, spread over it. Where a show has very many runs, the longest ones.
fn chosen(show: &MeteredShow) -> Vec<usize> {
    let runs = show
        .solved
        .iter()
        .flat_map(|solved| &solved.light.sheet.runs);
    spread_over(runs.map(|run| &run.frames[..]).collect(), MOST)
}

fn task(show: &MeteredShow, at: usize) -> Option<Task> {
    let solved = show.solved.as_ref()?;
    let reading = show.lights.get(at)?.reading.as_ref()?;
    let before = Correction {
        white: reading.as_shot.unwrap_or(reading.white),
        ..correction(&solved.look)?
    };
    let after = solved.carried.get(at)?.correction.clone();
    Some(Task::Small {
        frame: show.path_of(at).to_path_buf(),
        corrections: vec![quick(before), quick(after)],
        long_edge: SMALL_LONG_EDGE,
    })
}

/// Without what a small picture does not show and what takes most of the time.
#[must_use]
pub fn quick(correction: Correction) -> Correction {
    Correction {
        noise: NoiseReduction::NEUTRAL,
        detail: 0.0,
        sharpening: Sharpening::NEUTRAL,
        ..correction
    }
}
