//! The mosaic in coarse cells: the colour of unclipped light, and where all colours are clipped.

use super::CLIPPED;
use super::counted;
use super::pyramid::Weighted;
use crate::base::arithmetic::{largest, log2, smallest};
use crate::raw::frame::{Layout, Mosaic};
use crate::render::row::RgbRow;
use crate::render::sensor::SensorRows;

/// Share of a cell's photosites of a channel that may be clipped before the cell tells no colour: noise fills single
/// photosites long before their neighbours.
const CLIPPED_SHARE: f32 = 0.1;
/// Least white-balanced light whose logarithm is taken: below, noise is larger than light on any sensor of the day.
const LEAST_LIGHT: f32 = 0.003;

/// One cell of the mosaic.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Cell {
    /// Log2 of red and of blue over green and their products, weighted.
    pub(super) colour: Weighted,
    /// Share of the photosites that are clipped, of the channel that is clipped least.
    pub(super) core: f32,
}

/// Photosites on a side of a cell.
pub(super) fn cell_side(layout: &Layout) -> usize {
    match layout {
        Layout::XTrans(_) => 6,
        Layout::Bayer(_) | Layout::Linear => counted::SIDE,
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
pub(super) struct Sum {
    pub(super) light: f32,
    pub(super) sites: f32,
    pub(super) clipped: f32,
}

impl Sum {
    /// Both together.
    #[inline(always)]
    pub(super) fn and(self, other: Self) -> Self {
        Self {
            light: self.light + other.light,
            sites: self.sites + other.sites,
            clipped: self.clipped + other.clipped,
        }
    }
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
                        for light in sites {
                            add(&mut sums[channel], *light, limits[channel]);
                        }
                    }
                }
            } else {
                self.light.resize(mosaic.width(), 0.0);
                sensor.mosaic_row(y, &mut self.light);
                for (sums, sites) in self.sums.iter_mut().zip(self.light.chunks(side)) {
                    // A cell is as wide as the pattern, or four times that.
                    for (x, light) in sites.iter().enumerate() {
                        let channel = mosaic.channel_at(x, y);
                        add(&mut sums[channel], *light, limits[channel]);
                    }
                }
            }
        }
        for (cell, sums) in cells.iter_mut().zip(&self.sums) {
            *cell = cell_of(sums, full);
        }
    }
}

fn add(sum: &mut Sum, light: f32, limit: f32) {
    *sum = sum.and(Sum {
        light,
        sites: 1.0,
        clipped: f32::from(u8::from(light >= limit)),
    });
}

/// The cell of what its photosites add up to.
#[inline(always)]
pub(super) fn cell_of(sums: &[Sum; 3], full: [f32; 3]) -> Cell {
    // A narrow cell at the border may lack a colour.
    if sums.iter().any(|sum| sum.sites == 0.0) {
        return Cell::default();
    }
    let shares = sums.map(|sum| sum.clipped / sum.sites);
    let means = sums.map(|sum| (sum.light / sum.sites).max(LEAST_LIGHT));
    let fullness = [0, 1, 2].map(|channel| means[channel] / full[channel]);
    let clipped = largest(shares);
    let brightest = largest(fullness);
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
        core: smallest(shares),
    }
}
