//! Solving: what a show is solved from, and what solving gives to its jobs.

use super::claims::{MeteredJob, Noted, PlannedOutput, SolveClaim, SolvedJob, SolvedJobs};
use super::ids::{JobId, OutputId, ShowId, WishId};
use super::looking::Trouble;
use super::ranks::{position, rank_anew};
use super::replaced::has_pictures;
use super::wishes::OutputWish;
use super::{OutputState, Queue, QueueError, rows};
use crate::crew::stamp::digest;
use crate::crew::task::Stamp;
use crate::night::engine::{Engine, Value};
use crate::show::names::folded;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// A picture name that the queue has given in a folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamedOutput {
    /// The frame, from the root and without links.
    pub frame: PathBuf,
    /// The wish that it is for.
    pub wish: WishId,
    /// File name.
    pub picture: OsString,
}

/// What a picture is made with, all of it: the frame's content, and what a ledger calls the recipe.
#[must_use]
pub(super) fn key(input: &Stamp, recipe: &str) -> String {
    digest(&(&input.hash, recipe))
}

impl Queue {
    /// The output wishes of a show.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn wishes(&mut self, show: ShowId) -> Result<Vec<(WishId, OutputWish)>, QueueError> {
        self.reading(|engine| wishes(engine, show))
    }

    /// The metered frames of a show, by their paths. Where another program wrote a reading that this one cannot understand,
    /// that frame is metered again: then the show is not to be solved now, and the answer is `None`.
    ///
    /// # Errors
    /// When the queue cannot be read or written.
    pub fn lights(&mut self, show: ShowId) -> Result<Option<Vec<MeteredJob>>, QueueError> {
        let (lights, not_understood) = self.reading(|engine| lights(engine, show))?;
        if not_understood.is_empty() {
            return Ok(Some(lights));
        }
        self.writing(|engine| {
            keep(engine, show)?;
            for job in &not_understood {
                meter_again(engine, *job)?;
            }
            reopen(engine, show)?;
            rank_anew(engine, show)
        })?;
        Ok(None)
    }

    /// Names that the queue has given to pictures in a folder, whichever show they are of.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn named_outputs(&mut self, folder: &Path) -> Result<Vec<NamedOutput>, QueueError> {
        self.reading(|engine| {
            let found = engine.query(
                "SELECT jobs.frame, outputs.wish, outputs.picture FROM outputs JOIN jobs ON jobs.id = outputs.job
                 WHERE outputs.folder = $1 ORDER BY outputs.id",
                &[folder.into()],
            )?;
            let named = found.iter().map(|row| {
                Ok(NamedOutput {
                    frame: rows::path(row.bytes(0)?),
                    wish: WishId(row.whole(1)?),
                    picture: rows::name(row.bytes(2)?),
                })
            });
            named.collect()
        })
    }

    /// Takes what solving gave. Pictures whose key is as before stay made. Where the show has changed meanwhile, or a name
    /// is another picture's by now, nothing is taken and the show is solved again.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn note_solved(
        &mut self,
        claim: &SolveClaim,
        solved: &SolvedJobs,
    ) -> Result<Noted, QueueError> {
        self.writing(|engine| {
            if !is_ours(engine, claim)? {
                return Ok(Noted::NotOurs);
            }
            if has_name_of_another(engine, solved)? {
                engine.execute(
                    "UPDATE shows SET state = 'to-solve', solver = NULL WHERE id = $1",
                    &[claim.show.into()],
                )?;
                return Ok(Noted::Outdated);
            }
            engine.execute(
                "UPDATE shows SET state = 'solved', solver = NULL, solved = $2, error = NULL WHERE id = $1",
                &[claim.show.into(), solved.found.as_str().into()],
            )?;
            for (at, job) in solved.jobs.iter().enumerate() {
                note_job(engine, claim.show, at, job)?;
            }
            rank_anew(engine, claim.show)?;
            Ok(Noted::Taken)
        })
    }

    /// A show cannot be solved; a person must do something about it.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn note_not_solved(
        &mut self,
        claim: &SolveClaim,
        trouble: &Trouble,
    ) -> Result<Noted, QueueError> {
        self.writing(|engine| {
            if !is_ours(engine, claim)? {
                return Ok(Noted::NotOurs);
            }
            engine.execute(
                "UPDATE shows SET state = 'failed', solver = NULL, error = $2 WHERE id = $1",
                &[claim.show.into(), rows::json(trouble)?.into()],
            )?;
            Ok(Noted::Taken)
        })
    }

    /// Gives a show back unsolved.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn give_back_show(&mut self, claim: &SolveClaim) -> Result<(), QueueError> {
        self.writing(|engine| {
            if is_ours(engine, claim)? {
                engine.execute(
                    "UPDATE shows SET state = 'to-solve', solver = NULL WHERE id = $1",
                    &[claim.show.into()],
                )?;
            }
            Ok(())
        })
    }
}

pub(super) fn wishes(
    engine: &mut dyn Engine,
    show: ShowId,
) -> Result<Vec<(WishId, OutputWish)>, QueueError> {
    let found = engine.query(
        "SELECT id, wish FROM wishes WHERE show = $1 ORDER BY id",
        &[show.into()],
    )?;
    let wishes = found
        .iter()
        .map(|row| Ok((WishId(row.whole(0)?), rows::column(row, 1)?)));
    wishes.collect()
}

/// Keeps others from a show until the transaction ends. Whatever changes a show's jobs does this first, so that no two
/// transactions wait for each other.
pub(super) fn keep(engine: &mut dyn Engine, show: ShowId) -> Result<(), QueueError> {
    engine.query(
        "SELECT id FROM shows WHERE id = $1 {for update}",
        &[show.into()],
    )?;
    Ok(())
}

/// A show must be solved again: what waits to be made waits for that.
pub(super) fn reopen(engine: &mut dyn Engine, show: ShowId) -> Result<(), QueueError> {
    engine.execute(
        "UPDATE shows SET state = 'to-meter', solver = NULL, error = NULL, revision = revision + 1 WHERE id = $1",
        &[show.into()],
    )?;
    engine.execute(
        "UPDATE jobs SET state = 'metered' WHERE show = $1 AND state = 'to-make'",
        &[show.into()],
    )?;
    Ok(())
}

/// A show whose last frame was metered, or set aside, is to be solved; one without any metered frame has nothing to solve.
pub(super) fn settle(engine: &mut dyn Engine, show: ShowId) -> Result<(), QueueError> {
    let found = engine.query(
        "SELECT
             (SELECT CAST(count(*) AS BIGINT) FROM jobs WHERE show = $1 AND state IN ('to-meter', 'metering')),
             (SELECT CAST(count(*) AS BIGINT) FROM jobs WHERE show = $1
                  AND state IN ('metered', 'to-make', 'making', 'made'))",
        &[show.into()],
    )?;
    let row = found.first().ok_or_else(|| rows::missing("a count"))?;
    let next = match (row.whole(0)?, row.whole(1)?) {
        (0, 0) => "solved",
        (0, _) => "to-solve",
        _ => return Ok(()),
    };
    engine.execute(
        "UPDATE shows SET state = $2 WHERE id = $1 AND state = 'to-meter'",
        &[show.into(), next.into()],
    )?;
    Ok(())
}

/// A job's frame is to be metered again. Its show must be reopened with it.
pub(super) fn meter_again(engine: &mut dyn Engine, job: JobId) -> Result<(), QueueError> {
    engine.execute(
        "UPDATE jobs SET state = 'to-meter', claim = NULL WHERE id = $1 AND state <> 'dropped'",
        &[job.into()],
    )?;
    engine.execute("DELETE FROM readings WHERE job = $1", &[job.into()])?;
    // What its pictures were made from must be known until a person says otherwise.
    if !has_pictures(engine, job)? {
        engine.execute(
            "UPDATE details SET input = NULL WHERE job = $1",
            &[job.into()],
        )?;
    }
    Ok(())
}

fn lights(
    engine: &mut dyn Engine,
    show: ShowId,
) -> Result<(Vec<MeteredJob>, Vec<JobId>), QueueError> {
    let found = engine.query(
        "SELECT jobs.id, jobs.frame, details.shown, jobs.is_first, readings.body
         FROM jobs JOIN details ON details.job = jobs.id JOIN readings ON readings.job = jobs.id
         WHERE jobs.show = $1 AND jobs.state NOT IN ('to-meter', 'metering', 'dropped') ORDER BY jobs.frame",
        &[show.into()],
    )?;
    let mut lights = Vec::with_capacity(found.len());
    let mut not_understood = Vec::new();
    for row in &found {
        let job = JobId(row.whole(0)?);
        match rmp_serde::from_slice(row.bytes(4)?) {
            Ok(metered) => lights.push(MeteredJob {
                job,
                frame: rows::path(row.bytes(1)?),
                shown: rows::path(row.bytes(2)?),
                is_first: row.is(3)?,
                metered,
            }),
            Err(_) => not_understood.push(job),
        }
    }
    Ok((lights, not_understood))
}

/// Whether the show is still this claim's, and is what it was when it was claimed.
fn is_ours(engine: &mut dyn Engine, claim: &SolveClaim) -> Result<bool, QueueError> {
    let found = engine.query(
        "SELECT solver, revision FROM shows WHERE id = $1 AND state = 'solving' {for update}",
        &[claim.show.into()],
    )?;
    let ours = found.first().is_some_and(|row| {
        row.maybe_whole(0) == Ok(Some(claim.run.0)) && row.whole(1) == Ok(claim.revision)
    });
    Ok(ours)
}

fn has_name_of_another(engine: &mut dyn Engine, solved: &SolvedJobs) -> Result<bool, QueueError> {
    for job in &solved.jobs {
        for output in &job.outputs {
            let others = engine.query(
                "SELECT id FROM outputs WHERE folder = $1 AND folded = $2 AND (job <> $3 OR wish <> $4)",
                &[
                    output.folder.as_path().into(),
                    folded(&output.picture).into(),
                    job.job.into(),
                    output.wish.into(),
                ],
            )?;
            if !others.is_empty() {
                return Ok(true);
            }
        }
    }
    Ok(false)
}

fn note_job(
    engine: &mut dyn Engine,
    show: ShowId,
    at: usize,
    solved: &SolvedJob,
) -> Result<(), QueueError> {
    let found = engine.query(
        "SELECT input FROM details WHERE job = $1",
        &[solved.job.into()],
    )?;
    let input: Option<Stamp> = match found.first() {
        Some(row) => rows::maybe_column(row, 0)?,
        None => None,
    };
    let input = input.ok_or_else(|| rows::missing("the stamp of a metered frame"))?;
    engine.execute(
        "UPDATE details SET correction = $2, notes = $3, changed = $4 WHERE job = $1",
        &[
            solved.job.into(),
            rows::json(&solved.correction)?.into(),
            rows::json(&solved.notes)?.into(),
            rows::now().into(),
        ],
    )?;
    let mut is_made = true;
    for output in &solved.outputs {
        is_made &= note_output(
            engine,
            show,
            solved.job,
            output,
            &key(&input, &output.recipe),
        )?;
    }
    let next = if is_made { "made" } else { "to-make" };
    engine.execute(
        "UPDATE jobs SET position = $2, state = CASE WHEN state IN ('metered', 'to-make', 'made') THEN $3 ELSE state END
         WHERE id = $1",
        &[solved.job.into(), position(at), next.into()],
    )?;
    Ok(())
}

/// Plans one picture; whether it is made already.
fn note_output(
    engine: &mut dyn Engine,
    show: ShowId,
    job: JobId,
    output: &PlannedOutput,
    key: &str,
) -> Result<bool, QueueError> {
    let values: [Value; 7] = [
        job.into(),
        show.into(),
        output.wish.into(),
        output.folder.as_path().into(),
        output.picture.as_os_str().into(),
        folded(&output.picture).into(),
        key.into(),
    ];
    let planned = engine.query(
        "INSERT INTO outputs (job, show, wish, folder, picture, folded, state, key)
         VALUES ($1, $2, $3, $4, $5, $6, 'to-make', $7)
         ON CONFLICT (job, wish) DO UPDATE SET
             key = excluded.key,
             state = CASE WHEN outputs.made_key = excluded.key THEN outputs.state ELSE 'to-make' END
         RETURNING id, state",
        &values,
    )?;
    let row = planned
        .first()
        .ok_or_else(|| rows::missing("a planned picture"))?;
    let id = OutputId(row.whole(0)?);
    engine.execute(
        "INSERT INTO pictures (output, delivery, recipe) VALUES ($1, $2, $3)
         ON CONFLICT (output) DO UPDATE SET delivery = excluded.delivery, recipe = excluded.recipe",
        &[
            id.into(),
            rows::json(&output.delivery)?.into(),
            output.recipe.as_str().into(),
        ],
    )?;
    Ok(row.text(1)? == OutputState::Made.word())
}
