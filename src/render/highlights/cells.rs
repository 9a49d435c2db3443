//! The mosaic in coarse cells: the colour of unclipped light, and where all colours are clipped.

use super::CLIPPED;
use super::pyramid::Weighted;
use crate::base::arithmetic::{larger, log2, smaller};
use crate::base::kernel::row_kernel;
use crate::raw::frame::{Layout, Mosaic};
use crate::render::row::RgbRow;
use crate::render::sensor::SensorRows;

/// Share of a cell's photosites of a channel that may be clipped before the cell tells no colour: noise fills single
/// photosites long before their neighbours.
const CLIPPED_SHARE: f32 = 0.1;
/// Least white-balanced light whose logarithm is taken: below, noise is larger than light on any sensor of the day.
const LEAST_LIGHT: f32 = 0.003;

/// Photosites on a side of a cell of a 2 x 2 pattern.
const BAYER_SIDE: usize = 8;

/// One cell of the mosaic.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Cell {
    /// Log2 of red and of blue over green and their products, weighted.
    pub(super) colour: Weighted,
    /// Share of the photosites that are clipped, of the channel that is clipped least.
    pub(super) core: f32,
}

/// Photosites on a side of a cell.
pub(super) fn cell_side(layout: &Layout) -> usize {
    match layout {
        Layout::XTrans(_) => 6,
        Layout::Bayer(_) | Layout::Linear => BAYER_SIDE,
    }
}

/// What one row of cells adds up, and the rows that it reads.
#[derive(Default)]
pub(super) struct CellRow {
    sums: Vec<[Sum; 3]>,
    light: Vec<f32>,
    linear: RgbRow,
    /// The columns of even and of odd rows of a 2 x 2 pattern.
    columns: [Columns; 2],
}

/// What the photosites of one column of a row of cells add up to, those of every other row.
#[derive(Default)]
struct Columns {
    rows: usize,
    light: Vec<f32>,
    clipped: Vec<f32>,
}

impl Columns {
    fn clear(&mut self, width: usize) {
        self.rows = 0;
        for sums in [&mut self.light, &mut self.clipped] {
            sums.clear();
            sums.resize(width, 0.0);
        }
    }

    /// Adds the columns to their cells; even and odd ones are of the two `channels`.
    fn add_to(&self, sums: &mut [[Sum; 3]], channels: [usize; 2]) {
        let (lights, light_rest) = self.light.as_chunks::<BAYER_SIDE>();
        let (clips, clipped_rest) = self.clipped.as_chunks::<BAYER_SIDE>();
        let sites = (self.rows * BAYER_SIDE / 2) as f32;
        for (sums, (light, clipped)) in sums.iter_mut().zip(lights.iter().zip(clips)) {
            for (phase, &channel) in channels.iter().enumerate() {
                let every_other = |of: &[f32; BAYER_SIDE]| {
                    (of[phase] + of[phase + 2]) + (of[phase + 4] + of[phase + 6])
                };
                let sum = &mut sums[channel];
                sum.light += every_other(light);
                sum.clipped += every_other(clipped);
                sum.sites += sites;
            }
        }
        if let Some(sums) = sums.get_mut(lights.len()) {
            let (light, clipped) = (light_rest, clipped_rest);
            for (phase, &channel) in channels.iter().enumerate().take(light.len()) {
                let every_other = |of: &[f32]| of[phase..].iter().step_by(2).sum::<f32>();
                let sum = &mut sums[channel];
                sum.light += every_other(light);
                sum.clipped += every_other(clipped);
                sum.sites += (self.rows * (light.len() - phase).div_ceil(2)) as f32;
            }
        }
    }
}

#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Sum {
    light: f32,
    sites: f32,
    clipped: f32,
}

impl CellRow {
    /// Gathers cells whose first photosite row is `top`.
    pub(super) fn gather(
        &mut self,
        sensor: &SensorRows<'_>,
        mosaic: &Mosaic,
        full: [f32; 3],
        top: usize,
        cells: &mut [Cell],
    ) {
        let side = cell_side(&mosaic.layout);
        self.sums.clear();
        self.sums.resize(cells.len(), [Sum::default(); 3]);
        let limits = full.map(|level| level * CLIPPED.1);
        if matches!(mosaic.layout, Layout::Bayer(_)) {
            for columns in &mut self.columns {
                columns.clear(mosaic.width());
            }
        }
        for y in top..(top + side).min(mosaic.height()) {
            if mosaic.layout == Layout::Linear {
                for plane in &mut self.linear.planes {
                    plane.resize(mosaic.width(), 0.0);
                }
                sensor.linear_row(y, &mut self.light, &mut self.linear);
                for (channel, plane) in self.linear.planes.iter().enumerate() {
                    for (sums, sites) in self.sums.iter_mut().zip(plane.chunks(side)) {
                        add(&mut sums[channel], sites, limits[channel], 1);
                    }
                }
            } else {
                self.light.resize(mosaic.width(), 0.0);
                sensor.mosaic_row(y, &mut self.light);
                if side == BAYER_SIDE {
                    let limits = [0, 1].map(|phase| limits[mosaic.channel_at(phase, y)]);
                    let columns = &mut self.columns[y % 2];
                    columns.rows += 1;
                    add_row(
                        limits,
                        &self.light,
                        &mut columns.light,
                        &mut columns.clipped,
                    );
                    continue;
                }
                for (sums, sites) in self.sums.iter_mut().zip(self.light.chunks(side)) {
                    for phase in 0..side.min(sites.len()) {
                        // A cell is as wide as the pattern.
                        let channel = mosaic.channel_at(phase, y);
                        add(&mut sums[channel], &sites[phase..], limits[channel], side);
                    }
                }
            }
        }
        if matches!(mosaic.layout, Layout::Bayer(_)) {
            for (parity, columns) in self.columns.iter().enumerate() {
                let channels = [0, 1].map(|phase| mosaic.channel_at(phase, parity));
                columns.add_to(&mut self.sums, channels);
            }
        }
        make_cells(full, &self.sums, cells);
    }
}

row_kernel! {
    /// Adds a row of a 2 x 2 pattern to the sums of its columns; even and odd columns have a limit each.
    fn add_row(limits: [f32; 2], light: &[f32], sums: &mut [f32], clipped: &mut [f32]) {
        let length = light.len();
        let (sums, clipped) = (&mut sums[..length], &mut clipped[..length]);
        for x in 0..length {
            let limit = if x % 2 == 0 { limits[0] } else { limits[1] };
            sums[x] += light[x];
            clipped[x] += if light[x] >= limit { 1.0 } else { 0.0 };
        }
    }
}

#[inline(always)]
fn add(sum: &mut Sum, sites: &[f32], limit: f32, step: usize) {
    for light in sites.iter().step_by(step) {
        sum.light += light;
        sum.sites += 1.0;
        sum.clipped += f32::from(u8::from(*light >= limit));
    }
}

row_kernel! {
    /// A row of cells.
    fn make_cells(full: [f32; 3], sums: &[[Sum; 3]], cells: &mut [Cell]) {
        for (cell, sums) in cells.iter_mut().zip(sums) {
            *cell = cell_of(sums, full);
        }
    }
}

#[inline(always)]
fn cell_of(sums: &[Sum; 3], full: [f32; 3]) -> Cell {
    // A narrow cell at the border may lack a colour.
    if sums.iter().any(|sum| sum.sites == 0.0) {
        return Cell::default();
    }
    let shares = sums.map(|sum| sum.clipped / sum.sites);
    let means = sums.map(|sum| (sum.light / sum.sites).max(LEAST_LIGHT));
    let fullness = [0, 1, 2].map(|channel| means[channel] / full[channel]);
    let clipped = larger(larger(shares[0], shares[1]), shares[2]);
    let brightest = larger(larger(fullness[0], fullness[1]), fullness[2]);
    // Bright cells count most: the light around a clipped place is the light of that place.
    let weight = brightest * brightest * (1.0 - clipped / CLIPPED_SHARE).max(0.0);
    let logs = means.map(log2);
    let (red, blue) = (logs[0] - logs[1], logs[2] - logs[1]);
    let values = [red, blue, red * red, red * blue, blue * blue];
    Cell {
        colour: Weighted {
            weight,
            sums: values.map(|value| value * weight),
        },
        core: smaller(smaller(shares[0], shares[1]), shares[2]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&add_row::levels(), |kernel, length| {
            let [mut sums, mut clipped] = [2, 3].map(|seed| unordered_row(seed, length));
            kernel(
                [0.7, 0.9],
                &unordered_row(1, length),
                &mut sums,
                &mut clipped,
            );
            [sums, clipped].concat()
        });
        hold_together(&make_cells::levels(), |kernel, length| {
            let sums: Vec<[Sum; 3]> = unordered_row(1, length)
                .into_iter()
                .map(|light| {
                    [0.5, 1.0, 2.0].map(|factor| Sum {
                        light: factor * light,
                        sites: 16.0,
                        clipped: light,
                    })
                })
                .collect();
            let mut cells = vec![Cell::default(); length];
            kernel([1.0, 0.8, 0.7], &sums, &mut cells);
            cells
                .iter()
                .flat_map(|cell| [&cell.colour.sums[..], &[cell.colour.weight, cell.core]].concat())
                .collect()
        });
    }

    /// Columns first and cells after are as photosite by photosite, but for the order of sums.
    #[test]
    fn by_columns_is_as_one_by_one() {
        let limits = [0.9, 1.0, 0.8];
        for (width, height) in [(1, 1), (2, 8), (7, 3), (8, 8), (9, 5), (31, 8)] {
            let mut fast = vec![[Sum::default(); 3]; usize::div_ceil(width, BAYER_SIDE)];
            let mut slow = fast.clone();
            let pattern = [[0, 1], [1, 2]];
            let mut columns = [Columns::default(), Columns::default()];
            columns.iter_mut().for_each(|columns| columns.clear(width));
            for y in 0..height {
                let light = unordered_row(y, width);
                let channels = pattern[y % 2];
                for (sums, sites) in slow.iter_mut().zip(light.chunks(BAYER_SIDE)) {
                    for (phase, &channel) in channels.iter().enumerate().take(sites.len()) {
                        add(&mut sums[channel], &sites[phase..], limits[channel], 2);
                    }
                }
                let columns = &mut columns[y % 2];
                columns.rows += 1;
                let limits = channels.map(|channel| limits[channel]);
                add_row(limits, &light, &mut columns.light, &mut columns.clipped);
            }
            for (columns, channels) in columns.iter().zip(pattern) {
                columns.add_to(&mut fast, channels);
            }
            for (fast, slow) in fast.iter().flatten().zip(slow.iter().flatten()) {
                assert_eq!((fast.sites, fast.clipped), (slow.sites, slow.clipped));
                // Single precision sums of up to 32 values below 1.3.
                assert!((fast.light - slow.light).abs() < 1e-5, "{width} x {height}");
            }
        }
    }
}
