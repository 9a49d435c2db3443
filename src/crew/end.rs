//! Why a worker was lost, from its exit status and its last words, in words for a person.

use super::limits::{Limits, memory_in_words};
use super::task::{Cause, TaskError};
use std::path::Path;
use std::process::ExitStatus;

/// What the standard library prints before it aborts for want of memory.
const OUT_OF_MEMORY: &str = "memory allocation of";

/// How a worker was lost in the middle of a task.
#[derive(Debug)]
pub(super) enum End {
    /// It took too long and was killed.
    TooLong,
    /// It ended: its status where the system tells, and its last words.
    Ended(Option<ExitStatus>, String),
    /// It was refused the memory that it asked for.
    OutOfMemory,
    /// It answered something that is no answer.
    Gibberish,
    /// It was dropped because the run was stopped.
    Dropped,
    /// It could not be started.
    NotStarted(std::io::Error),
}

impl End {
    /// The error of the frame that was in the worker's hands.
    pub(super) fn into_error(self, frame: &Path, limits: &Limits) -> TaskError {
        let (cause, what, next_step) = match self {
            Self::TooLong => (
                Cause::Time,
                format!("took longer than {} s", limits.task_time.as_secs()),
                "allow more time; if only this file fails, it is probably damaged: copy it from the card again",
            ),
            Self::Ended(_, words) if words.contains(OUT_OF_MEMORY) => {
                return Self::OutOfMemory.into_error(frame, limits);
            }
            Self::OutOfMemory => (
                Cause::Memory,
                format!(
                    "asked for more than {} of memory",
                    memory_in_words(limits.memory_bytes)
                ),
                "allow more memory; if only this file fails, it is probably damaged: copy it from the card again",
            ),
            Self::Ended(status, _) => (
                match is_from_outside(status) {
                    true => Cause::Killed,
                    false => Cause::WorkerLost,
                },
                format!("its worker {}", in_words(status)),
                "run the same command again; if only this file fails, it is probably damaged",
            ),
            Self::Gibberish => (
                Cause::Defect,
                "its worker answered something that is no answer".to_owned(),
                "run the same command again; if it happens again, report it with the file",
            ),
            Self::Dropped => (
                Cause::Interrupted,
                "dropped because the run was stopped".to_owned(),
                "run the same command again to make it",
            ),
            Self::NotStarted(error) => (
                Cause::NoWorker,
                format!("no worker could be started for it: {error}"),
                "free some memory, or use fewer --workers, and run the same command again",
            ),
        };
        TaskError {
            cause,
            reason: format!("{}: {what}", frame.display()),
            next_step: Some(next_step.to_owned()),
        }
    }
}

/// Whether a process was ended by a signal that nothing it does itself brings about (signal(7)).
fn is_from_outside(status: Option<ExitStatus>) -> bool {
    #[cfg(unix)]
    {
        /// Hangup, interrupt, quit, kill, termination: numbered alike on all Unix systems (POSIX `kill`).
        const FROM_OUTSIDE: [i32; 5] = [1, 2, 3, 9, 15];
        let signal = status.and_then(|s| std::os::unix::process::ExitStatusExt::signal(&s));
        signal.is_some_and(|signal| FROM_OUTSIDE.contains(&signal))
    }
    #[cfg(not(unix))]
    {
        let _ = status;
        false
    }
}

fn in_words(status: Option<ExitStatus>) -> String {
    #[cfg(unix)]
    if let Some(signal) = status.and_then(|s| std::os::unix::process::ExitStatusExt::signal(&s)) {
        return format!("stopped with signal {signal}");
    }
    match status.and_then(|status| status.code()) {
        Some(code) => format!("ended by itself with exit code {code}"),
        None => "was lost".to_owned(),
    }
}
