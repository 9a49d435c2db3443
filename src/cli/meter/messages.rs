//! All wording of `meter`.

use super::super::frames::{ErrorLine, FramePath, counted};
use crate::crew::task::Stamp;
use crate::light::reading::Reading;
use crate::raw::facts::Facts;
use crate::show::meter::MeterOutcome;
use crate::show::outcome::Tally;
use serde::Serialize;
use std::path::Path;

pub(super) const EXAMPLES: &str = "\
Examples:
  houselights meter night-one/
  houselights meter --json night-one/ > light.jsonl

Columns of the table:
  time        the body's clock
  settings    exposure time, f-number, ISO
  EV          exposure value of time and f-number (ISO not counted)
  white x, y  chromaticity of the light, estimated from the picture (in brackets: a guess with a confidence below 0.50,
              or, without one, what the body's automatic took)
  CCT, Duv    correlated colour temperature and distance from the black body (above: greenish)
  conf        confidence of the estimate, 0 to 1
  lit         level of the lit region in stops below the sensor's end
  lit %       share of the picture that is lit
  clip %      share of the picture in which a channel is at its end";

pub(super) const JSON_HELP: &str = "\
One line of JSON a frame on standard output, in order of paths.

A frame's line has: frame (frame_bytes in hexadecimal where the path is no text), and either input (bytes, modified, \
hash), facts, reading (all levels are fractions of the sensor's range) and notes, or error (cause, reason, next_step).";

/// When no worker can be started.
pub(super) fn no_workers(error: &std::io::Error) -> String {
    format!("cannot start workers: {error}; free some memory, or use fewer --workers")
}

/// Named files that are no raws.
pub(super) fn passed_over(count: usize) -> String {
    format!(
        "{count} named {} without a raw file's name passed over",
        if count == 1 { "file" } else { "files" }
    )
}

/// A folder that could not be searched.
pub(super) fn unreadable(folder: &Path, reason: &str) -> String {
    format!(
        "{}: cannot be searched ({reason}); check the drive and the permissions",
        folder.display()
    )
}

#[derive(Debug, Serialize)]
pub(super) struct FrameLine<'a> {
    #[serde(flatten)]
    frame: FramePath,
    #[serde(skip_serializing_if = "Option::is_none")]
    input: Option<&'a Stamp>,
    #[serde(skip_serializing_if = "Option::is_none")]
    facts: Option<&'a Facts>,
    #[serde(skip_serializing_if = "Option::is_none")]
    reading: Option<&'a Reading>,
    #[serde(skip_serializing_if = "Option::is_none")]
    notes: Option<&'a [String]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<ErrorLine>,
}

/// A frame's line of JSON.
pub(super) fn frame_line<'a>(frame: &Path, outcome: &'a MeterOutcome) -> FrameLine<'a> {
    let metered = outcome.as_ref().ok();
    FrameLine {
        frame: FramePath::of(frame),
        input: metered.map(|metered| &metered.input),
        facts: metered.map(|metered| &metered.facts),
        reading: metered.map(|metered| &metered.reading),
        notes: metered.map(|metered| metered.notes.as_slice()),
        error: outcome.as_ref().err().map(ErrorLine::of),
    }
}

/// The end of a run in words.
pub(super) fn summary(tally: &Tally) -> String {
    let mut text = format!("{}: {} metered", counted(tally.frames()), tally.made);
    if tally.failed > 0 {
        text += &format!(", {} failed", tally.failed);
    }
    if tally.not_reached > 0 {
        text += &format!(", {} not reached", tally.not_reached);
    }
    text
}
