//! The mark in an output folder: tells the folder from the empty mount point that an unplugged drive leaves behind, and one
//! drive from another that is mounted in its place.

use crate::base::files::write_whole;
use crate::crew::stamp::digest;
use std::fs;
use std::io;
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};

/// The hidden file's name.
pub const MARK_NAME: &str = ".houselights-night";

/// Longest mark that is read, in bytes: ours have 65.
const LONGEST: u64 = 256;

/// The mark of a folder; made if there is none.
///
/// # Errors
/// When it can be neither read nor written.
pub fn mark(folder: &Path) -> io::Result<String> {
    if let Some(known) = mark_of(folder) {
        return Ok(known);
    }
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    let now = since.map_or(0, |since| since.as_nanos());
    // No two folders are marked by one process in one nanosecond.
    let new = digest(&(
        now.to_string(),
        std::process::id(),
        folder.to_string_lossy(),
    ));
    write_whole(&folder.join(MARK_NAME), format!("{new}\n").as_bytes())
        .map_err(|error| error.source)?;
    Ok(new)
}

/// Makes a marked folder again that somebody removed, with the mark it had; whether it did. Where the folder above it is not
/// there either, or is empty, its drive is away, and nothing is made.
#[must_use]
pub fn restore(folder: &Path, mark: &str) -> bool {
    let has_neighbours = folder
        .parent()
        .and_then(|parent| fs::read_dir(parent).ok())
        .is_some_and(|mut entries| entries.next().is_some());
    if has_mark(folder, mark)
        || folder.join(MARK_NAME).exists()
        || !(has_neighbours || folder.is_dir())
    {
        return false;
    }
    fs::create_dir_all(folder).is_ok()
        && write_whole(&folder.join(MARK_NAME), format!("{mark}\n").as_bytes()).is_ok()
}

/// Whether a folder is there and has this mark.
#[must_use]
pub fn has_mark(folder: &Path, mark: &str) -> bool {
    mark_of(folder).is_some_and(|known| known == mark)
}

fn mark_of(folder: &Path) -> Option<String> {
    let path = folder.join(MARK_NAME);
    if fs::metadata(&path).ok()?.len() > LONGEST {
        return None;
    }
    let text = fs::read_to_string(path).ok()?;
    Some(text.trim().to_owned()).filter(|text| !text.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_keeps_its_mark_and_no_other_has_it() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let [one, other] = ["one", "other"].map(|name| scratch.path().join(name));
        assert!(mark(&one).is_err());
        fs::create_dir(&one).expect("made");
        fs::create_dir(&other).expect("made");
        let first = mark(&one).expect("marked");
        assert_eq!(mark(&one).expect("marked"), first);
        assert!(has_mark(&one, &first) && !has_mark(&other, &first));
        assert_ne!(mark(&other).expect("marked"), first);
        // Another drive in its place.
        fs::rename(&one, scratch.path().join("unplugged")).expect("moved");
        fs::create_dir(&one).expect("an empty mount point");
        assert!(!has_mark(&one, &first));
        assert!(restore(&one, &first) && has_mark(&one, &first));
        assert!(!restore(&one, &first), "it has its mark");
        assert!(!restore(&scratch.path().join("absent/folder"), &first));
    }
}
