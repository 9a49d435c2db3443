//! Frames whose light a person knows: the reference, and others that are pinned.

use crate::base::progress::{Progress, StopWish};
use crate::crew::Workforce;
use crate::crew::task::{Answer, Task, TaskError};
use crate::light::patch::Patch;
use crate::light::reading::{FrameLight, Reference, WhiteSource};
use crate::light::sheet::{Anchor, AnchorSource};
use crate::show::metering::{ask_one, unexpected};
use std::path::Path;

/// A frame whose light a person knows.
#[derive(Clone, Debug)]
pub struct KnownFrame {
    /// What people call it, or its key.
    pub name: String,
    /// Its index among the show's frames; `None` when it is none of them.
    pub place: Option<usize>,
    /// What was read from it.
    pub reference: Reference,
}

impl KnownFrame {
    /// Its light as an anchor. Its white is given where patches settled it, and is read from its cue otherwise.
    pub(super) fn anchor(&self) -> Anchor {
        let reference = &self.reference;
        Anchor {
            name: self.name.clone(),
            white: matches!(reference.white.source, WhiteSource::Patches { .. })
                .then_some(reference.white.white),
            source: match self.place {
                Some(at) => AnchorSource::Frame(at),
                None => AnchorSource::Outside(Box::new(FrameLight {
                    facts: reference.facts.clone(),
                    reading: Some(reference.reading.clone()),
                    colour: reference.colour.clone(),
                    is_reference: true,
                })),
            },
        }
    }
}

/// Has a frame read whose light a person knows. `None` when the run was stopped before.
///
/// # Errors
/// When it cannot be read, or its patches give no white.
pub fn ask_known(
    frame: &Path,
    patches: &[Patch],
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    progress: &dyn Progress,
) -> Result<Option<Reference>, TaskError> {
    let task = Task::Reference {
        frame: frame.to_path_buf(),
        patches: patches.to_vec(),
    };
    match ask_one(task, "reading the reference", workforce, stop, progress) {
        None => Ok(None),
        Some(Ok(Answer::Reference(reference))) => Ok(Some(*reference)),
        Some(Ok(_)) => Err(unexpected(frame)),
        Some(Err(error)) => Err(error),
    }
}
