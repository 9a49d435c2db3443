//! Looking at the queue: how much is in which state. Counts only, along two indexes.

use super::ids::{RunId, ShowId, WishId};
use super::remarks::{Remark, unended};
use super::runs::has_died;
use super::{JobState, OutputState, Queue, QueueError, ShowState, rows};
use crate::crew::task::TaskError;
use crate::night::engine::{EngineError, Row};
use serde::{Deserialize, Serialize};

/// Why a show could not be solved.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Trouble {
    /// What happened.
    pub reason: String,
    /// What a person can do about it, where the reason does not say it already.
    pub next_step: Option<String>,
}

impl From<TaskError> for Trouble {
    fn from(error: TaskError) -> Self {
        Self {
            reason: error.reason,
            next_step: error.next_step,
        }
    }
}

/// Everything at a glance.
#[derive(Clone, Debug, PartialEq)]
pub struct Status {
    /// Whether a person paused the whole queue.
    pub is_paused: bool,
    /// The shows, in the order in which they come; dropped ones are not among them.
    pub shows: Vec<ShowStatus>,
    /// Runs that have begun and not ended. One that died is among them until somebody has seen it.
    pub runs: Vec<RunStatus>,
}

/// A show at a glance.
#[derive(Clone, Debug, PartialEq)]
pub struct ShowStatus {
    /// Its number.
    pub show: ShowId,
    /// Its name.
    pub name: String,
    /// Lower comes first.
    pub priority: u8,
    /// Where it is.
    pub state: ShowState,
    /// Whether a person paused it.
    pub is_paused: bool,
    /// Why it could not be solved.
    pub trouble: Option<Trouble>,
    /// Its jobs by state; states without any are not there.
    pub jobs: Vec<JobCount>,
    /// Its pictures by wish and state; not those of frames that were dropped.
    pub outputs: Vec<OutputCount>,
    /// UTC, milliseconds since 1970.
    pub added: i64,
}

/// Jobs of a show in one state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JobCount {
    /// The state.
    pub state: JobState,
    /// How many.
    pub jobs: u64,
    /// Bytes of their frames.
    pub bytes: u64,
    /// Those whose metering was timed.
    pub metered: Timed,
    /// Those whose making was timed.
    pub made: Timed,
}

/// What was timed: what the time that is left can be learned from.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Timed {
    /// How many.
    pub jobs: u64,
    /// Bytes of their frames.
    pub bytes: u64,
    /// Seconds of one worker.
    pub seconds: f64,
}

/// Pictures of a wish in one state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutputCount {
    /// The wish.
    pub wish: WishId,
    /// The state.
    pub state: OutputState,
    /// How many.
    pub outputs: u64,
    /// Bytes of those that were made at some time.
    pub bytes: u64,
    /// How many were made at some time: what a picture's size can be learned from.
    pub sized: u64,
}

/// A run at a glance.
#[derive(Clone, Debug, PartialEq)]
pub struct RunStatus {
    /// Its number.
    pub run: RunId,
    /// Its machine.
    pub host: String,
    /// Its process.
    pub process: u32,
    /// UTC, milliseconds since 1970.
    pub began: i64,
    /// Jobs that it has in hand.
    pub in_hand: u64,
    /// Whether it is known to have died: what it has in hand goes back when the next run looks.
    pub has_died: bool,
    /// What it waits for: remarks of a waiting that no other has ended.
    pub waits: Vec<Remark>,
}

impl ShowStatus {
    /// How many jobs are in one of these states.
    #[must_use]
    pub fn jobs_in(&self, states: &[JobState]) -> u64 {
        let counts = self.jobs.iter();
        counts
            .filter(|count| states.contains(&count.state))
            .map(|count| count.jobs)
            .sum()
    }

    /// Takes pictures of frames that were dropped off the counts.
    fn take_off(&mut self, dropped: &OutputCount) {
        for count in &mut self.outputs {
            if (count.wish, count.state) == (dropped.wish, dropped.state) {
                count.outputs = count.outputs.saturating_sub(dropped.outputs);
                count.bytes = count.bytes.saturating_sub(dropped.bytes);
                count.sized = count.sized.saturating_sub(dropped.sized);
            }
        }
        self.outputs.retain(|count| count.outputs > 0);
    }
}

impl Queue {
    /// Everything at a glance.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn status(&mut self) -> Result<Status, QueueError> {
        let file = self.place.file()?;
        self.reading(|engine| {
            let paused = engine.query("SELECT paused FROM queue WHERE id = 1", &[])?;
            let mut status = Status {
                is_paused: paused.first().map_or(Ok(false), |row| row.is(0))?,
                shows: Vec::new(),
                runs: Vec::new(),
            };
            let shows = engine.query(
                "SELECT id, name, priority, state, paused, error, added FROM shows
                 WHERE state <> 'dropped' ORDER BY priority, id",
                &[],
            )?;
            for row in &shows {
                status.shows.push(show_of(row)?);
            }
            let jobs = engine.query(
                "SELECT show, state, CAST(count(*) AS BIGINT), CAST(sum(bytes) AS BIGINT),
                     CAST(count(metering_seconds) AS BIGINT),
                     CAST(sum(CASE WHEN metering_seconds IS NULL THEN 0 ELSE bytes END) AS BIGINT), sum(metering_seconds),
                     CAST(count(making_seconds) AS BIGINT),
                     CAST(sum(CASE WHEN making_seconds IS NULL THEN 0 ELSE bytes END) AS BIGINT), sum(making_seconds)
                 FROM jobs GROUP BY show, state",
                &[],
            )?;
            for row in &jobs {
                let count = job_count_of(row)?;
                if let Some(show) = show_in(&mut status, ShowId(row.whole(0)?)) {
                    show.jobs.push(count);
                }
            }
            let outputs = engine.query(
                "SELECT show, wish, state, CAST(count(*) AS BIGINT), CAST(COALESCE(sum(bytes), 0) AS BIGINT),
                     CAST(count(bytes) AS BIGINT)
                 FROM outputs GROUP BY show, wish, state ORDER BY show, wish, state",
                &[],
            )?;
            for row in &outputs {
                let count = output_count_of(row)?;
                if let Some(show) = show_in(&mut status, ShowId(row.whole(0)?)) {
                    show.outputs.push(count);
                }
            }
            // Few, as a rule: so counting all pictures walks along its index alone, and these are taken off.
            let dropped = engine.query(
                "SELECT outputs.show, outputs.wish, outputs.state, CAST(count(*) AS BIGINT),
                     CAST(COALESCE(sum(outputs.bytes), 0) AS BIGINT), CAST(count(outputs.bytes) AS BIGINT)
                 FROM shows JOIN jobs ON jobs.show = shows.id AND jobs.state = 'dropped' JOIN outputs ON outputs.job = jobs.id
                 WHERE shows.state <> 'dropped' GROUP BY outputs.show, outputs.wish, outputs.state",
                &[],
            )?;
            for row in &dropped {
                let count = output_count_of(row)?;
                if let Some(show) = show_in(&mut status, ShowId(row.whole(0)?)) {
                    show.take_off(&count);
                }
            }
            for show in &mut status.shows {
                show.jobs.sort_by_key(|count| count.state);
            }
            let runs = engine.query(
                "SELECT id, host, process, began, (SELECT CAST(count(*) AS BIGINT) FROM jobs WHERE claim = runs.id), is_locked
                 FROM runs WHERE ended IS NULL ORDER BY id",
                &[],
            )?;
            for row in &runs {
                let (run, host) = (RunId(row.whole(0)?), row.text(1)?.to_owned());
                let told = engine.query(
                    "SELECT remark FROM remarks WHERE run = $1 ORDER BY id",
                    &[run.into()],
                )?;
                let told = told.iter().map(|row| rows::column(row, 0));
                status.runs.push(RunStatus {
                    run,
                    has_died: row.is(5)? && has_died(file.as_deref(), run, &host),
                    waits: unended(told.collect::<Result<Vec<Remark>, _>>()?),
                    host,
                    process: u32::try_from(row.whole(2)?).unwrap_or(0),
                    began: row.whole(3)?,
                    in_hand: row.count(4)?,
                });
            }
            Ok(status)
        })
    }
}

fn show_in(status: &mut Status, show: ShowId) -> Option<&mut ShowStatus> {
    status.shows.iter_mut().find(|known| known.show == show)
}

fn show_of(row: &Row) -> Result<ShowStatus, QueueError> {
    let word = row.text(3)?;
    Ok(ShowStatus {
        show: ShowId(row.whole(0)?),
        name: row.text(1)?.to_owned(),
        priority: u8::try_from(row.whole(2)?).unwrap_or(u8::MAX),
        state: ShowState::of(word).ok_or_else(|| rows::unknown_word(word))?,
        is_paused: row.is(4)?,
        trouble: rows::maybe_column(row, 5)?,
        jobs: Vec::new(),
        outputs: Vec::new(),
        added: row.whole(6)?,
    })
}

fn output_count_of(row: &Row) -> Result<OutputCount, QueueError> {
    let word = row.text(2)?;
    Ok(OutputCount {
        wish: WishId(row.whole(1)?),
        state: OutputState::of(word).ok_or_else(|| rows::unknown_word(word))?,
        outputs: row.count(3)?,
        bytes: row.count(4)?,
        sized: row.count(5)?,
    })
}

fn job_count_of(row: &Row) -> Result<JobCount, QueueError> {
    let word = row.text(1)?;
    let timed = |first: usize| -> Result<Timed, EngineError> {
        Ok(Timed {
            jobs: row.count(first)?,
            bytes: row.count(first + 1)?,
            seconds: row.maybe_real(first + 2)?.unwrap_or(0.0),
        })
    };
    Ok(JobCount {
        state: JobState::of(word).ok_or_else(|| rows::unknown_word(word))?,
        jobs: row.count(2)?,
        bytes: row.count(3)?,
        metered: timed(4)?,
        made: timed(7)?,
    })
}
