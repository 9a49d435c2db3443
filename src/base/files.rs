//! The one writer of files: beside the place, synced, renamed.
//!
//! A reader never sees half a file, and after a power cut the place holds either the old file or the whole new one. The
//! folder is synced too, since the rename itself lives there.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

/// Files being written carry this ending until they are renamed; a run that finds such a leftover may remove it.
pub const UNFINISHED_ENDING: &str = ".houselights-unfinished";

/// An act on a file that failed: which act, which path, and what the system said.
#[derive(Debug, thiserror::Error)]
#[error("cannot {act} {}: {source}", path.display())]
pub struct FileError {
    /// What was tried, as a verb phrase: "write", "sync", "rename into place".
    pub act: &'static str,
    /// The file or folder.
    pub path: PathBuf,
    /// The system's answer.
    pub source: io::Error,
}

impl FileError {
    /// A closure for `map_err` that remembers the act and the path.
    pub fn at(act: &'static str, path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_path_buf();
        move |source| Self { act, path, source }
    }
}

/// The act of [`Unfinished::finish`] that replaces what stands in the place.
pub const INTO_PLACE: &str = "rename into place";

/// Tells unfinished files of one process apart.
static COUNTER: AtomicU64 = AtomicU64::new(0);

/// Writes `bytes` to `path` so that the place never holds half a file: written beside it, synced, renamed, folder synced.
/// What stood there before is replaced.
///
/// # Errors
/// Any step that the system refuses (no space, no permission, no such folder); the unfinished file is then removed.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), FileError> {
    let mut unfinished = Unfinished::beside(path)?;
    unfinished
        .file()
        .write_all(bytes)
        .map_err(FileError::at("write", path))?;
    unfinished.finish()
}

/// A file that is being written beside its place. Dropped before it is finished, it is removed, and the place is as it was.
#[derive(Debug)]
pub struct Unfinished {
    place: PathBuf,
    folder: PathBuf,
    path: PathBuf,
    file: File,
    is_in_place: bool,
}

impl Unfinished {
    /// Begins a file for `place`. Its name while it is unfinished says nothing of the place's, which may have used up all the
    /// length that a name may have; it is hidden, and holds the number of the process.
    ///
    /// # Errors
    /// When it cannot be made there.
    pub fn beside(place: &Path) -> Result<Self, FileError> {
        let folder = place
            .parent()
            .filter(|parent| !parent.as_os_str().is_empty())
            .unwrap_or_else(|| Path::new("."));
        let path = folder.join(format!(
            ".{}-{}{UNFINISHED_ENDING}",
            std::process::id(),
            COUNTER.fetch_add(1, Ordering::Relaxed)
        ));
        let file = OpenOptions::new()
            .read(true)
            .write(true)
            .create_new(true)
            .open(&path)
            .map_err(FileError::at("create", place))?;
        Ok(Self {
            place: place.to_path_buf(),
            folder: folder.to_path_buf(),
            path,
            file,
            is_in_place: false,
        })
    }

    /// The file, for writing.
    pub fn file(&mut self) -> &mut File {
        &mut self.file
    }

    /// Where it is while it is unfinished.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Syncs it, puts it in its place, and syncs the folder.
    ///
    /// # Errors
    /// Any step that the system refuses.
    pub fn finish(mut self) -> Result<(), FileError> {
        self.file
            .sync_all()
            .map_err(FileError::at("sync", &self.place))?;
        fs::rename(&self.path, &self.place).map_err(FileError::at(INTO_PLACE, &self.place))?;
        self.is_in_place = true;
        sync_folder(&self.folder)
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        if !self.is_in_place {
            // The error at hand is the one to report; a leftover that cannot be removed is swept by the next run.
            let _ = fs::remove_file(&self.path);
        }
    }
}

/// Syncs a folder, so that names made or changed in it last.
///
/// # Errors
/// When the folder cannot be opened or synced.
pub fn sync_folder(folder: &Path) -> Result<(), FileError> {
    #[cfg(unix)]
    File::open(folder)
        .and_then(|handle| handle.sync_all())
        .map_err(FileError::at("sync", folder))?;
    #[cfg(not(unix))]
    let _ = (folder, File::open(folder));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shorter_second_writing_leaves_nothing_of_the_first() {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let path = folder.path().join("file with spaces");
        write_whole(&path, b"longer text").expect("written");
        write_whole(&path, b"short").expect("written again");
        assert_eq!(fs::read(&path).expect("readable"), b"short");
        assert_eq!(fs::read_dir(folder.path()).expect("listed").count(), 1);
    }

    #[test]
    fn what_is_dropped_unfinished_leaves_the_place_as_it_was() {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let path = folder.path().join("file");
        write_whole(&path, b"first").expect("written");
        let mut unfinished = Unfinished::beside(&path).expect("begun");
        unfinished.file().write_all(b"second").expect("written");
        drop(unfinished);
        assert_eq!(fs::read(&path).expect("readable"), b"first");
        assert_eq!(fs::read_dir(folder.path()).expect("listed").count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn a_name_may_be_as_long_as_names_may_be() {
        // NAME_MAX of Linux and most file systems.
        const LONGEST: usize = 255;
        let folder = tempfile::tempdir().expect("a scratch folder");
        let path = folder.path().join("x".repeat(LONGEST));
        write_whole(&path, b"long").expect("written");
        assert_eq!(fs::read(&path).expect("readable"), b"long");
    }

    #[test]
    fn a_missing_folder_is_named() {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let error =
            write_whole(&folder.path().join("absent").join("file"), b"x").expect_err("no folder");
        assert_eq!(error.act, "create");
        assert!(error.to_string().contains("absent"));
    }
}
