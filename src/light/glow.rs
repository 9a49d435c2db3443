//! What the washes look like to a body: the colour of what glows beside the lit region.
//!
//! Haze, backdrop and floor are lit by the washes more than by the key. Their mean colour tells in which direction the same
//! washes pull what the key lights.

use crate::light::region::Region;
use crate::light::tiles::Tiles;

/// A tile glows when its strongest channel is this many standard deviations of noise above black.
const ABOVE_NOISE: f64 = 8.0;
/// Share of the glowing tiles that is too grey to tell the washes from what the key spills.
const GREYEST: f64 = 0.4;
/// Fewer tiles than this tell nothing.
const LEAST_TILES: usize = 20;

/// Camera RGB of the glow, strongest channel = 1; `None` where hardly anything glows beside the lit region.
#[must_use]
pub fn glow(tiles: &Tiles, region: &Region) -> Option<[f64; 3]> {
    let clipped = tiles.reduced.clipped.values();
    let mut glowing: Vec<(f64, usize)> = (0..tiles.len())
        .filter(|&at| !region.lit.values()[at] && !region.lamps.values()[at] && clipped[at] <= 0.0)
        .filter_map(|at| {
            let colour = tiles.colour(at);
            let strongest = colour.iter().copied().fold(0.0, f64::max);
            let deepest = tiles.noise[at].iter().copied().fold(0.0, f64::max);
            let weakest = colour.iter().copied().fold(f64::INFINITY, f64::min);
            (strongest > ABOVE_NOISE * deepest).then(|| (weakest / strongest, at))
        })
        .collect();
    if glowing.len() < LEAST_TILES {
        return None;
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a length"
    )]
    let kept = ((1.0 - GREYEST) * glowing.len() as f64) as usize;
    let by_grey = |a: &(f64, usize), b: &(f64, usize)| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1));
    let (first, _, _) = glowing.select_nth_unstable_by(kept, by_grey);
    let mut kept: Vec<usize> = first.iter().map(|(_, at)| *at).collect();
    // Selecting leaves them in no order that means anything; a sum must not hang on it.
    kept.sort_unstable();
    let sum = kept.iter().fold([0.0; 3], |sum, &at| {
        let colour = tiles.colour(at);
        [0, 1, 2].map(|channel| sum[channel] + colour[channel])
    });
    let most = sum.iter().copied().fold(0.0, f64::max);
    (most > 0.0).then(|| sum.map(|value| (value / most).max(0.0)))
}
