//! What can go wrong between a file and a [`Frame`](super::frame::Frame), in words a photographer can act on.
//!
//! Code inside the room returns a [`Fault`], which knows the cause and the next step but not the file; the room's two
//! doors attach the path. A fault is a value to be matched on, never a text to be searched.

use std::path::PathBuf;

/// A raw file that could not be read: the file, what is wrong with it, and what to do.
#[derive(Debug, thiserror::Error)]
#[error("{}: {fault}", path.display())]
pub struct RawError {
    /// The file.
    pub path: PathBuf,
    /// What is wrong with it.
    #[source]
    pub fault: Fault,
}

/// What is wrong with a file.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum Fault {
    /// The system does not give the bytes.
    #[error("cannot be read ({0}); check the drive, the name and the permissions")]
    Unreadable(#[source] std::io::Error),
    /// No bytes at all.
    #[error("is empty; copy it again from the card")]
    Empty,
    /// Some other kind of file.
    #[error("not a raw file: {what}; leave it out, or give the raw file of this frame")]
    NotRaw {
        /// What it is instead.
        what: String,
    },
    /// The structure of the file contradicts itself or ends early.
    #[error("damaged or cut short: {what}; copy it again from the card")]
    Damaged {
        /// What contradicts what.
        what: String,
    },
    /// A whole file of a body or in a recording mode that nothing here decodes.
    #[error(
        "no decoder here reads its picture: {what}; convert it to an uncompressed or lossless DNG, or record without this \
         compression"
    )]
    Unsupported {
        /// The body, compression or layout.
        what: String,
    },
    /// An instruction of the file that changes values and that is not understood here.
    #[error(
        "its opcode list {list} holds opcode {opcode} ({what}), which must be carried out and cannot be here; convert it to a \
         DNG without it"
    )]
    Opcode {
        /// 1 to 3: which list.
        list: u8,
        /// The opcode's number in the Digital Negative specification.
        opcode: u32,
        /// Its name and why it cannot be carried out.
        what: String,
    },
    /// A colour filter pattern that the rest of the house cannot work with.
    #[error(
        "its colour filter pattern is not read here: {what}, only red-green-blue patterns of 2 x 2 and 6 x 6 and linear RGB are; \
         leave it out, or convert it to a linear DNG"
    )]
    Pattern {
        /// The pattern.
        what: String,
    },
    /// Levels that leave no range.
    #[error(
        "damaged: its black level ({black}) is not below its white level ({white}); copy it again from the card"
    )]
    Levels {
        /// Highest black level in counts.
        black: f32,
        /// Lowest white level in counts.
        white: f32,
    },
    /// More pixels than any body has.
    #[error(
        "states a picture of {width} x {height} pixels, more than {limit} megapixels; the file is damaged: copy it again from \
         the card"
    )]
    TooLarge {
        /// Columns.
        width: u64,
        /// Rows.
        height: u64,
        /// The limit in megapixels.
        limit: u64,
    },
    /// It decoded, but what came out is no picture.
    #[error("damaged: it decodes, but into {what}; copy it again from the card")]
    Implausible {
        /// What came out.
        what: String,
    },
}

impl Fault {
    /// Something in the file contradicts itself or ends early.
    pub(crate) fn damaged(what: impl Into<String>) -> Self {
        Self::Damaged { what: what.into() }
    }

    /// Whole, but nothing here decodes it.
    pub(crate) fn unsupported(what: impl Into<String>) -> Self {
        Self::Unsupported { what: what.into() }
    }

    /// With the file it happened to.
    pub(crate) fn at(self, path: &std::path::Path) -> RawError {
        RawError {
            path: path.to_path_buf(),
            fault: self,
        }
    }
}
