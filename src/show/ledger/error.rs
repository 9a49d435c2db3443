//! Why there is no ledger.

use crate::base::files::FileError;
use crate::crew::stamp::is_disk_full;
use std::io;
use std::path::PathBuf;

/// Why there is no ledger.
#[derive(Debug, thiserror::Error)]
pub enum LedgerError {
    /// Written by a later program.
    #[error(
        "{} was written by a later version of this program; use that version, or choose another folder with --to",
        path.display()
    )]
    LaterVersion {
        /// The ledger.
        path: PathBuf,
    },
    /// It cannot be read or written.
    #[error("cannot {act} the record of what was made, {}: {source}; make it readable and writable, or choose another folder with --to", path.display())]
    Io {
        /// Read, or write.
        act: &'static str,
        /// The ledger.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// It cannot be written anew.
    #[error(transparent)]
    Rewrite(#[from] FileError),
}

impl LedgerError {
    /// Whether there is no space left.
    #[must_use]
    pub fn is_disk_full(&self) -> bool {
        let source = match self {
            Self::LaterVersion { .. } => return false,
            Self::Io { source, .. } => source,
            Self::Rewrite(error) => &error.source,
        };
        is_disk_full(source)
    }
}
