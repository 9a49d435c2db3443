//! Frames whose light a person knows: the reference, and others that are pinned.

use super::{Asked, SolveWish};
use crate::base::progress::{Progress, StopWish};
use crate::crew::Workforce;
use crate::crew::lossless_path;
use crate::crew::task::{Answer, Task, TaskError};
use crate::light::patch::Patch;
use crate::light::reading::{FrameLight, Reference, WhiteSource};
use crate::light::reference::choose as choose_white;
use crate::light::sheet::{Anchor, AnchorSource};
use crate::show::metering::{ask_one, unexpected};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// A frame that a person names, and what is neutral in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NamedFrame {
    /// The raw file.
    #[serde(with = "lossless_path")]
    pub frame: PathBuf,
    /// What its key is called; `None`: as the file.
    pub name: Option<String>,
    /// What is neutral in it.
    pub neutral: Neutral,
}

/// What is neutral in a frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Neutral {
    /// What a person pointed at; nothing, to have the white estimated.
    Patches(Vec<Patch>),
    /// What is found in it.
    Found,
}

/// A frame whose light a person knows, as it was read.
#[derive(Clone, Debug)]
pub struct KnownFrame {
    /// What people call it, or its key.
    pub name: String,
    /// Its index among the show's frames; `None` when it is none of them.
    pub place: Option<usize>,
    /// What was read from it.
    pub reference: Reference,
}

/// Why a frame that a person names gives nothing to solve by.
#[derive(Debug, thiserror::Error)]
pub enum KnownError {
    /// The reference frame.
    #[error("the reference frame cannot be used: {0}")]
    Reference(TaskError),
    /// A pinned frame.
    #[error("the pinned frame cannot be used: {0}")]
    Pin(TaskError),
    /// One name for two keys.
    #[error(
        "two keys are called \"{0}\"; give each pinned frame a name of its own, --pin FRAME=NAME"
    )]
    Twice(String),
    /// The run was stopped before.
    #[error("stopped before any picture was made; run the same command again")]
    Stopped,
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

/// A frame's light as a reference without patches; `None` when it was not read.
#[must_use]
pub fn reference_of(light: &FrameLight) -> Option<Reference> {
    let reading = light.reading.clone()?;
    Some(Reference {
        facts: light.facts.clone(),
        white: choose_white(&reading),
        patches: None,
        choice: None,
        reading,
        colour: light.colour.clone(),
    })
}

impl Asked {
    /// Whether a frame must be read before the show can be solved.
    #[must_use]
    pub fn names_frames(&self) -> bool {
        self.reference.is_some() || !self.pins.is_empty()
    }

    /// The wish of whoever names no frames, or leaves those out.
    #[must_use]
    pub fn without_known(&self) -> SolveWish {
        SolveWish {
            look: self.look.clone(),
            reference: None,
            pins: Vec::new(),
            clocks: self.clocks.clone(),
            overrules: self.overrules.clone(),
            follow: self.follow,
        }
    }

    /// Has the frames read that a person named. Their places are among `frames`, the show's by their real paths; a wish whose
    /// frames are others is moved over with [`SolveWish::among`].
    ///
    /// # Errors
    /// When one of them cannot be read, or its patches give no white.
    pub fn read_known(
        &self,
        frames: &[&Path],
        workforce: &mut dyn Workforce,
        stop: &StopWish,
        progress: &dyn Progress,
    ) -> Result<SolveWish, KnownError> {
        let mut read = |named: &NamedFrame, part: &str| -> Result<KnownFrame, Option<TaskError>> {
            let reference = read_one(named, part, workforce, stop, progress)?;
            let name = named.frame.file_name().unwrap_or_default();
            let real = std::fs::canonicalize(&named.frame).ok();
            Ok(KnownFrame {
                name: named
                    .name
                    .clone()
                    .unwrap_or_else(|| name.to_string_lossy().into_owned()),
                place: real.and_then(|real| frames.iter().position(|frame| *frame == real)),
                reference,
            })
        };
        let reference = self
            .reference
            .as_ref()
            .map(|named| read(named, "reading the reference"))
            .transpose()
            .map_err(|error| error.map_or(KnownError::Stopped, KnownError::Reference))?;
        let mut pins: Vec<KnownFrame> = Vec::new();
        for named in &self.pins {
            let pin = read(named, "reading pinned frames")
                .map_err(|error| error.map_or(KnownError::Stopped, KnownError::Pin))?;
            let mut others = pins.iter().chain(&reference);
            if others.any(|known| known.name == pin.name) {
                return Err(KnownError::Twice(pin.name));
            }
            pins.push(pin);
        }
        Ok(SolveWish {
            reference,
            pins,
            ..self.without_known()
        })
    }
}

impl SolveWish {
    /// The wish for a show of other frames: `place` says where a frame of the old list stands in the new one.
    #[must_use]
    pub fn among(mut self, place: impl Fn(usize) -> Option<usize>) -> Self {
        for known in self.reference.iter_mut().chain(&mut self.pins) {
            known.place = known.place.and_then(&place);
        }
        self
    }
}

/// Reads a frame and what is neutral in it. An error without a cause: stopped.
fn read_one(
    named: &NamedFrame,
    part: &str,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    progress: &dyn Progress,
) -> Result<Reference, Option<TaskError>> {
    let frame = named.frame.clone();
    let task = match &named.neutral {
        Neutral::Patches(patches) => Task::Reference {
            frame,
            patches: patches.clone(),
        },
        Neutral::Found => Task::ReferenceByItself { frame },
    };
    match ask_one(task, part, workforce, stop, progress) {
        None => Err(None),
        Some(Ok(Answer::Reference(reference))) => Ok(*reference),
        Some(Ok(_)) => Err(Some(unexpected(&named.frame))),
        Some(Err(error)) => Err(Some(error)),
    }
}
