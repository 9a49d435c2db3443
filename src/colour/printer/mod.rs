//! Profiles of printers and other devices, as laboratories give them, and the conversion into their colours.
//!
//! The conversion is LittleCMS's (crate lcms2, its C code compiled by cargo): of the libraries at hand it alone does black
//! point compensation (ISO 18619). Pictures come to it in Display P3: our own map, made for stage light, has then brought in
//! what no printer shows, and from there a profile's tables have less to cut off, which they do at constant CIELAB hue, where
//! blue turns purple; sRGB would cut off cyans and greens that papers do have.
//!
//! What a profile file claims is read from its header first (`header`), and refused with the reason when it cannot work.

mod conversion;
mod header;

pub use conversion::{Conversion, LOST};
pub use header::ProfileFault;

use crate::colour::output_space::OutputSpace;
use serde::{Deserialize, Serialize};

/// The space from which pictures are converted into a profile's.
pub const FROM: OutputSpace = OutputSpace::DisplayP3;

/// Longest profile file that is read, in bytes: printers' tables take some megabytes.
pub const LONGEST: u64 = 64 << 20;

/// How colours of one medium are brought to another (ICC.1:2010, 0.2 and 6.2).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Intent {
    /// What the medium has, exactly, in relation to its white; what it has not, to the nearest.
    #[default]
    Relative,
    /// Everything moves a little, so that differences between colours stay.
    Perceptual,
    /// Vividness before hue and lightness.
    Saturation,
    /// With the white of the medium too, as for a proof.
    Absolute,
}

impl Intent {
    /// All of them.
    pub const ALL: [Self; 4] = [
        Self::Relative,
        Self::Perceptual,
        Self::Saturation,
        Self::Absolute,
    ];

    /// The word for it in commands and look files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Relative => "relative",
            Self::Perceptual => "perceptual",
            Self::Saturation => "saturation",
            Self::Absolute => "absolute",
        }
    }

    /// The intent of that word.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|intent| intent.word() == word)
    }
}

/// How a picture is converted into a profile's space.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Printing {
    /// The rendering intent.
    pub intent: Intent,
    /// Whether black comes to the darkest that the medium has, and everything above in proportion (ISO 18619). It means
    /// nothing for the absolute intent; version 4 profiles have it in their perceptual and saturation tables anyway.
    pub black_point_compensation: bool,
}

impl Default for Printing {
    /// Relative colorimetric with black point compensation: the safe choice for any profile (common practice, no source).
    fn default() -> Self {
        Self {
            intent: Intent::Relative,
            black_point_compensation: true,
        }
    }
}
