//! Pass A: every frame is metered by the workers, unless its reading was kept.

use crate::base::progress::{Progress, StopWish};
use crate::crew::task::{Answer, Cause, Task, TaskError};
use crate::crew::{Shift, Workforce};
use std::path::Path;
use std::time::Instant;

/// Has one task done for each frame and keeps the answers by frame. `None` for a frame that was not reached.
pub fn ask_each(
    tasks: Vec<(usize, Task)>,
    part: &str,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    progress: &dyn Progress,
    each: &mut dyn FnMut(usize, Result<Answer, TaskError>),
) {
    if tasks.is_empty() {
        return;
    }
    progress.begin(part, tasks.len());
    let mut questions = Questions {
        tasks: tasks.into_iter(),
        progress,
        each,
    };
    workforce.work(stop, &mut questions);
    progress.end();
}

/// Has a single task done. `None` when it was not reached.
pub fn ask_one(
    task: Task,
    part: &str,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    progress: &dyn Progress,
) -> Option<Result<Answer, TaskError>> {
    let mut found = None;
    ask_each(
        vec![(0, task)],
        part,
        workforce,
        stop,
        progress,
        &mut |_, outcome| found = Some(outcome),
    );
    found
}

struct Questions<'a> {
    tasks: std::vec::IntoIter<(usize, Task)>,
    progress: &'a dyn Progress,
    each: &'a mut dyn FnMut(usize, Result<Answer, TaskError>),
}

impl Shift for Questions<'_> {
    fn next(&mut self, _: usize) -> Option<(usize, Task)> {
        self.tasks.next()
    }

    fn done(&mut self, key: usize, outcome: Result<Answer, TaskError>, _: Instant) {
        self.progress.advance();
        (self.each)(key, outcome);
    }
}

/// The error of a frame that the run did not come to.
#[must_use]
pub fn not_reached() -> TaskError {
    TaskError {
        cause: Cause::Interrupted,
        reason: "the run was stopped before it".to_owned(),
        next_step: Some("run the same command again to go on".to_owned()),
    }
}

/// The error of an answer that does not fit its task.
#[must_use]
pub fn unexpected(frame: &Path) -> TaskError {
    TaskError {
        cause: Cause::Defect,
        reason: format!("{}: a worker answered another question", frame.display()),
        next_step: Some("report it".to_owned()),
    }
}
