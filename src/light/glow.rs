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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::scene::{Kind, with_scene};

    const BLUE: [f64; 3] = [0.004, 0.02, 0.2];
    const GREY: [f64; 3] = [0.1, 0.1, 0.1];

    #[test]
    fn the_glow_is_what_is_coloured_beside_the_lit_region() {
        // Six columns of ten glow, four are grey; beside them the key lights red, and a lamp is green.
        let of = |x: usize, _| match x {
            0..6 => (BLUE, Kind::Beside),
            6..10 => (GREY, Kind::Beside),
            10..20 => ([0.5, 0.1, 0.1], Kind::Lit),
            _ => ([0.1, 0.9, 0.1], Kind::Lamp),
        };
        let found = with_scene((25, 10), of, glow).expect("it glows");
        for (found, expected) in found.iter().zip(BLUE.map(|value| value / BLUE[2])) {
            assert!((found - expected).abs() < 1e-12, "{found} {expected}");
        }
        // The same light at twice the level has the same colour.
        let brighter = |x: usize, y: usize| {
            let (colour, kind) = of(x, y);
            (colour.map(|value| 2.0 * value), kind)
        };
        let twice = with_scene((25, 10), brighter, glow).expect("it glows");
        assert!(
            found
                .iter()
                .zip(twice)
                .all(|(one, other)| (one - other).abs() < 1e-12)
        );
    }

    #[test]
    fn little_and_dark_glow_tells_nothing() {
        let glows = |tiles: usize, colour: [f64; 3]| {
            let of = |x: usize, _| match x {
                _ if x < tiles => (colour, Kind::Beside),
                _ => (GREY, Kind::Lit),
            };
            with_scene((40, 1), of, glow).is_some()
        };
        assert!(glows(LEAST_TILES, BLUE));
        assert!(!glows(LEAST_TILES - 1, BLUE));
        assert!(!glows(LEAST_TILES, BLUE.map(|value| 1e-4 * value)), "noise");
    }
}
