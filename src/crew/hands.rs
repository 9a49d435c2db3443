//! What a worker does with a task: the one place where all rooms of the house meet over a frame.

use super::stamp::{Outline, is_disk_full, stamp_of, stamp_of_bytes};
use super::task::{Answer, Cause, Metered, Order, Place, Stamp, Task, TaskError};
use crate::base::bands::Threads;
use crate::base::files::{self, FileError};
use crate::deliver::jpeg;
use crate::light::read::read_light;
use crate::light::reference::read_reference;
use crate::raw::frame::Frame;
use crate::raw::{Fault, RawError, read_facts, read_frame};
use crate::render::{Target, render};
use std::fmt::Display;
use std::io::ErrorKind;
use std::path::Path;

/// Does one task in this thread.
///
/// # Errors
/// Whatever the rooms refuse, with the file, the reason and what to do.
pub fn perform(task: &Task) -> Result<Answer, TaskError> {
    match task {
        Task::Facts { frame } => {
            let facts = read_facts(frame).map_err(unreadable)?;
            Ok(Answer::Facts(Box::new(facts)))
        }
        Task::Meter { frame: path, white } => {
            let (frame, input) = decode(path)?;
            let reading = read_light(&frame, *white);
            Ok(Answer::Metered(Box::new(Metered {
                input,
                facts: frame.facts,
                reading,
                notes: frame.notes,
            })))
        }
        Task::Reference {
            frame: path,
            patches,
        } => {
            let frame = read_frame(path).map_err(unreadable)?;
            let reference = read_reference(&frame, patches)
                .map_err(|error| about(path, Cause::Patch, &error))?;
            Ok(Answer::Reference(Box::new(reference)))
        }
        Task::Make(order) => make(order),
    }
}

fn make(order: &Order) -> Result<Answer, TaskError> {
    let path = order.frame.as_path();
    if let Some(made_from) = &order.made_from {
        let input = stamp(path)?;
        if input.hash == *made_from {
            return Ok(Answer::AsBefore { input });
        }
    }
    let (frame, input) = decode(path)?;
    let target = Target {
        long_edge: order.delivery.long_edge,
        space: order.delivery.space,
    };
    let rendered = render(&frame, &order.correction, &target, &Threads::one())
        .map_err(|error| about(path, Cause::Unrenderable, &error))?;
    let facts = frame.facts.clone();
    // The mosaic is not needed any more, and encoding wants memory too.
    drop(frame);
    let bytes = jpeg::encode(&rendered, &facts, &order.delivery.wish)
        .map_err(|error| about(path, Cause::Unrenderable, &error))?;
    drop(rendered);
    deliver(order, &bytes)?;
    let outline = Outline::of(&order.output)
        .map_err(|error| unwritable(FileError::at("look at", &order.output)(error)))?;
    Ok(Answer::Made {
        input,
        output: stamp_of_bytes(&bytes, outline),
    })
}

/// Puts the bytes in their place. A file that no record claims stays, unless it is these very bytes: then a run wrote it
/// that died before it could note it.
fn deliver(order: &Order, bytes: &[u8]) -> Result<(), TaskError> {
    if order.place == Place::Taken && order.output.symlink_metadata().is_ok() {
        if std::fs::read(&order.output).is_ok_and(|there| there == bytes) {
            return Ok(());
        }
        return Err(TaskError {
            cause: Cause::PlaceTaken,
            reason: format!(
                "{}: its place {} is taken by a file that this program did not make, or whose record is lost",
                order.frame.display(),
                order.output.display()
            ),
            next_step: Some("move that file away, or choose another folder with --to".to_owned()),
        });
    }
    files::write_whole(&order.output, bytes).map_err(unwritable)
}

/// Decodes a frame and stamps the file that it came from. A file that changes meanwhile is refused: the picture would be
/// noted as made from another raw than it was.
fn decode(path: &Path) -> Result<(Frame, Stamp), TaskError> {
    let before = Outline::of(path);
    let frame = read_frame(path).map_err(unreadable)?;
    let input = stamp(path)?;
    if before.is_ok_and(|before| before.fits(&input)) {
        Ok((frame, input))
    } else {
        Err(TaskError {
            cause: Cause::Unreadable,
            reason: format!("{}: changed while it was read", path.display()),
            next_step: Some("let the copy to it end, and run the same command again".to_owned()),
        })
    }
}

fn stamp(path: &Path) -> Result<Stamp, TaskError> {
    stamp_of(path).map_err(|error| TaskError {
        cause: Cause::Unreadable,
        reason: format!("{}: cannot be read ({error})", path.display()),
        next_step: Some("check the drive, the name and the permissions".to_owned()),
    })
}

fn unreadable(error: RawError) -> TaskError {
    let out_of_memory = matches!(
        &error.fault,
        Fault::Unreadable(source) if source.kind() == ErrorKind::OutOfMemory
    );
    TaskError {
        cause: if out_of_memory {
            Cause::Memory
        } else {
            Cause::Unreadable
        },
        reason: error.to_string(),
        next_step: None,
    }
}

fn about(path: &Path, cause: Cause, error: &dyn Display) -> TaskError {
    TaskError {
        cause,
        reason: format!("{}: {error}", path.display()),
        next_step: None,
    }
}

fn unwritable(error: FileError) -> TaskError {
    let (cause, next_step) = match error.source.kind() {
        _ if is_disk_full(&error.source) => (
            Cause::DiskFull,
            "make room, or choose a folder on another drive with --to; the same command goes on where it stopped",
        ),
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
