//! What was read from one frame's light, and from a reference frame's: plain data that other rooms may name.

mod choice;

pub use choice::{LeftOut, NeutralChoice, NeutralDoubt, WhyLeftOut};

use crate::base::units::Chromaticity;
use crate::colour::camera::CameraColour;
use crate::light::differences::Vote;
use crate::light::patch::{Patch, PatchMeasure};
use crate::light::traces::Traces;
use crate::raw::facts::Facts;
use serde::{Deserialize, Serialize};
use std::fmt;

/// The light of one frame. Levels are fractions of the sensor's range (0 = black level, 1 = white level) of the brightest
/// channel after the stated white is divided out with green kept, so that they compare between frames of one body.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// The white that levels were measured under.
    pub white: Chromaticity,
    /// Camera RGB of grey under that white, green = 1.
    pub neutral: [f64; 3],
    /// What the body's automatic took for white, where the file says.
    pub as_shot: Option<Chromaticity>,
    /// The estimate of the light's white from the picture alone, when there is one.
    pub estimate: Option<WhiteEstimate>,
    /// What the key lights.
    pub lit: Option<LitRegion>,
    /// The dark class: what the key does not light.
    pub dark: DarkClass,
    /// Share of the picture, 0 to 1, in which at least one channel is clipped.
    pub clipped_share: f64,
    /// Standard deviation of noise at the black level of one photosite, fraction of range.
    pub noise_floor: f64,
    /// Things that are grey, white or black by themselves, most credible first; at most
    /// [`crate::light::neutrals::MOST`], none where no key can be believed.
    pub neutrals: Vec<NeutralCandidate>,
    /// What looks like skin under the frame's own white; `None` where nothing does or no white can be believed.
    pub skin: Option<SkinReading>,
    /// Colours of the washes, most of the picture first; at most [`crate::light::washes::MOST`].
    pub washes: Vec<WashReading>,
    /// How sharp the sharpest part of the picture is, 0 (nothing but noise) upwards: see [`crate::light::sharpness`].
    /// `None` where everything drowns in noise.
    pub sharpness: Option<f64>,
    /// What is left of the picture for whoever pools the light of many frames.
    pub traces: Traces,
}

/// An estimated white.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WhiteEstimate {
    /// Chromaticity of the light.
    pub white: Chromaticity,
    /// Camera RGB of grey under it, green = 1.
    pub neutral: [f64; 3],
    /// 0 (a guess) to 1 (as good as a patch).
    pub confidence: f64,
    /// What each method said, in the order in which they are listed in `crate::light::estimate`.
    pub opinions: Vec<Opinion>,
    /// What the vote of differences rests on, where there was one.
    pub vote: Option<Vote>,
}

/// What one method took for the white.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Opinion {
    /// The method.
    pub method: Method,
    /// Camera RGB of grey, green = 1.
    pub neutral: [f64; 3],
    /// What the method's own evidence is worth, 0 to 1.
    pub weight: f64,
}

/// Methods that estimate a white.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// Mean of the picture (Buchsbaum 1980).
    GreyWorld,
    /// Minkowski mean with p = 6 (Finlayson and Trezzi 2004).
    ShadesOfGrey,
    /// Minkowski mean of derivatives (van de Weijer, Gevers and Gijsenij 2007).
    GreyEdge,
    /// Where the logarithms of the channels change alike (Qian and others 2019).
    GraynessIndex,
    /// Vote of the differences inside one material under the key's shading.
    Differences,
    /// Agreement of things of unlike lightness: see [`crate::light::neutrals`].
    NeutralThings,
}

/// The lit region: the performer. Exposure is set on it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LitRegion {
    /// Share of the picture, 0 to 1.
    pub share: f64,
    /// Median level, fraction of range.
    pub median: f64,
    /// 98th percentile of the level, fraction of range.
    pub bright: f64,
    /// What the key's own level is told by, fraction of range: 90th percentile of green over the tiles that can be grey
    /// or skin under the stated white; `None` when hardly any can. The brightest plain surface in a beam changes less from frame to
    /// frame than the median of what the frame happens to show: on simulated shows it follows the key within 0.2 to 0.3
    /// stops, the median within 0.4 to 0.5.
    pub key_level: Option<f64>,
    /// Share of the region, 0 to 1, whose colour no plausible white gives to skin or grey: what a wash lights.
    pub washed_share: f64,
    /// Share of the region, lamps not counted, 0 to 1, in which a channel is clipped.
    pub blown_share: f64,
    /// Share of the performer, 0 to 1, that drowns in noise: of the region with its gaps closed, where black clothes are.
    pub blocked_share: f64,
}

/// A place that is probably grey, white or black by itself.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct NeutralCandidate {
    /// Where it lies, as a person would point at it.
    pub patch: Patch,
    /// Its (ln R/G, ln B/G) in camera RGB.
    pub chroma: [f64; 2],
    /// How far that is from the white of the frame's estimate.
    pub off_white: f64,
    /// Its green as a share of the key's level: about 1 for white things.
    pub level: f64,
    /// White, grey or black, by that level.
    pub lightness: Lightness,
    /// 0 (a guess) to 1 (certainly neutral and under the key).
    pub confidence: f64,
}

impl NeutralCandidate {
    /// Less is a guess. Chosen by measurement on simulated shows: no source.
    const LEAST_CONFIDENCE: f64 = 0.2;

    /// Whether it is worth being pointed at.
    #[must_use]
    pub fn is_credible(&self) -> bool {
        self.confidence >= Self::LEAST_CONFIDENCE
    }
}

/// How light a thing is under the key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Lightness {
    /// At least half of the brightest plain things: shirts, paper, drum heads.
    White,
    /// In between: cases, stands, cards.
    Grey,
    /// Less than an eighth: stage blacks.
    Black,
}

/// What looks like skin.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SkinReading {
    /// Share of the lit region, 0 to 1.
    pub share: f64,
    /// Its median (ln R/G, ln B/G) less that of the white it is seen under; measured skin lies near
    /// [`crate::light::locus::SKIN`].
    pub offset: [f64; 2],
    /// Its median green, fraction of range.
    pub level: f64,
}

/// One wash.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WashReading {
    /// Its name in the trade.
    pub name: WashName,
    /// Hue angle in degrees, 0 red, 120 green, 240 blue: of camera RGB balanced for daylight, see
    /// [`crate::light::washes`].
    pub hue: f64,
    /// Share of the picture that it colours, 0 to 1.
    pub share: f64,
    /// Share of the lit region that has its hue, 0 to 1: wash that reaches the performer, or clothes of this colour.
    pub lit_share: f64,
}

/// Colours of washes as the trade calls them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WashName {
    /// About 630 nm.
    Red,
    /// About 590 nm, with red.
    Amber,
    /// Red and green.
    Yellow,
    /// Green with some red.
    Lime,
    /// About 525 nm.
    Green,
    /// Green and blue.
    Cyan,
    /// 450 to 470 nm.
    Blue,
    /// Deep violet blue: 450 nm with shorter waves and a trace of red.
    Congo,
    /// Blue with a third of red.
    Violet,
    /// Blue and red.
    Magenta,
    /// Pale red to magenta.
    Pink,
}

impl fmt::Display for WashName {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(match self {
            Self::Red => "red",
            Self::Amber => "amber",
            Self::Yellow => "yellow",
            Self::Lime => "lime",
            Self::Green => "green",
            Self::Cyan => "cyan",
            Self::Blue => "blue",
            Self::Congo => "congo",
            Self::Violet => "violet",
            Self::Magenta => "magenta",
            Self::Pink => "pink",
        })
    }
}

/// The dark class.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct DarkClass {
    /// Median level, fraction of range.
    pub median: f64,
    /// 0.5th percentile of the level, fraction of range; may be slightly negative through noise.
    pub floor: f64,
}

/// What metering one frame gives: what its file says and what its picture says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FrameLight {
    /// When and how it was taken.
    pub facts: Facts,
    /// Its light; `None` when only the facts were read.
    pub reading: Option<Reading>,
    /// How its body turns a white into a neutral and back; without the body's corrections by hue, which no white needs.
    pub colour: CameraColour,
    /// Whether it is the reference frame itself, whose numbers a person's patch or eye has settled.
    pub is_reference: bool,
}

/// An estimate at least this confident is taken for the white without a person's patch. On frames with a known key the
/// estimates above it are right within about 3 degrees; below it a coloured wash may have spoken.
pub const TRUSTED_CONFIDENCE: f64 = 0.5;

/// What was read from a reference frame.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reference {
    /// When and how it was taken.
    pub facts: Facts,
    /// Its white.
    pub white: ChosenWhite,
    /// The neutral patches, where there were any.
    pub patches: Option<PatchMeasure>,
    /// How they were chosen, where nobody pointed at them.
    pub choice: Option<NeutralChoice>,
    /// Its light, with the levels under that white.
    pub reading: Reading,
    /// How its body turns a white into a neutral and back.
    pub colour: CameraColour,
}

/// A white and where it came from.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChosenWhite {
    /// Its chromaticity.
    pub white: Chromaticity,
    /// Where it came from.
    pub source: WhiteSource,
}

/// Where a white came from.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum WhiteSource {
    /// Neutral patches that a person pointed at.
    Patches {
        /// How many.
        count: usize,
        /// Largest disagreement of a patch with their mean, degrees (reproduction error).
        disagreement: f64,
    },
    /// The estimate from the picture.
    Estimate {
        /// 0 to 1.
        confidence: f64,
    },
    /// What the body's automatic took for white, because nothing better was there.
    AsShot {
        /// Confidence of the estimate that was not trusted.
        confidence: f64,
    },
    /// Daylight of 6500 K, because the file does not even say what the body took for white.
    Daylight {
        /// Confidence of the estimate that was not trusted.
        confidence: f64,
    },
}

impl WhiteSource {
    /// What a person should know and can do about it, where there is something.
    #[must_use]
    pub fn warning(&self) -> Option<String> {
        let point = "point at something grey in the reference frame with --neutral X,Y";
        match *self {
            Self::Patches { disagreement, .. }
                if disagreement > PatchMeasure::DISAGREEMENT_LIMIT =>
            {
                Some(format!(
                    "the neutral patches disagree by {disagreement:.1} degrees (limit {:.1}): one of them may be coloured, or \
                     lit by another light; leave it out",
                    PatchMeasure::DISAGREEMENT_LIMIT
                ))
            }
            Self::Patches { .. } | Self::Estimate { .. } => None,
            Self::AsShot { confidence } => Some(format!(
                "the white could not be read from the picture (confidence {confidence:.2}, needed {TRUSTED_CONFIDENCE:.2}): \
                 the body's own white balance was taken; {point}"
            )),
            Self::Daylight { confidence } => Some(format!(
                "the white could not be read from the picture (confidence {confidence:.2}, needed {TRUSTED_CONFIDENCE:.2}) \
                 and the file has no white balance: daylight was taken; {point}"
            )),
        }
    }
}

impl fmt::Display for WhiteSource {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Patches { count: 1, .. } => write!(formatter, "one neutral patch"),
            Self::Patches {
                count,
                disagreement,
            } => write!(
                formatter,
                "{count} neutral patches that agree within {disagreement:.1} degrees"
            ),
            Self::Estimate { confidence } => {
                write!(
                    formatter,
                    "estimated from the picture, confidence {confidence:.2}"
                )
            }
            Self::AsShot { .. } => write!(formatter, "the body's own white balance"),
            Self::Daylight { .. } => write!(formatter, "daylight, for want of anything better"),
        }
    }
}
