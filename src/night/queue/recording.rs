//! Recording what came of a job, as far as it is still the run's.

use super::claims::{AfterLoss, Claim, MadeOutput, MakeClaim, Noted};
use super::ids::{JobId, ShowId};
use super::replaced::{is_another_raw, set_aside_for_another_raw};
use super::solving::{keep, settle};
use super::{JobState, OutputState, Queue, QueueError, ShowState, rows};
use crate::crew::task::{Metered, TaskError};
use crate::night::engine::{Engine, EngineError, Value};

/// Workers that may die over one frame before it is set aside.
const MOST_LOSSES: i64 = 2;

impl Queue {
    /// A frame is metered, unless pictures were made of another raw at its path: then it is set aside. `seconds` is how long that took, `None` where its reading was kept.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn note_metered(
        &mut self,
        claim: &Claim,
        metered: &Metered,
        seconds: Option<f64>,
    ) -> Result<Noted, QueueError> {
        let body = rmp_serde::to_vec(metered)
            .map_err(|error| QueueError::from(EngineError::Other(error.to_string())))?;
        self.of_ours(claim, JobState::Metering, |engine| {
            if is_another_raw(engine, claim.job, &metered.input)? {
                return set_aside_for_another_raw(engine, claim);
            }
            engine.execute(
                "INSERT INTO readings (job, body) VALUES ($1, $2) ON CONFLICT (job) DO UPDATE SET body = excluded.body",
                &[claim.job.into(), body.clone().into()],
            )?;
            engine.execute(
                "UPDATE details SET input = $2, error = NULL, changed = $3 WHERE job = $1",
                &[
                    claim.job.into(),
                    rows::json(&metered.input)?.into(),
                    rows::now().into(),
                ],
            )?;
            engine.execute(
                "UPDATE jobs SET state = 'metered', claim = NULL, losses = 0, bytes = $3,
                     metering_seconds = COALESCE($2, metering_seconds) WHERE id = $1",
                &[claim.job.into(), seconds.into(), rows::size(metered.input.bytes)],
            )?;
            settle(engine, claim.show)?;
            Ok(Noted::Taken)
        })
    }

    /// The pictures of a frame are in their places, synced, or it is known why not. A picture made with another key than
    /// it should have by now is made again. `seconds` is how long it took, `None` where all stood already.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn note_made(
        &mut self,
        claim: &MakeClaim,
        outputs: &[MadeOutput],
        seconds: Option<f64>,
    ) -> Result<Noted, QueueError> {
        let claim = &claim.claim;
        self.of_ours(claim, JobState::Making, |engine| {
            for output in outputs {
                if !note_output(engine, claim.job, output)? {
                    return Ok(Noted::NotOurs);
                }
            }
            let (mut next, error) = state_after_making(engine, claim.job)?;
            if next == JobState::ToMake && !is_solved(engine, claim.show)? {
                next = JobState::Metered;
            }
            engine.execute(
                "UPDATE jobs SET state = $2, claim = NULL, losses = 0,
                     making_seconds = COALESCE($3, making_seconds) WHERE id = $1",
                &[claim.job.into(), next.word().into(), seconds.into()],
            )?;
            note_error(engine, claim.job, error)?;
            Ok(if matches!(next, JobState::ToMake | JobState::Metered) {
                Noted::Outdated
            } else {
                Noted::Taken
            })
        })
    }

    /// A job cannot be done: it is set aside until a person asks for it again.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn set_aside(&mut self, claim: &Claim, error: &TaskError) -> Result<Noted, QueueError> {
        let error = rows::json(error)?;
        self.of_ours_in_either(claim, |engine| set_aside(engine, claim, &error))
    }

    /// Gives a job back as it was claimed.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn give_back(&mut self, claim: &Claim) -> Result<Noted, QueueError> {
        self.of_ours_in_either(claim, |engine| {
            give_back(engine, claim.job)?;
            Ok(Noted::Taken)
        })
    }

    /// The worker of a job died over it. The job is tried once more, then set aside for this reason.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn note_lost(&mut self, claim: &Claim, error: &TaskError) -> Result<AfterLoss, QueueError> {
        let error = rows::json(error)?;
        let mut after = AfterLoss::TriedAgain;
        let noted = self.of_ours_in_either(claim, |engine| {
            let losses = engine.query(
                "UPDATE jobs SET losses = losses + 1 WHERE id = $1 RETURNING losses",
                &[claim.job.into()],
            )?;
            let losses = losses.first().map_or(Ok(0), |row| row.whole(0))?;
            after = if losses < MOST_LOSSES {
                note_error(engine, claim.job, Some(error.clone()))?;
                give_back(engine, claim.job)?;
                AfterLoss::TriedAgain
            } else {
                set_aside(engine, claim, &error)?;
                AfterLoss::SetAside
            };
            Ok(Noted::Taken)
        })?;
        Ok(match noted {
            Noted::NotOurs => AfterLoss::NotOurs,
            Noted::Taken | Noted::Outdated | Noted::AnotherRaw => after,
        })
    }

    /// Does something with a job that is in this claim's hand in this state.
    fn of_ours(
        &mut self,
        claim: &Claim,
        state: JobState,
        mut act: impl FnMut(&mut dyn Engine) -> Result<Noted, QueueError>,
    ) -> Result<Noted, QueueError> {
        self.writing(|engine| while_ours(engine, claim, state, &mut act))
    }

    fn of_ours_in_either(
        &mut self,
        claim: &Claim,
        mut act: impl FnMut(&mut dyn Engine) -> Result<Noted, QueueError>,
    ) -> Result<Noted, QueueError> {
        self.writing(|engine| {
            keep(engine, claim.show)?;
            match state_if_ours(engine, claim)? {
                Some(JobState::Metering | JobState::Making) => act(engine),
                _ => Ok(Noted::NotOurs),
            }
        })
    }
}

/// Does something with a job where it is in the claim's hand in this state.
pub(super) fn while_ours(
    engine: &mut dyn Engine,
    claim: &Claim,
    state: JobState,
    mut act: impl FnMut(&mut dyn Engine) -> Result<Noted, QueueError>,
) -> Result<Noted, QueueError> {
    keep(engine, claim.show)?;
    if state_if_ours(engine, claim)? != Some(state) {
        return Ok(Noted::NotOurs);
    }
    act(engine)
}

/// The state of a job, where it is still in the claim's hand.
fn state_if_ours(engine: &mut dyn Engine, claim: &Claim) -> Result<Option<JobState>, QueueError> {
    let found = engine.query(
        "SELECT state FROM jobs WHERE id = $1 AND claim = $2 {for update}",
        &[claim.job.into(), claim.run.into()],
    )?;
    match found.first() {
        None => Ok(None),
        Some(row) => Ok(JobState::of(row.text(0)?)),
    }
}

pub(super) fn set_aside(
    engine: &mut dyn Engine,
    claim: &Claim,
    error: &str,
) -> Result<Noted, QueueError> {
    engine.execute(
        "UPDATE jobs SET state = 'set-aside', claim = NULL WHERE id = $1",
        &[claim.job.into()],
    )?;
    note_error(engine, claim.job, Some(error.to_owned()))?;
    settle(engine, claim.show)?;
    Ok(Noted::Taken)
}

/// What a run has in hand waits again. A job whose show is to be solved again meanwhile waits for that.
pub(super) fn give_back(engine: &mut dyn Engine, job: JobId) -> Result<(), QueueError> {
    engine.execute(
        "UPDATE jobs SET claim = NULL, state = CASE
             WHEN state = 'metering' THEN 'to-meter'
             WHEN (SELECT state FROM shows WHERE id = jobs.show) = 'solved' THEN 'to-make'
             ELSE 'metered' END
         WHERE id = $1 AND state IN ('metering', 'making')",
        &[job.into()],
    )?;
    Ok(())
}

fn note_error(
    engine: &mut dyn Engine,
    job: JobId,
    error: Option<String>,
) -> Result<(), QueueError> {
    engine.execute(
        "UPDATE details SET error = $2, changed = $3 WHERE job = $1",
        &[job.into(), error.into(), rows::now().into()],
    )?;
    Ok(())
}

/// Takes down what became of a picture; `false` where it is not wanted any more, because its show was dropped and added
/// again meanwhile.
fn note_output(
    engine: &mut dyn Engine,
    job: JobId,
    output: &MadeOutput,
) -> Result<bool, QueueError> {
    let id: Value = output.output.into();
    match &output.made {
        Ok(standing) => {
            let noted = engine.execute(
                "UPDATE outputs SET made_key = $3, bytes = $4, state = CASE WHEN key = $3 THEN 'made' ELSE 'to-make' END
                 WHERE id = $1 AND job = $2",
                &[
                    id.clone(),
                    job.into(),
                    output.key.as_str().into(),
                    rows::size(standing.stamp.bytes),
                ],
            )?;
            if noted == 0 {
                return Ok(false);
            }
            engine.execute(
                "UPDATE pictures SET stamp = $2, outside = $3, error = NULL, made = $4 WHERE output = $1",
                &[
                    id,
                    rows::json(&standing.stamp)?.into(),
                    standing.outside.into(),
                    rows::now().into(),
                ],
            )?;
        }
        Err(error) => {
            let noted = engine.execute(
                "UPDATE outputs SET state = 'failed', made_key = NULL WHERE id = $1 AND job = $2",
                &[id.clone(), job.into()],
            )?;
            if noted == 0 {
                return Ok(false);
            }
            engine.execute(
                "UPDATE pictures SET error = $2 WHERE output = $1",
                &[id, rows::json(error)?.into()],
            )?;
        }
    }
    Ok(true)
}

fn is_solved(engine: &mut dyn Engine, show: ShowId) -> Result<bool, QueueError> {
    let found = engine.query("SELECT state FROM shows WHERE id = $1", &[show.into()])?;
    Ok(found
        .first()
        .is_some_and(|row| row.text(0) == Ok(ShowState::Solved.word())))
}

/// Where a job is after its pictures were made, and the error of the first that was not.
fn state_after_making(
    engine: &mut dyn Engine,
    job: JobId,
) -> Result<(JobState, Option<String>), QueueError> {
    let found = engine.query(
        "SELECT outputs.state, pictures.error FROM outputs JOIN pictures ON pictures.output = outputs.id
         WHERE outputs.job = $1 AND outputs.state <> 'made' ORDER BY outputs.wish",
        &[job.into()],
    )?;
    for row in &found {
        if row.text(0)? == OutputState::Failed.word() {
            let error = row.maybe_text(1)?.map(ToOwned::to_owned);
            return Ok((JobState::SetAside, error));
        }
    }
    Ok(if found.is_empty() {
        (JobState::Made, None)
    } else {
        (JobState::ToMake, None)
    })
}

/// Gives back everything that a run has in hand; how many jobs that were.
pub(super) fn give_back_all(
    engine: &mut dyn Engine,
    run: super::ids::RunId,
) -> Result<u64, QueueError> {
    // Shows before jobs, as everywhere.
    let shows = engine.query(
        "SELECT id FROM shows WHERE id IN (SELECT show FROM jobs WHERE claim = $1) OR solver = $1 ORDER BY id {for update}",
        &[run.into()],
    )?;
    engine.execute(
        "UPDATE shows SET state = 'to-solve', solver = NULL WHERE solver = $1 AND state = 'solving'",
        &[run.into()],
    )?;
    let mut given = 0;
    for row in &shows {
        let show = ShowId(row.whole(0)?);
        let jobs = engine.query(
            "SELECT id FROM jobs WHERE claim = $1 AND show = $2",
            &[run.into(), show.into()],
        )?;
        for job in &jobs {
            give_back(engine, JobId(job.whole(0)?))?;
            given += 1;
        }
    }
    Ok(given)
}
