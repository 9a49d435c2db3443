//! Why a number is what it is: what was measured, what was trusted, what was applied. All wording is here.

use crate::base::units::Stops;
use crate::light::reading::WhiteSource;
use crate::light::sheet::KeySource;
use crate::look::overrule::WhiteWish;
use serde::{Deserialize, Serialize};
use std::fmt;

/// One thing that solving or carrying decided.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Reason {
    /// The reference's white, and where it came from.
    WhiteSolved {
        /// Where it came from.
        source: WhiteSource,
    },
    /// The reference's white, read from its picture with little confidence.
    WhiteRead {
        /// How sure it is, 0 to 1.
        confidence: f64,
    },
    /// The gain brings the lit region to middle grey.
    GainFromLit {
        /// Median of the lit region before the gain, fraction of range.
        median: f64,
        /// The gain.
        gain: f64,
    },
    /// The lit region's bright end would have left the display: the gain stops short of middle grey.
    GainHeldByHighlights {
        /// Stops below what middle grey asked for.
        short: Stops,
        /// The gain.
        gain: f64,
    },
    /// The lit region asked for more than a reference frame can need.
    GainLimited {
        /// The gain.
        gain: f64,
    },
    /// The reference has no lit region to set the exposure or the levels on.
    NoLitRegion,
    /// The exposure is the body's own.
    GainAsShot,
    /// Levels measured in the reference.
    LevelsMeasured {
        /// Black point from the dark class.
        black: f64,
        /// White point from the lit region.
        white: f64,
    },
    /// The reference's numbers, copied.
    Copied,
    /// Exposure settings evened out.
    ExposureEvened {
        /// Change of the gain against the reference's.
        stops: Stops,
    },
    /// The settings of this frame or of the reference are not known: the reference's gain was copied.
    ExposureUnknown,
    /// The settings ask for more than is sane: held at a limit.
    ExposureLimited {
        /// What the settings ask for.
        asked: Stops,
        /// What was applied.
        applied: Stops,
    },
    /// The lit region was moved towards the reference's level.
    LevelHeld {
        /// How much brighter than the reference's it was, exposure settings evened out.
        difference: Stops,
        /// What was applied against it.
        applied: Stops,
        /// Whether a limit cut it.
        limited: bool,
    },
    /// No lit region in this frame, or none in the reference: its level was left as the settings give it.
    LevelWithoutLit,
    /// The white of the reference's own cue: the reference's.
    WhiteOfReference,
    /// The white of this frame's cue.
    WhiteOfCue {
        /// How it was found.
        source: KeySource,
        /// The known key that it was found by, where that has a name.
        key: Option<String>,
        /// How sure it is, 0 to 1.
        confidence: f64,
        /// How much of the way from the reference's white was gone, 0 to 1.
        share: f64,
    },
    /// Within its run the white drifts, and this frame's stands elsewhere on the line.
    WhiteDrifted {
        /// Distance from the cue's white in log-chroma of the body.
        moved: f64,
    },
    /// Black and white point of this frame's cue.
    LevelsOfCue {
        /// Black point from the cue's dark class.
        black: f64,
        /// White point from its lit region.
        white: f64,
    },
    /// Between two cues.
    InFade {
        /// Share of the coming cue's light that has arrived, 0 to 1.
        arrived: f64,
        /// What was applied to the level of their mixture.
        stops: Stops,
    },
    /// A person said which white.
    WhiteOverruled {
        /// The white.
        wish: WhiteWish,
    },
    /// A person said how much brighter.
    StopsOverruled {
        /// Added to what was solved.
        stops: Stops,
    },
    /// A person said to leave the frame as shot.
    LeftAsShot,
    /// The reference's white, because the cue's own key could not be read.
    WhiteKept {
        /// How sure its reading is, 0 to 1; `None` when there is none.
        confidence: Option<f64>,
    },
    /// The frame's light was not read at all.
    NotRead,
}

impl Reason {
    /// Whether it says where the white came from.
    #[must_use]
    pub fn is_about_the_white(&self) -> bool {
        matches!(
            self,
            Self::WhiteOfReference
                | Self::WhiteOfCue { .. }
                | Self::WhiteKept { .. }
                | Self::WhiteDrifted { .. }
                | Self::WhiteOverruled { .. }
        )
    }

    /// Whether it says that the white is a key's that was read.
    #[must_use]
    pub fn is_of_a_key(&self) -> bool {
        matches!(self, Self::WhiteOfReference | Self::WhiteOfCue { .. })
    }

    /// Whether it says that a person settled the white.
    #[must_use]
    pub fn is_a_persons_white(&self) -> bool {
        matches!(self, Self::WhiteOverruled { .. } | Self::LeftAsShot)
    }
}

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::WhiteSolved { source } => write!(f, "white: {source}"),
            Self::WhiteRead { confidence } => write!(
                f,
                "white: read from the picture, confidence {confidence:.2}"
            ),
            Self::GainFromLit { median, gain } => write!(
                f,
                "exposure: the lit region's median, {:.1} % of the sensor's range, goes to middle grey; gain {gain:.3}",
                100.0 * median
            ),
            Self::GainHeldByHighlights { short, gain } => write!(
                f,
                "exposure: {:.2} stops short of middle grey, to keep the lit region's highlights; gain {gain:.3}",
                short.0
            ),
            Self::GainLimited { gain } => write!(
                f,
                "exposure: the lit region is too far from middle grey; gain held at its limit {gain:.3}, choose a reference with a lit performer"
            ),
            Self::NoLitRegion => write!(
                f,
                "exposure: nothing is lit in the reference frame; its own exposure is kept"
            ),
            Self::GainAsShot => write!(f, "exposure: as shot"),
            Self::LevelsMeasured { black, white } => write!(
                f,
                "levels: black {black:.4} from the dark, white {white:.3} from the lit region"
            ),
            Self::Copied => write!(f, "the reference's numbers, copied"),
            Self::ExposureEvened { stops } => write!(f, "exposure settings evened out: {stops}"),
            Self::ExposureUnknown => write!(
                f,
                "exposure settings of the frame or of the reference are unknown: the reference's gain, copied"
            ),
            Self::ExposureLimited { asked, applied } => {
                write!(
                    f,
                    "exposure settings ask for {asked}, {applied} applied: check the frame's settings"
                )
            }
            Self::LevelHeld {
                difference,
                applied,
                limited,
            } => {
                write!(
                    f,
                    "lit region {difference} against the reference's: {applied} applied"
                )?;
                if *limited {
                    write!(f, ", the most that is allowed")?;
                }
                Ok(())
            }
            Self::LevelWithoutLit => write!(
                f,
                "no lit region to compare: level left as the exposure settings give it"
            ),
            Self::WhiteOfReference => {
                write!(f, "white: the reference's, whose cue this is")
            }
            Self::WhiteOfCue {
                source,
                key,
                confidence,
                share,
            } => {
                write!(f, "white of this frame's cue")?;
                if let Some(key) = key {
                    write!(f, ", found by the key \"{key}\"")?;
                }
                write!(
                    f,
                    " ({}, confidence {confidence:.2})",
                    match source {
                        KeySource::Palette => "its colours fit",
                        KeySource::OtherBody => "as another body saw it",
                    }
                )?;
                if *share < 1.0 {
                    write!(
                        f,
                        "; {:.0} % of the way from the reference's",
                        100.0 * share
                    )?;
                }
                Ok(())
            }
            Self::WhiteDrifted { moved } => write!(
                f,
                "the white drifts within the run: {:.1} % from the cue's at this time",
                100.0 * moved
            ),
            Self::LevelsOfCue { black, white } => write!(
                f,
                "levels of this frame's cue: black {black:.4} from its dark, white {white:.3} from its lit region"
            ),
            Self::InFade { arrived, stops } => write!(
                f,
                "in a cross-fade, {:.0} % of the coming cue's light arrived: white and level of the mixture, {stops} applied",
                100.0 * arrived
            ),
            Self::WhiteOverruled { wish } => write!(f, "white by your word: {wish}"),
            Self::StopsOverruled { stops } => write!(f, "{stops} by your word"),
            Self::LeftAsShot => write!(f, "left as shot, by your word"),
            Self::WhiteKept {
                confidence: Some(confidence),
            } => {
                write!(
                    f,
                    "the reference's white: the cue's own could not be read (confidence {confidence:.2})"
                )
            }
            Self::WhiteKept { confidence: None } => {
                write!(f, "the reference's white: the cue shows no key of its own")
            }
            Self::NotRead => write!(f, "the frame's light was not read: exposure settings only"),
        }
    }
}
