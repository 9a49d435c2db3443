//! What a file says of the space of its pixels.

use crate::colour::output_space::OutputSpace;
use crate::colour::profile::{self, ProfileError};
use crate::deliver::exif::{SRGB, UNCALIBRATED};

/// Profile and EXIF code of a space.
pub(crate) struct Tagged {
    /// The ICC profile's bytes.
    pub(crate) profile: Vec<u8>,
    /// EXIF's field for the space.
    pub(crate) code: u16,
}

impl Tagged {
    /// Of one of our spaces.
    pub(crate) fn space(space: OutputSpace) -> Result<Self, ProfileError> {
        Ok(Self {
            profile: profile::of(space)?,
            code: match space {
                OutputSpace::Srgb => SRGB,
                OutputSpace::DisplayP3 | OutputSpace::Rec2020 => UNCALIBRATED,
            },
        })
    }

    /// Of a printer's profile.
    pub(crate) fn profile(bytes: &[u8]) -> Self {
        Self {
            profile: bytes.to_vec(),
            code: UNCALIBRATED,
        }
    }
}
