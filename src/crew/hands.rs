//! What a worker does with a task: the one place where all rooms of the house meet over a frame.

mod making;

use super::stamp::{Hashes, Outline, is_disk_full, stamp_of};
use super::task::{Answer, Cause, Marking, Metered, Stamp, Task, TaskError};
use crate::base::bands::Threads;
use crate::base::files::{FileError, INTO_PLACE, Unfinished};
use crate::colour::printer::{Conversion, LONGEST, Printing};
use crate::deliver::marks::{Mark, draw_marks};
use crate::deliver::{Wish, bare_jpeg, jpeg};
use crate::light::read::read_light;
use crate::light::reference::{read_reference, read_reference_by_itself};
use crate::look::correction::Correction;
use crate::raw::frame::Frame;
use crate::raw::{Fault, RawError, Reader, read_facts};
use crate::render::plan::Plan;
use crate::render::{Target, render};
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD as STANDARD;
use std::fmt::Display;
use std::io::{ErrorKind, Write};
use std::path::Path;

/// What does one task after the other.
#[derive(Debug, Default)]
pub struct Hands {
    reader: Reader,
}

impl Hands {
    /// Does one task in this thread. After one that panicked the next may be done all the same: what is kept has no meaning.
    ///
    /// # Errors
    /// Whatever the rooms refuse, with the file, the reason and what to do.
    pub fn perform(&mut self, task: &Task) -> Result<Answer, TaskError> {
        let reader = &mut self.reader;
        match task {
            Task::Facts { frame } => {
                let facts = read_facts(frame).map_err(unreadable)?;
                Ok(Answer::Facts(Box::new(facts)))
            }
            Task::Meter { frame: path } => {
                let (frame, input) = decode(path, reader)?;
                let reading = read_light(&frame, None);
                reader.take_back(frame.mosaic);
                Ok(Answer::Metered(Box::new(Metered {
                    input,
                    facts: frame.facts,
                    reading,
                    colour: frame.colour.without_hue_maps(),
                    notes: frame.notes,
                })))
            }
            Task::Reference {
                frame: path,
                patches,
            } => {
                let frame = reader.read(path, |_| ()).map_err(unreadable)?;
                let reference = read_reference(&frame, patches)
                    .map_err(|error| about(path, Cause::Patch, &error))?;
                reader.take_back(frame.mosaic);
                Ok(Answer::Reference(Box::new(reference)))
            }
            Task::ReferenceByItself { frame: path } => {
                let frame = reader.read(path, |_| ()).map_err(unreadable)?;
                let reference = read_reference_by_itself(&frame);
                reader.take_back(frame.mosaic);
                Ok(Answer::Reference(Box::new(reference)))
            }
            Task::Mark(marking) => mark(marking, reader),
            Task::Profile { profile, printing } => {
                let (_, digest) = read_profile(profile, *printing)?;
                Ok(Answer::Profile { digest })
            }
            Task::Small {
                frame,
                corrections,
                long_edge,
            } => small(frame, corrections, *long_edge, reader),
            Task::Make(order) => making::make(order, reader),
        }
    }
}

/// Quality of small pictures: they are looked at as they are, once (common practice, no source).
const SMALL_QUALITY: u8 = 78;

fn small(
    path: &Path,
    corrections: &[Correction],
    long_edge: u32,
    reader: &mut Reader,
) -> Result<Answer, TaskError> {
    let (frame, _) = decode(path, reader)?;
    let target = Target {
        long_edge: Some(long_edge),
        ..Target::default()
    };
    let picture = |correction| {
        let plan = Plan::compile(&frame, correction, &target)
            .map_err(|error| about(path, Cause::Unrenderable, &error))?;
        let bytes = bare_jpeg(&plan.run(&frame.mosaic, &Threads::one()), SMALL_QUALITY)
            .map_err(|error| about(path, Cause::Unrenderable, &error))?;
        Ok(STANDARD.encode(bytes))
    };
    let pictures = corrections.iter().map(picture).collect::<Result<_, _>>();
    reader.take_back(frame.mosaic);
    pictures.map(Answer::Small)
}

/// Longest edge of a marked picture in pixels: enough to tell things apart, and fits a screen.
const MARKED: u32 = 1000;

/// Makes a small picture with marked places.
fn mark(marking: &Marking, reader: &mut Reader) -> Result<Answer, TaskError> {
    let path = marking.frame.as_path();
    let unrenderable = |error: &dyn Display| about(path, Cause::Unrenderable, error);
    let frame = reader.read(path, |_| ()).map_err(unreadable)?;
    let target = Target {
        long_edge: Some(MARKED),
        ..Target::default()
    };
    let mut picture = render(&frame, &marking.correction, &target, &Threads::one())
        .map_err(|error| unrenderable(&error))?;
    let marks: Vec<Mark> = marking
        .patches
        .iter()
        .map(|patch| Mark {
            centre: (patch.x, patch.y),
            radius: patch.radius,
        })
        .collect();
    draw_marks(&mut picture, &marks);
    reader.take_back(frame.mosaic);
    let bytes = jpeg::encode(&picture, &frame.facts, &Wish::default())
        .map_err(|error| unrenderable(&error))?;
    let mut unfinished = Unfinished::beside(&marking.output).map_err(unwritable)?;
    unfinished
        .file()
        .write_all(&bytes)
        .map_err(|source| unwritable(FileError::at("write", &marking.output)(source)))?;
    unfinished.finish().map_err(unwritable)?;
    Ok(Answer::Marked)
}

/// A profile file as a conversion, and the digest of its bytes.
fn read_profile(path: &Path, printing: Printing) -> Result<(Conversion, String), TaskError> {
    let refused = |words: String| {
        let words = format!("the profile {} cannot be used: {words}", path.display());
        in_two_parts(Cause::Profile, &words)
    };
    let unreadable = |error| refused(format!("{error}; check the path and its permissions"));
    let about = std::fs::metadata(path).map_err(unreadable)?;
    if !about.is_file() || about.len() > LONGEST {
        let words =
            "it is no file, or far too long for a profile; give the printer's .icc or .icm file";
        return Err(refused(words.to_owned()));
    }
    let bytes = std::fs::read(path).map_err(unreadable)?;
    let digest = blake3::hash(&bytes).to_hex().to_string();
    let conversion =
        Conversion::new(bytes, printing).map_err(|fault| refused(fault.to_string()))?;
    Ok((conversion, digest))
}

/// Decodes a frame and stamps what it was decoded from. A file that changes meanwhile is refused: the picture would be noted as
/// made from another raw than it was.
fn decode(path: &Path, reader: &mut Reader) -> Result<(Frame, Stamp), TaskError> {
    let before = Outline::of(path);
    let mut hashes = Hashes::default();
    let frame = reader
        .read(path, |bytes| hashes.take(bytes))
        .map_err(unreadable)?;
    let after = Outline::of(path).map_err(|error| unstamped(path, &error))?;
    match hashes.with(after) {
        Some(stamp) if before.is_ok_and(|before| before == after) => Ok((frame, stamp)),
        _ => Err(TaskError {
            cause: Cause::Unreadable,
            reason: format!("{}: changed while it was read", path.display()),
            next_step: Some("let the copy to it end, and run the same command again".to_owned()),
        }),
    }
}

fn stamp(path: &Path) -> Result<Stamp, TaskError> {
    stamp_of(path).map_err(|error| unstamped(path, &error))
}

fn unstamped(path: &Path, error: &std::io::Error) -> TaskError {
    TaskError {
        cause: Cause::Unreadable,
        reason: format!("{}: cannot be read ({error})", path.display()),
        next_step: Some("check the drive, the name and the permissions".to_owned()),
    }
}

fn unreadable(error: RawError) -> TaskError {
    let out_of_memory = matches!(
        &error.fault,
        Fault::Unreadable(source) if source.kind() == ErrorKind::OutOfMemory
    );
    let cause = if out_of_memory {
        Cause::Memory
    } else {
        Cause::Unreadable
    };
    in_two_parts(cause, &error.to_string())
}

/// The rooms' errors say what happened and, after the last semicolon, what to do about it.
fn in_two_parts(cause: Cause, words: &str) -> TaskError {
    let (reason, next_step) = match words.rsplit_once("; ") {
        Some((reason, next_step)) => (reason, Some(next_step.to_owned())),
        None => (words, None),
    };
    TaskError {
        cause,
        reason: reason.to_owned(),
        next_step,
    }
}

fn about(path: &Path, cause: Cause, error: &dyn Display) -> TaskError {
    in_two_parts(cause, &format!("{}: {error}", path.display()))
}

fn unwritable(error: FileError) -> TaskError {
    let (cause, next_step) = match error.source.kind() {
        _ if is_disk_full(&error.source) => (
            Cause::DiskFull,
            "make room, or choose a folder on another drive with --to; the same command goes on where it stopped",
        ),
        // A file could be made beside it, so it is not the folder.
        ErrorKind::PermissionDenied
            if error.act == INTO_PLACE && error.path.symlink_metadata().is_ok() =>
        {
            (
                Cause::FolderUnusable,
                "what stands there is locked, or somebody else's: unlock it or move it away; the same command goes on where it stopped",
            )
        }
        ErrorKind::NotFound
        | ErrorKind::NotADirectory
        | ErrorKind::PermissionDenied
        | ErrorKind::ReadOnlyFilesystem
        | ErrorKind::StaleNetworkFileHandle => (
            Cause::FolderUnusable,
            "bring the folder back and make it writable; the same command goes on where it stopped",
        ),
        _ => (
            Cause::Unwritable,
            "check the drive, or choose another folder with --to",
        ),
    };
    TaskError {
        cause,
        reason: error.to_string(),
        next_step: Some(next_step.to_owned()),
    }
}
