//! What is known of the colour around every place of the picture.

use super::CLIPPED;
use super::HighlightStep;
use super::cells::{Cell, CellRow, cell_side};
use super::pyramid::{FIELDS, Level, fill};
use crate::base::bands::Threads;
use crate::base::kernel::row_kernel;
use crate::raw::frame::Mosaic;
use crate::render::sensor::{Sensor, SensorRows};

/// Passes of a box of three by three cells that take the border of a wholly clipped region to its inside.
const CORE_PASSES: usize = 2;

/// Mean and raw second moments of log2 red over green and blue over green, and how deep inside a wholly clipped region
/// it is, at the middle of each cell of the sensor's active area.
#[derive(Clone, Debug)]
pub(crate) struct Surroundings {
    /// Photosites on a side of a cell.
    pub(super) side: usize,
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) cells: Vec<[f32; FIELDS + 1]>,
}

impl Surroundings {
    /// Of a mosaic, photosite by photosite.
    pub(crate) fn of(step: &HighlightStep, sensor: &Sensor<'_>, threads: &Threads) -> Self {
        let mosaic = sensor.mosaic;
        let side = cell_side(&mosaic.layout);
        let [width, height] = cells_of(mosaic);
        let mut cells = vec![Cell::default(); width * height];
        let rows = SensorRows::new(sensor, 0..mosaic.width() as isize);
        let gather = |memory: &mut CellRow, y: usize, cells: &mut [Cell]| {
            memory.gather(&rows, mosaic, step.full, y * side, cells);
        };
        threads.for_each_band(&mut cells, width, 1, CellRow::default, gather);
        Self::filled(mosaic, &cells)
    }

    /// From all cells of a mosaic.
    pub(crate) fn filled(mosaic: &Mosaic, cells: &[Cell]) -> Self {
        let [width, height] = cells_of(mosaic);
        let mut core: Vec<f32> = cells.iter().map(|cell| cell.core).collect();
        for _ in 0..CORE_PASSES {
            core = box_blurred(&core, width, height);
        }
        let filled = fill(Level {
            width,
            height,
            cells: cells.iter().map(|cell| cell.colour).collect(),
        });
        let cells = filled
            .cells
            .iter()
            .zip(core)
            .map(|(cell, core)| {
                let [red, blue, red_red, red_blue, blue_blue] = cell.sums;
                [red, blue, red_red, red_blue, blue_blue, core]
            })
            .collect();
        Self {
            side: cell_side(&mosaic.layout),
            width,
            height,
            cells,
        }
    }
}

#[cfg(test)]
impl Surroundings {
    /// The greatest difference of any of its numbers; infinite where sizes differ.
    pub(crate) fn error(&self, other: &Self) -> f32 {
        if (self.side, self.width, self.height) != (other.side, other.width, other.height) {
            return f32::INFINITY;
        }
        let cells = self
            .cells
            .as_flattened()
            .iter()
            .zip(other.cells.as_flattened());
        cells
            .map(|(one, other)| (one - other).abs())
            .fold(0.0, f32::max)
    }
}

/// Columns and rows of a mosaic's cells.
fn cells_of(mosaic: &Mosaic) -> [usize; 2] {
    [mosaic.width(), mosaic.height()].map(|length| length.div_ceil(cell_side(&mosaic.layout)))
}

/// Whether any photosite is near its full level; a cheap look over the counts.
pub(crate) fn is_any_clipped(mosaic: &Mosaic) -> bool {
    let limit = least_clipped_count(mosaic);
    // A run that a first-level cache holds is looked at to its end, without a branch at each count.
    mosaic
        .counts
        .values()
        .chunks(4096)
        .any(|counts| is_any_at_least(counts, limit))
}

/// The count below which no photosite counts as clipped.
pub(super) fn least_clipped_count(mosaic: &Mosaic) -> u16 {
    let deepest = mosaic.black.pattern.iter().fold(f32::MAX, |a, b| a.min(*b));
    let lowest = mosaic.white.iter().fold(f32::MAX, |a, b| a.min(*b));
    (deepest + CLIPPED.0 * (lowest - deepest)).max(0.0) as u16
}

/// Whether any of these counts reaches the limit.
pub(super) fn is_any_at_least(counts: &[u16], limit: u16) -> bool {
    let mut is_any = false;
    find_at_least(counts, limit, &mut is_any);
    is_any
}

row_kernel! {
    /// Sets `is_any` when a count reaches the limit.
    fn find_at_least(counts: &[u16], limit: u16, is_any: &mut bool) {
        let mut most = 0;
        for &count in counts {
            most = count.max(most);
        }
        *is_any |= !counts.is_empty() && most >= limit;
    }
}

/// Mean of three by three cells, border cells counting for those beyond: rows first, then what lies above and below each sum.
fn box_blurred(values: &[f32], width: usize, height: usize) -> Vec<f32> {
    let mut sums = vec![0.0; width * height];
    for (row, sums) in values.chunks_exact(width).zip(sums.chunks_exact_mut(width)) {
        let [first, last] = [row[0], row[width - 1]];
        let before = [first].into_iter().chain(row.iter().copied());
        let after = row[1..].iter().copied().chain([last]);
        for (((sum, own), before), after) in sums.iter_mut().zip(row).zip(before).zip(after) {
            *sum = before + own + after;
        }
    }
    let row = |y: usize| &sums[y * width..][..width];
    (0..height)
        .flat_map(|y| {
            let above = row(y.saturating_sub(1)).iter();
            let below = row((y + 1).min(height - 1)).iter();
            let rows = above.zip(row(y)).zip(below);
            rows.map(|((above, own), below)| (above + own + below) / 9.0)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_finds_the_same() {
        hold_together(&find_at_least::levels(), |kernel, length| {
            let counts: Vec<u16> = (0..length).map(|at| (at * 7919 % 4001) as u16).collect();
            let most = counts.iter().copied().max().unwrap_or(0);
            let found = |limit| {
                let mut is_any = false;
                kernel(&counts, limit, &mut is_any);
                f32::from(u8::from(is_any))
            };
            let made = vec![found(most), found(most + 1)];
            assert_eq!(made, [f32::from(u8::from(length > 0)), 0.0], "{length}");
            made
        });
    }

    #[test]
    fn a_box_is_the_mean_of_the_nine_around_a_cell() {
        for (width, height) in [(1, 1), (1, 6), (7, 1), (2, 3), (19, 11)] {
            let values = unordered_row(3, width * height);
            let around = |at: usize, length: usize| {
                [-1, 0, 1].map(|step| at.saturating_add_signed(step).min(length - 1))
            };
            for (index, blurred) in box_blurred(&values, width, height).iter().enumerate() {
                let (columns, rows) = (around(index % width, width), around(index / width, height));
                let cells = rows
                    .iter()
                    .flat_map(|y| columns.iter().map(move |x| y * width + x));
                let mean = cells.map(|cell| f64::from(values[cell])).sum::<f64>() / 9.0;
                assert!(
                    (f64::from(*blurred) - mean).abs() < 1e-6,
                    "{width} x {height}: {index}"
                );
            }
        }
    }
}
