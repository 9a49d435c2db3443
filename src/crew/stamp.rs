//! What identifies a file's content, and a decision: sizes, times and BLAKE3 hashes.

use super::task::Stamp;
use serde::Serialize;
use std::fs::{self, File, Metadata};
use std::io::{self, Read};
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

/// Bytes at the start of a file that tell it from another of equal name, size and time without reading it all. A raw
/// file's metadata stands there: capture time with its fractions, body, counters.
pub const HEAD: usize = 1 << 16;

/// Reads a file to its end and stamps it.
///
/// # Errors
/// When it cannot be read.
pub fn stamp_of(path: &Path) -> io::Result<Stamp> {
    let mut file = File::open(path)?;
    let outline = Outline::from_metadata(&file.metadata()?);
    let mut hasher = blake3::Hasher::new();
    hasher.update_reader((&mut file).take(HEAD as u64))?;
    let head = in_words(&hasher);
    hasher.update_reader(file)?;
    Ok(Stamp {
        bytes: outline.bytes,
        modified: outline.modified,
        head,
        hash: in_words(&hasher),
    })
}

/// The hashes of a stamp, of bytes that come piece by piece.
#[derive(Clone, Debug, Default)]
pub struct Hashes {
    hasher: blake3::Hasher,
    head: Option<String>,
}

impl Hashes {
    /// Takes what follows.
    pub fn take(&mut self, mut bytes: &[u8]) {
        if self.head.is_none() {
            let missing = HEAD - self.hasher.count() as usize;
            let (head, rest) = bytes.split_at(missing.min(bytes.len()));
            self.hasher.update(head);
            if head.len() == missing {
                self.head = Some(in_words(&self.hasher));
            }
            bytes = rest;
        }
        self.hasher.update(bytes);
    }

    /// The stamp of a file with the bytes so far that looks like this; `None` when it has another length.
    #[must_use]
    pub fn with(self, outline: Outline) -> Option<Stamp> {
        (self.hasher.count() == outline.bytes).then(|| {
            let hash = in_words(&self.hasher);
            Stamp {
                bytes: outline.bytes,
                modified: outline.modified,
                head: self.head.unwrap_or_else(|| hash.clone()),
                hash,
            }
        })
    }
}

/// The hash of a file's first bytes.
///
/// # Errors
/// When it cannot be read.
pub fn head_of(path: &Path) -> io::Result<String> {
    let mut hasher = blake3::Hasher::new();
    hasher.update_reader(File::open(path)?.take(HEAD as u64))?;
    Ok(in_words(&hasher))
}

fn in_words(hasher: &blake3::Hasher) -> String {
    hasher.finalize().to_hex().to_string()
}

/// A hash of a decision: equal for equal values, through their JSON.
#[must_use]
pub fn digest(decision: &impl Serialize) -> String {
    let mut hasher = blake3::Hasher::new();
    // Writing numbers and words into a hasher does not fail; a value that could not be written gets a digest of its own.
    if serde_json::to_writer(&mut hasher, decision).is_err() {
        hasher.update(b"cannot be written");
    }
    in_words(&hasher)
}

/// Whether the system refused a writing for want of space: a full drive, or a full allowance of the user.
#[must_use]
pub fn is_disk_full(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stamp_of_a_file_and_of_its_bytes_agree() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let path = scratch.path().join("file");
        // Around the head's end, where the two ways could part.
        for length in [0, 1, HEAD - 1, HEAD, HEAD + 1, 3 * HEAD] {
            let bytes: Vec<u8> = (0..length).map(|index| (index % 251) as u8).collect();
            fs::write(&path, &bytes).expect("written");
            let outline = Outline::of(&path).expect("there");
            let stamp = stamp_of(&path).expect("read");
            for piece in [1000, HEAD, HEAD + 7, 4 * HEAD] {
                let mut hashes = Hashes::default();
                bytes.chunks(piece).for_each(|piece| hashes.take(piece));
                assert_eq!(hashes.with(outline), Some(stamp.clone()), "{length}");
            }
            assert_eq!(stamp.head, head_of(&path).expect("read"));
            assert!(outline.fits(&stamp));
            assert_eq!(stamp.head == stamp.hash, length <= HEAD);
            let mut longer = Hashes::default();
            longer.take(&bytes);
            longer.take(b"grown");
            assert_eq!(longer.with(outline), None);
        }
    }
}
