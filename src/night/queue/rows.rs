//! Between the queue's things and the database's values.

use super::QueueError;
use super::ids::{JobId, OutputId, RunId, ShowId, WishId};
use crate::night::engine::{EngineError, Row, Value};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};
use std::time::{SystemTime, UNIX_EPOCH};

impl From<ShowId> for Value {
    fn from(id: ShowId) -> Self {
        Self::Whole(id.0)
    }
}

impl From<WishId> for Value {
    fn from(id: WishId) -> Self {
        Self::Whole(id.0)
    }
}

impl From<JobId> for Value {
    fn from(id: JobId) -> Self {
        Self::Whole(id.0)
    }
}

impl From<OutputId> for Value {
    fn from(id: OutputId) -> Self {
        Self::Whole(id.0)
    }
}

impl From<RunId> for Value {
    fn from(id: RunId) -> Self {
        Self::Whole(id.0)
    }
}

impl From<&Path> for Value {
    fn from(path: &Path) -> Self {
        path.as_os_str().into()
    }
}

impl From<&OsStr> for Value {
    fn from(name: &OsStr) -> Self {
        Self::Bytes(name.as_encoded_bytes().to_vec())
    }
}

/// A value of a size or a count; what no drive holds becomes the largest.
pub(super) fn size(bytes: u64) -> Value {
    Value::Whole(i64::try_from(bytes).unwrap_or(i64::MAX))
}

/// A name from the bytes that were kept.
#[cfg(unix)]
pub(super) fn name(bytes: &[u8]) -> OsString {
    use std::os::unix::ffi::OsStrExt;
    OsStr::from_bytes(bytes).to_os_string()
}

/// A name from the bytes that were kept. Names that are no Unicode do not come back from another system's queue.
#[cfg(not(unix))]
pub(super) fn name(bytes: &[u8]) -> OsString {
    String::from_utf8_lossy(bytes).into_owned().into()
}

/// A path from the bytes that were kept.
pub(super) fn path(bytes: &[u8]) -> PathBuf {
    name(bytes).into()
}

/// As JSON.
pub(super) fn json(value: &impl Serialize) -> Result<String, QueueError> {
    serde_json::to_string(value)
        .map_err(|error| EngineError::Other(format!("cannot be written down: {error}")).into())
}

/// From JSON that was kept.
pub(super) fn of_json<T: DeserializeOwned>(text: &str) -> Result<T, QueueError> {
    serde_json::from_str(text).map_err(|error| {
        EngineError::Unexpected(format!("what was kept is not understood: {error}")).into()
    })
}

/// From JSON in a column.
pub(super) fn column<T: DeserializeOwned>(row: &Row, column: usize) -> Result<T, QueueError> {
    of_json(row.text(column)?)
}

/// From JSON in a column that may hold nothing.
pub(super) fn maybe_column<T: DeserializeOwned>(
    row: &Row,
    column: usize,
) -> Result<Option<T>, QueueError> {
    row.maybe_text(column)?.map(of_json).transpose()
}

/// A word that none of the states has.
pub(super) fn unknown_word(word: &str) -> QueueError {
    EngineError::Unexpected(format!("{word:?} is no state")).into()
}

/// Now, for people to read: UTC in milliseconds since 1970. Nothing is decided by it.
pub(super) fn now() -> i64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map_or(0, |since| {
        i64::try_from(since.as_millis()).unwrap_or(i64::MAX)
    })
}

/// A row that must be there and is not.
pub(super) fn missing(what: &str) -> QueueError {
    EngineError::Unexpected(format!("{what} is missing")).into()
}
