//! The folders that pictures go into: made and marked when a show is added.

use super::marks::{mark, restore};
use super::plan::{AddError, WishJob};
use crate::night::depot::{Depot, is_stored, settled};
use crate::night::queue::OutputWish;
use std::fs;
use std::path::{Path, PathBuf};

/// The wishes with their folders and marks. Two that differ cannot share a folder and an ending: a folder's ledger knows one
/// picture of each frame and ending.
pub(super) fn wishes(
    depot: &mut Depot,
    jobs: Vec<WishJob>,
    known: Vec<OutputWish>,
) -> Result<Vec<OutputWish>, AddError> {
    let mut wishes: Vec<OutputWish> = Vec::with_capacity(jobs.len());
    for job in jobs {
        let (folder, mark) = marked(depot, &job.folder, &known)?;
        let wish = OutputWish {
            folder,
            mark,
            delivery: job.delivery,
            profile: job.profile,
        };
        let ending = |wish: &OutputWish| wish.delivery.wish.format.ending();
        let is_in_the_way = |other: &OutputWish| {
            other.folder == wish.folder
                && ending(other) == ending(&wish)
                && !other.is_same_but_for_the_mark(&wish)
        };
        if wishes.iter().chain(&known).any(is_in_the_way) {
            return Err(AddError::TwoOfOneFolder {
                ending: ending(&wish),
                folder: wish.folder,
            });
        }
        wishes.push(wish);
    }
    Ok(wishes)
}

/// A folder for pictures, made if need be, from the root and without links; and its mark. A folder of the show that somebody
/// removed gets the mark it had: whoever waits for it goes on. In a store there is nothing to make, and nothing to mark: it
/// is asked whether it lets this machine in.
fn marked(
    depot: &mut Depot,
    folder: &Path,
    known: &[OutputWish],
) -> Result<(PathBuf, String), AddError> {
    if is_stored(folder) {
        let folder = settled(folder);
        depot.lets_in(&folder)?;
        return Ok((folder, String::new()));
    }
    let refused = |source| AddError::Folder {
        folder: folder.to_path_buf(),
        source,
    };
    fs::create_dir_all(folder).map_err(refused)?;
    let real = fs::canonicalize(folder).map_err(refused)?;
    for wish in known.iter().filter(|wish| wish.folder == real) {
        let _ = restore(&real, &wish.mark);
    }
    let mark = mark(&real).map_err(refused)?;
    Ok((real, mark))
}
