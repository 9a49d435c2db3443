//! Words for how pictures are delivered, shared by the commands that make them.

use crate::base::format::Format;
use crate::colour::output_space::OutputSpace;
use crate::colour::printer::Intent;

/// The kind of file, as typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum FormatWord {
    /// 8 bits a channel
    Jpeg,
    /// 16 bits a channel, for retouching elsewhere
    Tiff,
}

impl From<FormatWord> for Format {
    fn from(word: FormatWord) -> Self {
        match word {
            FormatWord::Jpeg => Self::Jpeg,
            FormatWord::Tiff => Self::Tiff,
        }
    }
}

/// The rendering intent, as typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum IntentWord {
    /// Colours that the paper has stay exact, relative to its white
    Relative,
    /// All colours move a little, to keep their differences
    Perceptual,
    /// Vividness before hue and lightness
    Saturation,
    /// With the paper's white too, as for a proof
    Absolute,
}

impl From<IntentWord> for Intent {
    fn from(word: IntentWord) -> Self {
        match word {
            IntentWord::Relative => Self::Relative,
            IntentWord::Perceptual => Self::Perceptual,
            IntentWord::Saturation => Self::Saturation,
            IntentWord::Absolute => Self::Absolute,
        }
    }
}

/// A choice between two.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Switch {
    /// Do it
    On,
    /// Leave it
    Off,
}

/// The space of the pictures, as typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum SpaceWord {
    /// sRGB (IEC 61966-2-1): for screens, the web and most laboratories
    Srgb,
    /// Display P3 (SMPTE EG 432-1): more red, green and cyan, for screens that have them
    DisplayP3,
    /// Rec. 2020 (ITU-R BT.2020): wide, for retouching elsewhere in 16 bits
    Rec2020,
}

impl From<SpaceWord> for OutputSpace {
    fn from(word: SpaceWord) -> Self {
        match word {
            SpaceWord::Srgb => Self::Srgb,
            SpaceWord::DisplayP3 => Self::DisplayP3,
            SpaceWord::Rec2020 => Self::Rec2020,
        }
    }
}

/// What is solved anew for each frame, as typed.
#[derive(Clone, Copy, Debug, Default, clap::ValueEnum)]
pub(super) enum FollowWord {
    /// Nothing: the reference's numbers are copied
    None,
    /// The body's exposure settings are evened out
    Exposure,
    /// The light itself: level of the lit region, and white where it can be read
    #[default]
    Light,
}

impl From<FollowWord> for crate::look::carry::Follow {
    fn from(word: FollowWord) -> Self {
        match word {
            FollowWord::None => Self::None,
            FollowWord::Exposure => Self::Exposure,
            FollowWord::Light => Self::Light,
        }
    }
}
