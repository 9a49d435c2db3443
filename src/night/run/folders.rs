//! The output folders that a run works into: shared with other runs, kept from `carry`, each with its ledger.

use super::marks::has_mark;
use crate::show::folder::OutputFolder;
use crate::show::ledger::Ledger;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// A folder that is held.
#[derive(Debug)]
pub struct HeldFolder {
    /// Its lock.
    _folder: OutputFolder,
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
        let trouble = |reason| FolderTrouble {
            folder: folder.to_path_buf(),
            reason,
        };
        if !has_mark(folder, mark) {
            self.0.remove(folder);
            return Err(trouble(None));
        }
        let held = match self.0.remove(folder) {
            Some(held) => held,
            None => {
                let shared = OutputFolder::share(folder);
                let shared = shared.map_err(|error| trouble(Some(error.to_string())))?;
                let ledger = Ledger::open_shared(folder);
                HeldFolder {
                    ledger: ledger.map_err(|error| trouble(Some(error.to_string())))?,
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
            drop(held);
            // Whoever shares it alone clears it; where another run still holds it, that one will.
            drop(OutputFolder::share(&path));
        }
    }
}
