//! What is told of neutral patches that were chosen without a person.

use super::NeutralCandidate;
use crate::light::patch::PatchError;
use serde::{Deserialize, Serialize};
use std::fmt;

/// Neutral patches that were chosen without a person.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NeutralChoice {
    /// Those that the white rests on, as the reference's [`super::Reference::patches`] lists them.
    pub used: Vec<NeutralCandidate>,
    /// Those that it does not.
    pub left_out: Vec<LeftOut>,
    /// Angle in degrees (reproduction error) between the white of the patches and the estimate of the frame.
    pub off_estimate: Option<f64>,
    /// What speaks against the choice.
    pub doubt: Option<NeutralDoubt>,
}

/// A candidate that was not used.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// The candidate.
    pub candidate: NeutralCandidate,
    /// Why.
    pub why: WhyLeftOut,
}

/// Why a candidate was not used.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", content = "detail", rename_all = "kebab-case")]
pub enum WhyLeftOut {
    /// Its confidence is too small.
    Doubtful,
    /// It cannot be measured.
    Unmeasurable(PatchError),
    /// It says another white than the others.
    Disagrees {
        /// Angle to their middle in degrees (reproduction error).
        degrees: f64,
    },
}

impl fmt::Display for WhyLeftOut {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Doubtful => formatter.write_str("too doubtful to be asked"),
            Self::Unmeasurable(error) => write!(formatter, "{error}"),
            Self::Disagrees { degrees } => {
                write!(
                    formatter,
                    "disagrees with the others by {degrees:.1} degrees"
                )
            }
        }
    }
}

/// What speaks against neutral patches that were chosen without a person.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum NeutralDoubt {
    /// No candidate can be believed: the white is the frame's estimate, or the body's own.
    NoneCredible,
    /// Nothing confirms the only one.
    OnlyOne,
    /// They say another white than the frame's estimate.
    OffEstimate {
        /// Angle in degrees (reproduction error).
        degrees: f64,
    },
}

impl fmt::Display for NeutralDoubt {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoneCredible => formatter.write_str(
                "nothing in the frame is credibly grey, white or black under the key; point at something with --neutral X,Y",
            ),
            Self::OnlyOne => formatter.write_str(
                "only one neutral patch was found, and nothing confirms it; look at it in the marked picture",
            ),
            Self::OffEstimate { degrees } => write!(
                formatter,
                "the neutral patches are {degrees:.1} degrees from the white that the rest of the picture speaks for; look at them \
                 in the marked picture, and point at something grey with --neutral X,Y if they are coloured"
            ),
        }
    }
}
