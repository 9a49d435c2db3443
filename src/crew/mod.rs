//! Workers: processes that do the work which can hurt.
//!
//! A raw decoder may abort, hang or ask for all memory on a damaged file, and nothing inside a process can stop that. So
//! the program starts itself with a hidden first argument ([`WORKER_ARGUMENT`]) once a core; each such worker takes one
//! task a line on its standard input and answers one line on its standard output, under a memory limit that it sets on
//! itself and a time limit that the supervisor keeps. A worker that dies costs one frame its picture, with an error that
//! says why, and is replaced.
//!
//! Threads instead of processes would save about 10 ms a worker at the start and would lose the whole batch to one file.
//! A worker works in one thread; throughput comes from one worker a core. Whoever hands out tasks implements [`Shift`]
//! and is asked for one task at a time, so that tasks can come from a list or from a queue.

mod end;
pub mod gentle;
pub mod hands;
pub mod limits;
pub mod lossless_path;
mod post;
pub mod stamp;
pub mod supervisor;
mod tail;
pub mod task;
pub mod worker;

use crate::base::progress::StopWish;
use std::time::Instant;
use task::{Answer, Task, TaskError};

/// The hidden first argument that makes the program a worker. Not an option: nobody types it.
pub const WORKER_ARGUMENT: &str = "--work-for-supervisor";

/// A supply of tasks and a taker of their outcomes. Keys are the shift's own; outcomes come in any order.
pub trait Shift {
    /// The next task for this worker (numbered from 0), or `None` when there is no more (asked again after each outcome until
    /// nothing is in hand).
    fn next(&mut self, worker: usize) -> Option<(usize, Task)>;
    /// What became of a task, and when its worker was done with it or died: that may be a while before this is told.
    fn done(&mut self, key: usize, outcome: Result<Answer, TaskError>, at: Instant);
}

/// Workers that are started when there is work for them and not before.
pub struct Hiring<'a> {
    hire: Box<dyn FnMut() -> std::io::Result<Box<dyn Workforce>> + 'a>,
    workforce: Option<Box<dyn Workforce>>,
}

impl<'a> Hiring<'a> {
    /// Workers that `hire` starts.
    pub fn by(hire: impl FnMut() -> std::io::Result<Box<dyn Workforce>> + 'a) -> Self {
        Self {
            hire: Box::new(hire),
            workforce: None,
        }
    }

    /// The workers, started now if they were not before.
    ///
    /// # Errors
    /// When they cannot be started.
    pub fn workforce(&mut self) -> std::io::Result<&mut dyn Workforce> {
        let workforce = match self.workforce.take() {
            Some(workforce) => workforce,
            None => (self.hire)()?,
        };
        Ok(&mut **self.workforce.insert(workforce))
    }
}

/// Whoever works through a shift: the processes of [`supervisor::Crew`], or a stand-in of a test.
pub trait Workforce {
    /// Works until the shift has no more tasks. When `stop` is raised no further task is taken; tasks in hand get a few
    /// seconds to finish and are then dropped with [`task::Cause::Interrupted`].
    fn work(&mut self, stop: &StopWish, shift: &mut dyn Shift);
}
