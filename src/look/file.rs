//! A look: what a person decided, and, once solved, what it remembers of the reference frame.
//!
//! A look lives in a TOML file with `version = 1`. The file is written by our own writer, with a comment before every
//! field (meaning, unit, neutral value, range), so that a person can edit it without a manual; reading a written look
//! gives the same look to the bit. Reading is strict: an unknown field, a wrong unit, a value out of range or not finite
//! is refused by name, because a misspelt field that is ignored would change five thousand pictures in silence. A field
//! that is left out takes its neutral value. Comments of an edited file are not kept when the program writes it again.

use crate::base::files::{self, FileError};
use crate::base::format::Format;
use crate::base::units::{Chromaticity, Stops};
use crate::colour::output_space::OutputSpace;
use crate::colour::printer::Printing;
use crate::look::correction::{
    Curve, Levels, Monochrome, NoiseReduction, RollOff, Sharpening, Tint,
};
use crate::look::keys::Key;
use crate::look::read::{self, FieldError};
use crate::look::write;
use crate::raw::facts::Body;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// The version of look files that this program writes.
pub const VERSION: i64 = 1;

/// No look file is anywhere near this long; what is longer was meant for something else. Bytes.
const LONGEST_FILE: u64 = 1 << 20;

/// Everything a person decided about the pictures of a show.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Look {
    /// What people call it.
    pub name: String,
    /// Free text.
    pub note: String,
    /// The white that is rendered neutral; `None`: to be found in a reference frame.
    pub white: Option<Chromaticity>,
    /// How bright.
    pub exposure: ExposureWish,
    /// Black point, middle, white point.
    pub levels: LevelsWish,
    /// Tone curve.
    pub curve: Curve,
    /// How bright colours go to white.
    pub roll_off: RollOff,
    /// Saturation; neutral 1.
    pub saturation: f64,
    /// Black and white; neutral amount 0.
    pub monochrome: Monochrome,
    /// Tone tint; neutral strengths 0.
    pub tint: Tint,
    /// Noise reduction; neutral: none.
    pub noise: NoiseReduction,
    /// Capture sharpening, 0 to 1; neutral 0.
    pub detail: f64,
    /// Output sharpening; neutral amount 0.
    pub sharpening: Sharpening,
    /// Size, space and quality of the delivered pictures.
    pub output: OutputWish,
    /// What a solved look remembers of its reference frame; `None` before it is solved.
    pub reference: Option<Remembered>,
    /// Keys that it knows, the reference's first; none before it is solved, and in files of before there were keys.
    pub keys: Vec<Key>,
}

/// How bright the pictures are to be.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ExposureWish {
    /// Where the gain comes from.
    pub policy: ExposurePolicy,
    /// Added on top.
    pub stops: Stops,
    /// When the light is followed: share of a cue's own brightness difference that is kept, 0 (every lit region is
    /// brought to the reference's level) to 1 (only exposure settings are evened out).
    pub kept_difference: f64,
    /// When the light is followed: the most that a frame's level is moved beyond its exposure settings.
    pub most_correction: Stops,
}

/// Where the gain of the reference frame comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ExposurePolicy {
    /// The lit region's median is brought to middle grey, as far as its highlights allow.
    Lit,
    /// Gain 1: as the body exposed it.
    AsShot,
}

/// Where the levels come from.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LevelsWish {
    /// Measured or fixed.
    pub policy: LevelsPolicy,
    /// The numbers of the fixed policy; also what the measured policy falls back to without a lit region.
    pub fixed: Levels,
}

/// Whether levels are measured in the reference frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum LevelsPolicy {
    /// Black point from the reference's dark class, white point from its lit region.
    Measured,
    /// The numbers in the file.
    Fixed,
}

/// Size, space and quality of the delivered pictures.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OutputWish {
    /// Longest edge in pixels; `None`: full size.
    pub long_edge: Option<u32>,
    /// The kind of file.
    pub format: Format,
    /// Space of the pixels, where no profile is given.
    pub space: OutputSpace,
    /// Path of the profile that pictures are converted into; empty: none. A relative one starts at the look's folder.
    pub profile: String,
    /// How they are.
    pub printing: Printing,
    /// JPEG quality, 1 to 100.
    pub quality: u8,
}

/// What a solved look remembers of its reference frame, enough to carry it to the next night without that frame.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Remembered {
    /// The reference frame's file name, for people.
    pub frame: String,
    /// The body that took it.
    pub body: Body,
    /// Gain of the reference frame (see [`crate::look::correction::Correction::gain`]).
    pub gain: f64,
    /// Levels of the reference frame.
    pub levels: Levels,
    /// Relative exposure H = t S / N² of the reference frame, where its settings are known.
    pub relative_exposure: Option<f64>,
    /// Level of its key (see [`crate::light::reading::LitRegion::key_level`]), where it has one.
    pub key_level: Option<f64>,
}

impl Default for Look {
    /// Every field at its neutral value: scene colour as measured.
    fn default() -> Self {
        Self {
            name: String::new(),
            note: String::new(),
            white: None,
            exposure: ExposureWish {
                policy: ExposurePolicy::AsShot,
                stops: Stops(0.0),
                kept_difference: 0.0,
                most_correction: Stops(1.0),
            },
            levels: LevelsWish {
                policy: LevelsPolicy::Fixed,
                fixed: Levels::NEUTRAL,
            },
            curve: Curve::Straight,
            roll_off: RollOff::NEUTRAL,
            saturation: 1.0,
            monochrome: Monochrome::NEUTRAL,
            tint: Tint::NEUTRAL,
            noise: NoiseReduction::NEUTRAL,
            detail: 0.0,
            sharpening: Sharpening::NEUTRAL,
            output: OutputWish {
                long_edge: None,
                format: Format::Jpeg,
                space: OutputSpace::Srgb,
                profile: String::new(),
                printing: Printing::default(),
                quality: 92,
            },
            reference: None,
            keys: Vec::new(),
        }
    }
}

/// Why a look could not be read, found or kept.
#[derive(Debug, thiserror::Error)]
pub enum LookError {
    /// Neither a preset nor a file.
    #[error(
        "no preset is called \"{name}\"; the presets are {presets}. For a look file, give its path, ending in .toml"
    )]
    Unknown {
        /// What was asked for.
        name: String,
        /// The names there are, with commas.
        presets: String,
    },
    /// The file cannot be read.
    #[error("cannot read the look {path}: {source}. Check the path and its permissions", path = path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// The file is not a look.
    #[error("the look {origin} cannot be used: {source}")]
    Content {
        /// The file, or the preset's name.
        origin: String,
        /// What is wrong with it, and what to do.
        source: FieldError,
    },
    /// The file cannot be written.
    #[error(transparent)]
    Write(#[from] FileError),
}

impl Look {
    /// Whether the look remembers a reference frame and its white, so that it can be carried.
    #[must_use]
    pub fn is_solved(&self) -> bool {
        self.white.is_some() && self.reference.is_some()
    }

    /// The look as the text of a look file.
    #[must_use]
    pub fn to_text(&self) -> String {
        write::write(self)
    }

    /// Reads the text of a look file.
    ///
    /// # Errors
    /// When the text is not TOML, of a later version, or holds a field that is unknown, of a wrong unit or kind, or out
    /// of range.
    pub fn from_text(text: &str) -> Result<Self, FieldError> {
        read::read(text)
    }

    /// Reads a look file.
    ///
    /// # Errors
    /// When the file cannot be read or does not hold a look.
    pub fn load(path: &Path) -> Result<Self, LookError> {
        let refuse = |source| LookError::Read {
            path: path.to_owned(),
            source,
        };
        let about = std::fs::metadata(path).map_err(refuse)?;
        if !about.is_file() {
            return Err(refuse(std::io::Error::other("it is not a file")));
        }
        let length = about.len();
        if length > LONGEST_FILE {
            return Err(refuse(std::io::Error::other(format!(
                "{length} bytes are too long for a look"
            ))));
        }
        let text = std::fs::read_to_string(path).map_err(refuse)?;
        Self::from_text(&text).map_err(|source| LookError::Content {
            origin: path.display().to_string(),
            source,
        })
    }

    /// Writes a look file, whole or not at all.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn save(&self, path: &Path) -> Result<(), LookError> {
        Ok(files::write_whole(path, self.to_text().as_bytes())?)
    }

    /// A preset by its name, or a look file by its path: what holds a path separator or ends in `.toml` is a path.
    ///
    /// # Errors
    /// When there is no such preset, or the file cannot be read or does not hold a look.
    pub fn resolve(name_or_path: &Path) -> Result<Self, LookError> {
        let is_path = name_or_path.components().count() > 1
            || name_or_path.is_absolute()
            || name_or_path
                .extension()
                .is_some_and(|suffix| suffix.eq_ignore_ascii_case("toml"));
        match name_or_path.to_str() {
            Some(name) if !is_path && !name.contains(std::path::is_separator) => {
                crate::look::presets::preset(name)
            }
            _ => Self::load(name_or_path),
        }
    }
}
