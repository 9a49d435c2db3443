//! Whether what is added belongs to the show that has its name: cards and their folders are all called alike, and are filled
//! again with another night's frames.

use super::plan::AddError;
use crate::crew::stamp::{Outline, head_of};
use crate::crew::task::Stamp;
use crate::night::depot::Listed;
use crate::night::queue::{Queue, ShowStatus};
use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};

/// A show that nobody named joins the one of its name only where some of that one's frames are of the same folder.
pub(super) fn refuse_another_folder(
    queue: &mut Queue,
    known: &ShowStatus,
    folder: Option<&Path>,
) -> Result<(), AddError> {
    let frames = queue.frames(known.show)?;
    let is_of_it = |frame: &Path| folder.is_some_and(|folder| frame.starts_with(folder));
    let Some(first) = frames.first() else {
        return Ok(());
    };
    if frames.iter().any(|frame| is_of_it(&frame.frame)) {
        return Ok(());
    }
    let of_first = first.frame.parent().unwrap_or(&first.frame);
    Err(AddError::NameTaken {
        name: known.name.clone(),
        folder: of_first.to_path_buf(),
    })
}

/// Frames of the show from which pictures were made must be what they were then.
pub(super) fn refuse_other_frames(
    queue: &mut Queue,
    known: &ShowStatus,
    frames: &[PathBuf],
    stored: &[Listed],
) -> Result<(), AddError> {
    let mut added: Vec<PathBuf> = (frames.iter())
        .filter_map(|frame| fs::canonicalize(frame).ok())
        .collect();
    added.sort();
    let stored: HashMap<&Path, Outline> = (stored.iter())
        .map(|object| (object.address.as_path(), object.outline))
        .collect();
    for made_from in queue.frames_with_pictures(known.show)? {
        let is_another = match stored.get(made_from.frame.as_path()) {
            // One that was only stored anew has its size; another of that size is known when it is fetched.
            Some(outline) => outline.bytes != made_from.input.bytes,
            None => {
                added.binary_search(&made_from.frame).is_ok()
                    && is_another(&made_from.frame, &made_from.input)
            }
        };
        if is_another {
            return Err(AddError::OtherFrames {
                name: known.name.clone(),
                frame: made_from.frame,
            });
        }
    }
    Ok(())
}

/// Whether a file is another than when it was read. One that was only copied anew has its size and its beginning.
fn is_another(frame: &Path, input: &Stamp) -> bool {
    match Outline::of(frame) {
        Ok(outline) if outline.fits(input) => false,
        Ok(outline) if outline.bytes == input.bytes => {
            head_of(frame).is_ok_and(|head| head != input.head)
        }
        Ok(_) => true,
        // What cannot be looked at is told when it is read.
        Err(_) => false,
    }
}
