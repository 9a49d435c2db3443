//! Why the queue does not do what it is asked.

use super::place::Place;
use crate::night::engine::{AsEngineError, EngineError};
use std::path::PathBuf;

/// Why the queue does not do what it is asked.
#[derive(Debug, thiserror::Error)]
pub enum QueueError {
    /// No place.
    #[error("there is no folder of this user for what programs keep; name a file with --queue")]
    NoPlace,
    /// The folder cannot be made.
    #[error("the folder {} cannot be made: {source}; name another file with --queue", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// It has the name of a raw.
    #[error("{} has a raw file's name; name another file with --queue", .0.display())]
    RawName(PathBuf),
    /// There is none yet.
    #[error("there is no queue at {0}; `houselights night add` begins one")]
    Absent(Place),
    /// It was there.
    #[error(
        "{0} was removed, or another file was put in its place, while the night worked on it: the night stops. Pictures that \
         were made stand; put the file back, or add the shows again and they are recognised in their folders"
    )]
    Gone(Place),
    /// It is something else.
    #[error("{0} is no queue of this program; it is left as it is, name another file with --queue")]
    Foreign(Place),
    /// Written by a later program.
    #[error(
        "{0} was written by a later version of this program; it is left as it is: use that version, or name another file with --queue"
    )]
    LaterVersion(Place),
    /// It is damaged.
    #[error(
        "{place} is damaged ({reason}); frames and pictures are untouched. Move it away and add the shows again: readings are kept elsewhere, and pictures that were made are recognised in their folders"
    )]
    Damaged {
        /// The queue.
        place: Place,
        /// What the engine says.
        reason: String,
    },
    /// Another program holds it.
    #[error(
        "another program holds {0}; close it (a database browser, a backup), and run the same command again"
    )]
    Held(Place),
    /// No space for it.
    #[error(
        "no space is left on the drive of {0}; what was recorded stays. Free some, and run the same command again"
    )]
    Full(Place),
    /// The server is away.
    #[error(
        "{place} does not answer ({reason}); check the address and the network, and run the same command again"
    )]
    Lost {
        /// The queue.
        place: Place,
        /// What the engine says.
        reason: String,
    },
    /// This build has no engine for it.
    #[error(
        "{0} is on a server, and this program was built without the feature many-machines; build it with that, or name a file with --queue"
    )]
    NotInThisBuild(Place),
    /// It cannot be read or written.
    #[error(
        "{place} cannot be used ({reason}); check the place and its permissions, or name another file with --queue"
    )]
    Unusable {
        /// The queue.
        place: Place,
        /// What the engine says.
        reason: String,
    },
    /// No such show.
    #[error("the queue has no show {0:?}; `houselights night status` lists them")]
    UnknownShow(String),
    /// An engine's error whose place is not told yet: never seen outside the queue.
    #[error(transparent)]
    Engine(#[from] Bare),
}

/// An engine's error without its place.
#[derive(Debug, thiserror::Error)]
#[error(transparent)]
pub struct Bare(EngineError);

impl From<EngineError> for QueueError {
    fn from(error: EngineError) -> Self {
        Self::Engine(Bare(error))
    }
}

impl AsEngineError for QueueError {
    fn as_engine_error(&self) -> Option<&EngineError> {
        match self {
            Self::Engine(Bare(error)) => Some(error),
            _ => None,
        }
    }
}

impl QueueError {
    /// The same with the place told.
    pub(super) fn at(self, place: &Place) -> Self {
        let place = place.clone();
        let Self::Engine(Bare(error)) = self else {
            return self;
        };
        match error {
            EngineError::Foreign => Self::Foreign(place),
            EngineError::LaterVersion => Self::LaterVersion(place),
            EngineError::Damaged(reason) | EngineError::Unexpected(reason) => {
                Self::Damaged { place, reason }
            }
            EngineError::Held => Self::Held(place),
            EngineError::Full => Self::Full(place),
            EngineError::Lost(reason) => Self::Lost { place, reason },
            EngineError::Crossed(reason) | EngineError::Other(reason) => {
                Self::Unusable { place, reason }
            }
        }
    }

    /// Whether waiting may help: another program holds the queue, its drive is full, its server is away.
    #[must_use]
    pub fn may_pass(&self) -> bool {
        matches!(self, Self::Held(_) | Self::Full(_) | Self::Lost { .. })
    }
}
