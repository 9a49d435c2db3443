//! Frames that need a person's eye, in groups: frames of one cue that need it for the same reason are one.

use super::super::frames::counted;
use super::super::output::printable;
use super::columns::aligned;
use super::messages::eye_reason;
use crate::show::meter::{EyeReason, MeteredShow};
use std::collections::BTreeMap;

/// Frames that need an eye, by their index in the show.
pub(super) type Eye = [(usize, Vec<EyeReason>)];

/// Groups by cue (from 1; none for frames that were not read) and reason: the frames.
pub(super) type Groups = BTreeMap<(Option<usize>, String), Vec<usize>>;

/// Groups that are listed under a cue sheet.
const MOST_GROUPS: usize = 12;
/// Frames of a group that are named.
const MOST_NAMES: usize = 3;

pub(super) fn groups(show: &MeteredShow, eye: &Eye) -> Groups {
    let sheet = show.solved.as_ref().map(|solved| &solved.light.sheet);
    let cue_of = |light: usize| {
        let place = sheet?.places.get(light)?;
        Some(sheet?.runs.get(place.run)?.cue + 1)
    };
    let mut groups = Groups::new();
    for (index, reasons) in eye {
        let read = show
            .frames
            .get(*index)
            .and_then(|frame| frame.outcome.as_ref().ok());
        let why: Vec<String> = reasons.iter().map(eye_reason).collect();
        groups
            .entry((read.and_then(|read| cue_of(read.light)), why.join("; ")))
            .or_default()
            .push(*index);
    }
    groups
}

/// A short list for under the cue sheet, the largest groups first; nothing where nothing needs an eye.
pub(super) fn short_list(show: &MeteredShow, eye: &Eye) -> String {
    let mut groups: Vec<_> = groups(show, eye).into_iter().collect();
    if groups.is_empty() {
        return String::new();
    }
    groups.sort_by_key(|(_, frames)| std::cmp::Reverse(frames.len()));
    let line = |((cue, why), frames): &((Option<usize>, String), Vec<usize>)| {
        let names = frames.iter().take(MOST_NAMES).filter_map(|index| {
            let path = &show.frames.get(*index)?.path;
            Some(
                path.file_name()
                    .unwrap_or(path.as_os_str())
                    .to_string_lossy(),
            )
        });
        let mut names = names.collect::<Vec<_>>().join(", ");
        if let more @ 1.. = frames.len().saturating_sub(MOST_NAMES) {
            names += &format!(" and {more} more");
        }
        vec![
            cue.map_or("-".to_owned(), |cue| cue.to_string()),
            printable(&names).replace('\n', "\\n"),
            printable(why).replace('\n', " "),
        ]
    };
    let lines: Vec<Vec<String>> =
        std::iter::once(["cue", "frames", "why"].map(str::to_owned).to_vec())
            .chain(groups.iter().take(MOST_GROUPS).map(line))
            .collect();
    let rest: usize = groups
        .iter()
        .skip(MOST_GROUPS)
        .map(|(_, frames)| frames.len())
        .sum();
    let more = match rest {
        0 => String::new(),
        rest => format!("and {} more: --report FILE shows them all\n", counted(rest)),
    };
    format!("\nFor a person's eye\n{}{more}", aligned(&lines, 3, 3))
}
