//! Frames and pictures wherever they are, as files on this machine.
//!
//! The one seam between a run and object stores. What is on a drive goes through it as it is. A frame in a store is fetched
//! when a worker is to have it, and removed when it is done with, and so are pictures on their way into a store: the scratch
//! folder never holds more than what the workers have in hand, and no more bytes than it may (pictures by what those of their
//! kind take). A frame that would be too much waits for those in hand; one that is too large by itself is worked on alone.

mod folder;
mod inquiries;
mod line;
mod share;
mod sight;

pub(super) use self::sight::{Seen, Sight};

use self::folder::{Room, RunFolder};
use self::inquiries::Inquiries;
use self::line::{Line, Opens};
use self::share::{Share, Shares};
use super::space;
use crate::base::progress::StopWish;
use crate::crew::stamp::{Outline, is_disk_full};
use crate::crew::task::{Cause, Stamp, TaskError};
use crate::night::depot::{Depot, DepotError, Listed, is_stored};
use std::path::{Path, PathBuf};
use std::rc::Rc;

/// A frame as a file on this machine, and room for its pictures that go into a store; both go when this is dropped.
#[derive(Debug, Default)]
pub(super) struct Here {
    /// Where it was fetched to, and its time as the store says.
    fetched: Option<(PathBuf, i64)>,
    room: Option<Room>,
    /// What both take of the scratch folder.
    _share: Option<Share>,
}

/// Why a frame or a picture is not where it should be.
#[derive(Debug)]
pub(super) enum NotHere {
    /// The frame, or its drive.
    OnDrive,
    /// The store is away, or does not let this machine in.
    Store {
        /// What was asked for.
        address: PathBuf,
        /// What the store says.
        reason: String,
    },
    /// The drive of the scratch folder has no room.
    Scratch {
        /// The folder above it.
        folder: PathBuf,
        /// Bytes that are wanted.
        wanted: u64,
    },
    /// The scratch folder cannot be made or written, for another reason.
    NoScratch {
        /// The folder above it.
        folder: PathBuf,
        /// What the system says.
        reason: String,
    },
    /// The scratch folder holds what it may: there is room when what is in hand is done with.
    Busy,
    /// The run was stopped.
    Stopped,
    /// It never will be.
    Never(TaskError),
}

impl Here {
    /// The frame's file.
    pub(super) fn frame<'a>(&'a self, frame: &'a Path) -> &'a Path {
        self.fetched.as_ref().map_or(frame, |(file, _)| file)
    }

    /// Where a picture is made before it goes to its place: in its place, or in scratch where that is in a store.
    pub(super) fn picture(&self, place: &Path, at: usize) -> PathBuf {
        match &self.room {
            Some(room) if is_stored(place) => room.picture(at),
            _ => place.to_path_buf(),
        }
    }

    /// The stamp of a frame as it is in its own place: the store's time, not that of the file that was fetched.
    pub(super) fn stamp(&self, read: Stamp) -> Stamp {
        match &self.fetched {
            Some((_, modified)) => Stamp {
                modified: *modified,
                ..read
            },
            None => read,
        }
    }

    /// An error that names the frame and not the file that was fetched of it.
    pub(super) fn error(&self, error: TaskError, frame: &Path) -> TaskError {
        match &self.fetched {
            Some((file, _)) => renamed(error, file, frame),
            None => error,
        }
    }

    /// An error that names the place of a picture and not the file in which it is made.
    pub(super) fn picture_error(&self, error: TaskError, place: &Path, at: usize) -> TaskError {
        match &self.room {
            Some(room) if is_stored(place) => renamed(error, &room.picture(at), place),
            _ => error,
        }
    }
}

fn renamed(error: TaskError, file: &Path, name: &Path) -> TaskError {
    let (file, name) = (file.display().to_string(), name.display().to_string());
    TaskError {
        reason: error.reason.replace(&file, &name),
        ..error
    }
}

/// The scratch folder of a run, and its line to the stores. Neither is there before it is needed.
#[derive(Debug)]
pub(super) struct Scratch {
    line: Line,
    inquiries: Inquiries,
    folder: Option<RunFolder>,
    shares: Shares,
}

impl Scratch {
    /// With room for so many bytes.
    pub(super) fn new(most: u64, stop: StopWish) -> Self {
        Self::over(most, stop, Rc::new(Depot::new))
    }

    /// Over these stores.
    pub(super) fn over(most: u64, stop: StopWish, opens: Opens) -> Self {
        Self {
            line: Line::new(stop.clone(), Rc::clone(&opens)),
            inquiries: Inquiries::new(stop, opens),
            folder: None,
            shares: Shares::of(most),
        }
    }

    /// The folder whose drive must have room for it.
    pub(super) fn above() -> PathBuf {
        RunFolder::above()
    }

    /// Size and time of a frame.
    pub(super) fn outline(&mut self, frame: &Path) -> Result<Outline, NotHere> {
        if !is_stored(frame) {
            return Outline::of(frame).map_err(|_| NotHere::OnDrive);
        }
        self.ask(frame, |depot, frame| depot.outline(frame))
    }

    /// Room for so many bytes: for the pictures of a frame of which some go into a store, or for the frame itself.
    pub(super) fn room(&mut self, bytes: u64) -> Result<Here, NotHere> {
        let share = self.shares.take(bytes).ok_or(NotHere::Busy)?;
        let above = RunFolder::above();
        let no_room = || NotHere::Scratch {
            folder: RunFolder::above(),
            wanted: bytes,
        };
        if space::free(&above).is_some_and(|free| free < bytes) {
            return Err(no_room());
        }
        let folder = match self.folder.take() {
            Some(folder) => Ok(folder),
            None => RunFolder::made(),
        };
        let room = folder.and_then(|folder| self.folder.insert(folder).room());
        let room = room.map_err(|error| match is_disk_full(&error) {
            true => no_room(),
            false => no_scratch(format!(
                "cannot make a folder in {}: {error}",
                above.display()
            )),
        });
        Ok(Here {
            room: Some(room?),
            fetched: None,
            _share: Some(share),
        })
    }

    /// Fetches a frame into its room, if it is in a store.
    pub(super) fn fetch(&mut self, frame: &Path, here: &mut Here) -> Result<(), NotHere> {
        let Some(room) = here.room.as_ref().filter(|_| is_stored(frame)) else {
            return Ok(());
        };
        let file = room.frame(frame);
        let to = file.clone();
        let fetched = self.ask(frame, move |depot, frame| depot.fetch(frame, &to))?;
        here.fetched = Some((file, fetched.modified));
        Ok(())
    }

    /// The frame, of so many bytes, as a file on this machine.
    pub(super) fn bring(&mut self, frame: &Path, bytes: u64) -> Result<Here, NotHere> {
        if !is_stored(frame) {
            return Ok(Here::default());
        }
        let mut here = self.room(bytes)?;
        self.fetch(frame, &mut here)?;
        Ok(here)
    }

    /// Puts a picture that was made into its place, if that is in a store.
    pub(super) fn put(&mut self, made: PathBuf, place: &Path) -> Result<Stamp, NotHere> {
        let stored = self.ask(place, {
            let made = made.clone();
            move |depot, place| depot.store(&made, place)
        });
        let _ = std::fs::remove_file(made);
        stored
    }

    /// What is stored below an address.
    pub(super) fn list(&mut self, below: &Path) -> Result<Vec<Listed>, NotHere> {
        self.ask(below, |depot, below| depot.list(below))
    }

    /// Begins a look at what is held.
    pub(super) fn begin_look(&mut self) {
        self.inquiries.begin();
    }

    /// Whether a store that was away is known to answer again. It is asked beside the work: a later look knows.
    pub(super) fn answers(&mut self, address: &Path) -> bool {
        self.inquiries.answers(address)
    }

    fn ask<T: Send + 'static>(
        &mut self,
        address: &Path,
        question: impl FnOnce(&mut Depot, &Path) -> Result<T, DepotError> + Send + 'static,
    ) -> Result<T, NotHere> {
        let asked = address.to_path_buf();
        match self.line.ask(move |depot| question(depot, &asked)) {
            None => Err(NotHere::Stopped),
            Some(answer) => answer.map_err(|error| not_here(address, &error)),
        }
    }
}

/// What an error of the depot means for a run: whatever may be another on another day or another machine is waited for.
fn not_here(address: &Path, error: &DepotError) -> NotHere {
    match error {
        DepotError::Absent { .. }
        | DepotError::NotUnderstood { .. }
        | DepotError::NotNamed { .. } => NotHere::Never(task_error(&error.to_string())),
        DepotError::Local { source, .. } if is_disk_full(source) => NotHere::Scratch {
            folder: RunFolder::above(),
            wanted: 0,
        },
        DepotError::Local { .. } => no_scratch(error.to_string()),
        DepotError::Away { .. }
        | DepotError::NoBucket { .. }
        | DepotError::NoServer { .. }
        | DepotError::AskerEnded
        | DepotError::Refused { .. }
        | DepotError::NotInThisBuild { .. }
        | DepotError::NotWhatWasStored { .. }
        | DepotError::NotStarted(_) => NotHere::Store {
            address: address.to_path_buf(),
            reason: error.to_string(),
        },
    }
}

fn no_scratch(reason: String) -> NotHere {
    NotHere::NoScratch {
        folder: RunFolder::above(),
        reason,
    }
}

fn task_error(words: &str) -> TaskError {
    // The rooms' errors say what to do after the last semicolon.
    let (reason, next_step) = match words.rsplit_once("; ") {
        Some((reason, next_step)) => (reason, Some(next_step.to_owned())),
        None => (words, None),
    };
    TaskError {
        cause: Cause::Unreadable,
        reason: reason.to_owned(),
        next_step,
    }
}

#[cfg(all(test, feature = "many-machines"))]
mod tests;
