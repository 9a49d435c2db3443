//! A batch ready to start: frames found, output folder held, ledger read, every picture named. No frame is opened yet.

use super::folder::{FolderError, OutputFolder};
use super::gather::{GatherError, gather};
use super::ledger::{Ledger, LedgerError};
use super::names::{GivenNames, picture_names};
use crate::crew::stamp::Outline;
use std::collections::HashSet;
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

/// A frame of the batch.
#[derive(Clone, Debug)]
pub struct BatchFrame {
    /// As it was named or found: what people are told.
    pub shown: PathBuf,
    /// From the root, without links: what the ledger knows.
    pub real: PathBuf,
    /// Size and time, where the file can be looked at.
    pub outline: Option<Outline>,
    /// File name of its picture.
    pub picture: OsString,
}

/// A batch ready to start.
#[derive(Debug)]
pub struct Batch {
    /// Sorted by path.
    pub frames: Vec<BatchFrame>,
    /// Held by this run.
    pub folder: OutputFolder,
    /// What was made before.
    pub ledger: Ledger,
    /// What a person should know before the start.
    pub remarks: Vec<String>,
    /// Folders that could not be searched: path and reason. Each counts as a failure.
    pub unreadable: Vec<(PathBuf, String)>,
}

/// Why a batch cannot start.
#[derive(Debug, thiserror::Error)]
pub enum BatchError {
    /// Nothing to do.
    #[error(transparent)]
    Gather(#[from] GatherError),
    /// Nowhere to put pictures.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// No ledger.
    #[error(transparent)]
    Ledger(#[from] LedgerError),
    /// A picture would replace a frame.
    #[error(
        "the picture of {} would replace the frame {}; choose another folder with --to", frame.display(), replaced.display()
    )]
    WouldReplace {
        /// The frame of the picture.
        frame: PathBuf,
        /// The frame that stands in its place.
        replaced: PathBuf,
    },
}

impl Batch {
    /// Gathers the frames of `named` files and folders for pictures of this ending in the folder `to`.
    ///
    /// # Errors
    /// When there are no frames, when the folder cannot be used, or when a picture would replace a frame.
    pub fn prepare(named: &[PathBuf], to: &Path, ending: &str) -> Result<Self, BatchError> {
        let gathered = gather(named, Some(to))?;
        let folder = OutputFolder::take(to)?;
        let ledger = Ledger::open(folder.path())?;
        let mut remarks = Vec::new();
        if gathered.passed_over > 0 {
            remarks.push(format!(
                "{} named {} without a raw file's name passed over",
                gathered.passed_over,
                files(gathered.passed_over)
            ));
        }
        if gathered.in_output_folder > 0 {
            remarks.push(format!(
                "{} raw {} inside the output folder {} passed over; name them to have them made",
                gathered.in_output_folder,
                files(gathered.in_output_folder),
                to.display()
            ));
        }
        if folder.without_lock {
            remarks.push(format!(
                "the drive of {} knows no locks: let no second run work into it",
                to.display()
            ));
        }
        if ledger.damaged_lines > 0 {
            remarks.push(format!(
                "{} lines of the record of what was made are damaged; the pictures they noted are made again",
                ledger.damaged_lines
            ));
        }
        let mut batch = Self {
            frames: described(gathered.frames),
            folder,
            ledger,
            remarks,
            unreadable: gathered.unreadable,
        };
        batch.frames.sort_by(|a, b| a.real.cmp(&b.real));
        batch.name_pictures(ending);
        batch.refuse_to_replace_frames()?;
        Ok(batch)
    }

    /// The path of a frame's picture.
    #[must_use]
    pub fn picture_path(&self, frame: &BatchFrame) -> PathBuf {
        self.folder.path().join(&frame.picture)
    }

    fn name_pictures(&mut self, ending: &str) {
        let real: Vec<PathBuf> = self.frames.iter().map(|frame| frame.real.clone()).collect();
        let names = picture_names(&real, ending, &Known(self, ending));
        for (frame, name) in self.frames.iter_mut().zip(names) {
            frame.picture = name;
        }
    }

    /// No picture ends like a raw file, so this cannot happen while both rules hold; originals are worth asking twice.
    fn refuse_to_replace_frames(&self) -> Result<(), BatchError> {
        let originals: HashSet<&Path> = self
            .frames
            .iter()
            .map(|frame| frame.real.as_path())
            .collect();
        for frame in &self.frames {
            let place = self.picture_path(frame);
            if let Some(&replaced) = originals.get(place.as_path()) {
                return Err(BatchError::WouldReplace {
                    frame: frame.shown.clone(),
                    replaced: replaced.to_path_buf(),
                });
            }
        }
        Ok(())
    }
}

fn described(frames: Vec<PathBuf>) -> Vec<BatchFrame> {
    let described = frames.into_iter().map(|shown| {
        let real = fs::canonicalize(&shown).unwrap_or_else(|_| shown.clone());
        let outline = Outline::of(&shown).ok();
        BatchFrame {
            real,
            outline,
            picture: OsString::new(),
            shown,
        }
    });
    described.collect()
}

/// The names that the ledger knows for the frames of a batch.
struct Known<'a>(&'a Batch, &'a str);

impl GivenNames for Known<'_> {
    fn name_of(&self, frame: usize) -> Option<OsString> {
        let frame = &self.0.frames[frame];
        let Batch { ledger, .. } = self.0;
        ledger.picture_name(&frame.real, frame.outline, self.1)
    }

    fn all(&self) -> Vec<OsString> {
        let names = self.0.ledger.picture_names();
        names.map(ToOwned::to_owned).collect()
    }
}

/// "file" or "files".
fn files(count: usize) -> &'static str {
    if count == 1 { "file" } else { "files" }
}
