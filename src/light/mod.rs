//! Reading the light in one frame: lit region, neutral patches, illuminant with confidence, histograms and levels.
//!
//! Everything here works on reduced data in black-subtracted camera RGB, before any matrix: a 3 x 3 matrix gives blue
//! LEDs negative luminance, and a logarithm of that is nonsense.

pub mod patch;
pub mod reading;
