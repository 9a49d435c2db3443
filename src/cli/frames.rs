//! Words about frames that every command needs: a path for people and a path for programs.

use crate::crew::lossless_path::hexadecimal;
use crate::crew::task::{Cause, TaskError};
use serde::Serialize;
use std::path::Path;

/// A path in JSON: as text, and where the text is not the whole truth as bytes too.
#[derive(Debug, Serialize)]
pub(super) struct FramePath {
    pub(super) frame: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) frame_bytes: Option<String>,
}

impl FramePath {
    pub(super) fn of(path: &Path) -> Self {
        Self {
            frame: path.to_string_lossy().into_owned(),
            frame_bytes: path.to_str().is_none().then(|| hexadecimal(path)).flatten(),
        }
    }
}

/// An error in JSON.
#[derive(Debug, Serialize)]
pub(super) struct ErrorLine {
    cause: Cause,
    reason: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    next_step: Option<String>,
}

impl ErrorLine {
    pub(super) fn of(error: &TaskError) -> Self {
        Self {
            cause: error.cause,
            reason: error.reason.clone(),
            next_step: error.next_step.clone(),
        }
    }
}

/// `1 frame`, `2 frames`.
pub(super) fn counted(count: usize) -> String {
    match count {
        1 => "1 frame".to_owned(),
        count => format!("{count} frames"),
    }
}
