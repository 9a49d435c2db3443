//! Why a file does not go into an object store, or does not come out of it.

use std::path::PathBuf;

/// Why a file does not go into an object store, or does not come out of it.
#[derive(Debug, thiserror::Error)]
pub enum DepotError {
    /// It begins like an address and is none.
    #[error("{address} is no address that this program understands: {reason}")]
    NotUnderstood {
        /// As it was given.
        address: String,
        /// What is wrong with it.
        reason: &'static str,
    },
    /// This build reaches no store.
    #[error(
        "{address} is in an object store, and this program was built without the feature many-machines; build it with that, or name files and folders on a drive"
    )]
    NotInThisBuild {
        /// As it was given.
        address: String,
    },
    /// There is no such object.
    #[error("{address} is not in the store; check the address, and whether it was removed")]
    Absent {
        /// The object's.
        address: String,
    },
    /// There is nothing to store anything in.
    #[error("the store has no bucket for {address}; check the address, or make the bucket")]
    NoBucket {
        /// The object's.
        address: String,
    },
    /// What the environment names is no server.
    #[error(
        "AWS_ENDPOINT names {endpoint:?}, which is no server; write it as https://HOST or http://HOST:PORT"
    )]
    NoServer {
        /// As it was given.
        endpoint: String,
    },
    /// An object that no address can name.
    #[error(
        "an object below {address} cannot be named by this program ({reason}); give it another key, or name what lies beside it"
    )]
    NotNamed {
        /// What was listed.
        address: String,
        /// What is wrong with its key, which it says.
        reason: String,
    },
    /// The store does not let this machine in.
    #[error(
        "the store refuses {address} ({reason}); check the keys in AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY and what they permit"
    )]
    Refused {
        /// The object's.
        address: String,
        /// What the store says.
        reason: String,
    },
    /// The store does not answer, or not as it should.
    #[error(
        "the store of {address} does not answer ({reason}); check the network and AWS_ENDPOINT, and run the same command again"
    )]
    Away {
        /// The object's.
        address: String,
        /// What the store says.
        reason: String,
    },
    /// What came back is not what went.
    #[error(
        "{address} holds something else than was stored there; it is stored again by the next run"
    )]
    NotWhatWasStored {
        /// The object's.
        address: String,
    },
    /// The file on this machine cannot be read or written.
    #[error("cannot {act} {}: {source}", path.display())]
    Local {
        /// What was tried.
        act: &'static str,
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// Whoever asks the stores ended over a question.
    #[error(
        "what asks the stores ended over a question, which is a defect of this program; report it, and run the same command again"
    )]
    AskerEnded,
    /// The parts that wait for the network cannot be started.
    #[error("cannot start what waits for the network: {0}; free some memory")]
    NotStarted(std::io::Error),
}

impl DepotError {
    /// Whether waiting may help.
    #[must_use]
    pub fn may_pass(&self) -> bool {
        matches!(self, Self::Away { .. })
    }
}
