//! What identifies a file's content, and a decision: sizes, times and BLAKE3 hashes.

use super::task::Stamp;
use serde::Serialize;
use std::fs::{self, File, Metadata};
use std::io;
use std::path::Path;
use std::time::UNIX_EPOCH;

/// Size and time of the last change: what tells without reading a file whether it is still the one that was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Outline {
    /// Size in bytes.
    pub bytes: u64,
    /// Nanoseconds since 1970; 0 where the system does not say.
    pub modified: i64,
}

impl Outline {
    /// Of a file, links followed.
    ///
    /// # Errors
    /// When the file is not there or may not be looked at.
    pub fn of(path: &Path) -> io::Result<Self> {
        Ok(Self::from_metadata(&fs::metadata(path)?))
    }

    fn from_metadata(metadata: &Metadata) -> Self {
        let modified = metadata
            .modified()
            .ok()
            .and_then(|time| time.duration_since(UNIX_EPOCH).ok())
            .and_then(|since| i64::try_from(since.as_nanos()).ok());
        Self {
            bytes: metadata.len(),
            modified: modified.unwrap_or(0),
        }
    }

    /// Whether a stamp was taken of a file that looked like this.
    #[must_use]
    pub fn fits(self, stamp: &Stamp) -> bool {
        self.bytes == stamp.bytes && self.modified == stamp.modified
    }
}

/// Reads a file to its end and stamps it.
///
/// # Errors
/// When it cannot be read.
pub fn stamp_of(path: &Path) -> io::Result<Stamp> {
    let file = File::open(path)?;
    let outline = Outline::from_metadata(&file.metadata()?);
    let mut hasher = blake3::Hasher::new();
    hasher.update_reader(file)?;
    Ok(Stamp {
        bytes: outline.bytes,
        modified: outline.modified,
        hash: hasher.finalize().to_hex().to_string(),
    })
}

/// A hash of a decision: equal for equal values, through their JSON.
#[must_use]
pub fn digest(decision: &impl Serialize) -> String {
    let mut hasher = blake3::Hasher::new();
    // Writing numbers and words into a hasher does not fail; a value that could not be written gets a digest of its own.
    if serde_json::to_writer(&mut hasher, decision).is_err() {
        hasher.update(b"cannot be written");
    }
    hasher.finalize().to_hex().to_string()
}

/// Whether the system refused a writing for want of space: a full drive, or a full allowance of the user.
#[must_use]
pub fn is_disk_full(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded
    )
}
