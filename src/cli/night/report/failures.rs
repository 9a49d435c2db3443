//! Everything that is not made, with its cause and the next step.

use super::words;
use crate::crew::task::TaskError;
use crate::night::queue::{JobState, OutputState};
use crate::night::report::{Report, ShowReport};
use std::path::{Path, PathBuf};

/// Something that is not made.
pub(super) struct Failure {
    /// The frame or the picture; `None` for a whole show.
    pub(super) what: Option<PathBuf>,
    pub(super) show: String,
    pub(super) cause: String,
    pub(super) reason: String,
    pub(super) next_step: String,
}

/// What a person does who has mended the cause.
const TRY_AGAIN: &str = "houselights night retry tries it again";

/// All failures, by show.
pub(super) fn failures(report: &Report) -> Vec<Failure> {
    report.shows.iter().flat_map(of_show).collect()
}

fn of_show(show: &ShowReport) -> Vec<Failure> {
    let name = &show.status.name;
    let mut found = Vec::new();
    if let Some(trouble) = &show.status.trouble {
        found.push(Failure {
            what: None,
            show: name.clone(),
            cause: "the show cannot be solved".to_owned(),
            reason: trouble.reason.clone(),
            next_step: step(trouble.next_step.as_deref()),
        });
    }
    let mut fail = |what: &Path, error: &TaskError| {
        found.push(Failure {
            what: Some(what.to_path_buf()),
            show: name.clone(),
            cause: words::cause(error.cause).to_owned(),
            reason: error.reason.clone(),
            next_step: step(error.next_step.as_deref()),
        });
    };
    for frame in &show.frames {
        if let (JobState::SetAside, Some(error)) = (frame.state, &frame.error) {
            fail(&frame.shown, error);
        }
        for output in &frame.outputs {
            if let (OutputState::Failed, Some(error)) = (output.state, &output.error) {
                fail(&output.folder.join(&output.picture), error);
            }
        }
    }
    found
}

fn step(step: Option<&str>) -> String {
    step.map_or_else(
        || TRY_AGAIN.to_owned(),
        |step| format!("{step}; then {TRY_AGAIN}"),
    )
}

/// Frames that wait, and why, as far as that is known.
pub(super) fn waiting(report: &Report) -> Option<String> {
    let counts = report.counts();
    let left = counts
        .frames
        .saturating_sub(counts.made + counts.set_aside);
    (left > 0).then(|| {
        format!(
            "{left} {} in the queue and not lost: houselights night run goes on with them",
            if left == 1 {
                "frame waits"
            } else {
                "frames wait"
            }
        )
    })
}
