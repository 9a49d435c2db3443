//! Places: compact, even spots of the lit region that are of one material, in tiles.

use crate::base::robust;
use crate::light::locus;
use crate::light::reduce::Reduced;
use crate::light::region::Region;
use crate::light::tiles::Tiles;

/// Places that are kept, deepest first.
const MOST: usize = 24;
/// A tile's green must be so many standard deviations of its noise above black, the other channels half of that.
const ABOVE_NOISE: f64 = 8.0;
/// Greatest step of ln green and of log-chroma to a neighbour within one material, and standard deviations of noise that are
/// added.
const STEP: f64 = 0.2;
const CHROMA_STEP: f64 = 0.06;
const NOISE: f64 = 3.0;
/// Tiles from the edge of a place to its middle, at least: a square of three tiles fits.
const LEAST_DEPTH: usize = 2;
/// Deeper places than this are as good as any, and the largest radius of a place, tiles.
const DEEP: usize = 5;
const LARGEST: usize = 4;

/// A place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Column of its middle tile.
    pub x: usize,
    /// Row of its middle tile.
    pub y: usize,
    /// It is a square of this many tiles to each side of the middle.
    pub radius: usize,
    /// (ln R/G, ln B/G) of its mean.
    pub chroma: [f64; 2],
    /// Its mean green, fraction of range.
    pub green: f64,
    /// Median distance of its tiles' log-chroma from its own.
    pub uneven: f64,
}

/// The places of a lit region.
#[must_use]
pub fn places(tiles: &Tiles, region: &Region) -> Vec<Place> {
    let reduced = tiles.reduced;
    let (width, height) = (reduced.colour.width(), reduced.colour.height());
    let mut depth = depths(&even_tiles(tiles, region), width, height);
    let mut found = Vec::new();
    // The deepest first, and of those the first: depths only ever fall, so each is looked for once.
    for least in (LEAST_DEPTH..=DEEP).rev() {
        for middle in 0..depth.len() {
            if depth[middle] < least {
                continue;
            }
            if found.len() >= MOST {
                return found;
            }
            let (x, y, reach) = (middle % width, middle / width, depth[middle] - 1);
            found.extend(place(reduced, x, y, reach.min(LARGEST)));
            // Nothing else is taken from around it.
            let apart = 2 * reach;
            for near_y in y.saturating_sub(apart)..(y + apart + 1).min(height) {
                let from = near_y * width + x.saturating_sub(apart);
                let to = near_y * width + (x + apart + 1).min(width);
                depth[from..to].fill(0);
            }
        }
    }
    found
}

fn place(reduced: &Reduced, x: usize, y: usize, radius: usize) -> Option<Place> {
    let tiles = || {
        (y - radius..=y + radius)
            .flat_map(move |y| (x - radius..=x + radius).map(move |x| reduced.colour.at(x, y)))
    };
    let count = tiles().count() as f64;
    let mut mean = [0.0; 3];
    for colour in tiles() {
        for (sum, value) in mean.iter_mut().zip(colour) {
            *sum += value / count;
        }
    }
    let chroma = locus::log_chroma(mean)?;
    let mut distances: Vec<f64> = tiles()
        .filter_map(locus::log_chroma)
        .map(|other| locus::distance(other, chroma))
        .collect();
    Some(Place {
        x,
        y,
        radius,
        chroma,
        green: mean[1],
        uneven: robust::median(&mut distances)?,
    })
}

/// What is known of a tile for comparing it with its neighbours.
#[derive(Clone, Copy)]
struct Tile {
    green: f64,
    chroma: [f64; 2],
    green_error: f64,
    error: f64,
}

impl Tile {
    /// `None` of one that is not lit, clipped or drowned: it says nothing of its neighbours.
    fn of(tiles: &Tiles, region: &Region, at: usize) -> Option<Self> {
        let weaker = ABOVE_NOISE / 2.0;
        let is_usable = tiles.unclipped[at]
            && region.lit.values()[at]
            && tiles.is_above(at, [weaker, ABOVE_NOISE, weaker]);
        if !is_usable {
            return None;
        }
        let (raw, noise) = (tiles.colour(at), tiles.noise[at]);
        let relative = [0, 1, 2].map(|channel| (noise[channel] / raw[channel]).powi(2));
        Some(Self {
            green: tiles.ln_green(at),
            chroma: tiles.chroma(at)?,
            green_error: relative[1],
            error: relative.iter().sum(),
        })
    }

    /// Whether two neighbours are of one material.
    fn is_like(&self, other: &Self) -> bool {
        // Squares of what exceeds the steps: roots cost more than all the rest, and most neighbours step by less.
        let beyond = (self.green - other.green).abs() - STEP;
        let noise = NOISE * NOISE * (self.green_error + other.green_error);
        if beyond > 0.0 && beyond * beyond > noise {
            return false;
        }
        let square = locus::square_distance(self.chroma, other.chroma);
        if square <= CHROMA_STEP * CHROMA_STEP {
            return true;
        }
        let beyond = square.sqrt() - CHROMA_STEP;
        beyond * beyond <= NOISE * NOISE * (self.error + other.error)
    }
}

/// Lit tiles that are unclipped, above noise, and of one material with all their usable neighbours.
fn even_tiles(tiles: &Tiles, region: &Region) -> Vec<bool> {
    let width = tiles.reduced.colour.width();
    let known: Vec<Option<Tile>> = (0..tiles.len())
        .map(|at| Tile::of(tiles, region, at))
        .collect();
    let mut even: Vec<bool> = known.iter().map(Option::is_some).collect();
    for (at, tile) in known.iter().enumerate() {
        let Some(tile) = tile else { continue };
        // The one before it and the one above it: every pair of neighbours once.
        let before = (at % width > 0).then(|| at - 1);
        for other in [before, at.checked_sub(width)].into_iter().flatten() {
            if known[other].is_some_and(|known| !tile.is_like(&known)) {
                even[at] = false;
                even[other] = false;
            }
        }
    }
    even
}

/// Tiles from each marked tile to the nearest unmarked one, diagonals counted as one; beyond the picture nothing is marked. Two passes
/// of the chessboard distance (Rosenfeld and Pfaltz, "Distance functions on digital pictures", Pattern Recognition
/// 1:33, 1968).
fn depths(mask: &[bool], width: usize, height: usize) -> Vec<usize> {
    let mut depth = vec![0; mask.len()];
    // A tile at the picture's edge is one from the nearest unmarked one, as is an unmarked tile's neighbour.
    let inner = |x: usize, y: usize| x > 0 && y > 0 && x + 1 < width && y + 1 < height;
    for y in 0..height {
        for x in 0..width {
            let at = y * width + x;
            if mask[at] && inner(x, y) {
                let above = &depth[at - width - 1..at - width + 2];
                depth[at] = 1 + above.iter().fold(depth[at - 1], |a, b| a.min(*b));
            } else {
                depth[at] = usize::from(mask[at]);
            }
        }
    }
    for y in (0..height).rev() {
        for x in (0..width).rev() {
            let at = y * width + x;
            if depth[at] > 1 {
                let below = &depth[at + width - 1..at + width + 2];
                let least = below.iter().fold(depth[at + 1], |a, b| a.min(*b));
                depth[at] = depth[at].min(1 + least);
            }
        }
    }
    depth
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::scene::{Kind, with_scene};

    /// Squares of lit tiles: left, top, side, colour.
    const SQUARES: [(usize, usize, usize, [f64; 3]); 4] = [
        (3, 4, 9, [0.30, 0.40, 0.20]),
        (20, 3, 5, [0.10, 0.10, 0.10]),
        (20, 12, 3, [0.50, 0.20, 0.30]),
        (30, 15, 2, [0.20, 0.20, 0.20]),
    ];

    fn square_at(x: usize, y: usize) -> Option<[f64; 3]> {
        let is_in = |start: usize, side: usize, at: usize| (start..start + side).contains(&at);
        let mut squares = SQUARES.iter();
        squares
            .find(|(left, top, side, _)| is_in(*left, *side, x) && is_in(*top, *side, y))
            .map(|(.., colour)| *colour)
    }

    #[test]
    fn even_squares_are_places_and_the_deepest_comes_first() {
        let found = with_scene(
            (40, 20),
            |x, y| match square_at(x, y) {
                Some(colour) => (colour, Kind::Lit),
                None => ([0.01; 3], Kind::Beside),
            },
            places,
        );
        // Middle and radius; a square of two tiles has no middle with a tile on each side.
        let expected = [(7, 8, 4), (22, 5, 2), (21, 13, 1)];
        assert_eq!(found.len(), expected.len(), "{found:?}");
        for ((place, expected), (.., colour)) in found.iter().zip(expected).zip(SQUARES) {
            assert_eq!((place.x, place.y, place.radius), expected);
            let chroma = [0, 2].map(|channel| (colour[channel] / colour[1]).ln());
            assert!((0..2).all(|axis| (place.chroma[axis] - chroma[axis]).abs() < 1e-12));
            assert!((place.green - colour[1]).abs() < 1e-12 && place.uneven < 1e-12);
        }
    }

    #[test]
    fn what_is_uneven_or_no_light_of_the_key_is_no_place() {
        let grey = [0.3, 0.3, 0.3];
        let counted = |of: &dyn Fn(usize, usize) -> ([f64; 3], Kind)| {
            with_scene((15, 15), of, |tiles, region| places(tiles, region).len())
        };
        assert!(counted(&|_, _| (grey, Kind::Lit)) > 0);
        for kind in [Kind::Beside, Kind::Lamp] {
            assert_eq!(counted(&|_, _| (grey, kind)), 0, "{kind:?}");
        }
        // Half a stop and a step of chroma from each tile to the next, and what drowns in noise.
        let brighter = |x: usize, y: usize| if (x + y).is_multiple_of(2) { 1.0 } else { 1.4 };
        assert_eq!(
            counted(&|x, y| (grey.map(|c| c * brighter(x, y)), Kind::Lit)),
            0
        );
        assert_eq!(
            counted(&|x, y| ([0.3 * brighter(x, y), 0.3, 0.3], Kind::Lit)),
            0
        );
        assert_eq!(counted(&|_, _| ([1e-5; 3], Kind::Lit)), 0);
    }

    /// Against its definition: the least of the larger of both distances to whatever is not marked.
    #[test]
    fn depths_are_distances_on_a_chessboard() {
        for (width, height, modulus) in [(1, 1, 2), (7, 1, 3), (1, 7, 3), (9, 8, 31), (23, 17, 53)]
        {
            let mask: Vec<bool> = (0..width * height)
                .map(|at| (at * 7919 + 3) % modulus != 0)
                .collect();
            let is_marked = |x: isize, y: isize| {
                let is_inside =
                    (0..width as isize).contains(&x) && (0..height as isize).contains(&y);
                is_inside && mask[y as usize * width + x as usize]
            };
            for (at, depth) in depths(&mask, width, height).into_iter().enumerate() {
                let (x, y) = ((at % width) as isize, (at / width) as isize);
                let unmarked = (-1..=width as isize)
                    .flat_map(|x| (-1..=height as isize).map(move |y| (x, y)))
                    .filter(|(x, y)| !is_marked(*x, *y));
                let nearest = unmarked
                    .map(|(u, v)| x.abs_diff(u).max(y.abs_diff(v)))
                    .min();
                assert_eq!(Some(depth), nearest, "{width} x {height}: {x},{y}");
            }
        }
    }
}
