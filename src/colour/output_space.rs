//! The spaces that a picture can be delivered in: primaries and white by [`crate::colour::spaces`], the curve by
//! [`crate::colour::transfer`], each under the name that its standard gives it.

use crate::colour::spaces::{BT2020, DISPLAY_P3, RgbSpace, SRGB};
use crate::colour::transfer::Transfer;
use serde::{Deserialize, Serialize};

/// A space that pictures are delivered in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OutputSpace {
    /// sRGB (IEC 61966-2-1): what every screen, browser and laboratory understands.
    #[default]
    Srgb,
    /// Display P3: primaries of SMPTE EG 432-1, white D65, the curve of sRGB.
    DisplayP3,
    /// ITU-R BT.2020-2: primaries that are real lights, and its own curve. The wide space, for retouching in 16 bits: a step
    /// of 8 bits is too coarse for so much colour.
    Rec2020,
}

impl OutputSpace {
    /// All of them, the narrowest first.
    pub const ALL: [Self; 3] = [Self::Srgb, Self::DisplayP3, Self::Rec2020];

    /// The word for it in commands and look files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Srgb => "srgb",
            Self::DisplayP3 => "display-p3",
            Self::Rec2020 => "rec2020",
        }
    }

    /// The space of that word.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|space| space.word() == word)
    }

    /// Name and standard, for people and for the description of its profile.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::Srgb => "sRGB (IEC 61966-2-1)",
            Self::DisplayP3 => "Display P3 (SMPTE EG 432-1)",
            Self::Rec2020 => "Rec. 2020 (ITU-R BT.2020)",
        }
    }

    /// Primaries and white.
    #[must_use]
    pub const fn primaries(self) -> &'static RgbSpace {
        match self {
            Self::Srgb => &SRGB,
            Self::DisplayP3 => &DISPLAY_P3,
            Self::Rec2020 => &BT2020,
        }
    }

    /// The curve between linear light and signal.
    #[must_use]
    pub const fn transfer(self) -> Transfer {
        match self {
            Self::Srgb | Self::DisplayP3 => Transfer::Srgb,
            Self::Rec2020 => Transfer::Bt2020,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_lead_back_and_are_the_words_of_files() {
        for space in OutputSpace::ALL {
            assert_eq!(OutputSpace::of_word(space.word()), Some(space));
            let written = serde_json::to_string(&space).expect("JSON");
            assert_eq!(written, format!("\"{}\"", space.word()));
        }
        assert_eq!(OutputSpace::of_word("sRGB"), None);
    }
}
