//! Candidate neutral patches: places that are grey, white or black by themselves and stand under the key.
//!
//! A neutral thing under the key has the key's own colour, so candidates are told by the frame's white where that is believed: even,
//! compact places whose log-chroma lies at that white, unclipped and well above noise. A wash on a thing, even a
//! weak one, moves its colour away, so nothing inside a wash is found; and nothing at all is found in a frame whose key
//! cannot be believed. What remains possible is a cloth that is very nearly grey: several things that agree are
//! worth more than one, which is for whoever uses them.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use crate::base::geometry::Orientation;
use crate::base::robust;
use crate::light::locus;
use crate::light::patch::Patch;
use crate::light::raster::Raster;
use crate::light::reading::{Lightness, NeutralCandidate};
use crate::light::reduce::Reduced;
use crate::light::region::Region;

/// Candidates that are kept of a frame.
pub const MOST: usize = 8;
/// Distance in log-chroma from the white within which a tile can be neutral (about 2 degrees), and standard deviations of its noise
/// that are added to that, up to as much again.
const NEAR: f64 = 0.06;
const NOISE: f64 = 2.0;
/// A tile's green must be so many standard deviations of its noise above black, the other channels half of that.
const ABOVE_NOISE: f64 = 8.0;
/// Greatest step of ln green to a neighbour within one thing.
const STEP: f64 = 0.25;
/// Tiles from a place's edge to its middle, at least: a square of three tiles.
const LEAST_DEPTH: usize = 2;
/// Deeper places than this are as good as any.
const DEEP: f64 = 5.0;
/// Share of the depth that is taken for the patch's radius: away from the edge.
const WITHIN: f64 = 0.8;
/// Largest radius of a patch, as a share of the picture's width.
const LARGEST: f64 = 0.03;
/// Distance from the white, and unevenness of log-chroma, at which confidence falls to 1/e.
const OFF: f64 = 0.05;
const UNEVEN: f64 = 0.04;
/// Share of the key's level from which a thing is white, and below which it is black.
const WHITE: f64 = 0.5;
const BLACK: f64 = 0.125;

/// What candidates are told by.
#[derive(Clone, Copy, Debug)]
pub struct Told {
    /// Camera RGB of grey under the frame's own white.
    pub neutral: [f64; 3],
    /// How far that white is believed, 0 to 1.
    pub believed: f64,
    /// The key's level, fraction of range, where known.
    pub key_level: Option<f64>,
    /// How the stored picture is turned upright.
    pub orientation: Orientation,
    /// Share of the picture's width and height that the tiles cover, from the left and top.
    pub covered: (f64, f64),
}

/// The candidates of a frame, most credible first.
#[must_use]
pub fn candidates(reduced: &Reduced, region: &Region, told: &Told) -> Vec<NeutralCandidate> {
    let Some(white) = locus::log_chroma(told.neutral) else {
        return Vec::new();
    };
    let (width, height) = (reduced.colour.width(), reduced.colour.height());
    let mask = neutral_tiles(reduced, region, white);
    let mut depth = depths(&mask, width, height);
    let mut found = Vec::new();
    while found.len() < MOST {
        let middle = (0..depth.len()).max_by(|&a, &b| {
            // The first of equals, so that the answer does not depend on how ties are broken.
            let worth = |at: usize| (depth[at] as f64).min(DEEP);
            worth(a).total_cmp(&worth(b)).then(b.cmp(&a))
        });
        let Some(middle) = middle.filter(|&middle| depth[middle] >= LEAST_DEPTH) else {
            break;
        };
        let (x, y, radius) = (middle % width, middle / width, depth[middle] - 1);
        found.extend(candidate(reduced, told, white, (x, y, radius)));
        // Nothing else is taken from around it.
        for near_y in y.saturating_sub(2 * radius)..(y + 2 * radius + 1).min(height) {
            for near_x in x.saturating_sub(2 * radius)..(x + 2 * radius + 1).min(width) {
                depth[near_y * width + near_x] = 0;
            }
        }
    }
    found.sort_by(|a, b| b.confidence.total_cmp(&a.confidence));
    found
}

/// Tiles that can be neutral, without steps to their neighbours.
fn neutral_tiles(reduced: &Reduced, region: &Region, white: [f64; 2]) -> Vec<bool> {
    let (width, height) = (reduced.colour.width(), reduced.colour.height());
    let unclipped: Vec<bool> = reduced
        .clipped
        .values()
        .iter()
        .map(|share| *share <= 0.0)
        .collect();
    let unclipped = Raster {
        width,
        colours: reduced.colour.values(),
        valid: &unclipped,
    }
    .eroded_valid(1);
    let near: Vec<bool> = (0..reduced.len())
        .map(|at| {
            let raw = reduced.colour.values()[at];
            let noise = reduced.noise_variance(raw).map(f64::sqrt);
            let above = |channel: usize, factor: f64| raw[channel] > factor * noise[channel];
            let error = (0..3)
                .map(|c| (noise[c] / raw[c]).powi(2))
                .sum::<f64>()
                .sqrt();
            unclipped[at]
                && region.lit.values()[at]
                && above(1, ABOVE_NOISE)
                && above(0, ABOVE_NOISE / 2.0)
                && above(2, ABOVE_NOISE / 2.0)
                && locus::log_chroma(raw).is_some_and(|chroma| {
                    locus::distance(chroma, white) <= NEAR + (NOISE * error).min(NEAR)
                })
        })
        .collect();
    let green = |at: usize| reduced.colour.values()[at][1];
    (0..reduced.len())
        .map(|at| {
            let (x, y) = (at % width, at / width);
            let even = |other: usize| !near[other] || (green(at) / green(other)).ln().abs() < STEP;
            near[at]
                && (x == 0 || even(at - 1))
                && (x + 1 >= width || even(at + 1))
                && (y == 0 || even(at - width))
                && (y + 1 >= height || even(at + width))
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

/// One place, measured on its tiles.
fn candidate(
    reduced: &Reduced,
    told: &Told,
    white: [f64; 2],
    (x, y, radius): (usize, usize, usize),
) -> Option<NeutralCandidate> {
    let (width, height) = (reduced.colour.width(), reduced.colour.height());
    let colours: Vec<[f64; 3]> = (y - radius..=y + radius)
        .flat_map(|y| (x - radius..=x + radius).map(move |x| (x, y)))
        .map(|(x, y)| reduced.colour.at(x, y))
        .collect();
    let chromas: Vec<[f64; 2]> = colours
        .iter()
        .filter_map(|raw| locus::log_chroma(*raw))
        .collect();
    let median = |axis: usize| {
        let mut values: Vec<f64> = chromas.iter().map(|chroma| chroma[axis]).collect();
        robust::median(&mut values)
    };
    let chroma = [median(0)?, median(1)?];
    let mut distances: Vec<f64> = chromas
        .iter()
        .map(|other| locus::distance(*other, chroma))
        .collect();
    let uneven = robust::median(&mut distances)?;
    let mut greens: Vec<f64> = colours.iter().map(|raw| raw[1]).collect();
    let level = robust::median(&mut greens)? / told.key_level.unwrap_or(1.0);
    let off_white = locus::distance(chroma, white);
    let confidence = told.believed
        * (-(off_white / OFF).powi(2)).exp()
        * (-(uneven / UNEVEN).powi(2)).exp()
        * (1.0 - (-(radius as f64 + 1.0)).exp());
    let (across, down) = told.covered;
    let middle = |at: usize, count: usize, covered: f64| (at as f64 + 0.5) / count as f64 * covered;
    let (fx, fy) = told
        .orientation
        .upright_fraction(middle(x, width, across), middle(y, height, down));
    let (tiles, covered) = if told.orientation.swaps_sides() {
        (height, down)
    } else {
        (width, across)
    };
    let reach = WITHIN * (radius as f64 + 0.5);
    Some(NeutralCandidate {
        patch: Patch {
            x: fx,
            y: fy,
            radius: (reach / tiles as f64 * covered).min(LARGEST),
        },
        chroma,
        off_white,
        level,
        lightness: match level {
            level if level >= WHITE => Lightness::White,
            level if level < BLACK => Lightness::Black,
            _ => Lightness::Grey,
        },
        confidence,
    })
}
