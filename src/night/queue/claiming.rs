//! Claiming: the next thing to do, in one transaction.

use super::claims::{Claim, Claimed, MakeClaim, SolveClaim, WantedOutput};
use super::ids::{JobId, OutputId, RunId, ShowId, WishId};
use super::{JobState, Queue, QueueError, ShowState, rows};
use crate::night::engine::Engine;

impl Queue {
    /// Claims the next thing for a run: a show that can be solved, else the waiting job of the lowest rank. What belongs to
    /// the shows in `held` is passed over: their drives are away.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn claim(&mut self, run: RunId, held: &[ShowId]) -> Result<Claimed, QueueError> {
        self.writing(|engine| claim(engine, run, held))
    }
}

/// A show with waiting work.
struct Candidate {
    show: ShowId,
    rank: i64,
}

fn claim(engine: &mut dyn Engine, run: RunId, held: &[ShowId]) -> Result<Claimed, QueueError> {
    // One that was declared dead and has not heard of it yet: what it took now would be nobody's.
    let lives = engine.query(
        "SELECT id FROM runs WHERE id = $1 AND ended IS NULL {for update}",
        &[run.into()],
    )?;
    if lives.is_empty() {
        return Ok(Claimed::InHand);
    }
    let is_paused = engine.query("SELECT paused FROM queue WHERE id = 1", &[])?;
    let is_paused = is_paused.first().is_some_and(|row| row.is(0) == Ok(true));
    let mut is_held = false;
    let mut is_show_paused = false;
    let mut candidates = Vec::new();
    // One question: a frame that another host gives back, or a show that becomes ready, between two would be in neither.
    let shows = engine.query(
        "SELECT id, state, paused,
             (SELECT min(rank) FROM jobs WHERE show = shows.id AND state IN ('to-meter', 'to-make')),
             (SELECT CAST(count(*) AS BIGINT) FROM jobs WHERE claim IS NOT NULL)
         FROM shows WHERE state <> 'dropped' ORDER BY priority, id",
        &[],
    )?;
    let mut is_in_hand = false;
    for row in &shows {
        let show = ShowId(row.whole(0)?);
        let is_to_solve = row.text(1)? == ShowState::ToSolve.word();
        let rank = row.maybe_whole(3)?;
        is_in_hand |= row.text(1)? == ShowState::Solving.word() || row.whole(4)? > 0;
        // Not taken below where another host is taking it.
        is_in_hand |= is_to_solve && !held.contains(&show) && !is_paused && !row.is(2)?;
        if !is_to_solve && rank.is_none() {
            continue;
        }
        if is_paused || row.is(2)? {
            is_show_paused = true;
        } else if held.contains(&show) {
            is_held = true;
        } else if is_to_solve && let Some(solve) = claim_solve(engine, run, show)? {
            return Ok(Claimed::Solve(solve));
        } else if let Some(rank) = rank {
            candidates.push(Candidate { show, rank });
        }
    }
    candidates.sort_by_key(|candidate| candidate.rank);
    for candidate in &candidates {
        // Others may have every waiting job of this show in their transactions: the next show, then.
        if let Some(claimed) = claim_job(engine, run, candidate.show)? {
            return Ok(claimed);
        }
    }
    Ok(if !candidates.is_empty() || is_in_hand {
        Claimed::InHand
    } else if is_held {
        Claimed::Held
    } else if is_show_paused {
        Claimed::Paused
    } else {
        Claimed::Nothing
    })
}

fn claim_solve(
    engine: &mut dyn Engine,
    run: RunId,
    show: ShowId,
) -> Result<Option<SolveClaim>, QueueError> {
    let found = engine.query(
        "SELECT name, revision, asked FROM shows WHERE id = $1 AND state = 'to-solve' {skip locked}",
        &[show.into()],
    )?;
    let Some(row) = found.first() else {
        return Ok(None);
    };
    engine.execute(
        "UPDATE shows SET state = 'solving', solver = $2 WHERE id = $1",
        &[show.into(), run.into()],
    )?;
    Ok(Some(SolveClaim {
        run,
        show,
        name: row.text(0)?.to_owned(),
        revision: row.whole(1)?,
        asked: row.text(2)?.to_owned(),
    }))
}

fn claim_job(
    engine: &mut dyn Engine,
    run: RunId,
    show: ShowId,
) -> Result<Option<Claimed>, QueueError> {
    let found = engine.query(
        "SELECT id, state, frame, bytes, losses FROM jobs
         WHERE show = $1 AND state IN ('to-meter', 'to-make') ORDER BY rank LIMIT 1 {skip locked}",
        &[show.into()],
    )?;
    let Some(row) = found.first() else {
        return Ok(None);
    };
    let job = JobId(row.whole(0)?);
    let is_to_meter = row.text(1)? == JobState::ToMeter.word();
    let next = if is_to_meter {
        JobState::Metering
    } else {
        JobState::Making
    };
    engine.execute(
        "UPDATE jobs SET state = $2, claim = $3 WHERE id = $1",
        &[job.into(), next.word().into(), run.into()],
    )?;
    let details = engine.query(
        "SELECT shown, error, input, correction FROM details WHERE job = $1",
        &[job.into()],
    )?;
    let Some(details) = details.first() else {
        return Err(rows::missing("a row of details"));
    };
    let claim = Claim {
        run,
        job,
        show,
        frame: rows::path(row.bytes(2)?),
        bytes: row.count(3)?,
        losses: u32::try_from(row.whole(4)?).unwrap_or(u32::MAX),
        shown: rows::path(details.bytes(0)?),
        last_loss: rows::maybe_column(details, 1)?,
    };
    if is_to_meter {
        return Ok(Some(Claimed::Meter(claim)));
    }
    Ok(Some(Claimed::Make(Box::new(MakeClaim {
        claim,
        input: rows::column(details, 2)?,
        correction: rows::column(details, 3)?,
        outputs: wanted_outputs(engine, job)?,
    }))))
}

fn wanted_outputs(engine: &mut dyn Engine, job: JobId) -> Result<Vec<WantedOutput>, QueueError> {
    let found = engine.query(
        "SELECT outputs.id, outputs.wish, wishes.wish, outputs.picture, pictures.delivery, pictures.recipe, outputs.key
         FROM outputs JOIN pictures ON pictures.output = outputs.id JOIN wishes ON wishes.id = outputs.wish
         WHERE outputs.job = $1 AND outputs.state <> 'made' ORDER BY outputs.wish",
        &[job.into()],
    )?;
    let wanted = found.iter().map(|row| {
        Ok(WantedOutput {
            output: OutputId(row.whole(0)?),
            wish: WishId(row.whole(1)?),
            of_wish: rows::column(row, 2)?,
            picture: rows::name(row.bytes(3)?),
            delivery: rows::column(row, 4)?,
            recipe: row.text(5)?.to_owned(),
            key: row.text(6)?.to_owned(),
        })
    });
    wanted.collect()
}
