//! The mosaic in coarse cells: the colour of unclipped light, and where all colours are clipped.

use super::CLIPPED;
use super::pyramid::Weighted;
use crate::raw::frame::{Layout, Mosaic};
use crate::render::arithmetic::log2;
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
}

#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Sum {
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
                    let channels = [0, 1].map(|phase| mosaic.channel_at(phase, y));
                    add_bayer(&mut self.sums, &self.light, channels, limits);
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
        for (cell, sums) in cells.iter_mut().zip(&self.sums) {
            *cell = cell_of(sums, full);
        }
    }
}

/// [`add`] of both colours of a row of a 2 x 2 pattern to all cells. Each cell's light is summed in the same order.
fn add_bayer(sums: &mut [[Sum; 3]], light: &[f32], channels: [usize; 2], limits: [f32; 3]) {
    const HALF: f32 = BAYER_SIDE as f32 / 2.0;
    let limits = channels.map(|channel| limits[channel]);
    let (whole, rest) = light.as_chunks::<BAYER_SIDE>();
    for (sums, sites) in sums.iter_mut().zip(whole) {
        for phase in 0..2 {
            let sum = &mut sums[channels[phase]];
            let of_colour = [0, 2, 4, 6].map(|at| sites[at + phase]);
            let clipped = of_colour.map(|light| u8::from(light >= limits[phase]));
            sum.light = of_colour.iter().fold(sum.light, |sum, light| sum + light);
            sum.sites += HALF;
            sum.clipped += f32::from(clipped[0] + clipped[1] + clipped[2] + clipped[3]);
        }
    }
    if let Some(sums) = sums.get_mut(whole.len()) {
        for (phase, &channel) in channels.iter().enumerate().take(rest.len()) {
            add(&mut sums[channel], &rest[phase..], limits[phase], 2);
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

fn cell_of(sums: &[Sum; 3], full: [f32; 3]) -> Cell {
    // A narrow cell at the border may lack a colour.
    if sums.iter().any(|sum| sum.sites == 0.0) {
        return Cell::default();
    }
    let shares = sums.map(|sum| sum.clipped / sum.sites);
    let means = sums.map(|sum| (sum.light / sum.sites).max(LEAST_LIGHT));
    let fullness = [0, 1, 2].map(|channel| means[channel] / full[channel]);
    let clipped = shares[0].max(shares[1]).max(shares[2]);
    let brightest = fullness[0].max(fullness[1]).max(fullness[2]);
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
        core: shares[0].min(shares[1]).min(shares[2]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// [`add_bayer`], cell by cell.
    fn plain(sums: &mut [[Sum; 3]], light: &[f32], channels: [usize; 2], limits: [f32; 3]) {
        for (sums, sites) in sums.iter_mut().zip(light.chunks(BAYER_SIDE)) {
            for (phase, &channel) in channels.iter().enumerate().take(sites.len()) {
                add(&mut sums[channel], &sites[phase..], limits[channel], 2);
            }
        }
    }

    #[test]
    fn all_cells_of_a_row_at_once_are_as_one_by_one() {
        for width in [1_usize, 2, 7, 8, 9, 15, 16, 24, 31] {
            let light: Vec<f32> = (0..width).map(|at| (at * 37 % 23) as f32 / 20.0).collect();
            let cells = width.div_ceil(BAYER_SIDE);
            for channels in [[0, 1], [1, 2], [2, 1]] {
                let mut fast = vec![[Sum::default(); 3]; cells];
                let mut slow = fast.clone();
                // Two rows, so that sums go on from what they were.
                for _ in 0..2 {
                    add_bayer(&mut fast, &light, channels, [0.9, 1.0, 0.8]);
                    plain(&mut slow, &light, channels, [0.9, 1.0, 0.8]);
                }
                assert_eq!(fast, slow, "{width} photosites, channels {channels:?}");
            }
        }
    }
}
