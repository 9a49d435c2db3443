//! Raws that were replaced by others at the same path: a card's folder is there again with another night's frames.
//!
//! A picture is never replaced by one of another raw unless a person names the frame. What a frame was when its pictures were
//! made stays in `details.input`, and is compared whenever the frame is metered.

use super::claims::{Claim, Noted};
use super::ids::{JobId, ShowId};
use super::ranks::rank_anew;
use super::recording::{set_aside, while_ours};
use super::solving::{meter_again, reopen};
use super::{JobState, Queue, QueueError, rows};
use crate::crew::stamp::Outline;
use crate::crew::task::{Cause, Stamp, TaskError};
use crate::night::engine::Engine;
use std::path::{Path, PathBuf};

/// A frame, and what it was when it was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownFrame {
    /// Its job.
    pub job: JobId,
    /// The frame, from the root and without links.
    pub frame: PathBuf,
    /// As it was metered; without hashes where it could not be read.
    pub input: Stamp,
}

/// A question that ends in whether a job (`jobs.id`) ever had a picture.
macro_rules! ending_in_has_pictures {
    ($question:literal) => {
        concat!(
            $question,
            " EXISTS (SELECT 1 FROM outputs JOIN pictures ON pictures.output = outputs.id
                 WHERE outputs.job = jobs.id AND pictures.stamp IS NOT NULL)"
        )
    };
}

impl Queue {
    /// Frames of a show from which pictures were made, those that were dropped among them.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn frames_with_pictures(&mut self, show: ShowId) -> Result<Vec<KnownFrame>, QueueError> {
        const QUESTION: &str = ending_in_has_pictures!(
            "SELECT jobs.id, jobs.frame, details.input FROM jobs JOIN details ON details.job = jobs.id
             WHERE jobs.show = $1 AND details.input IS NOT NULL AND"
        );
        self.reading(|engine| known_frames(engine, show, QUESTION))
    }

    /// Frames of a show that are metered, wait, and have no picture yet.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn frames_without_pictures(&mut self, show: ShowId) -> Result<Vec<KnownFrame>, QueueError> {
        const QUESTION: &str = ending_in_has_pictures!(
            "SELECT jobs.id, jobs.frame, details.input FROM jobs JOIN details ON details.job = jobs.id
             WHERE jobs.show = $1 AND details.input IS NOT NULL AND jobs.state IN ('metered', 'to-make') AND NOT"
        );
        self.reading(|engine| known_frames(engine, show, QUESTION))
    }

    /// The raw of a claimed job is not the one that was metered, and so are these others of its show. They are metered again,
    /// and the show is solved again, once. A job that has pictures is set aside instead.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn meter_again(&mut self, claim: &Claim, others: &[JobId]) -> Result<Noted, QueueError> {
        self.writing(|engine| {
            while_ours(engine, claim, JobState::Making, |engine| {
                if has_pictures(engine, claim.job)? {
                    return set_aside_for_another_raw(engine, claim);
                }
                meter_again(engine, claim.job)?;
                for job in others {
                    if waits_without_pictures(engine, claim.show, *job)? {
                        meter_again(engine, *job)?;
                    }
                }
                reopen(engine, claim.show)?;
                rank_anew(engine, claim.show)?;
                Ok(Noted::Taken)
            })
        })
    }
}

/// Why a frame is set aside whose pictures were made from another raw.
#[must_use]
pub fn another_raw(shown: &Path) -> TaskError {
    TaskError {
        cause: Cause::AnotherRaw,
        reason: format!(
            "{}: other frames lie at this path now than the one its pictures were made from",
            shown.display()
        ),
        next_step: Some(
            "add them as a new show with --show, or `houselights night retry FRAME` to replace the pictures"
                .to_owned(),
        ),
    }
}

/// Whether pictures were made of a frame when it was another than this.
pub(super) fn is_another_raw(
    engine: &mut dyn Engine,
    job: JobId,
    input: &Stamp,
) -> Result<bool, QueueError> {
    let found = engine.query("SELECT input FROM details WHERE job = $1", &[job.into()])?;
    let known: Option<Stamp> = match found.first() {
        Some(row) => rows::maybe_column(row, 0)?,
        None => None,
    };
    Ok(known.is_some_and(|known| known.hash != input.hash) && has_pictures(engine, job)?)
}

pub(super) fn set_aside_for_another_raw(
    engine: &mut dyn Engine,
    claim: &Claim,
) -> Result<Noted, QueueError> {
    set_aside(engine, claim, &rows::json(&another_raw(&claim.shown))?)?;
    Ok(Noted::AnotherRaw)
}

/// A person named a frame that was set aside for another raw: that raw is the one from now on.
pub(super) fn take_the_other_raw(engine: &mut dyn Engine, job: JobId) -> Result<(), QueueError> {
    let found = engine.query("SELECT error FROM details WHERE job = $1", &[job.into()])?;
    let error: Option<TaskError> = match found.first() {
        Some(row) => rows::maybe_column(row, 0)?,
        None => None,
    };
    if error.is_some_and(|error| error.cause == Cause::AnotherRaw) {
        forget_raw(engine, job)?;
    }
    Ok(())
}

/// What a job's frame was and showed counts no more: whatever lies there now is metered.
pub(super) fn forget_raw(engine: &mut dyn Engine, job: JobId) -> Result<(), QueueError> {
    engine.execute("DELETE FROM readings WHERE job = $1", &[job.into()])?;
    engine.execute(
        "UPDATE details SET input = NULL WHERE job = $1",
        &[job.into()],
    )?;
    Ok(())
}

/// Whether a file of another size or time lies where a job's frame was read.
pub(super) fn lies_another_raw(engine: &mut dyn Engine, job: JobId) -> Result<bool, QueueError> {
    let found = engine.query(
        "SELECT jobs.frame, details.input FROM jobs JOIN details ON details.job = jobs.id WHERE jobs.id = $1",
        &[job.into()],
    )?;
    let Some(row) = found.first() else {
        return Ok(false);
    };
    let known: Option<Stamp> = rows::maybe_column(row, 1)?;
    let now = Outline::of(&rows::path(row.bytes(0)?)).ok();
    Ok(known
        .zip(now)
        .is_some_and(|(known, now)| (known.bytes, known.modified) != (now.bytes, now.modified)))
}

pub(super) fn has_pictures(engine: &mut dyn Engine, job: JobId) -> Result<bool, QueueError> {
    let found = engine.query(
        ending_in_has_pictures!("SELECT id FROM jobs WHERE id = $1 AND"),
        &[job.into()],
    )?;
    Ok(!found.is_empty())
}

fn waits_without_pictures(
    engine: &mut dyn Engine,
    show: ShowId,
    job: JobId,
) -> Result<bool, QueueError> {
    let found = engine.query(
        ending_in_has_pictures!(
            "SELECT id FROM jobs WHERE id = $1 AND show = $2 AND state IN ('metered', 'to-make') AND NOT"
        ),
        &[job.into(), show.into()],
    )?;
    Ok(!found.is_empty())
}

fn known_frames(
    engine: &mut dyn Engine,
    show: ShowId,
    question: &'static str,
) -> Result<Vec<KnownFrame>, QueueError> {
    let found = engine.query(question, &[show.into()])?;
    let frames = found.iter().map(|row| {
        Ok(KnownFrame {
            job: JobId(row.whole(0)?),
            frame: rows::path(row.bytes(1)?),
            input: rows::column(row, 2)?,
        })
    });
    frames.collect()
}
