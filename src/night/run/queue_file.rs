//! The file of the queue, which a person may remove while a run works on it: the run would go on with a file that has no name
//! any more, and nothing of what it records would be seen again.

use crate::night::queue::Place;
use std::fs::Metadata;
use std::io::ErrorKind;
use std::path::PathBuf;

/// The file that a queue was opened as.
#[derive(Clone, Debug)]
pub(super) struct QueueFile {
    path: PathBuf,
    is: Option<(u64, u64)>,
}

impl QueueFile {
    /// The file of a place that is one, as it is now.
    pub(super) fn of(place: &Place) -> Option<Self> {
        let path = std::path::absolute(place.file().ok()??).ok()?;
        let is = std::fs::metadata(&path).ok().as_ref().and_then(which);
        Some(Self { path, is })
    }

    /// Whether it was removed, or another is in its place.
    pub(super) fn is_gone(&self) -> bool {
        match std::fs::metadata(&self.path) {
            Ok(about) => self.is.is_some() && which(&about) != self.is,
            // A drive that does not answer is no file that was removed.
            Err(error) => error.kind() == ErrorKind::NotFound,
        }
    }
}

/// Device and number of a file, where the system tells.
#[cfg(unix)]
fn which(about: &Metadata) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt;
    Some((about.dev(), about.ino()))
}

#[cfg(not(unix))]
fn which(_: &Metadata) -> Option<(u64, u64)> {
    None
}
