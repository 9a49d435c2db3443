//! A metered show for programs.

use super::super::frames::{ErrorLine, FramePath};
use super::messages::eye_reason;
use super::sheet::rows;
use crate::crew::task::Stamp;
use crate::light::reading::Reading;
use crate::light::sheet::{BodyClock, BodyKey, Fade, RunKind};
use crate::look::overrule::CueWish;
use crate::raw::facts::Facts;
use crate::show::meter::{EyeReason, MeteredFrame, MeteredShow, ReferenceChoice};
use crate::show::runs::RunRow;
use serde::Serialize;

#[derive(Debug, Serialize)]
pub(super) struct FrameLine<'a> {
    #[serde(flatten)]
    frame: FramePath,
    #[serde(flatten)]
    known: Option<KnownFrame<'a>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<ErrorLine>,
}

#[derive(Debug, Serialize)]
struct KnownFrame<'a> {
    input: &'a Stamp,
    facts: &'a Facts,
    reading: Option<&'a Reading>,
    notes: &'a [String],
    cue: Option<usize>,
    run: Option<usize>,
    seconds: Option<f64>,
    fade: Option<Fade>,
    /// By a word about its time, on top of its cue's.
    #[serde(skip_serializing_if = "Option::is_none")]
    overruled: Option<&'a CueWish>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    for_a_persons_eye: Vec<String>,
}

/// A frame's line.
pub(super) fn frame_line<'a>(
    show: &'a MeteredShow,
    frame: &'a MeteredFrame,
    eye: &[EyeReason],
) -> FrameLine<'a> {
    let known = frame.outcome.as_ref().ok().and_then(|read| {
        let light = show.lights.get(read.light)?;
        let sheet = show.solved.as_ref().map(|solved| &solved.light.sheet);
        let place = sheet.and_then(|sheet| sheet.places.get(read.light));
        let run = place.and_then(|place| sheet?.runs.get(place.run));
        Some(KnownFrame {
            input: &read.input,
            facts: &light.facts,
            reading: light.reading.as_ref(),
            notes: &read.notes,
            cue: run.map(|run| run.cue),
            run: place.map(|place| place.run),
            seconds: place.and_then(|place| place.seconds),
            fade: place.and_then(|place| place.fade),
            overruled: (show.solved.as_ref())
                .and_then(|solved| solved.overruling.frames.get(&read.light)),
            for_a_persons_eye: eye.iter().map(eye_reason).collect(),
        })
    });
    FrameLine {
        frame: FramePath::of(&frame.path),
        known,
        error: frame.outcome.as_ref().err().map(ErrorLine::of),
    }
}

#[derive(Debug, Serialize)]
pub(super) struct ShowLine<'a> {
    show: Show<'a>,
}

#[derive(Debug, Serialize)]
struct Show<'a> {
    reference: Option<Reference>,
    clocks: &'a [BodyClock],
    runs: Vec<Run>,
    cues: Vec<Cue<'a>>,
    warnings: &'a [String],
}

#[derive(Debug, Serialize)]
struct Reference {
    chosen: &'static str,
    #[serde(flatten)]
    frame: FramePath,
}

#[derive(Debug, Serialize)]
struct Run {
    cue: usize,
    kind: RunKind,
    from: Option<String>,
    to: Option<String>,
    frames: usize,
    fading: usize,
    by_body: Vec<usize>,
    washes: Vec<Wash>,
    #[serde(skip_serializing_if = "String::is_empty")]
    overruled: String,
}

#[derive(Debug, Serialize)]
struct Wash {
    name: crate::light::reading::WashName,
    hue: f64,
    share: f64,
}

#[derive(Debug, Serialize)]
struct Cue<'a> {
    cue: usize,
    keys: &'a [Option<BodyKey>],
    #[serde(skip_serializing_if = "Option::is_none")]
    overruled: Option<&'a CueWish>,
}

/// The show's line; `None` when nothing was solved.
pub(super) fn show_line(show: &MeteredShow) -> Option<ShowLine<'_>> {
    let solved = show.solved.as_ref()?;
    let reference = show.reference.as_ref().map(|choice| match choice {
        ReferenceChoice::Named(path) => Reference {
            chosen: "named",
            frame: FramePath::of(path),
        },
        ReferenceChoice::Remembered(name) => Reference {
            chosen: "remembered",
            frame: FramePath::of(name.as_ref()),
        },
        ReferenceChoice::Proposed(proposal) => Reference {
            chosen: "proposed",
            frame: FramePath::of(show.path_of(proposal.light)),
        },
    });
    Some(ShowLine {
        show: Show {
            reference,
            clocks: &solved.light.sheet.clocks,
            warnings: &solved.warnings,
            runs: rows(show).into_iter().map(run).collect(),
            cues: solved
                .light
                .keys
                .cues
                .iter()
                .enumerate()
                .map(|(cue, keys)| Cue {
                    cue,
                    keys,
                    overruled: solved.overruling.cues.get(&cue),
                })
                .collect(),
        },
    })
}

fn run(row: RunRow) -> Run {
    let time = |time: Option<jiff::civil::DateTime>| time.map(|time| time.to_string());
    Run {
        cue: row.cue - 1,
        kind: row.kind,
        from: time(row.from),
        to: time(row.to),
        frames: row.frames.len(),
        fading: row.fading,
        by_body: row.by_body,
        washes: row
            .washes
            .iter()
            .map(|wash| Wash {
                name: wash.name,
                hue: wash.hue,
                share: wash.share,
            })
            .collect(),
        overruled: row.overruled,
    }
}
