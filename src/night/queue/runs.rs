//! Runs: that they live, and what happens to what they had in hand when they do not.
//!
//! A run raises its beat; whoever watches it measures by his own monotonic clock how long the beat has stood still, so that
//! no two clocks are ever compared. On one machine nobody needs to wait: a run holds a lock on a file beside the queue, the
//! system gives it up when the process ends in whatever way, and whoever gets it knows.

use super::ids::RunId;
use super::recording::give_back_all;
use super::{Queue, QueueError, Remark, remarks, rows};
use crate::night::engine::{Engine, Value, this_host};
use serde::{Deserialize, Serialize};
use std::collections::HashMap;
use std::fs::{self, File, OpenOptions};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// How often a run raises its beat.
pub const BEAT: Duration = Duration::from_secs(2);
/// How long a beat stands still until its run counts as dead: fifteen missed beats. A machine under full load misses some, a
/// network some more; a job that is done twice because of a short patience costs work and nothing else.
pub const PATIENCE: Duration = Duration::from_secs(30);

/// Who begins a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunOf {
    /// Name of the machine.
    pub host: String,
    /// Number of the process.
    pub process: u32,
    /// Digest of the program.
    pub program: String,
}

impl RunOf {
    /// This process.
    #[must_use]
    pub fn this_process(program: &str) -> Self {
        Self {
            host: this_host(),
            process: std::process::id(),
            program: program.to_owned(),
        }
    }
}

/// A run that has begun. Its lock is held until this is dropped.
#[derive(Debug)]
pub struct Run {
    id: RunId,
    /// By which others on this machine see at once when it dies.
    _lock: Option<RunLock>,
}

impl Run {
    /// Its number.
    #[must_use]
    pub fn id(&self) -> RunId {
        self.id
    }
}

/// The lock file of a run, removed when it is dropped.
#[derive(Debug)]
struct RunLock {
    path: PathBuf,
    _file: File,
}

impl Drop for RunLock {
    fn drop(&mut self) {
        // Left behind it says nothing wrong: whoever can lock it knows that the run is gone.
        let _ = fs::remove_file(&self.path);
    }
}

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HowEnded {
    /// Nothing was left to do.
    Done,
    /// A person stopped it.
    Stopped,
    /// The hour came that a person gave it.
    Hour,
    /// The space of an output drive ran short.
    Space,
    /// It died, and another run or a later one saw that.
    Died,
    /// It could not go on, for a reason among the remarks.
    Failed,
}

/// What a run hears when it raises its beat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beat {
    /// It lives.
    Alive,
    /// It was declared dead while it slept: its jobs are others' by now, and it must begin anew.
    DeclaredDead,
}

/// A dead run whose jobs are back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Returned {
    /// The run.
    pub run: RunId,
    /// Its machine.
    pub host: String,
    /// Its process.
    pub process: u32,
    /// Jobs that it had in hand.
    pub jobs: u64,
}

/// What one process has seen of the beats of others.
#[derive(Debug, Default)]
pub struct Watch {
    seen: HashMap<RunId, (i64, Instant)>,
}

impl Queue {
    /// Begins a run.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn begin_run(&mut self, of: &RunOf) -> Result<Run, QueueError> {
        let file = self.place().file()?;
        self.writing(|engine| {
            let values: [Value; 4] = [
                of.host.as_str().into(),
                i64::from(of.process).into(),
                of.program.as_str().into(),
                rows::now().into(),
            ];
            let begun = engine.query(
                "INSERT INTO runs (host, process, program, beat, is_locked, began) VALUES ($1, $2, $3, 0, 0, $4) RETURNING id",
                &values,
            )?;
            let row = begun
                .first()
                .ok_or_else(|| rows::missing("the number of a run"))?;
            let id = RunId(row.whole(0)?);
            // Before anybody sees the run.
            let lock = file.as_deref().and_then(|file| take_lock(file, id));
            if lock.is_some() {
                engine.execute("UPDATE runs SET is_locked = 1 WHERE id = $1", &[id.into()])?;
            }
            Ok(Run { id, _lock: lock })
        })
    }

    /// Raises the beat of a run.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn beat(&mut self, run: RunId) -> Result<Beat, QueueError> {
        self.writing(|engine| {
            let raised = engine.execute(
                "UPDATE runs SET beat = beat + 1 WHERE id = $1 AND ended IS NULL",
                &[run.into()],
            )?;
            Ok(if raised > 0 {
                Beat::Alive
            } else {
                Beat::DeclaredDead
            })
        })
    }

    /// Gives back everything that the queue believes to be in a run's hand: a claim whose answer was lost on its way, with
    /// the connection. To be asked after an error that may pass ([`QueueError::may_pass`]), when the run has nothing in
    /// hand. How many jobs that were.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn give_back_all(&mut self, run: RunId) -> Result<u64, QueueError> {
        self.writing(|engine| give_back_all(engine, run))
    }

    /// Ends a run; what it still has in hand goes back.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn end_run(&mut self, run: RunId, how: HowEnded) -> Result<(), QueueError> {
        self.writing(|engine| {
            end(engine, run, how)?;
            Ok(())
        })
    }

    /// Ends runs that died and gives back what they had in hand. `own` is this process's run, `now` its monotonic clock.
    ///
    /// # Errors
    /// When the queue cannot be read or written.
    pub fn return_stale(
        &mut self,
        watch: &mut Watch,
        own: Option<RunId>,
        now: Instant,
    ) -> Result<Vec<Returned>, QueueError> {
        let file = self.place().file()?;
        let alive = self.reading(|engine| {
            Ok(engine.query(
                "SELECT id, beat, host, process, is_locked FROM runs WHERE ended IS NULL ORDER BY id",
                &[],
            )?)
        })?;
        let mut returned = Vec::new();
        let mut still_seen = HashMap::new();
        for row in alive {
            let (run, beat) = (RunId(row.whole(0)?), row.whole(1)?);
            if Some(run) == own {
                continue;
            }
            let has_died = row.is(4)? && has_died(file.as_deref(), run, row.text(2)?);
            let since = match watch.seen.get(&run) {
                Some((seen, since)) if *seen == beat => *since,
                _ => now,
            };
            if !has_died && now.saturating_duration_since(since) < PATIENCE {
                still_seen.insert(run, (beat, since));
                continue;
            }
            let process = u32::try_from(row.whole(3)?).unwrap_or(0);
            let host = row.text(2)?.to_owned();
            let ended = self.writing(|engine| {
                // Not if it has beaten in the meantime.
                let stands = engine.query(
                    "SELECT id FROM runs WHERE id = $1 AND beat = $2 AND ended IS NULL {for update}",
                    &[run.into(), beat.into()],
                )?;
                if stands.is_empty() {
                    return Ok(None);
                }
                let jobs = end(engine, run, HowEnded::Died)?;
                let remark = Remark::RunDied {
                    host: host.clone(),
                    process,
                    jobs,
                };
                remarks::write(engine, Some(run), None, &remark)?;
                Ok(Some(jobs))
            })?;
            if let Some(jobs) = ended {
                if let Some(file) = &file {
                    // Where there is one: nobody holds it any more.
                    let _ = fs::remove_file(lock_path(file, run));
                }
                returned.push(Returned {
                    run,
                    host,
                    process,
                    jobs,
                });
            }
        }
        watch.seen = still_seen;
        self.return_of_the_ended()?;
        Ok(returned)
    }
}

impl Queue {
    /// Gives back what belongs to runs that have ended: nobody else would.
    fn return_of_the_ended(&mut self) -> Result<(), QueueError> {
        let ended = self.reading(|engine| {
            Ok(engine.query(
                "SELECT runs.id FROM runs WHERE runs.ended IS NOT NULL AND (
                     runs.id IN (SELECT claim FROM jobs WHERE claim IS NOT NULL)
                     OR runs.id IN (SELECT solver FROM shows WHERE state = 'solving' AND solver IS NOT NULL))
                 ORDER BY runs.id",
                &[],
            )?)
        })?;
        for row in &ended {
            let run = RunId(row.whole(0)?);
            self.writing(|engine| give_back_all(engine, run))?;
        }
        Ok(())
    }
}

/// Ends a run that has not ended; how many jobs it had in hand.
fn end(engine: &mut dyn Engine, run: RunId, how: HowEnded) -> Result<u64, QueueError> {
    let given = give_back_all(engine, run)?;
    engine.execute(
        "UPDATE runs SET ended = $2, how = $3 WHERE id = $1 AND ended IS NULL",
        &[run.into(), rows::now().into(), rows::json(&how)?.into()],
    )?;
    Ok(given)
}

/// The lock file of a run: beside the queue, hidden by nothing, since a person may wonder what it is.
fn lock_path(queue: &Path, run: RunId) -> PathBuf {
    // Whoever names the queue by a link must find the same file.
    let queue = fs::canonicalize(queue).unwrap_or_else(|_| queue.to_path_buf());
    let mut name = queue.file_name().unwrap_or_default().to_os_string();
    name.push(format!(".run-{}", run.0));
    queue.with_file_name(name)
}

/// Takes the lock of a new run; `None` on drives that know no locks, where its beats must do.
fn take_lock(queue: &Path, run: RunId) -> Option<RunLock> {
    let path = lock_path(queue, run);
    let file = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&path)
        .ok()?;
    match file.try_lock() {
        Ok(()) => Some(RunLock { path, _file: file }),
        Err(_) => {
            let _ = fs::remove_file(&path);
            None
        }
    }
}

/// Whether a run that had its lock is known to have died, as far as this machine can tell: its lock file is not there any more,
/// or can be locked. Nothing is changed by looking.
pub(super) fn has_died(queue: Option<&Path>, run: RunId, host: &str) -> bool {
    let Some(queue) = queue.filter(|_| host == this_host()) else {
        return false;
    };
    match File::open(lock_path(queue, run)) {
        // Shared: two who look do not take each other for the run.
        Ok(file) => file.try_lock_shared().is_ok(),
        Err(error) => error.kind() == std::io::ErrorKind::NotFound,
    }
}
