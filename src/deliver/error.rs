//! Why a picture could not be delivered.

use crate::base::files::FileError;
use crate::colour::profile::ProfileError;

/// Why a picture could not be delivered. The wording leaves out the frame's name: whoever holds it says it.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DeliverError {
    /// A quality outside the scale.
    #[error("JPEG quality {0} is outside 1 to 100; ask for a quality inside")]
    Quality(u8),
    /// A picture without pixels, or larger than the file format holds.
    #[error(
        "a picture of {width} x {height} pixels does not fit into its file: the edges of a JPEG have 1 to 65535 pixels; ask for a \
         shorter edge"
    )]
    Size {
        /// Columns.
        width: usize,
        /// Rows.
        height: usize,
    },
    /// Pixels and size do not agree.
    #[error(
        "the rendered picture has {found} values where {wanted} belong to its size; this is a fault of the program, please \
         report it"
    )]
    Values {
        /// Values of the picture.
        found: usize,
        /// Width times height times three.
        wanted: usize,
    },
    /// Metadata beyond the room that the file format has for it.
    #[error(
        "{what} has {length} bytes, and a JPEG file has room for {most}; this is a fault of the program, please report it"
    )]
    SegmentTooLong {
        /// Which part.
        what: &'static str,
        /// Its bytes.
        length: usize,
        /// Room.
        most: usize,
    },
    /// The metadata library refused.
    #[error("the EXIF block could not be written ({0}); please report this")]
    Exif(#[source] std::io::Error),
    /// The colour management library refused.
    #[error(transparent)]
    Profile(#[from] ProfileError),
    /// The file could not be written to.
    #[error("cannot write: {0}; check the drive")]
    Written(#[source] std::io::Error),
    /// The TIFF library refused.
    #[error("the TIFF library gave up ({0}); please report this")]
    Tiff(String),
    /// The file could not be written.
    #[error(transparent)]
    File(#[from] FileError),
}

impl From<tiff::TiffError> for DeliverError {
    fn from(error: tiff::TiffError) -> Self {
        match error {
            tiff::TiffError::IoError(error) => Self::Written(error),
            other => Self::Tiff(other.to_string()),
        }
    }
}
