//! Planning what `night add` gives to the queue: frames found, output folders made and marked, what is asked kept as it is.

use super::listing::{Found, found};
use super::same_frames::{refuse_another_folder, refuse_other_frames};
use super::snapshot::Snapshot;
use super::wishes::wishes;
use crate::crew::task::Delivery;
use crate::night::depot::{Depot, DepotError, is_stored, meant, settled};
use crate::night::queue::{
    Added, JobState, NewFrame, NewShow, OutputWish, Place, Queue, QueueError,
};
use crate::raw::is_raw_name;
use crate::show::gather::GatherError;
use std::collections::HashSet;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// What is to be made of every frame, as a person asks it.
#[derive(Clone, Debug)]
pub struct WishJob {
    /// The folder for the pictures; made if it is not there.
    pub folder: PathBuf,
    /// How pictures are delivered.
    pub delivery: Delivery,
    /// The profile that they are converted into.
    pub profile: Option<PathBuf>,
}

/// What is to be added.
#[derive(Clone, Debug)]
pub struct AddJob {
    /// The show's name; `None` for that of the folder that was named first.
    pub name: Option<String>,
    /// Files and folders with its frames.
    pub frames: Vec<PathBuf>,
    /// Files and folders with those whose pictures come before the others'.
    pub first: Vec<PathBuf>,
    /// What a person asks; `None` for nothing, which keeps what a waiting show has.
    pub asked: Option<Snapshot>,
    /// What is asked of a new show when `asked` is `None`.
    pub asked_by_default: Snapshot,
    /// Lower comes first.
    pub priority: Option<u8>,
    /// What is to be made of each frame.
    pub wishes: Vec<WishJob>,
}

/// A folder for pictures.
#[derive(Clone, Debug)]
pub struct PlannedFolder {
    /// What is to be made there.
    pub wish: OutputWish,
    /// Whether the folder was made for it.
    pub is_new: bool,
}

/// What came of it.
#[derive(Clone, Debug)]
pub struct Addition {
    /// The show's name.
    pub name: String,
    /// What the queue says.
    pub added: Added,
    /// Frames that the show had before.
    pub had: u64,
    /// What is to be made of each frame.
    pub outputs: Vec<PlannedFolder>,
    /// Files that were named and have no raw's name.
    pub passed_over: usize,
    /// Folders that could not be searched: path and reason.
    pub unreadable: Vec<(PathBuf, String)>,
    /// Frames named as first that the show does not have.
    pub not_in_show: Vec<PathBuf>,
}

/// Why nothing is added.
#[derive(Debug, thiserror::Error)]
pub enum AddError {
    /// No frames.
    #[error(transparent)]
    Gather(#[from] GatherError),
    /// A folder for pictures.
    #[error("cannot make pictures in {}: {source}; make it writable, or choose another folder with --to", folder.display())]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// Two wishes for one kind of picture in one folder.
    #[error(
        "the show would have two pictures ending in .{ending} of each frame in {}; give each kind a folder of its own with --to, or drop the show and add it again to have others",
        folder.display()
    )]
    TwoOfOneFolder {
        /// The folder.
        folder: PathBuf,
        /// How their names end.
        ending: &'static str,
    },
    /// A new show without a folder for its pictures.
    #[error("the queue has no show {0:?} yet, so say where its pictures go, with --to DIR")]
    NoWish(String),
    /// Another show has the name that this one would get by itself.
    #[error(
        "a show {name} of {} is in the queue; --show {name} adds to it, --show with another name makes a new one",
        folder.display()
    )]
    NameTaken {
        /// The name.
        name: String,
        /// Where a frame of that show lies.
        folder: PathBuf,
    },
    /// Other frames than those that pictures were made from.
    #[error(
        "show {name}: other frames lie at {} and beside it now than those its pictures were made from; add them as a new show with --show, or `houselights night retry {}` to replace the pictures",
        frame.display(), frame.display()
    )]
    OtherFrames {
        /// The show.
        name: String,
        /// One of the frames.
        frame: PathBuf,
    },
    /// No frames in a store.
    #[error("no raw files below {}; name raw files, or an address that holds some", .0.display())]
    NoneStored(PathBuf),
    /// An object store.
    #[error(transparent)]
    Depot(#[from] DepotError),
    /// An address that is written a little wrong.
    #[error(
        "{} begins almost like an address in an object store; write {meant}, or ./{} for a folder of that name here",
        path.display(), path.display()
    )]
    Misspelt {
        /// As it was given.
        path: PathBuf,
        /// As it must be written.
        meant: String,
    },
    /// No name.
    #[error("what was named has no name to call the show by; give one with --show")]
    NoName,
    /// The queue.
    #[error(transparent)]
    Queue(#[from] QueueError),
}

/// Adds to the queue what a person asks. The queue is begun, where there is none, when nothing else can be wrong any more.
///
/// # Errors
/// When there are no frames, no folder for their pictures, or the queue cannot be written: then nothing is added.
pub fn add(place: &Place, job: AddJob) -> Result<Addition, AddError> {
    let folders = job.wishes.iter().map(|wish| &wish.folder);
    for named in job.frames.iter().chain(&job.first).chain(folders) {
        refuse_misspelt(named)?;
    }
    let mut known_queue = match Queue::open_existing(place) {
        Ok(queue) => Some(queue),
        Err(QueueError::Absent(_)) => None,
        Err(error) => return Err(error.into()),
    };
    let folder = job.frames.first().and_then(|path| folder_of(path));
    let name = match &job.name {
        Some(name) => Some(name.clone()),
        None => folder.as_deref().and_then(name_of),
    };
    let name = name
        .filter(|name| !name.trim().is_empty())
        .ok_or(AddError::NoName)?;
    let shows = match &mut known_queue {
        Some(queue) => queue.status()?.shows,
        None => Vec::new(),
    };
    let known = shows.iter().find(|show| show.name == name);
    if job.wishes.is_empty() && known.is_none() {
        return Err(AddError::NoWish(name));
    }
    let output_folder = job.wishes.first().map(|wish| wish.folder.as_path());
    let mut depot = Depot::new()?;
    let Found { gathered, stored } = found(&mut depot, &job.frames, output_folder)?;
    let known_wishes = match (known, &mut known_queue) {
        (Some(known), Some(queue)) => {
            if job.name.is_none() {
                refuse_another_folder(queue, known, folder.as_deref())?;
            }
            refuse_other_frames(queue, known, &gathered.frames, &stored)?;
            queue.wishes(known.show)?
        }
        _ => Vec::new(),
    };
    let known_wishes = known_wishes.into_iter().map(|(_, wish)| wish);
    // In a store a folder is nothing of its own, that could be new.
    let were_there: Vec<bool> = (job.wishes.iter())
        .map(|wish| is_stored(&wish.folder) || wish.folder.exists())
        .collect();
    let wishes = wishes(&mut depot, job.wishes, known_wishes.collect())?;
    let outputs = wishes
        .iter()
        .zip(were_there)
        .map(|(wish, was_there)| PlannedFolder {
            wish: wish.clone(),
            is_new: !was_there,
        });
    let outputs = outputs.collect();
    let had = known.map_or(0, |show| {
        let jobs = show.jobs.iter();
        let waiting = jobs.filter(|count| count.state != JobState::Dropped);
        waiting.map(|count| count.jobs).sum()
    });
    let folders: Vec<&Path> = wishes.iter().map(|wish| wish.folder.as_path()).collect();
    let named: Vec<PathBuf> = job.frames.iter().cloned().map(real).collect();
    let first: HashSet<PathBuf> = match job.first.is_empty() {
        true => HashSet::new(),
        false => {
            let found = found(&mut depot, &job.first, None)?;
            let stored = found.stored.into_iter().map(|object| object.address);
            let local = found.gathered.frames.into_iter().map(real);
            local.chain(stored).collect()
        }
    };
    let shown = gathered.frames.into_iter().map(|shown| {
        let frame = real(shown.clone());
        let bytes = fs::metadata(&frame).map_or(0, |about| about.len());
        (shown, frame, bytes)
    });
    let stored = stored.into_iter().map(|object| {
        let bytes = object.outline.bytes;
        (object.address.clone(), object.address, bytes)
    });
    let mut frames: Vec<NewFrame> = Vec::new();
    for (shown, frame, bytes) in shown.chain(stored) {
        // Raws in the other output folders are passed over too, unless a person named that very folder or file.
        let is_output = folders.iter().any(|folder| {
            frame.starts_with(folder)
                && !named.iter().any(|named| named == folder || *named == frame)
        });
        if !is_output {
            frames.push(NewFrame {
                bytes,
                is_first: first.contains(&frame),
                frame,
                shown,
            });
        }
    }
    frames.sort_by(|a, b| a.frame.cmp(&b.frame));
    let taken: HashSet<&Path> = frames.iter().map(|frame| frame.frame.as_path()).collect();
    let mut not_in_show: Vec<PathBuf> = (first.iter())
        .filter(|frame| !taken.contains(frame.as_path()))
        .cloned()
        .collect();
    not_in_show.sort();
    let asked = match (job.asked, known) {
        (Some(asked), _) => Some(asked),
        (None, Some(_)) => None,
        (None, None) => Some(job.asked_by_default),
    };
    let new = NewShow {
        name: name.clone(),
        asked: asked.map(|asked| asked.to_text()),
        priority: job.priority,
        frames,
        wishes,
    };
    let mut queue = match known_queue {
        Some(queue) => queue,
        None => Queue::open(place)?,
    };
    let added = queue.add(&new)?;
    Ok(Addition {
        name,
        added,
        had,
        outputs,
        passed_over: gathered.passed_over,
        unreadable: gathered.unreadable,
        not_in_show,
    })
}

/// What is almost an address would be a folder here that nobody looks into.
///
/// # Errors
/// For `s3:/bucket` and `S3://bucket`.
pub fn refuse_misspelt(path: &Path) -> Result<(), AddError> {
    match meant(path) {
        None => Ok(()),
        Some(meant) => Err(AddError::Misspelt {
            path: path.to_path_buf(),
            meant,
        }),
    }
}

fn real(path: PathBuf) -> PathBuf {
    if is_stored(&path) {
        return settled(&path);
    }
    fs::canonicalize(&path).unwrap_or(path)
}

/// The folder of what was named: of a file, the one it is in.
fn folder_of(path: &Path) -> Option<PathBuf> {
    // What is not there is told by whoever looks for frames in it.
    let real = real(path.to_path_buf());
    let is_frame = match is_stored(&real) {
        true => is_raw_name(&real),
        false => real.is_file(),
    };
    match is_frame {
        true => Some(real.parent()?.to_path_buf()),
        false => Some(real),
    }
}

/// What a show is called that nobody named: as the folder of its first frames.
fn name_of(folder: &Path) -> Option<String> {
    Some(folder.file_name()?.to_string_lossy().into_owned())
}
