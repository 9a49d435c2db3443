//! What is known of one frame, as data.

use super::super::frames::FramePath;
use super::super::meter::messages::eye_reason;
use crate::colour::angle::reproduction;
use crate::light::reading::Reading;
use crate::light::sheet::{BodyKey, Fade, RunKind};
use crate::look::correction::Correction;
use crate::look::solve::correction;
use crate::raw::facts::Facts;
use crate::show::meter::{MeteredShow, for_a_persons_eye};
use serde::Serialize;

/// Everything about one frame.
#[derive(Debug, Serialize)]
pub(super) struct Account<'a> {
    #[serde(flatten)]
    pub(super) frame: FramePath,
    pub(super) measured: Measured<'a>,
    pub(super) trusted: Trusted<'a>,
    pub(super) applied: Applied<'a>,
    pub(super) for_a_persons_eye: Vec<String>,
}

/// What the file and the picture say.
#[derive(Debug, Serialize)]
pub(super) struct Measured<'a> {
    pub(super) was_kept: bool,
    pub(super) facts: &'a Facts,
    pub(super) reading: &'a Reading,
    pub(super) notes: &'a [String],
}

/// What the show says.
#[derive(Debug, Serialize)]
pub(super) struct Trusted<'a> {
    /// From 0, as in `meter --json`.
    pub(super) cue: usize,
    pub(super) run: usize,
    pub(super) frames_of_run: usize,
    pub(super) frames_of_cue: usize,
    pub(super) kind: RunKind,
    pub(super) seconds: Option<f64>,
    pub(super) fade: Option<Fade>,
    pub(super) is_reference: bool,
    pub(super) key: Option<&'a BodyKey>,
    pub(super) anchor: Option<Anchor<'a>>,
    pub(super) degrees_from_cue: Option<f64>,
}

/// The light that the key was found by.
#[derive(Debug, Serialize)]
pub(super) struct Anchor<'a> {
    pub(super) white: &'a crate::base::units::Chromaticity,
    pub(super) confidence: f64,
}

/// What the frame gets.
#[derive(Debug, Serialize)]
pub(super) struct Applied<'a> {
    pub(super) correction: &'a Correction,
    pub(super) stops_of_gain: f64,
    pub(super) reference: String,
    pub(super) reasons: Vec<String>,
}

/// The account of a light; `None` when the show was not solved.
pub(super) fn account(show: &MeteredShow, at: usize) -> Option<Account<'_>> {
    let solved = show.solved.as_ref()?;
    let light = show.lights.get(at)?;
    let reading = light.reading.as_ref()?;
    let sheet = &solved.light.sheet;
    let place = sheet.places.get(at)?;
    let run = sheet.runs.get(place.run)?;
    let carried = solved.carried.get(at)?;
    let key = solved.light.key_of(at);
    let frame = show.frames.get(*show.frame_of.get(at)?)?;
    let read = frame.outcome.as_ref().ok()?;
    let white = key.and_then(|key| key.white);
    let own = reading.estimate.as_ref();
    let base = correction(&solved.look)?;
    let eye = for_a_persons_eye(show);
    let eye = eye
        .iter()
        .find(|(index, _)| show.frame_of.get(at) == Some(index));
    Some(Account {
        frame: FramePath::of(&frame.path),
        measured: Measured {
            was_kept: read.was_kept,
            facts: &light.facts,
            reading,
            notes: &read.notes,
        },
        trusted: Trusted {
            cue: run.cue,
            run: place.run,
            frames_of_run: run.frames.len(),
            frames_of_cue: sheet
                .runs
                .iter()
                .filter(|other| other.cue == run.cue)
                .map(|run| run.frames.len())
                .sum(),
            kind: run.kind,
            seconds: place.seconds,
            fade: place.fade,
            is_reference: light.is_reference,
            key,
            anchor: white
                .and_then(|white| solved.light.keys.anchors.get(white.anchor))
                .map(|found| Anchor {
                    white: &found.white,
                    confidence: found.confidence,
                }),
            degrees_from_cue: white
                .zip(own)
                .map(|(white, own)| reproduction(own.neutral, white.neutral)),
        },
        applied: Applied {
            correction: &carried.correction,
            stops_of_gain: (carried.correction.gain / base.gain).log2(),
            reference: solved
                .look
                .reference
                .as_ref()
                .map(|known| known.frame.clone())
                .unwrap_or_default(),
            reasons: carried.reasons.iter().map(ToString::to_string).collect(),
        },
        for_a_persons_eye: eye
            .map(|(_, reasons)| reasons.iter().map(eye_reason).collect())
            .unwrap_or_default(),
    })
}
