//! What a person says while the queue is worked through: pause, go on, try again, take out.

use super::ids::{JobId, ShowId};
use super::ranks::rank_anew;
use super::replaced::{forget_raw, lies_another_raw, take_the_other_raw};
use super::solving::{keep, reopen, settle};
use super::{Queue, QueueError, rows};
use crate::night::engine::{Engine, Value};
use std::path::PathBuf;

/// What a person speaks of.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Scope {
    /// A show; `None` for all.
    pub show: Option<String>,
    /// Frames, from the root and without links; none for all.
    pub frames: Vec<PathBuf>,
}

/// What a person's word changed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Changed {
    /// Shows.
    pub shows: u64,
    /// Jobs.
    pub jobs: u64,
}

impl Queue {
    /// Pauses a show, or the whole queue. What is in hand is finished.
    ///
    /// # Errors
    /// When there is no such show, or the queue cannot be written.
    pub fn pause(&mut self, show: Option<&str>) -> Result<(), QueueError> {
        self.set_paused(show, true)
    }

    /// Lets a show, or the whole queue, go on. The queue going on does not end the pauses of single shows.
    ///
    /// # Errors
    /// When there is no such show, or the queue cannot be written.
    pub fn resume(&mut self, show: Option<&str>) -> Result<(), QueueError> {
        self.set_paused(show, false)
    }

    fn set_paused(&mut self, show: Option<&str>, is_paused: bool) -> Result<(), QueueError> {
        self.writing(|engine| {
            let Some(name) = show else {
                engine.execute(
                    "UPDATE queue SET paused = $1 WHERE id = 1",
                    &[is_paused.into()],
                )?;
                return Ok(());
            };
            let show = show_named(engine, name)?;
            engine.execute(
                "UPDATE shows SET paused = $2 WHERE id = $1",
                &[show.into(), is_paused.into()],
            )?;
            Ok(())
        })
    }

    /// Has what was set aside, and shows that could not be solved, tried again. Pictures that were made from another raw than
    /// lies there now are replaced only where their frame is named.
    ///
    /// # Errors
    /// When there is no such show, or the queue cannot be written.
    pub fn retry(&mut self, scope: &Scope) -> Result<Changed, QueueError> {
        self.writing(|engine| {
            let mut changed = Changed::default();
            for show in shows(engine, scope)? {
                keep(engine, show)?;
                let mut jobs = jobs_in(engine, show, scope, "set-aside")?;
                if !scope.frames.is_empty() {
                    for job in jobs_in(engine, show, scope, "made")? {
                        if lies_another_raw(engine, job)? {
                            forget_raw(engine, job)?;
                            jobs.push(job);
                        }
                    }
                }
                changed.jobs += jobs.len() as u64;
                let was_failed = scope.frames.is_empty()
                    && engine.execute(
                        "UPDATE shows SET state = 'to-meter', error = NULL WHERE id = $1 AND state = 'failed'",
                        &[show.into()],
                    )? > 0;
                changed.shows += u64::from(was_failed);
                for job in &jobs {
                    if !scope.frames.is_empty() {
                        take_the_other_raw(engine, *job)?;
                    }
                    retry_job(engine, *job)?;
                }
                if !jobs.is_empty() || was_failed {
                    reopen(engine, show)?;
                    settle(engine, show)?;
                    rank_anew(engine, show)?;
                }
            }
            Ok(changed)
        })
    }

    /// Takes frames, or whole shows, out. Pictures that are made stay where they are, and are not watched over any more.
    ///
    /// # Errors
    /// When there is no such show, or the queue cannot be written.
    pub fn drop_out(&mut self, scope: &Scope) -> Result<Changed, QueueError> {
        self.writing(|engine| {
            let mut changed = Changed::default();
            for show in shows(engine, scope)? {
                keep(engine, show)?;
                if scope.frames.is_empty() {
                    changed.shows += 1;
                    changed.jobs += engine.execute(
                        "UPDATE jobs SET state = 'dropped', claim = NULL WHERE show = $1 AND state <> 'dropped'",
                        &[show.into()],
                    )?;
                    // Whoever adds a show of this name later begins with nothing of it.
                    for statement in [
                        "UPDATE shows SET state = 'dropped', solver = NULL, paused = 0, revision = revision + 1 WHERE id = $1",
                        "DELETE FROM pictures WHERE output IN (SELECT id FROM outputs WHERE show = $1)",
                        "DELETE FROM outputs WHERE show = $1",
                        "DELETE FROM wishes WHERE show = $1",
                    ] {
                        engine.execute(statement, &[show.into()])?;
                    }
                } else {
                    let dropped = drop_frames(engine, show, scope)?;
                    changed.jobs += dropped;
                    if dropped > 0 {
                        reopen(engine, show)?;
                        settle(engine, show)?;
                    }
                }
                // Names of pictures that will not be made are free again.
                for statement in [
                    "DELETE FROM pictures WHERE output IN (SELECT outputs.id FROM outputs JOIN jobs ON jobs.id = outputs.job
                         WHERE jobs.show = $1 AND jobs.state = 'dropped' AND outputs.made_key IS NULL)",
                    "DELETE FROM outputs WHERE made_key IS NULL AND job IN (SELECT id FROM jobs WHERE show = $1 AND state = 'dropped')",
                ] {
                    engine.execute(statement, &[show.into()])?;
                }
            }
            Ok(changed)
        })
    }
}

fn show_named(engine: &mut dyn Engine, name: &str) -> Result<ShowId, QueueError> {
    let found = engine.query(
        "SELECT id FROM shows WHERE name = $1 AND state <> 'dropped'",
        &[name.into()],
    )?;
    match found.first() {
        Some(row) => Ok(ShowId(row.whole(0)?)),
        None => Err(QueueError::UnknownShow(name.to_owned())),
    }
}

fn shows(engine: &mut dyn Engine, scope: &Scope) -> Result<Vec<ShowId>, QueueError> {
    if let Some(name) = &scope.show {
        return Ok(vec![show_named(engine, name)?]);
    }
    let found = engine.query(
        "SELECT id FROM shows WHERE state <> 'dropped' ORDER BY id",
        &[],
    )?;
    found.iter().map(|row| Ok(ShowId(row.whole(0)?))).collect()
}

/// The jobs of a show in this state that a person speaks of.
fn jobs_in(
    engine: &mut dyn Engine,
    show: ShowId,
    scope: &Scope,
    state: &str,
) -> Result<Vec<JobId>, QueueError> {
    let found = engine.query(
        "SELECT id, frame FROM jobs WHERE show = $1 AND state = $2 ORDER BY id",
        &[show.into(), state.into()],
    )?;
    let mut jobs = Vec::new();
    for row in &found {
        if scope.frames.is_empty() || scope.frames.contains(&rows::path(row.bytes(1)?)) {
            jobs.push(JobId(row.whole(0)?));
        }
    }
    Ok(jobs)
}

/// A job that was set aside starts where it can: from its reading, where it has one.
fn retry_job(engine: &mut dyn Engine, job: JobId) -> Result<(), QueueError> {
    let job: Value = job.into();
    engine.execute(
        "UPDATE jobs SET losses = 0, state = CASE
             WHEN EXISTS (SELECT 1 FROM readings WHERE job = $1) THEN 'metered' ELSE 'to-meter' END
         WHERE id = $1",
        std::slice::from_ref(&job),
    )?;
    engine.execute(
        "UPDATE outputs SET state = 'to-make' WHERE job = $1 AND state = 'failed'",
        std::slice::from_ref(&job),
    )?;
    engine.execute(
        "UPDATE details SET error = NULL WHERE job = $1",
        std::slice::from_ref(&job),
    )?;
    Ok(())
}

fn drop_frames(engine: &mut dyn Engine, show: ShowId, scope: &Scope) -> Result<u64, QueueError> {
    let mut dropped = 0;
    for frame in &scope.frames {
        dropped += engine.execute(
            "UPDATE jobs SET state = 'dropped', claim = NULL WHERE show = $1 AND frame = $2 AND state <> 'dropped'",
            &[show.into(), frame.as_path().into()],
        )?;
    }
    Ok(dropped)
}
