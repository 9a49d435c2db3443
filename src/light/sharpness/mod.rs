//! How sharp a frame is, from its raw, comparable between frames of one body.
//!
//! The energy of the Laplacian (the focus measure of Subbarao, Choi and Nikzad, "Focusing techniques", Optical Engineering
//! 32(11):2824, 1993; compared with others by Pertuz, Puig and Garcia, Pattern Recognition 46(5):1415, 2013), on green
//! photosites averaged in cells of the colour pattern. Each block's energy is lessened by what noise alone gives,
//! known from the frame's noise model, and divided by the square of the block's mean, so that neither ISO nor exposure
//! makes a frame sharper. A frame is as sharp as its sharpest lit blocks: a performer in focus before a soft ground.
//!
//! An embedded preview would be honest for this too (its sharpness is the raw's, through one more filter), but it comes
//! in sizes and qualities that differ by body and setting, and metering decodes the raw for colour anyway: this
//! costs one look at a part of the rows that are in memory already.

mod bayer;
mod block;

use crate::base::robust;
use crate::light::region::Region;
use crate::light::sharpness::bayer::BayerGreens;
use crate::light::sharpness::block::{Block, mean_and_laplacian_variance};
use crate::raw::frame::{Layout, Mosaic};
use crate::raw::noise::NoiseModel;
use crate::raw::photosites::{CLIPPED, Photosites};

/// Side of a block in cells. Small enough that 72 x 48 cells of a test frame make a dozen.
const BLOCK: usize = 16;
/// Rows of blocks that are looked at, at most, spread evenly: in a large frame a sharp eye spans several of them.
const BLOCK_ROWS: usize = 24;
/// Percentile of the lit blocks that counts as the sharpest part: one block could be a spark.
const SHARPEST: f64 = 95.0;
/// A block's mean must be so many standard deviations of a cell's noise above black: what drowns has no edges.
const ABOVE_NOISE: f64 = 6.0;
/// Share of a block's middle that must be lit: its middle tile decides.
const MIDDLE: f64 = 0.5;

/// The sharpness of a frame: root of the relative energy of the Laplacian in its sharpest lit blocks. 0 means that nothing
/// exceeds noise; a hard edge through a block gives about 0.5. `None` where no block is lit, whole and above noise.
#[must_use]
pub fn sharpness(mosaic: &Mosaic, noise: &NoiseModel, region: &Region) -> Option<f64> {
    let photosites = Photosites::new(mosaic);
    let side = match mosaic.layout {
        Layout::Linear => 1,
        Layout::Bayer(_) => 2,
        Layout::XTrans(_) => 3,
    };
    let (columns, rows) = (photosites.width() / side, photosites.height() / side);
    let (across, down) = (columns / BLOCK, rows / BLOCK);
    if across == 0 || down == 0 {
        return None;
    }
    let (lit, wide, high) = (&region.lit, region.lit.width(), region.lit.height());
    let is_lit = |block: usize, blocks: usize, tiles: usize| -> usize {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a share below 1 of a count"
        )]
        let tile = ((block as f64 + MIDDLE) / blocks as f64 * tiles as f64) as usize;
        tile.min(tiles.saturating_sub(1))
    };
    let mut found = Vec::new();
    for block_y in (0..down).step_by(down.div_ceil(BLOCK_ROWS)) {
        let wanted: Vec<usize> = (0..across)
            .filter(|&block_x| {
                wide > 0
                    && high > 0
                    && lit.at(
                        is_lit(block_x, columns.div_ceil(BLOCK), wide),
                        is_lit(block_y, rows.div_ceil(BLOCK), high),
                    )
            })
            .collect();
        if wanted.is_empty() {
            continue;
        }
        if let Some(greens) = BayerGreens::new(&photosites, mosaic.layout, block_y) {
            let blocks = wanted.into_iter().map(|block_x| greens.block(block_x));
            found.extend(blocks.filter_map(|block| relative_energy(&block, noise, bayer::SITES)));
        } else {
            let greens = Greens::of(&photosites, side, block_y * BLOCK, across * BLOCK);
            let blocks = wanted.into_iter().map(|block_x| greens.block(block_x));
            found.extend(blocks.filter_map(|block| relative_energy(&block, noise, greens.sites)));
        }
    }
    robust::percentile(&mut found, SHARPEST).map(f64::sqrt)
}

/// Rows of cells, one block high: the mean green of each.
struct Greens {
    width: usize,
    values: Vec<f32>,
    /// Fewest green photosites in a cell.
    sites: f64,
}

impl Greens {
    /// The cells from row `top` of cells down, `width` across: a whole number of periods of the pattern.
    fn of(photosites: &Photosites, side: usize, top: usize, width: usize) -> Self {
        let mut values = vec![0.0_f32; width * BLOCK];
        let (mut row, mut sites) = (Vec::new(), usize::MAX);
        let cell_values = side * photosites.values_per_pixel();
        for (cell_y, cells) in values.chunks_exact_mut(width).enumerate() {
            let period = photosites.period() / side;
            let mut counts = vec![0_usize; period];
            for y in (top + cell_y) * side..(top + cell_y + 1) * side {
                photosites.fractions(y, 0, width * side, &mut row);
                let channels = photosites.channels(y);
                let greens: Vec<(usize, usize)> = (0..channels.len())
                    .filter(|&at| channels[at] == 1)
                    .map(|at| (at, at / cell_values))
                    .collect();
                for (values, cells) in row
                    .chunks_exact(channels.len())
                    .zip(cells.chunks_exact_mut(period))
                {
                    for &(at, cell) in &greens {
                        cells[cell] += values[at];
                    }
                }
                for (_, cell) in greens {
                    counts[cell] += 1;
                }
            }
            for cells in cells.chunks_exact_mut(period) {
                for (cell, count) in cells.iter_mut().zip(&counts) {
                    *cell /= *count as f32;
                }
            }
            sites = sites.min(counts.into_iter().min().unwrap_or(1));
        }
        Self {
            width,
            values,
            sites: sites as f64,
        }
    }

    fn block(&self, block_x: usize) -> Block {
        let mut block = [[0.0; BLOCK]; BLOCK];
        for (target, row) in block.iter_mut().zip(self.values.chunks_exact(self.width)) {
            target.copy_from_slice(&row[block_x * BLOCK..][..BLOCK]);
        }
        block
    }
}

/// The energy of a block's Laplacian beyond noise, as a share of the square of its mean; `None` when it is clipped or drowns.
fn relative_energy(block: &Block, noise: &NoiseModel, sites: f64) -> Option<f64> {
    let values = block.as_flattened();
    if values.iter().fold(f32::NEG_INFINITY, |a, b| a.max(*b)) >= CLIPPED {
        return None;
    }
    let (mean, energy) = mean_and_laplacian_variance(block);
    let variance = noise.variance(mean) / sites;
    if mean <= ABOVE_NOISE * variance.sqrt() {
        return None;
    }
    Some((energy - noise_gain() * variance).max(0.0) / (mean * mean))
}

/// What the Laplacian of a block makes of the variance of white noise: 20 inside (4² + 4 x 1²), 22 along the edges and 24
/// in the corners, where the mirror doubles a neighbour.
fn noise_gain() -> f64 {
    let inside = (BLOCK - 2) as f64;
    (20.0 * inside * inside + 22.0 * 4.0 * inside + 24.0 * 4.0) / (BLOCK * BLOCK) as f64
}

/// Variance of the Laplacian (centre times -4 and its four neighbours), mirrored at the edges without repeating the edge itself.
/// 0 for a picture less than two values high or wide.
#[must_use]
pub fn laplacian_variance(values: &[f32], width: usize) -> f64 {
    let height = values.len().checked_div(width).unwrap_or(0);
    if width < 2 || height < 2 {
        return 0.0;
    }
    let mirrored = |at: usize, length: usize| {
        let before = if at == 0 { 1 } else { at - 1 };
        let after = if at + 1 == length { length - 2 } else { at + 1 };
        (before, after)
    };
    let (mut sum, mut squares) = (0.0, 0.0);
    for y in 0..height {
        let (above, below) = mirrored(y, height);
        for x in 0..width {
            let (left, right) = mirrored(x, width);
            let at = |x: usize, y: usize| f64::from(values[y * width + x]);
            let value = at(left, y) + at(right, y) + at(x, above) + at(x, below) - 4.0 * at(x, y);
            sum += value;
            squares += value * value;
        }
    }
    let count = (width * height) as f64;
    squares / count - (sum / count).powi(2)
}
