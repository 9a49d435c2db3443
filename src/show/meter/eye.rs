//! Frames of a metered show that need a person's eye.

use super::MeteredShow;
use crate::crew::task::Cause;
use crate::show::eye::{EyeReason, eye_reasons};

/// Frames that need a person's eye, by their index in [`MeteredShow::frames`], in the order of paths.
#[must_use]
pub fn for_a_persons_eye(show: &MeteredShow) -> Vec<(usize, Vec<EyeReason>)> {
    let found = show.frames.iter().enumerate().map(|(index, frame)| {
        let reasons = match (&frame.outcome, &show.solved) {
            (Err(error), _) if error.cause == Cause::Interrupted => Vec::new(),
            (Err(error), _) => vec![EyeReason::Unreadable(error.clone())],
            (Ok(read), Some(solved)) => eye_reasons(solved, &show.lights, read.light),
            (Ok(_), None) => Vec::new(),
        };
        (index, reasons)
    });
    found.filter(|(_, reasons)| !reasons.is_empty()).collect()
}
