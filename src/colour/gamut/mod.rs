//! Stage light outside the picture's space: brought in without black faces, azure walls or flat patches.
//!
//! Two steps, both homogeneous (twice the light in is twice the light out), so that they may stand before or after an
//! exposure or a resize, and both leaving alone what needs no help:
//!
//! 1. the **guard** ([`Compression`], on linear AP1): a 3x3 matrix can give a blue LED negative luminance. The reference
//!    gamut compression of ACES 1.3, with limits that hold for the very body and white, leaves nothing negative.
//! 2. the **map** ([`Destination::map`], on linear RGB of the picture's space): where a channel is negative, chroma is reduced in Oklab for greens,
//!    cyans, reds and ambers; from blue to magenta, where Oklab's hue turns blue into azure, it is half clipping and half
//!    a mix with white (the dominant wavelength stays).
//!
//! The order matters: Oklab hue of a colour with negative luminance means nothing. Rendering hands the result to a curve
//! on the brightest channel and lets the brightest go to white ([`Destination::toward_white`]).
//!
//! Each step is a function of one pixel, as its formula reads, and a function of a row. Rows are worked in blocks of
//! sixteen: a block in which no pixel needs help costs a comparison; of the others some are worked side by side,
//! with look-ups for the hue, and the pixels that needed it are taken. The simpler way, a branch and the system's
//! mathematics for each pixel, takes about thirty times as long on a frame full of LED light.

pub(super) mod blocks;
mod chroma;
mod compression;
mod destination;
mod hues;
pub(super) mod oklab_of_space;
mod outside;
mod roll_off;
mod saturation;

pub use compression::Compression;
pub use destination::Destination;
pub use outside::{DARKEST_OUTSIDE, OUTSIDE};
pub use roll_off::white_share;
