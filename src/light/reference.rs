//! Reading a reference frame: its white, and its light under that white.

use crate::base::units::Chromaticity;
use crate::light::patch::{Patch, PatchError, PatchMeasure, measure_patches};
use crate::light::read::read_light;
use crate::light::reading::Reading;
use crate::raw::facts::Facts;
use crate::raw::frame::Frame;
use serde::{Deserialize, Serialize};
use std::fmt;

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
    /// Its light, with the levels under that white.
    pub reading: Reading,
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

/// Reads a reference frame: with patches their white; without, the estimate where it can be trusted, else what the body
/// took for white.
///
/// # Errors
/// When a patch gives no white; never without patches.
pub fn read_reference(frame: &Frame, patches: &[Patch]) -> Result<Reference, PatchError> {
    let measured = match patches {
        [] => None,
        patches => Some(measure_patches(frame, patches)?),
    };
    let (white, reading) = match &measured {
        Some(measure) => (
            ChosenWhite {
                white: measure.white,
                source: WhiteSource::Patches {
                    count: measure.patches.len(),
                    disagreement: measure.disagreement,
                },
            },
            read_light(frame, Some(measure.white)),
        ),
        None => {
            let reading = read_light(frame, None);
            (choose(&reading), reading)
        }
    };
    Ok(Reference {
        facts: frame.facts.clone(),
        white,
        patches: measured,
        reading,
    })
}

/// The white of a reading that was taken without one: what [`read_light`] measured the levels under.
#[must_use]
pub fn choose(reading: &Reading) -> ChosenWhite {
    let confidence = reading
        .estimate
        .as_ref()
        .map_or(0.0, |estimate| estimate.confidence);
    match (&reading.estimate, reading.as_shot) {
        (Some(estimate), _) if confidence >= TRUSTED_CONFIDENCE => ChosenWhite {
            white: estimate.white,
            source: WhiteSource::Estimate { confidence },
        },
        (_, Some(white)) => ChosenWhite {
            white,
            source: WhiteSource::AsShot { confidence },
        },
        _ => ChosenWhite {
            white: Chromaticity::D65,
            source: WhiteSource::Daylight { confidence },
        },
    }
}
