//! What the washes look like to a body: the colour of what glows beside the lit region.
//!
//! Haze, backdrop and floor are lit by the washes more than by the key. Their mean colour tells in which direction the same
//! washes pull what the key lights.

use crate::light::reduce::Reduced;
use crate::light::region::Region;

/// A tile glows when its strongest channel is this many standard deviations of noise above black.
const ABOVE_NOISE: f64 = 8.0;
/// Share of the glowing tiles that is too grey to tell the washes from what the key spills.
const GREYEST: f64 = 0.4;
/// Fewer tiles than this tell nothing.
const LEAST_TILES: usize = 20;

/// Camera RGB of the glow, strongest channel = 1; `None` where hardly anything glows beside the lit region.
#[must_use]
pub fn glow(reduced: &Reduced, region: &Region) -> Option<[f64; 3]> {
    let mut tiles: Vec<(f64, [f64; 3])> = (0..reduced.len())
        .filter(|&at| {
            !region.lit.values()[at]
                && !region.lamps.values()[at]
                && reduced.clipped.values()[at] <= 0.0
        })
        .filter_map(|at| {
            let colour = reduced.colour.values()[at];
            let noise = reduced.noise_variance(colour);
            let strongest = colour.iter().copied().fold(0.0, f64::max);
            let deepest = noise.iter().copied().fold(0.0, f64::max).sqrt();
            let weakest = colour.iter().copied().fold(f64::INFINITY, f64::min);
            (strongest > ABOVE_NOISE * deepest).then(|| (weakest / strongest, colour))
        })
        .collect();
    if tiles.len() < LEAST_TILES {
        return None;
    }
    tiles.sort_by(|a, b| a.0.total_cmp(&b.0));
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a length"
    )]
    let kept = ((1.0 - GREYEST) * tiles.len() as f64) as usize;
    let sum = tiles[..kept].iter().fold([0.0; 3], |sum, (_, colour)| {
        [0, 1, 2].map(|channel| sum[channel] + colour[channel])
    });
    let most = sum.iter().copied().fold(0.0, f64::max);
    (most > 0.0).then(|| sum.map(|value| (value / most).max(0.0)))
}
