//! What is given to the queue: shows, their frames, and what is to be made of them.

use super::ids::ShowId;
use crate::crew::lossless_path;
use crate::crew::task::Delivery;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// What one `night add` gives: a show, or more of one.
#[derive(Clone, Debug)]
pub struct NewShow {
    /// Its name: a show of this name that waits already gets the frames and wishes too.
    pub name: String,
    /// What a person asked, as the planner wrote it (JSON). `None` keeps what a waiting show has.
    pub asked: Option<String>,
    /// Lower comes first, 0 to [`LOWEST_PRIORITY`]. `None` keeps what a waiting show has, else [`USUAL_PRIORITY`].
    pub priority: Option<u8>,
    /// Its frames, in the show's order.
    pub frames: Vec<NewFrame>,
    /// What is to be made of each frame.
    pub wishes: Vec<OutputWish>,
}

/// The priority of a show for which nobody asks another.
pub const USUAL_PRIORITY: u8 = 5;
/// The last priority.
pub const LOWEST_PRIORITY: u8 = 9;

/// A frame of a show.
#[derive(Clone, Debug)]
pub struct NewFrame {
    /// From the root, without links.
    pub frame: PathBuf,
    /// As a person named it or it was found.
    pub shown: PathBuf,
    /// Size of its file.
    pub bytes: u64,
    /// Whether its pictures come before those of the show's other frames.
    pub is_first: bool,
}

/// What is to be made of every frame of a show: one picture each.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OutputWish {
    /// The folder for the pictures, from the root and without links.
    #[serde(with = "lossless_path")]
    pub folder: PathBuf,
    /// What the marker file in the folder holds: tells the folder from the empty mount point of its drive.
    pub mark: String,
    /// How pictures are delivered; the planner settles for each frame what depends on it.
    pub delivery: Delivery,
    /// The profile that pictures are converted into.
    #[serde(with = "lossless_path::optional")]
    pub profile: Option<PathBuf>,
}

impl OutputWish {
    /// Whether this is the same wish, for a folder that may have been made anew since.
    #[must_use]
    pub fn is_same_but_for_the_mark(&self, other: &Self) -> bool {
        let Self {
            folder,
            mark: _,
            delivery,
            profile,
        } = self;
        (folder, delivery, profile) == (&other.folder, &other.delivery, &other.profile)
    }
}

/// What came of an `add`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Added {
    /// The show.
    pub show: ShowId,
    /// Whether it was not there before.
    pub is_new: bool,
    /// Frames that it did not have, or that were dropped from it.
    pub frames: usize,
    /// Frames that it had already.
    pub known_frames: usize,
    /// Output wishes that it did not have.
    pub wishes: usize,
    /// Whether what a person asks of it is another than before.
    pub is_asked_anew: bool,
}
