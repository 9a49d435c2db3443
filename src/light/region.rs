//! The lit region: what the key lights, told from the dark and from the lamps.
//!
//! Exposure set on the whole of a spot-lit frame is wrong by four to five stops, so the picture is parted first: lamps
//! taken out, Otsu's threshold, specks removed, small pieces and the glow of lamps dropped. The threshold works on the
//! logarithm of the *weakest* channel after white balance: a key has all three channels, a coloured wash lacks at least
//! one, so haze and backdrop under a wash stay dark however bright they are. (Parted by the brightest channel, a third of
//! simulated frames had no split at all, because the wash filled the picture.) Levels that exposure is set on are the
//! *brightest* channel: that is what clips.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use crate::base::plane::Plane;
use crate::base::robust;
use crate::light::histogram::Histogram;
use crate::light::reduce::Reduced;
use image::{GrayImage, Luma};
use imageproc::distance_transform::Norm;
use imageproc::morphology;
use imageproc::region_labelling::{Connectivity, connected_components};

/// Levels below this are told apart by nothing but rounding: 14 stops below full.
const FLOOR_STOPS: f64 = -14.0;
/// Nor does anything darker than this below the bright end of the picture tell lit from dark. Relative, so that the same
/// scene is parted alike at every exposure. Stops.
const DEEPEST: f64 = 9.0;
/// The bright end of a picture: not a hot pixel. Percentile.
const BRIGHT_END: f64 = 99.0;
/// A tile at this level, or mostly clipped, is the core of a lamp.
const LAMP: f64 = 0.98;
const LAMP_CLIPPED: f32 = 0.5;
/// Classes nearer than this are one: the whole picture is lit. Stops. Simulated spot-lit frames have 2.0 to 4.5.
const LEAST_CONTRAST: f64 = 1.5;
/// Specks narrower than 3 tiles are removed: radius of the square that must fit.
const OPENING: u8 = 1;
/// Pieces smaller than this share of the picture are dropped.
const LEAST_PIECE: f64 = 0.003;
/// A piece that touches a lamp's core is its glow when the core is at least this share of the piece; where it is less,
/// the core is a highlight on a performer, a white shirt that is blown.
const GLOW: f64 = 0.25;
/// Gaps of a performer that are closed are at most twice this part of the picture's width.
const GAP: usize = 36;
/// A picture whose brightest part lies this few standard deviations of tile noise above black is black.
const BLACK: f64 = 6.0;

/// Which tiles the key lights, which lamps are, and the levels they were told by.
#[derive(Clone, Debug)]
pub struct Region {
    /// Level of each tile: brightest channel after white balance, fraction of range.
    pub levels: Plane<f64>,
    /// What the key lights.
    pub lit: Plane<bool>,
    /// Cores of lamps.
    pub lamps: Plane<bool>,
    /// Weakest channel of each tile after white balance, fraction of range: what lit and dark are told by.
    pub weakest: Plane<f64>,
    /// The threshold of the weakest channel between dark and lit; `None` when there is no split.
    pub threshold: Option<f64>,
}

impl Region {
    /// The lit region with its gaps closed: what lies between lit parts of one performer.
    #[must_use]
    pub fn closed(&self) -> Vec<bool> {
        let (width, height) = (self.lit.width(), self.lit.height());
        let radius = u8::try_from(width / GAP).unwrap_or(u8::MAX).max(1);
        as_image(self.lit.values(), width, height).map_or_else(
            || self.lit.values().to_vec(),
            |image| {
                morphology::close(&image, Norm::LInf, radius)
                    .as_raw()
                    .iter()
                    .map(|&value| value > 0)
                    .collect()
            },
        )
    }
}

/// Parts the picture under a white.
#[must_use]
pub fn part(reduced: &Reduced, neutral: [f64; 3]) -> Region {
    let (width, height) = (reduced.colour.width(), reduced.colour.height());
    let levels: Vec<f64> = reduced
        .colour
        .values()
        .iter()
        .map(|colour| level(*colour, neutral))
        .collect();
    let weakest: Vec<f64> = reduced
        .colour
        .values()
        .iter()
        .map(|colour| weakest(*colour, neutral))
        .collect();
    let noise = (reduced.noise.floor / reduced.sites[0].max(1.0)).sqrt();
    let lamps: Vec<bool> = levels
        .iter()
        .zip(reduced.clipped.values())
        .map(|(&level, &clipped)| level >= LAMP || clipped >= LAMP_CLIPPED)
        .collect();
    let found = if is_black(&levels, noise) {
        Found::default()
    } else {
        lit_mask(&weakest, &lamps, width, height, noise)
    };
    let numbers = |values| {
        Plane::from_values(width, height, values)
            .unwrap_or_else(|| Plane::filled(width, height, 0.0))
    };
    let plane = |values| Plane::from_values(width, height, values);
    let empty = || Plane::filled(width, height, false);
    Region {
        levels: numbers(levels),
        weakest: numbers(weakest),
        lit: found.mask.and_then(plane).unwrap_or_else(empty),
        lamps: plane(lamps).unwrap_or_else(empty),
        threshold: found.threshold,
    }
}

/// The brightest channel after white balance with green kept.
#[must_use]
pub fn level(colour: [f64; 3], neutral: [f64; 3]) -> f64 {
    (0..3)
        .map(|channel| colour[channel] / neutral[channel])
        .fold(f64::NEG_INFINITY, f64::max)
}

/// The weakest channel after white balance with green kept.
fn weakest(colour: [f64; 3], neutral: [f64; 3]) -> f64 {
    (0..3)
        .map(|channel| colour[channel] / neutral[channel])
        .fold(f64::INFINITY, f64::min)
}

/// Whether even the bright end of the picture is near the noise.
fn is_black(levels: &[f64], noise: f64) -> bool {
    let mut sorted = levels.to_vec();
    // Also true of a picture without tiles.
    !robust::percentile(&mut sorted, BRIGHT_END).is_some_and(|bright| bright > BLACK * noise)
}

/// A mask and the threshold it was made with.
#[derive(Default)]
struct Found {
    mask: Option<Vec<bool>>,
    threshold: Option<f64>,
}

/// Logarithms of levels, floored at 14 stops below full or at twice the noise.
#[must_use]
pub fn log_levels(levels: &[f64], noise: f64) -> Vec<f64> {
    let floor = FLOOR_STOPS.exp2().max(2.0 * noise);
    levels.iter().map(|level| level.max(floor).log2()).collect()
}

fn lit_mask(levels: &[f64], lamps: &[bool], width: usize, height: usize, noise: f64) -> Found {
    let mut sorted = levels.to_vec();
    let bright = robust::percentile(&mut sorted, BRIGHT_END).unwrap_or(0.0);
    let logs = log_levels(levels, noise.max(bright * (-DEEPEST - 1.0).exp2()));
    // Without a split the whole picture is lit, or the whole picture is dark: then its middle drowns in noise.
    let whole = |threshold| {
        let mut sorted = levels.to_vec();
        let lit = robust::median(&mut sorted).is_some_and(|middle| middle > BLACK * noise);
        Found {
            mask: lit.then(|| lamps.iter().map(|lamp| !lamp).collect()),
            threshold,
        }
    };
    let unlamped: Vec<f64> = logs
        .iter()
        .zip(lamps)
        .filter(|(_, lamp)| !**lamp)
        .map(|(log, _)| *log)
        .collect();
    let Some(threshold) = Histogram::of(&unlamped).map(|histogram| histogram.otsu()) else {
        return whole(None);
    };
    let mean = |lit: bool| {
        let class: Vec<f64> = logs
            .iter()
            .copied()
            .filter(|log| (*log > threshold) == lit)
            .collect();
        class.iter().sum::<f64>() / class.len() as f64
    };
    // Also true when a class is empty.
    if !(mean(true) - mean(false) >= LEAST_CONTRAST) {
        return whole(None);
    }
    let above: Vec<bool> = logs
        .iter()
        .zip(lamps)
        .map(|(log, lamp)| *log > threshold && !lamp)
        .collect();
    let opened = opened(&above, width, height);
    let pieces = without_small_and_glow(&opened, lamps, width, height);
    // A step that removes everything removed the performer too: the step before is the better answer.
    let mask = [pieces, opened, above]
        .into_iter()
        .find(|mask| mask.contains(&true));
    Found {
        mask,
        threshold: Some(threshold.exp2()),
    }
}

/// The mask as a picture of 0 and 255; `None` beyond the 32-bit sizes of that picture.
fn as_image(mask: &[bool], width: usize, height: usize) -> Option<GrayImage> {
    let bytes = mask
        .iter()
        .map(|&lit| if lit { u8::MAX } else { 0 })
        .collect();
    GrayImage::from_raw(width.try_into().ok()?, height.try_into().ok()?, bytes)
}

/// Removes specks and thin lines: what holds no square of three tiles.
fn opened(mask: &[bool], width: usize, height: usize) -> Vec<bool> {
    as_image(mask, width, height).map_or_else(
        || mask.to_vec(),
        |image| {
            morphology::open(&image, Norm::LInf, OPENING)
                .as_raw()
                .iter()
                .map(|&value| value > 0)
                .collect()
        },
    )
}

/// Drops pieces that are small, or that are the glow around a lamp.
fn without_small_and_glow(mask: &[bool], lamps: &[bool], width: usize, height: usize) -> Vec<bool> {
    let Some(image) = as_image(mask, width, height) else {
        return mask.to_vec();
    };
    let labels = connected_components(&image, Connectivity::Eight, Luma([0]));
    let labels = labels.as_raw();
    let count = labels.iter().copied().max().unwrap_or(0) as usize + 1;
    let (mut sizes, mut cores) = (vec![0_usize; count], vec![0_usize; count]);
    for y in 0..height {
        for x in 0..width {
            let at = y * width + x;
            sizes[labels[at] as usize] += 1;
            if lamps[at] {
                // A core tile counts for every piece it touches, once.
                let mut touched: Vec<u32> = neighbours(x, y, width, height)
                    .map(|neighbour| labels[neighbour])
                    .filter(|label| *label > 0)
                    .collect();
                touched.sort_unstable();
                touched.dedup();
                for label in touched {
                    cores[label as usize] += 1;
                }
            }
        }
    }
    let least = LEAST_PIECE * mask.len() as f64;
    labels
        .iter()
        .map(|&label| {
            let (size, core) = (sizes[label as usize] as f64, cores[label as usize] as f64);
            label > 0 && size >= least && core <= GLOW * size
        })
        .collect()
}

/// The tiles around one, within reach of an opening that took the tiles beside a lamp.
fn neighbours(x: usize, y: usize, width: usize, height: usize) -> impl Iterator<Item = usize> {
    /// Tiles between a lamp's core and its glow that the opening may have removed.
    const REACH: usize = 2;
    let (top, bottom) = (y.saturating_sub(REACH), (y + REACH + 1).min(height));
    let (left, right) = (x.saturating_sub(REACH), (x + REACH + 1).min(width));
    (top..bottom).flat_map(move |ny| (left..right).map(move |nx| ny * width + nx))
}
