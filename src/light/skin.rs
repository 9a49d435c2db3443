//! Skin as a weak anchor: what lies where skin lies under the frame's own white.
//!
//! Skin of all groups of people lies along one direction from the white of the light that falls on it (see
//! [`locus::SKIN`]); so do tan cloth, maple and amber-lit backdrops, which is why the anchor is weak.

use crate::base::robust;
use crate::light::locus::{self, SKIN};
use crate::light::reading::SkinReading;
use crate::light::region::Region;
use crate::light::tiles::Tiles;

/// Half axes of the ellipse around [`SKIN`] within which a tile looks like skin, in (ln R/G, ln B/G): twice the standard deviation
/// within a group (0.07, 0.05; measured faces of eight groups through a camera's sensitivities).
const AXES: [f64; 2] = [0.14, 0.10];
/// Less of the lit region than this is no face.
const LEAST_SHARE: f64 = 0.01;

/// What looks like skin in the lit region under this neutral.
#[must_use]
pub fn skin(tiles: &Tiles, region: &Region, neutral: [f64; 3]) -> Option<SkinReading> {
    let white = locus::log_chroma(neutral)?;
    let lit = region.lit.values().iter().filter(|lit| **lit).count();
    let (mut offsets, mut levels) = ([Vec::new(), Vec::new()], Vec::new());
    let clipped = tiles.reduced.clipped.values();
    for at in (0..tiles.len()).filter(|&at| region.lit.values()[at] && clipped[at] <= 0.0) {
        let Some(chroma) = tiles.chroma(at) else {
            continue;
        };
        let offset = [chroma[0] - white[0], chroma[1] - white[1]];
        let off = (0..2)
            .map(|axis| ((offset[axis] - SKIN[axis]) / AXES[axis]).powi(2))
            .sum::<f64>();
        if off <= 1.0 {
            offsets[0].push(offset[0]);
            offsets[1].push(offset[1]);
            levels.push(tiles.colour(at)[1]);
        }
    }
    let share = levels.len() as f64 / lit.max(1) as f64;
    if share < LEAST_SHARE {
        return None;
    }
    let [mut red, mut blue] = offsets;
    Some(SkinReading {
        share,
        offset: [robust::median(&mut red)?, robust::median(&mut blue)?],
        level: robust::median(&mut levels)?,
    })
}
