//! Stage light outside the picture's space: brought in without black faces, azure walls or flat patches.
//!
//! Two steps, both homogeneous (twice the light in is twice the light out), so that they may stand before or after the
//! exposure and a resize, and both leaving alone what needs no help:
//!
//! 1. the **guard** ([`Guard`]): a 3x3 matrix can give a blue LED negative luminance. The reference gamut compression
//!    of ACES 1.3, on AP1, with limits that hold for the very body and white, leaves nothing negative.
//! 2. the **map** ([`srgb_of_working`]): the guarded colour to sRGB. Where a channel is negative, chroma is reduced in Oklab
//!    for greens, cyans, reds and ambers; from blue to magenta, where Oklab's hue turns blue into azure, it is half clipping and
//!    half a mix with white (the dominant wavelength stays).
//!
//! The order matters: Oklab hue of a colour with negative luminance means nothing. Rendering hands the result to a curve on
//! the brightest channel and lets the brightest go to white ([`roll_off`]).
//!
//! Rows are worked in blocks: a block in which no pixel needs help costs two matrices and a comparison.

mod chroma;
mod compression;
mod guard;
pub mod roll_off;

pub use chroma::{map_srgb, srgb_of_working, srgb_of_working_row};
pub use compression::Compression;
pub use guard::Guard;
