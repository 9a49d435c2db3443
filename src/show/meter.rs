//! Metering a show: what light each frame was taken in.

use super::metering::{ask_each, not_reached, unexpected};
use crate::base::progress::{Progress, StopWish};
use crate::crew::Workforce;
use crate::crew::task::{Answer, Metered, Task, TaskError};
use std::path::{Path, PathBuf};

/// A frame's light, or why it could not be read.
pub type MeterOutcome = Result<Box<Metered>, TaskError>;

/// Meters frames, each under its own white. `each` gets every frame's outcome in the order of the
/// frames, as soon as those before it are known.
pub fn meter(
    frames: &[PathBuf],
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    progress: &dyn Progress,
    each: &mut dyn FnMut(&Path, MeterOutcome),
) {
    let tasks = frames.iter().cloned().map(|frame| Task::Meter { frame });
    let mut waiting: Vec<Option<MeterOutcome>> = vec![None; frames.len()];
    let mut told = 0;
    ask_each(
        tasks.enumerate().collect(),
        "metering",
        workforce,
        stop,
        progress,
        &mut |index, outcome| {
            waiting[index] = Some(match outcome {
                Ok(Answer::Metered(metered)) => Ok(metered),
                Ok(_) => Err(unexpected(&frames[index])),
                Err(error) => Err(error),
            });
            while let Some(outcome) = waiting.get_mut(told).and_then(Option::take) {
                each(&frames[told], outcome);
                told += 1;
            }
        },
    );
    for (frame, outcome) in frames.iter().zip(waiting).skip(told) {
        each(frame, outcome.unwrap_or_else(|| Err(not_reached())));
    }
}
