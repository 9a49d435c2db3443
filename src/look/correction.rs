//! What one frame gets: plain numbers, printable, comparable, testable without a pixel.

use crate::base::units::Chromaticity;
use serde::{Deserialize, Serialize};

pub use crate::colour::tint::{Lean, Tint};
pub use crate::look::curve::{Curve, Shoulder};

/// The numbers that turn one frame's mosaic into its picture. Two frames with equal mosaics and equal corrections have
/// equal pictures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Correction {
    /// The white of the light: what of this chromaticity is rendered neutral. Each body's matrices turn it into that
    /// body's neutral.
    pub white: Chromaticity,
    /// Factor on scene light, after division by the neutral with green kept: with gain 1 a grey whose green photosites
    /// just fill arrives at 1. Neutral value: 1.
    pub gain: f64,
    /// Black point, midtone, white point.
    pub levels: Levels,
    /// Tone curve.
    pub curve: Curve,
    /// How bright colours go to white.
    pub roll_off: RollOff,
    /// Saturation: 0 is grey; above 1 it acts less on what is saturated already. Neutral value: 1.
    pub saturation: f64,
    /// From colour to black and white.
    pub monochrome: Monochrome,
    /// What shadows and highlights lean to, after the curve.
    pub tint: Tint,
    /// Noise reduction.
    pub noise: NoiseReduction,
    /// Capture sharpening, before anything is resized: 0 (none) to 1.
    pub detail: f64,
    /// Output sharpening on luminance, after resizing.
    pub sharpening: Sharpening,
}

impl Correction {
    /// A correction that changes nothing: this white becomes neutral, everything else is as the body exposed it. Its
    /// fields are the neutral values of a look.
    #[must_use]
    pub const fn neutral(white: Chromaticity) -> Self {
        Self {
            white,
            gain: 1.0,
            levels: Levels::NEUTRAL,
            curve: Curve::Straight,
            roll_off: RollOff::NEUTRAL,
            saturation: 1.0,
            noise: NoiseReduction::NEUTRAL,
            detail: 0.0,
            monochrome: Monochrome::NEUTRAL,
            tint: Tint::NEUTRAL,
            sharpening: Sharpening::NEUTRAL,
        }
    }
}

/// Output sharpening: how much, and for what.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sharpening {
    /// 0 (none) to 2; 1 is what the medium needs.
    pub amount: f64,
    /// What the picture is looked at on.
    pub medium: Medium,
    /// Pixels an inch of the picture there; `None` for what is usual for the medium.
    pub resolution: Option<f64>,
}

/// What a picture is looked at on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Medium {
    /// A screen.
    Screen,
    /// A print on glossy paper.
    Glossy,
    /// A print on matte paper, which takes more from edges.
    Matte,
}

impl Sharpening {
    /// None; begun, it would be for a usual screen.
    pub const NEUTRAL: Self = Self {
        amount: 0.0,
        medium: Medium::Screen,
        resolution: None,
    };
}

/// Levels in scene-linear light after the gain, applied to the brightest channel with the ratios of channels kept.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Levels {
    /// What becomes 0. Neutral value: 0.
    pub black: f64,
    /// Exponent's reciprocal between the two ends: above 1 lifts the middle. Neutral value: 1.
    pub middle: f64,
    /// What becomes 1. Neutral value: 1.
    pub white: f64,
}

/// Noise reduction, in shares of the noise that is measured in the frame, so that one number serves every sensitivity.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct NoiseReduction {
    /// Of the noise in luminance, 0 (none) to 1. Neutral value: 0.
    pub luminance: f64,
    /// Of the noise in colour, 0 (none) to 1. Neutral value: 0.
    pub colour: f64,
    /// Share of the fine noise in luminance that stays as grain, 0 to 1. Neutral value: 0.
    pub grain: f64,
}

/// From colour to black and white: how much each part of the scene light counts. Taken before the curve, on channels
/// wide enough that no lamp's light is negative there, so that a performer in a wash stays as visible as the weight of
/// the wash's own channel makes them: luminance would leave a deep blue wash almost black.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Monochrome {
    /// 0 (colour) to 1 (black and white). Neutral value: 0.
    pub amount: f64,
    /// Weight of red light, not negative; only the proportions of the three weights count.
    pub red: f64,
    /// Weight of green light.
    pub green: f64,
    /// Weight of blue light.
    pub blue: f64,
}

/// Highlight roll-off: from `start` to `end` a colour goes to white.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RollOff {
    /// 0 (off) to 1 (to full white at `end`).
    pub amount: f64,
    /// Scene-linear light of the brightest channel at which it begins, in multiples of diffuse white.
    pub start: f64,
    /// Scene-linear light at which a colour has gone white.
    pub end: f64,
}

impl NoiseReduction {
    /// No noise reduction.
    pub const NEUTRAL: Self = Self {
        luminance: 0.0,
        colour: 0.0,
        grain: 0.0,
    };

    /// Whether it does anything.
    #[must_use]
    pub fn is_asked_for(&self) -> bool {
        self.luminance > 0.0 || self.colour > 0.0
    }
}

impl Levels {
    /// Levels that change nothing.
    pub const NEUTRAL: Self = Self {
        black: 0.0,
        middle: 1.0,
        white: 1.0,
    };
}

impl RollOff {
    /// A roll-off that changes nothing; begun, it would take four stops from diffuse white.
    pub const NEUTRAL: Self = Self {
        amount: 0.0,
        start: 1.0,
        end: 16.0,
    };
}

impl Monochrome {
    /// Colour; begun, all three channels would count alike.
    pub const NEUTRAL: Self = Self {
        amount: 0.0,
        red: 1.0,
        green: 1.0,
        blue: 1.0,
    };

    /// The weights as shares that sum to 1; `None` when a weight is negative or no number, or all are 0.
    #[must_use]
    pub fn shares(&self) -> Option<[f64; 3]> {
        let weights = [self.red, self.green, self.blue];
        let sum: f64 = weights.iter().sum();
        let is_right = weights.iter().all(|weight| *weight >= 0.0) && sum > 0.0 && sum.is_finite();
        is_right.then(|| weights.map(|weight| weight / sum))
    }
}
