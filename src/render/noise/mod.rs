//! Noise reduction, after the demosaic, in white-balanced camera colour.
//!
//! The light is made to have the same noise everywhere (`stabilise`) and turned into opponent axes; each is split by an
//! undecimated Haar transform (`haar`, `bank`), what a difference's neighbourhood says to be noise is taken away
//! (`shrink`), and the light comes back through the exact unbiased inverse. Two levels work on the picture's own grid,
//! `COARSE_STEPS` on every second row and column, which costs a quarter (`coarse`; measured: within 0.1 dB of levels
//! on the full grid throughout).
//!
//! The demosaic leaves noise of neighbouring pixels alike, and each method in its own way; how much noise each level
//! holds is therefore measured for each plan by sending pure noise through its own demosaic (`calibrate`).
//!
//! A global threshold a band, or levels cut into tiles, would be simpler; the first needs the whole picture before the
//! first row, the second shows its grid. Rows here wait in rings, as many whatever the picture's height.

mod axis;
mod bank;
mod calibrate;
mod coarse;
mod denoiser;
#[cfg(test)]
mod figures;
mod full;
mod haar;
#[cfg(test)]
mod photograph;
mod shrink;
mod stabilise;

pub use bank::Threshold;
pub(crate) use calibrate::reduction;
pub(crate) use denoiser::Denoiser;
pub use stabilise::Stabiliser;

use crate::look::correction::NoiseReduction;
use crate::raw::noise::NoiseModel;
use std::fmt;

/// Steps of the levels on the picture's own grid.
const FINE_STEPS: [usize; 2] = [1, 2];

/// Steps of the levels on every second row and column, in those.
const COARSE_STEPS: [usize; 3] = [2, 4, 8];

/// Levels in all.
pub const LEVELS: usize = FINE_STEPS.len() + COARSE_STEPS.len();

/// What noise reduction does, in plain numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct NoiseStep {
    /// The transforms of red, green, blue.
    pub channels: [Stabiliser; 3],
    /// Thresholds of sum, red against blue, green against both, from the finest level to the coarsest.
    pub thresholds: [[Threshold; LEVELS]; 3],
    /// What the correction asked for.
    pub amounts: NoiseReduction,
    /// The noise that was found in the frame, of green photosites.
    pub found: NoiseModel,
    /// White-balanced light at which each channel is full: such values stay full.
    pub full: [f32; 3],
}

impl fmt::Display for NoiseStep {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        let NoiseReduction {
            luminance,
            colour,
            grain,
        } = self.amounts;
        let NoiseModel { slope, floor } = self.found;
        write!(
            to,
            "noise: variance {slope:.3e} of the level and {floor:.3e}; {luminance:.2} of it from luminance, {colour:.2} \
             from colour, {grain:.2} of the fine luminance kept as grain"
        )
    }
}
