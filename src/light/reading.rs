//! What was read from one frame's light.

use crate::base::units::Chromaticity;
use serde::{Deserialize, Serialize};

/// The light of one frame. Levels are fractions of the sensor's range (0 = black level, 1 = white level) of the brightest
/// channel after the stated white is divided out with green kept, so that they compare between frames of one body.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// The white that levels were measured under: camera RGB of grey, green = 1.
    pub neutral: [f64; 3],
    /// The estimate of the light's white from the picture alone, when there is one.
    pub estimate: Option<WhiteEstimate>,
    /// What the key lights.
    pub lit: Option<LitRegion>,
    /// The dark class: what the key does not light.
    pub dark: DarkClass,
    /// Share of the picture, 0 to 1, in which at least one channel is clipped.
    pub clipped_share: f64,
    /// Standard deviation of noise at the black level, fraction of range.
    pub noise_floor: f64,
}

/// An estimated white.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct WhiteEstimate {
    /// Chromaticity of the light.
    pub white: Chromaticity,
    /// 0 (a guess) to 1 (as good as a patch).
    pub confidence: f64,
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
}

/// The dark class.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct DarkClass {
    /// Median level, fraction of range.
    pub median: f64,
    /// 0.5th percentile of the level, fraction of range; may be slightly negative through noise.
    pub floor: f64,
}
