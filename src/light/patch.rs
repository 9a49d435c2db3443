//! A neutral patch: a spot on stage that is grey, white or black by itself.

use serde::{Deserialize, Serialize};

/// Where a neutral patch lies, in the upright picture (the default crop, turned).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Patch {
    /// Centre, fraction of the picture's width from the left, 0 to 1.
    pub x: f64,
    /// Centre, fraction of the picture's height from the top, 0 to 1.
    pub y: f64,
    /// Radius, fraction of the picture's width.
    pub radius: f64,
}
