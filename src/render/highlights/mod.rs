//! Highlights: what to make of pixels with clipped channels.
//!
//! White balance multiplies a full red photosite by, say, two and a full green one by one, so a lamp that fills all
//! three would come out pink, a white shirt that fills green alone too, and a red wash on a face turns yellow where red
//! has run to its end and green follows. What is missing is rebuilt:
//!
//! - Before the picture, once and only when something is clipped, the mosaic is gathered in coarse cells, each with the
//!   colour of its unclipped light, and what clipped cells lack is filled in from the unclipped ones around them
//!   (`surroundings`: propagation of chroma from the unclipped ring, after Xu, Doutre and Nasiopoulos 2011, "Correction of
//!   clipped pixels in color images", IEEE TVCG 17(3)). What is filled in is not a colour but a distribution of colours:
//!   mean and covariance of the logarithms of channel ratios.
//! - What the demosaic let sink below full between full photosites is held up (`floor`).
//! - Each pixel's clipped channels are then the conditional mean given its unclipped ones (`rebuild`; Zhang and Brainard
//!   2004, "Estimation of saturated pixel values in digital color imaging", JOSA A 21(12)). With two objects around, the
//!   unclipped ratio tells which of them the pixel belongs to, so that no colour is borrowed across an edge.
//! - Where all three are clipped nobody knows a colour: such a pixel is white, at the level that its neighbours lead up
//!   to, and rises to display white inside: a lamp's core should not come out grey.
//!
//! What was counted unclipped is never changed: under magenta, whose red and blue are clipped, no green is invented.

mod cells;
mod counted;
mod floor;
mod pyramid;
mod rebuild;
mod surroundings;

pub(crate) use cells::Cell;
pub(crate) use counted::{Counted, Sums};
pub(crate) use rebuild::Rebuilder;
pub(crate) use surroundings::{Surroundings, is_any_clipped};

/// Numbers of the stage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HighlightStep {
    /// White-balanced level at which red, green and blue photosites are full.
    pub full: [f32; 3],
    /// White-balanced light, before the gain, that the curve makes display white.
    pub white: f32,
}

/// Share of the full level at which a channel begins to count as clipped, and at which it wholly does: photosites of one
/// channel do not all fill at the same count, and a demosaic mixes them. Common practice, no source.
pub(crate) const CLIPPED: (f32, f32) = (0.90, 0.985);
