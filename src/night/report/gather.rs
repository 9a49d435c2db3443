//! Putting the report together from what the queue kept. Nothing is decoded, and no clock is compared.

use super::account::ShowAccount;
use crate::night::outlook::Counts;
use crate::night::queue::{
    DatedRemark, FrameReport, JobState, OutputState, OutputWish, Queue, QueueError, RunReport,
    ShowStatus, WishId,
};
use crate::night::run::space::free;
use std::path::PathBuf;

/// What the morning is told.
#[derive(Clone, Debug)]
pub struct Report {
    /// The shows, in the order in which they come.
    pub shows: Vec<ShowReport>,
    /// All runs that worked on the queue.
    pub runs: Vec<RunReport>,
    /// What happened beside the pictures.
    pub remarks: Vec<DatedRemark>,
    /// The output folders.
    pub folders: Vec<FolderReport>,
}

/// A show and what became of it.
#[derive(Clone, Debug)]
pub struct ShowReport {
    /// At a glance.
    pub status: ShowStatus,
    /// How far its frames are.
    pub counts: Counts,
    /// What was to be made of each frame.
    pub wishes: Vec<(WishId, OutputWish)>,
    /// Its frames, in its order; dropped ones are not among them.
    pub frames: Vec<FrameReport>,
    /// What solving found; `None` before, and where it cannot be read.
    pub account: Option<ShowAccount>,
    /// Why it cannot be read: another version of the program wrote it, say.
    pub unread: Option<String>,
}

/// An output folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FolderReport {
    /// The folder.
    pub folder: PathBuf,
    /// Pictures in it that the queue made.
    pub pictures: u64,
    /// Their bytes.
    pub bytes: u64,
    /// Bytes that are free there now; `None` where it is away, or the system does not say.
    pub free: Option<u64>,
}

impl Report {
    /// What the queue says; `only`: of one show.
    ///
    /// # Errors
    /// When the queue cannot be read, and when it has no such show.
    pub fn of(queue: &mut Queue, only: Option<&str>) -> Result<Self, QueueError> {
        let mut shows = Vec::new();
        let wanted = |show: &ShowStatus| only.is_none_or(|name| show.name == name);
        for status in queue.status()?.shows.into_iter().filter(wanted) {
            let show = status.show;
            let mut frames = queue.frames(show)?;
            frames.retain(|frame| frame.state != JobState::Dropped);
            let found = queue.found(show)?;
            let (account, unread) = match found.map(|text| serde_json::from_str(&text)) {
                None => (None, None),
                Some(Ok(account)) => (Some(account), None),
                Some(Err(error)) => (None, Some(error.to_string())),
            };
            shows.push(ShowReport {
                counts: Counts::of(&status),
                wishes: queue.wishes(show)?,
                frames,
                account,
                unread,
                status,
            });
        }
        if let (Some(name), true) = (only, shows.is_empty()) {
            return Err(QueueError::UnknownShow(name.to_owned()));
        }
        Ok(Self {
            folders: folders(&shows),
            shows,
            runs: queue.runs()?,
            remarks: queue.remarks()?,
        })
    }

    /// How far all frames are.
    #[must_use]
    pub fn counts(&self) -> Counts {
        self.shows.iter().map(|show| show.counts).sum()
    }
}

impl ShowReport {
    /// Worker seconds that metering and making took.
    #[must_use]
    pub fn seconds(&self) -> (f64, f64) {
        let sum = |seconds: &dyn Fn(&FrameReport) -> Option<f64>| {
            self.frames.iter().filter_map(seconds).sum::<f64>() + 0.0
        };
        (
            sum(&|frame| frame.metering_seconds),
            sum(&|frame| frame.making_seconds),
        )
    }
}

fn folders(shows: &[ShowReport]) -> Vec<FolderReport> {
    let mut folders: Vec<FolderReport> = Vec::new();
    let mut add = |folder: &PathBuf, pictures: u64, bytes: u64| {
        let known = folders.iter_mut().find(|known| known.folder == *folder);
        match known {
            Some(known) => {
                known.pictures += pictures;
                known.bytes += bytes;
            }
            None => folders.push(FolderReport {
                folder: folder.clone(),
                pictures,
                bytes,
                free: free(folder),
            }),
        }
    };
    for show in shows {
        for (wish, of_wish) in &show.wishes {
            let outputs = show.frames.iter().flat_map(|frame| &frame.outputs);
            let made =
                outputs.filter(|output| output.wish == *wish && output.state == OutputState::Made);
            let (pictures, bytes) = made.fold((0, 0_u64), |(pictures, bytes), output| {
                (
                    pictures + 1,
                    bytes.saturating_add(output.bytes.unwrap_or(0)),
                )
            });
            add(&of_wish.folder, pictures, bytes);
        }
    }
    folders
}
