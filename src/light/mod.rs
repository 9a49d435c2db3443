//! Reading the light in one frame: lit region, neutral patches, illuminant with confidence, histograms and levels.
//!
//! Everything here works on reduced data in black-subtracted camera RGB, before any matrix: a 3 x 3 matrix gives blue
//! LEDs negative luminance, and a logarithm of that is nonsense. [`reduce`] makes that data from the mosaic with
//! what is known of its noise, [`histogram`] and [`region`] tell lit from dark, [`estimators`] and [`estimate`] find
//! the white, [`patch`] measures what a person pointed at, [`read_light`] puts a frame's [`reading::Reading`] together,
//! and `reference` reads a reference frame.

#![allow(
    clippy::manual_clamp,
    clippy::neg_cmp_op_on_partial_ord,
    reason = "clamp lets NaN through where max().min() takes the lower bound; a negated comparison refuses NaN on purpose"
)]

mod ballots;
mod bins;
pub mod choice;
pub mod colours;
pub mod cues;
pub mod differences;
pub mod estimate;
pub mod estimators;
mod filter;
pub mod glow;
pub mod grayness;
pub mod histogram;
pub mod keys;
pub mod locus;
pub mod mask;
pub mod neutrals;
pub mod patch;
pub mod places;
pub mod raster;
pub mod read;
pub mod reading;
pub mod reduce;
pub mod reference;
pub mod region;
#[cfg(test)]
mod scene;
pub mod sharpness;
pub mod sheet;
mod show;
pub mod skin;
pub mod tiles;
pub mod traces;
pub mod washes;
pub mod white_map;

pub use patch::measure_patches;
pub use read::read_light;
pub use reference::{read_reference, read_reference_by_itself};
pub use show::read_show;
