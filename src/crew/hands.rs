//! What a worker does with a task: the one place where all rooms of the house meet over a frame.

use super::task::{Answer, Task, TaskError};

/// Does one task in this thread.
///
/// # Errors
/// Whatever the rooms refuse, with the file, the reason and what to do.
pub fn perform(_task: &Task) -> Result<Answer, TaskError> {
    Err(TaskError {
        cause: super::task::Cause::Defect,
        reason: "not built yet".into(),
        next_step: "wait".into(),
    })
}
