//! What became of each frame, and of the run.

use crate::base::progress::Progress;
use crate::crew::task::{Cause, TaskError};
use std::path::PathBuf;

/// What became of one frame.
#[derive(Clone, Debug, PartialEq)]
pub struct FrameOutcome {
    /// The raw file as it was named or found.
    pub frame: PathBuf,
    /// The picture's path, made or not.
    pub picture: PathBuf,
    /// Made, or why not.
    pub fate: Fate,
    /// Share of the picture's pixels, 0 to 1, whose colours its space does not have; `None` where there is no picture, or one
    /// whose maker did not note it.
    pub outside: Option<f64>,
    /// What a person should know of it: what the reader settled, and how its correction came about where that is odd.
    pub notes: Vec<String>,
}

/// Made, or why not.
#[derive(Clone, Debug, PartialEq)]
pub enum Fate {
    /// Made by this run.
    Made {
        /// Size of the picture's file.
        bytes: u64,
    },
    /// Made by an earlier run from the same raw with the same correction and wish, and untouched since.
    AlreadyMade,
    /// Tried, and failed.
    Failed(TaskError),
    /// Not tried, or dropped: the run was stopped, or no picture can be written any more.
    NotReached(TaskError),
}

impl Fate {
    /// The fate that an error brings.
    #[must_use]
    pub fn of_error(error: TaskError) -> Self {
        match error.cause {
            Cause::Interrupted => Self::NotReached(error),
            _ => Self::Failed(error),
        }
    }
}

/// How many frames had which fate.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Made by this run.
    pub made: usize,
    /// Made by an earlier run.
    pub already_made: usize,
    /// Tried, and failed.
    pub failed: usize,
    /// Not tried, or dropped.
    pub not_reached: usize,
}

impl Tally {
    /// Counts one more.
    pub fn count(&mut self, fate: &Fate) {
        *match fate {
            Fate::Made { .. } => &mut self.made,
            Fate::AlreadyMade => &mut self.already_made,
            Fate::Failed(_) => &mut self.failed,
            Fate::NotReached(_) => &mut self.not_reached,
        } += 1;
    }

    /// All frames.
    #[must_use]
    pub fn frames(&self) -> usize {
        self.made + self.already_made + self.failed + self.not_reached
    }
}

/// Whoever watches a batch: progress, and each frame's outcome as soon as it is known.
pub trait Watcher: Progress {
    /// A frame is through. Called once for each frame of the batch, in any order.
    fn frame(&mut self, outcome: &FrameOutcome);
}
