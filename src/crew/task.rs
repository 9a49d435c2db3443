//! What passes between supervisor and worker: tasks, answers, errors. One JSON line each.

use super::lossless_path;
use crate::colour::camera::CameraColour;
use crate::colour::output_space::OutputSpace;
use crate::colour::printer::Printing;
use crate::deliver::Wish;
use crate::light::patch::Patch;
use crate::light::reading::Reading;
use crate::light::reference::Reference;
use crate::look::correction::Correction;
use crate::raw::facts::Facts;
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Work for one worker, about one frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Task {
    /// Read when and how a frame was taken, without decoding it.
    Facts {
        /// The raw file.
        #[serde(with = "lossless_path")]
        frame: PathBuf,
    },
    /// Decode a frame and read its light.
    Meter {
        /// The raw file.
        #[serde(with = "lossless_path")]
        frame: PathBuf,
    },
    /// Decode the reference frame, read its light and measure the neutral patches in it.
    Reference {
        /// The raw file.
        #[serde(with = "lossless_path")]
        frame: PathBuf,
        /// Neutral patches; may be none.
        patches: Vec<Patch>,
    },
    /// Decode the reference frame, read its light, and find neutral patches in it.
    ReferenceByItself {
        /// The raw file.
        #[serde(with = "lossless_path")]
        frame: PathBuf,
    },
    /// Decode a frame, render it small, mark places in it, and write that as a JPEG.
    Mark(Box<Marking>),
    /// Read a profile and see whether pictures can be converted into it.
    Profile {
        /// The profile's file.
        #[serde(with = "lossless_path")]
        profile: PathBuf,
        /// How pictures are converted.
        printing: Printing,
    },
    /// Decode a frame and make small pictures of it to look at.
    Small {
        /// The raw file.
        #[serde(with = "lossless_path")]
        frame: PathBuf,
        /// The numbers that turn it into each picture.
        corrections: Vec<Correction>,
        /// Longest edge in pixels.
        long_edge: u32,
    },
    /// Decode a frame; render, encode and write each of its pictures.
    Make(Box<Order>),
}

impl Task {
    /// The file that the task is about.
    #[must_use]
    pub fn frame(&self) -> &Path {
        match self {
            Self::Facts { frame }
            | Self::Meter { frame }
            | Self::Reference { frame, .. }
            | Self::ReferenceByItself { frame }
            | Self::Small { frame, .. } => frame,
            Self::Mark(marking) => &marking.frame,
            Self::Profile { profile, .. } => profile,
            Self::Make(order) => &order.frame,
        }
    }
}

/// A small picture with marked places, for a person to look at.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Marking {
    /// The raw file.
    #[serde(with = "lossless_path")]
    pub frame: PathBuf,
    /// The numbers that turn it into its picture.
    pub correction: Correction,
    /// The places, numbered from 1 in this order.
    pub patches: Vec<Patch>,
    /// Where the picture goes; a file that is there is replaced.
    #[serde(with = "lossless_path")]
    pub output: PathBuf,
}

/// Pictures to be made of one frame, which is decoded once for all of them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Order {
    /// The raw file.
    #[serde(with = "lossless_path")]
    pub frame: PathBuf,
    /// The hash of the raw that the correction was solved from, where another raw must not get it.
    pub only_from: Option<String>,
    /// The numbers that turn it into its pictures.
    pub correction: Correction,
    /// At least one.
    pub pictures: Vec<PictureOrder>,
}

/// One picture to be made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PictureOrder {
    /// How the picture is delivered.
    pub delivery: Delivery,
    /// The profile that it is converted into, where the wish has one.
    #[serde(with = "lossless_path::optional")]
    pub profile: Option<PathBuf>,
    /// Where the picture goes.
    #[serde(with = "lossless_path")]
    pub output: PathBuf,
    /// What is known of the place it goes to.
    pub place: Place,
    /// The hash of the raw from which the picture in place was made with this very correction and wish: when the raw
    /// still has it there is nothing to do.
    pub made_from: Option<String>,
}

/// What became of one picture of an order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Made {
    /// It is in its place, synced.
    InPlace {
        /// The picture.
        output: Stamp,
        /// Share of its pixels whose colours the space of the picture does not have, 0 to 1.
        outside: f64,
        /// How long rendering, encoding and writing took.
        seconds: f64,
    },
    /// The raw is still the one that the picture in place was made from.
    AsBefore,
}

/// What is known of the place a picture goes to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// Nothing there, or a picture of ours: write.
    Free,
    /// A file that no record claims. It stays, unless it is byte for byte what would be written.
    Taken,
}

/// How a picture is delivered.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Delivery {
    /// Longest edge in pixels; `None` for full size.
    pub long_edge: Option<u32>,
    /// Space of the pixels.
    pub space: OutputSpace,
    /// The file: its kind, and what goes into it beside the pixels.
    pub wish: Wish,
}

/// What a file was when it was read or written.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stamp {
    /// Size in bytes.
    pub bytes: u64,
    /// Time of the last change, nanoseconds since 1970 (0 where the system does not say).
    pub modified: i64,
    /// BLAKE3 of the first bytes, hexadecimal: see [`super::stamp::HEAD`].
    pub head: String,
    /// BLAKE3 of the content, hexadecimal.
    pub hash: String,
}

/// What a frame tells when it is decoded: everything that solving needs, no pixel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Metered {
    /// The raw file as it was read.
    pub input: Stamp,
    /// When and how it was taken.
    pub facts: Facts,
    /// Its light, under its own white.
    pub reading: Reading,
    /// How its body turns a white into a neutral and back.
    pub colour: CameraColour,
    /// What the reader found odd and settled.
    pub notes: Vec<String>,
}

/// A worker's answer to the task of the same name.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Answer {
    /// To [`Task::Facts`].
    Facts(Box<Facts>),
    /// To [`Task::Meter`].
    Metered(Box<Metered>),
    /// To [`Task::Reference`] and [`Task::ReferenceByItself`].
    Reference(Box<Reference>),
    /// To [`Task::Small`]: a JPEG file for each correction, in base64 (RFC 4648).
    Small(Vec<String>),
    /// To [`Task::Make`].
    Made {
        /// The raw file as it was read.
        input: Stamp,
        /// How long reading and decoding it took; 0 where it was not decoded.
        seconds: f64,
        /// What became of each picture, in the order in which they were ordered.
        pictures: Vec<Result<Made, TaskError>>,
    },
    /// To [`Task::Make`]: it is not the raw that the correction was solved from, so nothing was made.
    AnotherRaw {
        /// The raw file as it was read.
        input: Stamp,
    },
    /// To [`Task::Mark`]: the picture is in its place.
    Marked,
    /// To [`Task::Profile`].
    Profile {
        /// Digest of the profile's bytes.
        digest: String,
    },
}

/// Why a task failed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, thiserror::Error)]
#[error("{reason}{}", next_step.as_deref().map(|step| format!("; {step}")).unwrap_or_default())]
pub struct TaskError {
    /// The kind of failure, for whoever decides what to do.
    pub cause: Cause,
    /// What happened, naming the file.
    pub reason: String,
    /// What a person can do about it, where the reason does not say it already.
    pub next_step: Option<String>,
}

/// Kinds of failure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    /// The raw could not be read or decoded.
    Unreadable,
    /// The profile cannot be used.
    Profile,
    /// No white could be had from the neutral patches.
    Patch,
    /// The picture could not be made from the decoded frame.
    Unrenderable,
    /// The picture's place is taken by a file that is not ours.
    PlaceTaken,
    /// Other frames lie at its path now than the one its pictures were made from.
    AnotherRaw,
    /// The picture could not be written, for a reason of its own.
    Unwritable,
    /// The output folder takes no picture at all: gone, read-only, not permitted.
    FolderUnusable,
    /// No space left for pictures.
    DiskFull,
    /// More memory than allowed.
    Memory,
    /// More time than allowed.
    Time,
    /// The worker ended by itself, or by a signal that what it did brought about.
    WorkerLost,
    /// The worker was ended by a signal that others send: a person, or the system when memory is short.
    Killed,
    /// No worker could be started.
    NoWorker,
    /// The work stopped inside itself: a defect of the program or of a decoder.
    Defect,
    /// The run was stopped before the task was through.
    Interrupted,
}

impl Cause {
    /// Whether every further picture would fail for the same reason, so that trying is pointless.
    #[must_use]
    pub fn stops_the_run(self) -> bool {
        matches!(self, Self::DiskFull | Self::FolderUnusable)
    }
}
