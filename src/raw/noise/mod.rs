//! How noisy a frame is: a fact of its mosaic, which reading the light and rendering both go by.

mod measure;
mod strip;

pub use measure::measure;

use crate::raw::frame::Frame;
use serde::{Deserialize, Serialize};

/// Variance of one photosite as a straight line in its mean, both as fractions of the sensor's range.
///
/// The Poisson-Gaussian model of Foi, Trimeche, Katkovnik and Egiazarian ("Practical Poissonian-Gaussian noise modeling
/// and fitting for single-image raw-data", IEEE TIP 17:1737, 2008).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct NoiseModel {
    /// Variance per level: photon noise, 1 / (electrons of a full photosite).
    pub slope: f64,
    /// Variance at the black level: read noise and rounding.
    pub floor: f64,
}

impl NoiseModel {
    /// Variance of a photosite at this level; a level below black counts as black.
    #[must_use]
    pub fn variance(&self, level: f64) -> f64 {
        self.slope * level.max(0.0) + self.floor
    }
}

/// The noise of red, green and blue photosites.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SensorNoise {
    /// One model a channel; where the channels cannot be told apart, the same for all.
    pub channels: [NoiseModel; 3],
}

impl SensorNoise {
    /// The model of green, the channel with the most photosites: what a single number about the frame goes by.
    #[must_use]
    pub fn green(&self) -> NoiseModel {
        self.channels[1]
    }
}

/// The noise of a frame.
#[must_use]
pub fn of_frame(frame: &Frame) -> SensorNoise {
    SensorNoise {
        channels: [measure(&frame.mosaic); 3],
    }
}
