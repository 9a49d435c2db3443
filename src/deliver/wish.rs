//! What a person asks of the delivered file, beyond the picture itself.

pub use crate::base::format::Format;
use crate::colour::printer::Printing;
use serde::{Deserialize, Serialize};

/// The quality that is delivered unless another is asked for. Common practice for pictures that go to an editor, no
/// source: above it files grow fast and the eye gains nothing at normal viewing distance.
pub const DEFAULT_QUALITY: u8 = 92;

/// Pixels per inch that a file states unless others are asked for: EXIF must have some. 300 is common practice for print, no
/// source; on a screen nothing looks at it.
pub const DEFAULT_PIXELS_PER_INCH: f64 = 300.0;

/// How a picture is to be delivered.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wish {
    /// The kind of file.
    pub format: Format,
    /// Conversion into a printer's space; `None`: the picture stays in its own.
    pub converted: Option<Converted>,
    /// JPEG quality, 1 (smallest file) to 100: the scale of the quantisation tables of ITU-T T.81, annex K, as the
    /// Independent JPEG Group's library defined it. 50 is the tables themselves.
    pub quality: u8,
    /// Pixels per inch that the file states: its size on paper, where nobody says another.
    pub pixels_per_inch: f64,
    /// Whether the place where the frame was taken goes into the file. Off unless asked for: a picture that is handed on
    /// should not tell where somebody was.
    pub include_position: bool,
    /// Where the picture comes from.
    pub provenance: Provenance,
}

impl Default for Wish {
    fn default() -> Self {
        Self {
            format: Format::Jpeg,
            converted: None,
            quality: DEFAULT_QUALITY,
            pixels_per_inch: DEFAULT_PIXELS_PER_INCH,
            include_position: false,
            provenance: Provenance::default(),
        }
    }
}

/// Conversion into the space of a profile.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Converted {
    /// Digest of the profile's bytes, in hexadecimal.
    pub profile_digest: String,
    /// How.
    pub printing: Printing,
}

/// Where a picture comes from, so that a file found years later can be traced. Each part is left out of the file when it
/// is `None`.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Provenance {
    /// File name of the original, without its folders.
    pub original: Option<String>,
    /// Name of the look.
    pub look: Option<String>,
    /// Digest of the frame's correction, in hexadecimal: pictures of equal digest had equal numbers applied.
    pub correction_digest: Option<String>,
}

/// How finely colour is stored beside luma.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChromaSampling {
    /// 4:4:4: a colour for each pixel.
    Full,
    /// 4:2:0: one colour for two by two pixels, their mean.
    Quarter,
}

/// From this quality on colour keeps every pixel. Stage light is saturated, and its edges show halved colour first.
pub const FULL_CHROMA_FROM: u8 = 90;

impl Wish {
    /// The chroma sampling that goes with the quality.
    #[must_use]
    pub fn chroma_sampling(&self) -> ChromaSampling {
        if self.quality >= FULL_CHROMA_FROM {
            ChromaSampling::Full
        } else {
            ChromaSampling::Quarter
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colour_keeps_every_pixel_from_ninety_on() {
        for (quality, sampling) in [
            (1, ChromaSampling::Quarter),
            (89, ChromaSampling::Quarter),
            (90, ChromaSampling::Full),
            (100, ChromaSampling::Full),
        ] {
            let wish = Wish {
                quality,
                ..Wish::default()
            };
            assert_eq!(wish.chroma_sampling(), sampling, "quality {quality}");
        }
    }

    #[test]
    fn the_place_is_kept_back_unless_asked_for() {
        assert!(!Wish::default().include_position);
    }
}
