//! A neutral patch: a spot on stage that is grey, white or black by itself, measured at full resolution.
//!
//! The patch is read in cells that hold every colour of the filter pattern (2 x 2 photosites of a Bayer pattern), so
//! that a cell is kept or left out with all its colours: a stray highlight that touched red sites only would otherwise
//! tint the mean. Clipped cells and cells that are nothing but noise are left out, then cells far from the median; what
//! stays is averaged. A patch that cannot carry a white is refused with the reason. Several patches are averaged as
//! logarithms of channel ratios, because that is what a white balance multiplies.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use crate::base::robust;
use crate::base::units::Chromaticity;
use crate::colour::angle;
use crate::colour::camera::CameraColourError;
use crate::raw::frame::{Frame, Layout};
use crate::raw::photosites::{CLIPPED, Photosites};
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

impl Patch {
    /// Radius of a patch of which only the centre is given, fraction of the picture's width: about 36 pixels of a
    /// 6000 pixel frame.
    pub const RADIUS: f64 = 0.006;
    /// The largest radius, fraction of the picture's width: a larger circle is no longer one thing.
    pub const LARGEST_RADIUS: f64 = 0.25;
}

/// One patch, measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MeasuredPatch {
    /// Where it lies.
    pub patch: Patch,
    /// Robust mean of camera RGB, fractions of range.
    pub mean: [f64; 3],
    /// Signal-to-noise ratio of that mean, per channel.
    pub signal_to_noise: [f64; 3],
    /// Cells of the filter pattern that were averaged.
    pub cells: usize,
    /// Cells left out because they were clipped, nothing but noise, or far from the median.
    pub left_out: usize,
    /// Angle in degrees (reproduction error) between this patch and the mean of all patches.
    pub disagreement: f64,
}

/// All patches of a frame and the white that they say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PatchMeasure {
    /// Camera RGB of grey, green = 1.
    pub neutral: [f64; 3],
    /// The chromaticity of that white through the body's matrices.
    pub white: Chromaticity,
    /// The patches.
    pub patches: Vec<MeasuredPatch>,
    /// The largest disagreement of a patch with the mean, degrees (reproduction error).
    pub disagreement: f64,
}

impl PatchMeasure {
    /// Beyond this disagreement one of the patches is probably no neutral, or lit by another light. Degrees; about twice
    /// what is seen side by side (common practice, no source).
    pub const DISAGREEMENT_LIMIT: f64 = 2.0;

    /// The patch that is farthest from the mean, when it is beyond [`Self::DISAGREEMENT_LIMIT`].
    #[must_use]
    pub fn odd_one(&self) -> Option<&MeasuredPatch> {
        self.patches
            .iter()
            .filter(|patch| patch.disagreement > Self::DISAGREEMENT_LIMIT)
            .max_by(|a, b| a.disagreement.total_cmp(&b.disagreement))
    }
}

/// Why a patch gives no white.
#[derive(Clone, Debug, PartialEq, thiserror::Error, Serialize, Deserialize)]
pub enum PatchError {
    /// The centre is not in the picture.
    #[error(
        "the patch {x:.3},{y:.3} lies outside the picture: both go from 0 (left, top) to 1 (right, bottom)"
    )]
    Outside {
        /// As given.
        x: f64,
        /// As given.
        y: f64,
    },
    /// The radius is no radius.
    #[error(
        "the radius {radius} of the patch {x:.3},{y:.3} is out of range: above 0, at most {greatest} of the width"
    )]
    Radius {
        /// As given.
        x: f64,
        /// As given.
        y: f64,
        /// As given.
        radius: f64,
        /// The largest radius.
        greatest: f64,
    },
    /// Too few cells.
    #[error(
        "the patch {x:.3},{y:.3} is too small: {cells} cells of the sensor's colour pattern, {needed} are needed; \
         give a radius of at least {radius:.4}"
    )]
    TooSmall {
        /// As given.
        x: f64,
        /// As given.
        y: f64,
        /// Cells inside.
        cells: usize,
        /// Cells needed.
        needed: usize,
        /// A radius that would do.
        radius: f64,
    },
    /// Everything is clipped.
    #[error(
        "the patch {x:.3},{y:.3} has no unclipped pixels; choose a patch that is not on a lamp or a highlight"
    )]
    AllClipped {
        /// As given.
        x: f64,
        /// As given.
        y: f64,
    },
    /// A channel is too near its end.
    #[error(
        "the patch {x:.3},{y:.3} is too bright: its {channel} is above {limit:.0} % of the sensor's range in {share:.0} % of \
         it; choose a darker patch"
    )]
    TooBright {
        /// As given.
        x: f64,
        /// As given.
        y: f64,
        /// Red, green or blue.
        channel: String,
        /// Where clipping begins, per cent of range.
        limit: f64,
        /// Per cent of the patch.
        share: f64,
    },
    /// A channel drowns in noise.
    #[error(
        "the patch {x:.3},{y:.3} is too dark: the signal-to-noise ratio of its {channel} is {found:.1}, {needed:.0} is needed; \
         choose a brighter or larger patch"
    )]
    TooDark {
        /// As given.
        x: f64,
        /// As given.
        y: f64,
        /// Red, green or blue.
        channel: String,
        /// Signal-to-noise ratio of the mean.
        found: f64,
        /// The least.
        needed: f64,
    },
    /// The body's matrices give no white.
    #[error("the patch gives no white through the body's matrices: {0}")]
    NoWhite(String),
    /// There is no patch.
    #[error("no patch was given")]
    None,
}

impl From<CameraColourError> for PatchError {
    fn from(error: CameraColourError) -> Self {
        Self::NoWhite(error.to_string())
    }
}

/// Fewer cells than this have no robust mean.
const LEAST_CELLS: usize = 6;
/// Least signal-to-noise ratio of each channel of the mean: 20 leaves an error of 5 % in a channel ratio at one standard
/// deviation in the worst case, about 2 degrees (common practice, no source).
const LEAST_SIGNAL_TO_NOISE: f64 = 20.0;
/// With more than this share of cells clipped in one channel, what stays is the dark side of a highlight.
const MOST_CLIPPED: f64 = 0.25;
/// Cells farther than this many robust standard deviations from the median are left out.
const OUTLIER: f64 = 3.0;
/// A cell whose brightest channel is below this many standard deviations of its own noise is a hole in the patch.
const HOLE: f64 = 1.0;
/// Standard deviation of a black level that is stated in whole counts: 1/sqrt(12) count.
const BLACK_ROUNDING: f64 = 0.288_675;
/// Above this signal-to-noise ratio a patch is not trusted more: what is left is the colour of the thing itself.
const FULL_TRUST: f64 = 200.0;

const NAMES: [&str; 3] = ["red", "green", "blue"];

/// Measures neutral patches and the white that they say.
///
/// # Errors
/// When a patch is outside the picture, too small, too bright, too dark, or the body's matrices give no white.
pub fn measure_patches(frame: &Frame, patches: &[Patch]) -> Result<PatchMeasure, PatchError> {
    let mut measured = patches
        .iter()
        .map(|patch| measure(frame, *patch))
        .collect::<Result<Vec<_>, _>>()?;
    if measured.is_empty() {
        return Err(PatchError::None);
    }
    let (mut sums, mut total) = ([0.0; 3], 0.0);
    for patch in &measured {
        let weakest = patch.signal_to_noise.into_iter().fold(FULL_TRUST, f64::min);
        for (sum, value) in sums.iter_mut().zip(patch.mean) {
            *sum += weakest * (value / patch.mean[1]).ln();
        }
        total += weakest;
    }
    let neutral = sums.map(|sum| (sum / total).exp());
    for patch in &mut measured {
        patch.disagreement = angle::reproduction(patch.mean, neutral);
    }
    Ok(PatchMeasure {
        neutral,
        white: frame.colour.white_of_neutral(neutral)?,
        disagreement: measured
            .iter()
            .map(|patch| patch.disagreement)
            .fold(0.0, f64::max),
        patches: measured,
    })
}

/// The cells of one patch: means of the colours in each cell.
struct Cells {
    /// Camera RGB of cells that are not clipped.
    kept: Vec<[f64; 3]>,
    /// Cells that are clipped in each channel.
    clipped: [usize; 3],
    /// All cells.
    all: usize,
}

fn measure(frame: &Frame, patch: Patch) -> Result<MeasuredPatch, PatchError> {
    let Patch { x, y, radius } = patch;
    let inside = 0.0..=1.0;
    if !inside.contains(&x) || !inside.contains(&y) {
        return Err(PatchError::Outside { x, y });
    }
    if !(radius > 0.0 && radius <= Patch::LARGEST_RADIUS) {
        return Err(PatchError::Radius {
            x,
            y,
            radius,
            greatest: Patch::LARGEST_RADIUS,
        });
    }
    let (cells, side, width) = cells_of(frame, patch);
    if cells.all < LEAST_CELLS {
        // A quarter of a circle's cells may lie outside its edge; twice the area that is just enough will do.
        let needed = 2.0 * LEAST_CELLS as f64 * (side * side) as f64 / std::f64::consts::PI;
        return Err(PatchError::TooSmall {
            x,
            y,
            cells: cells.all,
            needed: LEAST_CELLS,
            radius: needed.sqrt() / width as f64,
        });
    }
    if cells.kept.is_empty() {
        return Err(PatchError::AllClipped { x, y });
    }
    for (channel, name) in NAMES.iter().enumerate() {
        let share = cells.clipped[channel] as f64 / cells.all as f64;
        if share > MOST_CLIPPED {
            return Err(PatchError::TooBright {
                x,
                y,
                channel: (*name).to_owned(),
                limit: 100.0 * f64::from(CLIPPED),
                share: 100.0 * share,
            });
        }
    }
    robust_mean(frame, patch, &cells)
}

/// Reads the cells whose centre lies in the patch; with the side of a cell and the width of the upright picture.
fn cells_of(frame: &Frame, patch: Patch) -> (Cells, usize, usize) {
    let photosites = Photosites::new(&frame.mosaic);
    let (width, height) = (photosites.width(), photosites.height());
    let orientation = frame.facts.orientation;
    let (upright_width, _) = orientation.upright_size(width, height);
    let (fx, fy) = orientation.stored_fraction(patch.x, patch.y);
    let (centre_x, centre_y) = (fx * width as f64, fy * height as f64);
    let radius = patch.radius * upright_width as f64;
    // Every aligned 3 x 3 block of the 6 x 6 pattern holds all three colours.
    let side = match frame.mosaic.layout {
        Layout::Linear => 1,
        Layout::Bayer(_) => 2,
        Layout::XTrans(_) => 3,
    };
    // Whole cells only, counted from the picture's corner.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to the picture"
    )]
    let range = |centre: f64, length: usize| {
        let end = length / side * side;
        let from = (centre - radius).max(0.0) as usize / side * side;
        let to = ((centre + radius).max(0.0) as usize / side + 1) * side;
        (from.min(end), to.min(end))
    };
    let (left, right) = range(centre_x, width);
    let (top, bottom) = range(centre_y, height);
    let mut cells = Cells {
        kept: Vec::new(),
        clipped: [0; 3],
        all: 0,
    };
    let values = photosites.values_per_pixel();
    let mut rows = vec![Vec::new(); side];
    for cell_y in (top..bottom).step_by(side) {
        for (offset, row) in rows.iter_mut().enumerate() {
            photosites.fractions(cell_y + offset, left, right, row);
        }
        let channels: Vec<Vec<usize>> = (0..side)
            .map(|offset| photosites.channels(cell_y + offset))
            .collect();
        for cell_x in (left..right).step_by(side) {
            let middle = side as f64 / 2.0;
            let (dx, dy) = (
                cell_x as f64 + middle - centre_x,
                cell_y as f64 + middle - centre_y,
            );
            if dx.hypot(dy) <= radius {
                let (mut sum, mut count, mut clipped) = ([0.0; 3], [0.0; 3], [false; 3]);
                for (row, channels) in rows.iter().zip(&channels) {
                    for value_x in cell_x * values..(cell_x + side) * values {
                        let channel = channels[value_x % channels.len()];
                        let value = row[value_x - left * values];
                        clipped[channel] |= value >= CLIPPED;
                        sum[channel] += f64::from(value);
                        count[channel] += 1.0;
                    }
                }
                cells.all += 1;
                if clipped.contains(&true) {
                    for (total, clipped) in cells.clipped.iter_mut().zip(clipped) {
                        *total += usize::from(clipped);
                    }
                } else {
                    cells
                        .kept
                        .push([0, 1, 2].map(|channel| sum[channel] / count[channel]));
                }
            }
        }
    }
    (cells, side, upright_width)
}

/// Leaves out holes and outliers, averages, and checks the signal-to-noise ratio.
fn robust_mean(frame: &Frame, patch: Patch, cells: &Cells) -> Result<MeasuredPatch, PatchError> {
    let black_error = [0, 1, 2].map(|channel| {
        BLACK_ROUNDING / f64::from(frame.mosaic.white[channel] - frame.mosaic.black.at(0, 0, 0))
    });
    let (centre, spread) = centre_and_spread(&cells.kept);
    let kept: Vec<[f64; 3]> = cells
        .kept
        .iter()
        .copied()
        .filter(|cell| {
            let hole = (0..3).all(|channel| cell[channel] < HOLE * spread[channel]);
            let outlier = (0..3).any(|channel| {
                (cell[channel] - centre[channel]).abs()
                    > OUTLIER * spread[channel].max(black_error[channel])
            });
            !hole && !outlier
        })
        .collect();
    let count = kept.len() as f64;
    let (mut mean, mut signal_to_noise) = ([0.0; 3], [0.0; 3]);
    for channel in 0..3 {
        mean[channel] = kept.iter().map(|cell| cell[channel]).sum::<f64>() / count;
        let variance = spread[channel].powi(2) / count + black_error[channel].powi(2);
        signal_to_noise[channel] = mean[channel] / variance.sqrt();
        // Written so that a mean of nothing (NaN) is refused too.
        if !(signal_to_noise[channel] >= LEAST_SIGNAL_TO_NOISE) {
            return Err(PatchError::TooDark {
                x: patch.x,
                y: patch.y,
                channel: NAMES[channel].to_owned(),
                found: signal_to_noise[channel].max(0.0),
                needed: LEAST_SIGNAL_TO_NOISE,
            });
        }
    }
    Ok(MeasuredPatch {
        patch,
        mean,
        signal_to_noise,
        cells: kept.len(),
        left_out: cells.all - kept.len(),
        disagreement: 0.0,
    })
}

/// Median and robust standard deviation of the cells, per channel.
fn centre_and_spread(cells: &[[f64; 3]]) -> ([f64; 3], [f64; 3]) {
    let (mut centre, mut spread) = ([0.0; 3], [0.0; 3]);
    for channel in 0..3 {
        let mut values: Vec<f64> = cells.iter().map(|cell| cell[channel]).collect();
        centre[channel] = robust::median(&mut values).unwrap_or(0.0);
        let mut distances: Vec<f64> = values
            .iter()
            .map(|value| (value - centre[channel]).abs())
            .collect();
        spread[channel] = robust::median(&mut distances).unwrap_or(0.0) / robust::MAD_OF_NORMAL;
    }
    (centre, spread)
}
