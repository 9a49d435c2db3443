//! Frames that could not be read, and whose files may change: a card that was still being copied, say.

use super::claims::{Claim, Noted};
use super::ids::{JobId, ShowId};
use super::ranks::rank_anew;
use super::replaced::has_pictures;
use super::solving::{keep, meter_again, reopen};
use super::{Queue, QueueError, rows};
use crate::crew::stamp::Outline;
use crate::crew::task::{Cause, Stamp, TaskError};
use std::path::{Path, PathBuf};

/// A frame that was set aside because it could not be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unreadable {
    /// Its show.
    pub show: ShowId,
    /// Its job.
    pub job: JobId,
    /// The frame, from the root and without links.
    pub frame: PathBuf,
    /// What was seen of its file: without hashes where it never could be read, nothing where it was not there.
    pub seen: Option<Stamp>,
}

impl Unreadable {
    /// Whether it may be read now that its file looks like this. A file that could not be read is as damaged as it was while
    /// it looks the same; one that was not there, or that could be read before, was out of reach.
    #[must_use]
    pub fn may_be_read(&self, now: Outline) -> bool {
        let is_as_damaged = |seen: &Stamp| seen.hash.is_empty() && now.fits(seen);
        !self.seen.as_ref().is_some_and(is_as_damaged)
    }
}

impl Queue {
    /// Sets a frame aside that cannot be read, and keeps what its file looks like.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn set_unreadable_aside(
        &mut self,
        claim: &Claim,
        error: &TaskError,
        outline: Outline,
    ) -> Result<Noted, QueueError> {
        let noted = self.set_aside(claim, error)?;
        if noted == Noted::NotOurs {
            return Ok(noted);
        }
        // Nothing was read that could be hashed.
        let seen = rows::json(&Stamp {
            bytes: outline.bytes,
            modified: outline.modified,
            head: String::new(),
            hash: String::new(),
        })?;
        self.writing(|engine| {
            keep(engine, claim.show)?;
            if !has_pictures(engine, claim.job)? {
                engine.execute(
                    "UPDATE details SET input = $2 WHERE job = $1
                     AND EXISTS (SELECT 1 FROM jobs WHERE id = $1 AND state = 'set-aside')",
                    &[claim.job.into(), seen.clone().into()],
                )?;
            }
            Ok(noted)
        })
    }

    /// Frames that were set aside because they could not be read, with their shows, and what was seen of their files, if
    /// anything.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn unreadable_frames(&mut self) -> Result<Vec<Unreadable>, QueueError> {
        self.reading(|engine| {
            let found = engine.query(
                "SELECT jobs.id, jobs.frame, details.input, details.error, jobs.show
                 FROM jobs JOIN details ON details.job = jobs.id
                 WHERE jobs.state = 'set-aside' ORDER BY jobs.show, jobs.id",
                &[],
            )?;
            let mut unreadable = Vec::new();
            for row in &found {
                let error: Option<TaskError> = rows::maybe_column(row, 3)?;
                if error.is_some_and(|error| error.cause == Cause::Unreadable) {
                    unreadable.push(Unreadable {
                        show: ShowId(row.whole(4)?),
                        job: JobId(row.whole(0)?),
                        frame: rows::path(row.bytes(1)?),
                        seen: rows::maybe_column(row, 2)?,
                    });
                }
            }
            Ok(unreadable)
        })
    }

    /// The frames of a show that lie in a folder, in order.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn frames_in(&mut self, show: ShowId, folder: &Path) -> Result<Vec<PathBuf>, QueueError> {
        self.reading(|engine| {
            let found = engine.query(
                "SELECT frame FROM jobs WHERE show = $1 AND state <> 'dropped' ORDER BY frame",
                &[show.into()],
            )?;
            let mut frames = Vec::new();
            for row in &found {
                let frame = rows::path(row.bytes(0)?);
                if frame.parent() == Some(folder) {
                    frames.push(frame);
                }
            }
            Ok(frames)
        })
    }

    /// Has frames of a show that were set aside read again.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn read_again(&mut self, show: ShowId, jobs: &[JobId]) -> Result<(), QueueError> {
        self.writing(|engine| {
            keep(engine, show)?;
            for job in jobs {
                let again = engine.execute(
                    "UPDATE jobs SET losses = 0 WHERE id = $1 AND state = 'set-aside'",
                    &[(*job).into()],
                )?;
                if again > 0 {
                    meter_again(engine, *job)?;
                    engine.execute(
                        "UPDATE details SET error = NULL WHERE job = $1",
                        &[(*job).into()],
                    )?;
                }
            }
            reopen(engine, show)?;
            rank_anew(engine, show)
        })
    }
}
