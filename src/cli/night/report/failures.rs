//! Everything that is not made, with its cause and the next step.

use super::words;
use crate::crew::task::TaskError;
use crate::night::queue::{JobState, OutputState};
use crate::night::report::{Report, ShowReport};
use std::path::{Path, PathBuf};

/// Something that is not made, or several things for the same reason.
pub(super) struct Failure {
    /// Frames or pictures; none for a whole show.
    pub(super) what: Vec<PathBuf>,
    pub(super) show: String,
    pub(super) cause: String,
    pub(super) reason: String,
    pub(super) next_step: Option<String>,
}

/// What a person does who has mended a cause, or cannot.
pub(super) const AFTERWARDS: &str = "houselights night retry tries again what you have mended, and makes nothing twice; \
    houselights night drop takes out what cannot be mended";

/// All failures, by show; those of one show for the same reason are one.
pub(super) fn failures(report: &Report) -> Vec<Failure> {
    report.shows.iter().flat_map(of_show).collect()
}

fn of_show(show: &ShowReport) -> Vec<Failure> {
    let name = &show.status.name;
    let mut found = Vec::new();
    if let Some(trouble) = &show.status.trouble {
        found.push(Failure {
            what: Vec::new(),
            show: name.clone(),
            cause: "the show cannot be solved".to_owned(),
            reason: trouble.reason.clone(),
            next_step: trouble.next_step.clone(),
        });
    }
    let mut fail = |what: &Path, error: &TaskError| {
        let reason = without_path(&error.reason, what);
        let same = found.iter_mut().find(|known: &&mut Failure| {
            !known.what.is_empty() && known.reason == reason && known.next_step == error.next_step
        });
        match same {
            Some(known) => known.what.push(what.to_path_buf()),
            None => found.push(Failure {
                what: vec![what.to_path_buf()],
                show: name.clone(),
                cause: words::cause(error.cause).to_owned(),
                reason,
                next_step: error.next_step.clone(),
            }),
        }
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

/// The reason without the path that it begins with: that stands beside it.
fn without_path(reason: &str, what: &Path) -> String {
    let path = what.to_string_lossy();
    let rest = reason.strip_prefix(&*path);
    let rest = rest.and_then(|rest| rest.strip_prefix(": "));
    rest.unwrap_or(reason)
        .trim_end_matches([':', ' '])
        .to_owned()
}

/// Frames that wait, and why, as far as that is known.
pub(super) fn waiting(report: &Report) -> Option<String> {
    let counts = report.counts();
    let left = counts.frames.saturating_sub(counts.made + counts.set_aside);
    (left > 0).then(|| {
        format!(
            "{left} {} in the queue, and nothing of them is lost: houselights night run goes on with them, houselights night status says \
             what a run waits for",
            if left == 1 {
                "frame waits"
            } else {
                "frames wait"
            }
        )
    })
}
