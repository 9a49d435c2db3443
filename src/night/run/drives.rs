//! Drives that are away: shows that cannot be worked on until a folder is back.

use super::folders::FolderTrouble;
use super::marks::has_mark;
use super::space;
use crate::night::queue::ShowId;
use std::collections::BTreeMap;
use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Why a show is held.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Why {
    /// The folder of its frames is away.
    Source,
    /// An output folder is away, or cannot be worked into now.
    Output {
        /// Its mark.
        mark: String,
    },
    /// The drive of an output folder is short of space.
    Space {
        /// Bytes that must be free before anything more is written.
        needed: u64,
    },
}

/// A show that is held.
#[derive(Clone, Debug)]
pub struct Hold {
    /// The folder that it waits for.
    pub folder: PathBuf,
    /// Why.
    pub why: Why,
    /// Since when.
    pub since: Instant,
}

impl Hold {
    fn is_over(&self) -> bool {
        match &self.why {
            Why::Source => is_there(&self.folder),
            Why::Output { mark } => has_mark(&self.folder, mark) && can_be_written(&self.folder),
            Why::Space { needed } => space::free(&self.folder).is_some_and(|free| free >= *needed),
        }
    }
}

/// Shows that are held.
#[derive(Debug, Default)]
pub struct Holds(BTreeMap<ShowId, Hold>);

impl Holds {
    /// The shows.
    #[must_use]
    pub fn shows(&self) -> Vec<ShowId> {
        self.0.keys().copied().collect()
    }

    /// The folders that are waited for, each once.
    #[must_use]
    pub fn folders(&self) -> Vec<PathBuf> {
        let mut folders: Vec<PathBuf> = self.0.values().map(|hold| hold.folder.clone()).collect();
        folders.sort();
        folders.dedup();
        folders
    }

    /// Holds a show; whether it was not held before.
    pub fn hold(&mut self, show: ShowId, folder: PathBuf, why: Why) -> bool {
        let hold = Hold {
            folder,
            why,
            since: Instant::now(),
        };
        self.0.insert(show, hold).is_none()
    }

    /// Holds a show for an output folder.
    pub fn hold_for(&mut self, show: ShowId, trouble: FolderTrouble, mark: &str) -> bool {
        let why = Why::Output {
            mark: mark.to_owned(),
        };
        self.hold(show, trouble.folder, why)
    }

    /// Lets go the shows whose folders are back.
    pub fn look(&mut self) -> Vec<(ShowId, Hold)> {
        let over: Vec<ShowId> = (self.0.iter())
            .filter(|(_, hold)| hold.is_over())
            .map(|(show, _)| *show)
            .collect();
        over.into_iter()
            .filter_map(|show| self.0.remove(&show).map(|hold| (show, hold)))
            .collect()
    }

    /// Whether any is held, and all for want of space.
    #[must_use]
    pub fn are_all_for_space(&self) -> bool {
        !self.0.is_empty()
            && self
                .0
                .values()
                .all(|hold| matches!(hold.why, Why::Space { .. }))
    }
}

/// Whether a folder of frames is there: an unplugged drive leaves its mount point behind, empty, or nothing.
fn is_there(folder: &Path) -> bool {
    fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some())
}

/// Whether anything can be written into a folder: tried, because permissions do not tell of a drive that is read-only.
pub(super) fn can_be_written(folder: &Path) -> bool {
    let probe = folder.join(format!(".houselights-probe-{}", std::process::id()));
    let written = fs::write(&probe, b"");
    // A full drive takes an empty file, as a rule; what it does not take is told as what it is when a picture is written.
    let _ = fs::remove_file(&probe);
    written.is_ok()
}

/// Whether a frame cannot be read because its drive is away, rather than because it was removed or is damaged. Returns the
/// folder to wait for.
#[must_use]
pub fn away(frame: &Path) -> Option<PathBuf> {
    let folder = frame.parent()?;
    match fs::metadata(frame) {
        Ok(_) => {
            // The system may still know the file of a drive that was pulled a moment ago.
            let first = fs::File::open(frame).and_then(|file| {
                let mut byte = [0];
                std::io::Read::read(&mut &file, &mut byte)
            });
            let is_lost = first.is_err_and(|error| is_of_a_drive(&error));
            is_lost.then(|| folder.to_path_buf())
        }
        Err(error) if is_of_a_drive(&error) || !is_there(folder) => Some(folder.to_path_buf()),
        Err(_) => None,
    }
}

/// Errors that speak of a drive and not of a file.
fn is_of_a_drive(error: &std::io::Error) -> bool {
    /// Input/output error, no such device, no such device or address: Linux and the BSDs number them alike.
    const OF_A_DRIVE: [i32; 3] = [5, 6, 19];
    error
        .raw_os_error()
        .is_some_and(|code| OF_A_DRIVE.contains(&code))
        || matches!(
            error.kind(),
            ErrorKind::StaleNetworkFileHandle
                | ErrorKind::NotConnected
                | ErrorKind::HostUnreachable
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_removed_frame_is_told_from_a_removed_drive() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let card = scratch.path().join("card");
        fs::create_dir(&card).expect("made");
        let [one, other] = ["1.nef", "2.nef"].map(|name| card.join(name));
        fs::write(&one, b"x").expect("written");
        assert_eq!(away(&one), None);
        assert_eq!(away(&other), None, "removed, and others are there");
        fs::rename(&card, scratch.path().join("pocket")).expect("unplugged");
        assert_eq!(away(&one), Some(card.clone()));
        fs::create_dir(&card).expect("an empty mount point");
        assert_eq!(away(&one), Some(card.clone()));
        let mut holds = Holds::default();
        assert!(holds.hold(ShowId(1), card.clone(), Why::Source));
        assert!(holds.look().is_empty() && holds.shows() == [ShowId(1)]);
        fs::write(&one, b"x").expect("plugged in");
        assert_eq!(holds.look().len(), 1);
        assert!(holds.shows().is_empty());
    }
}
