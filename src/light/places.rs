//! Places: compact, even spots of the lit region that are of one material, in tiles.

use crate::base::robust;
use crate::light::locus;
use crate::light::raster::Raster;
use crate::light::reduce::Reduced;
use crate::light::region::Region;

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
pub fn places(reduced: &Reduced, region: &Region) -> Vec<Place> {
    let (width, height) = (reduced.colour.width(), reduced.colour.height());
    let mut depth = depths(&even_tiles(reduced, region), width, height);
    let mut found = Vec::new();
    while found.len() < MOST {
        // The first of the deepest, so that the answer does not hang on how ties are broken.
        let deepest = (0..depth.len()).fold(None, |best: Option<usize>, at| match best {
            Some(best) if depth[at].min(DEEP) <= depth[best].min(DEEP) => Some(best),
            _ => Some(at),
        });
        let Some(middle) = deepest.filter(|&at| depth[at] >= LEAST_DEPTH) else {
            break;
        };
        let (x, y, reach) = (middle % width, middle / width, depth[middle] - 1);
        found.extend(place(reduced, x, y, reach.min(LARGEST)));
        // Nothing else is taken from around it.
        let apart = 2 * reach;
        for near_y in y.saturating_sub(apart)..(y + apart + 1).min(height) {
            for near_x in x.saturating_sub(apart)..(x + apart + 1).min(width) {
                depth[near_y * width + near_x] = 0;
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

/// Lit tiles that are unclipped, above noise, and of one material with all their usable neighbours.
fn even_tiles(reduced: &Reduced, region: &Region) -> Vec<bool> {
    let (width, height) = (reduced.colour.width(), reduced.colour.height());
    let clean: Vec<bool> = reduced
        .clipped
        .values()
        .iter()
        .map(|share| *share <= 0.0)
        .collect();
    let clean = Raster {
        width,
        colours: reduced.colour.values(),
        valid: &clean,
    }
    .eroded_valid(1);
    let tiles: Vec<Option<Tile>> = (0..reduced.len())
        .map(|at| {
            if !clean[at] || !region.lit.values()[at] {
                return None;
            }
            let raw = reduced.colour.values()[at];
            let noise = reduced.noise_variance(raw).map(f64::sqrt);
            let above = |channel: usize, factor: f64| raw[channel] > factor * noise[channel];
            if !(above(1, ABOVE_NOISE)
                && above(0, ABOVE_NOISE / 2.0)
                && above(2, ABOVE_NOISE / 2.0))
            {
                return None;
            }
            let relative = [0, 1, 2].map(|channel| (noise[channel] / raw[channel]).powi(2));
            Some(Tile {
                green: raw[1].ln(),
                chroma: locus::log_chroma(raw)?,
                green_error: relative[1],
                error: relative.iter().sum(),
            })
        })
        .collect();
    let alike = |tile: &Tile, at: usize| {
        tiles[at].is_none_or(|other| {
            let step = STEP + NOISE * (tile.green_error + other.green_error).sqrt();
            let chroma_step = CHROMA_STEP + NOISE * (tile.error + other.error).sqrt();
            (tile.green - other.green).abs() <= step
                && locus::distance(tile.chroma, other.chroma) <= chroma_step
        })
    };
    (0..tiles.len())
        .map(|at| {
            let (x, y) = (at % width, at / width);
            tiles[at].is_some_and(|tile| {
                (x == 0 || alike(&tile, at - 1))
                    && (x + 1 >= width || alike(&tile, at + 1))
                    && (y == 0 || alike(&tile, at - width))
                    && (y + 1 >= height || alike(&tile, at + width))
            })
        })
        .collect()
}

/// Tiles from each marked tile to the nearest unmarked one, diagonals counted as one; beyond the picture nothing is marked. Two passes
/// of the chessboard distance (Rosenfeld and Pfaltz, "Distance functions on digital pictures", Pattern Recognition
/// 1:33, 1968).
fn depths(mask: &[bool], width: usize, height: usize) -> Vec<usize> {
    let mut depth: Vec<usize> = mask
        .iter()
        .map(|&marked| usize::from(marked) * mask.len())
        .collect();
    let least = |depth: &[usize], x: usize, y: usize, offsets: [(isize, isize); 4]| {
        offsets
            .into_iter()
            .map(|(dx, dy)| {
                let (x, y) = (x.checked_add_signed(dx), y.checked_add_signed(dy));
                match (x, y) {
                    (Some(x), Some(y)) if x < width && y < height => depth[y * width + x],
                    _ => 0,
                }
            })
            .min()
            .unwrap_or(0)
    };
    for y in 0..height {
        for x in 0..width {
            let before = least(&depth, x, y, [(-1, 0), (-1, -1), (0, -1), (1, -1)]);
            depth[y * width + x] = depth[y * width + x].min(before + 1);
        }
    }
    for y in (0..height).rev() {
        for x in (0..width).rev() {
            let after = least(&depth, x, y, [(1, 0), (1, 1), (0, 1), (-1, 1)]);
            depth[y * width + x] = depth[y * width + x].min(after + 1);
        }
    }
    depth
}
