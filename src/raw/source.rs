//! Bytes at a place: the one way the walkers read, from memory or from an open file.
//!
//! Facts of thousands of frames are read without reading their pixels, so a file source holds the first block (where
//! most writers put their directories) and fetches anything further away by itself.

use crate::raw::error::Fault;
use std::cell::RefCell;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

/// Read at once from the front of a file: directories and EXIF of nearly every raw lie in it.
const HEAD_BYTES: u64 = 128 << 10;

/// Bytes at a place.
pub(crate) trait Source {
    /// Number of bytes.
    fn length(&self) -> u64;
    /// Fills `buffer` from `offset` on; `None` when the bytes are not all there.
    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> Option<()>;

    /// `count` bytes from `offset` on; `None` when they are not all there, before any memory is asked for.
    fn bytes(&self, offset: u64, count: u64) -> Option<Vec<u8>> {
        if offset.checked_add(count)? > self.length() {
            return None;
        }
        let mut buffer = vec![0; usize::try_from(count).ok()?];
        self.read_at(offset, &mut buffer)?;
        Some(buffer)
    }
}

impl Source for [u8] {
    fn length(&self) -> u64 {
        self.len() as u64
    }

    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> Option<()> {
        let from = usize::try_from(offset).ok()?;
        let bytes = self.get(from..from.checked_add(buffer.len())?)?;
        buffer.copy_from_slice(bytes);
        Some(())
    }
}

/// An open file.
#[derive(Debug)]
pub(crate) struct FileSource {
    file: RefCell<File>,
    length: u64,
    head: Vec<u8>,
}

impl FileSource {
    /// Opens a file and reads its first block.
    pub(crate) fn open(path: &Path) -> Result<Self, Fault> {
        // Asked before it is opened: opening a pipe waits for whoever writes into it.
        let about = std::fs::metadata(path).map_err(Fault::Unreadable)?;
        if !about.is_file() {
            let what = if about.is_dir() {
                "a folder"
            } else {
                "a pipe or a device"
            };
            return Err(Fault::NotRaw { what: what.into() });
        }
        let file = File::open(path).map_err(Fault::Unreadable)?;
        let mut head = Vec::new();
        (&file)
            .take(HEAD_BYTES)
            .read_to_end(&mut head)
            .map_err(Fault::Unreadable)?;
        if head.is_empty() {
            return Err(Fault::Empty);
        }
        Ok(Self {
            file: RefCell::new(file),
            length: about.len(),
            head,
        })
    }

    /// The first block.
    pub(crate) fn head(&self) -> &[u8] {
        &self.head
    }
}

impl Source for FileSource {
    fn length(&self) -> u64 {
        self.length
    }

    fn read_at(&self, offset: u64, buffer: &mut [u8]) -> Option<()> {
        if self.head.read_at(offset, buffer).is_some() {
            return Some(());
        }
        let mut file = self.file.try_borrow_mut().ok()?;
        file.seek(SeekFrom::Start(offset)).ok()?;
        file.read_exact(buffer).ok()
    }
}
