//! Units that must not be mixed up: stops against factors, kelvin, chromaticities.

use serde::{Deserialize, Serialize};

/// A ratio of light on a base-two logarithmic scale: +1 stop is twice the light. Neutral value: 0.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Stops(pub f64);

impl Stops {
    /// The stops of a factor; `None` when the factor is not positive and finite.
    #[must_use]
    pub fn from_factor(factor: f64) -> Option<Self> {
        (factor > 0.0 && factor.is_finite()).then(|| Self(factor.log2()))
    }

    /// The factor by which light is multiplied.
    #[must_use]
    pub fn factor(self) -> f64 {
        self.0.exp2()
    }
}

impl std::fmt::Display for Stops {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "{:+.2} stops", self.0)
    }
}

/// A temperature in kelvin, of a black body or correlated with one.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Kelvin(pub f64);

impl std::fmt::Display for Kelvin {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "{:.0} K", self.0)
    }
}

/// A CIE 1931 chromaticity.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Chromaticity {
    /// CIE x.
    pub x: f64,
    /// CIE y.
    pub y: f64,
}

impl Chromaticity {
    /// CIE illuminant D50 (CIE 015, 2 degree observer).
    pub const D50: Self = Self {
        x: 0.345_67,
        y: 0.358_50,
    };
    /// CIE illuminant D65 as IEC 61966-2-1 and BT.2020 state it.
    pub const D65: Self = Self {
        x: 0.3127,
        y: 0.3290,
    };

    /// The chromaticity of tristimulus values; `None` when their sum is not positive or a value is not finite (a camera
    /// matrix can do that to a blue LED).
    #[must_use]
    pub fn from_xyz(xyz: [f64; 3]) -> Option<Self> {
        let sum: f64 = xyz.iter().sum();
        (sum > 0.0 && xyz.iter().all(|value| value.is_finite())).then(|| Self {
            x: xyz[0] / sum,
            y: xyz[1] / sum,
        })
    }

    /// Tristimulus values of this chromaticity with Y = 1. Not finite when y is 0: callers check whites with
    /// [`Chromaticity::is_plausible_white`].
    #[must_use]
    pub fn to_xyz(self) -> [f64; 3] {
        [self.x / self.y, 1.0, (1.0 - self.x - self.y) / self.y]
    }

    /// Whether this can be the chromaticity of a light at all: inside the triangle that the tristimulus values span, with
    /// some luminance.
    #[must_use]
    pub fn is_plausible_white(self) -> bool {
        /// Below this y a white of unit luminance has absurd X or Z; the spectral locus itself ends at y = 0.005.
        const LEAST_Y: f64 = 0.005;
        self.x > 0.0 && self.y > LEAST_Y && self.x + self.y < 1.0
    }
}
