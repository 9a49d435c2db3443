//! Small pictures of some frames of each cue, before and after.

use super::MeteredShow;
use crate::base::progress::{Progress, StopWish};
use crate::crew::Workforce;
use crate::crew::task::{Answer, Task};
use crate::look::correction::{Correction, NoiseReduction, Sharpening};
use crate::look::solve::correction;
use crate::show::metering::ask_each;
use std::collections::BTreeMap;

/// Longest edge of a small picture in pixels.
const LONG_EDGE: u32 = 240;
/// Frames of one run that are shown, and of the whole show: so a page has a few megabytes whatever the show has.
const MOST_OF_A_RUN: usize = 6;
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
    let Some(solved) = &show.solved else {
        return Vec::new();
    };
    let mut runs: Vec<&[usize]> = solved
        .light
        .sheet
        .runs
        .iter()
        .map(|run| &run.frames[..])
        .collect();
    runs.sort_by_key(|frames| std::cmp::Reverse(frames.len()));
    runs.truncate(MOST);
    let of_a_run = (MOST / runs.len().max(1)).clamp(1, MOST_OF_A_RUN);
    let mut chosen: Vec<usize> = runs
        .into_iter()
        .flat_map(|frames| {
            let count = of_a_run.min(frames.len());
            // The middle of each of `count` equal parts.
            (0..count).map(move |part| frames[(2 * part + 1) * frames.len() / (2 * count)])
        })
        .collect();
    chosen.sort_unstable();
    chosen
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
        long_edge: LONG_EDGE,
    })
}

/// Without what a small picture does not show and what takes most of the time.
fn quick(correction: Correction) -> Correction {
    Correction {
        noise: NoiseReduction::NEUTRAL,
        detail: 0.0,
        sharpening: Sharpening::NEUTRAL,
        ..correction
    }
}
