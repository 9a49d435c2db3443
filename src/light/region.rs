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

use crate::base::kernel::row_kernel;
use crate::base::logarithm::ln;
use crate::base::plane::Plane;
use crate::base::robust;
use crate::light::histogram::Histogram;
use crate::light::mask;
use crate::light::reduce::Reduced;
use image::{GrayImage, Luma};
use imageproc::region_labelling::{Connectivity, connected_components};
use std::f64::consts::LOG2_E;

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
const OPENING: usize = 1;
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
        let width = self.lit.width();
        mask::closed(self.lit.values(), width, (width / GAP).max(1))
    }
}

/// Parts the picture under a white.
#[must_use]
pub fn part(reduced: &Reduced, neutral: [f64; 3]) -> Region {
    let (width, height) = (reduced.colour.width(), reduced.colour.height());
    let colours = reduced.colour.values();
    let (mut levels, mut weakest) = (vec![0.0; colours.len()], vec![0.0; colours.len()]);
    extremes(colours, &neutral, &mut levels, &mut weakest);
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

row_kernel! {
    /// The brightest and the weakest channel of each colour after white balance with green kept.
    fn extremes(
        colours: &[[f64; 3]],
        neutral: &[f64; 3],
        brightest: &mut [f64],
        weakest: &mut [f64],
    ) {
        let found = brightest.iter_mut().zip(weakest);
        for ((brightest, weakest), colour) in found.zip(colours) {
            let [red, green, blue] = [
                colour[0] / neutral[0],
                colour[1] / neutral[1],
                colour[2] / neutral[2],
            ];
            *brightest = red.max(green).max(blue);
            *weakest = red.min(green).min(blue);
        }
    }
}

/// Whether even the bright end of the picture is near the noise.
fn is_black(levels: &[f64], noise: f64) -> bool {
    // Also true of a picture without tiles.
    !robust::percentile(&mut levels.to_vec(), BRIGHT_END)
        .is_some_and(|bright| bright > BLACK * noise)
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
    let mut logs = vec![0.0; levels.len()];
    logs_above(levels, floor, &mut logs);
    logs
}

row_kernel! {
    /// Logarithms to base 2 of levels, a floor below them.
    fn logs_above(levels: &[f64], floor: f64, logs: &mut [f64]) {
        for (log, level) in logs.iter_mut().zip(levels) {
            *log = ln(level.max(floor)) * LOG2_E;
        }
    }
}

fn lit_mask(levels: &[f64], lamps: &[bool], width: usize, height: usize, noise: f64) -> Found {
    let bright = robust::percentile(&mut levels.to_vec(), BRIGHT_END).unwrap_or(0.0);
    let logs = log_levels(levels, noise.max(bright * (-DEEPEST - 1.0).exp2()));
    // Without a split the whole picture is lit, or the whole picture is dark: then its middle drowns in noise.
    let whole = |threshold| {
        let lit = robust::median(&mut levels.to_vec()).is_some_and(|middle| middle > BLACK * noise);
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
    let (mut dark, mut lit) = ((0.0, 0.0), (0.0, 0.0));
    for log in &logs {
        let class = if *log > threshold {
            &mut lit
        } else {
            &mut dark
        };
        class.0 += log;
        class.1 += 1.0;
    }
    // Also true when a class is empty.
    if !(lit.0 / lit.1 - dark.0 / dark.1 >= LEAST_CONTRAST) {
        return whole(None);
    }
    let above: Vec<bool> = logs
        .iter()
        .zip(lamps)
        .map(|(log, lamp)| *log > threshold && !lamp)
        .collect();
    let opened = mask::opened(&above, width, OPENING);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::hold_together;

    fn colours(length: usize) -> Vec<[f64; 3]> {
        (0..length)
            .map(|at| [7919, 251, 31].map(|factor| ((at * factor) % 1009) as f64 / 800.0 - 0.05))
            .collect()
    }

    #[test]
    fn the_brightest_and_the_weakest_channel_at_every_level() {
        let neutral = [0.5, 1.0, 0.7];
        hold_together(&extremes::levels(), |extremes, length| {
            let (mut brightest, mut weakest) = (vec![0.0; length], vec![0.0; length]);
            extremes(&colours(length), &neutral, &mut brightest, &mut weakest);
            for (at, colour) in colours(length).iter().enumerate() {
                let mut sorted = [0, 1, 2].map(|channel| colour[channel] / neutral[channel]);
                sorted.sort_by(f64::total_cmp);
                assert_eq!([weakest[at], brightest[at]], [sorted[0], sorted[2]]);
            }
            [brightest, weakest].concat()
        });
    }

    #[test]
    fn logarithms_of_levels_at_every_level_of_vectors() {
        hold_together(&logs_above::levels(), |logs_above, length| {
            let levels: Vec<f64> = colours(length).iter().map(|colour| colour[0]).collect();
            let mut logs = vec![0.0; length];
            logs_above(&levels, 1e-3, &mut logs);
            for (log, level) in logs.iter().zip(&levels) {
                assert!((log - level.max(1e-3).log2()).abs() < 1e-14);
            }
            logs
        });
    }
}
