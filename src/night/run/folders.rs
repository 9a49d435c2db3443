//! The output folders that a run works into: shared with other runs, kept from `carry`, each with its ledger.

use super::marks::has_mark;
use crate::show::folder::OutputFolder;
use crate::show::ledger::{Ledger, LedgerError};
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// A folder that is held.
#[derive(Debug)]
pub struct HeldFolder {
    /// Its lock.
    _folder: OutputFolder,
    mark: String,
    /// What was made in it.
    pub ledger: Ledger,
}

/// Why a folder cannot be worked into now. Whatever it is may pass.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FolderTrouble {
    /// The folder.
    pub folder: PathBuf,
    /// What is the matter, where the folder is there.
    pub reason: Option<String>,
    /// Whether its drive has no space left.
    pub is_full: bool,
}

impl FolderTrouble {
    /// A ledger that cannot be used.
    #[must_use]
    pub fn of_ledger(folder: &Path, error: &LedgerError) -> Self {
        Self {
            folder: folder.to_path_buf(),
            reason: Some(error.to_string()),
            is_full: error.is_disk_full(),
        }
    }

    /// A folder that is not there, or is another one.
    #[must_use]
    pub fn away(folder: &Path) -> Self {
        Self {
            folder: folder.to_path_buf(),
            reason: None,
            is_full: false,
        }
    }
}

/// The folders of a run.
#[derive(Debug, Default)]
pub struct Folders(HashMap<PathBuf, HeldFolder>);

impl Folders {
    /// Holds a folder, now if it was not held before. That it is still the same folder is asked each time.
    ///
    /// # Errors
    /// When it is away, cannot be written into, or is another command's.
    pub fn hold(&mut self, folder: &Path, mark: &str) -> Result<&mut HeldFolder, FolderTrouble> {
        if !has_mark(folder, mark) {
            self.0.remove(folder);
            return Err(FolderTrouble::away(folder));
        }
        let held = match self.0.remove(folder) {
            Some(held) => held,
            None => {
                let shared = OutputFolder::share(folder).map_err(|error| FolderTrouble {
                    folder: folder.to_path_buf(),
                    is_full: error.is_disk_full(),
                    reason: Some(error.to_string()),
                })?;
                let ledger = Ledger::open_shared(folder);
                HeldFolder {
                    ledger: ledger.map_err(|error| FolderTrouble::of_ledger(folder, &error))?,
                    mark: mark.to_owned(),
                    _folder: shared,
                }
            }
        };
        Ok(self.0.entry(folder.to_path_buf()).or_insert(held))
    }

    /// Lets a folder go: what was known of it may be out of date.
    pub fn forget(&mut self, folder: &Path) {
        self.0.remove(folder);
    }

    /// Lets all go. What a worker that died left unfinished is removed where nobody else is at work.
    pub fn leave(&mut self) {
        for (path, held) in self.0.drain() {
            let mark = held.mark.clone();
            drop(held);
            // Whoever shares it alone clears it; where another run still holds it, that one will.
            if has_mark(&path, &mark) {
                drop(OutputFolder::share(&path));
            }
        }
    }
}
