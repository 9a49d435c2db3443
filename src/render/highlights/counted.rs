//! Cells of a 2 x 2 pattern straight from its counts, added up as whole numbers: the fast twin of gathering them photosite by
//! photosite (`super::cells`), for mosaics whose levels are the same in every cell.

use super::CLIPPED;
use super::cells::{Cell, Sum, cell_of};
use super::pyramid::{FIELDS, Weighted};
use crate::base::kernel::row_kernel;
use crate::raw::frame::{Layout, Mosaic};
use crate::render::faulty::ReplacementsOfRow;
use crate::render::sensor::SensorStep;
use std::ops::{AddAssign, Range, SubAssign};

/// Photosites on a side of a cell.
pub(super) const SIDE: usize = 8;
/// Cells that are added up, and made, side by side.
const BLOCK: usize = 16;

/// What the counts of one photosite of the pattern mean.
#[derive(Clone, Copy, Debug)]
struct Photosite {
    channel: usize,
    black: f32,
    /// White-balanced light of a count above black.
    scale: f32,
    /// The count of a full photosite, and the least that counts as clipped.
    most: u16,
    clipped: u16,
}

impl Photosite {
    /// `None` where the level of a full photosite is no whole count.
    fn new(channel: usize, black: f32, white: f32, full: f32) -> Option<Self> {
        let is_count = white.fract() == 0.0 && white > black && white <= f32::from(u16::MAX);
        let scale = full / (white - black);
        // As the light of each photosite would be compared.
        let light = |count: u16| ((f32::from(count) - black) * scale).min(full);
        let limit = full * CLIPPED.1;
        let most = white as u16;
        let near = (black + CLIPPED.1 * (white - black)) as u16;
        let clipped = (near.saturating_sub(2)..=most).find(|count| light(*count) >= limit);
        is_count.then_some(())?;
        Some(Self {
            channel,
            black,
            scale,
            most,
            clipped: clipped?,
        })
    }
}

/// How a mosaic's cells are added up.
#[derive(Debug)]
pub(crate) struct Counted<'a> {
    mosaic: &'a Mosaic,
    full: [f32; 3],
    /// By row and column of the pattern.
    photosites: [[Photosite; 2]; 2],
}

/// What one row of cells adds up to: held counts and clipped photosites, by row and column of the pattern.
#[derive(Debug, Default)]
pub(crate) struct Sums {
    held: [[Vec<u32>; 2]; 2],
    clipped: [[Vec<u32>; 2]; 2],
}

impl Sums {
    fn clear(&mut self, cells: usize) {
        let all = self.held.iter_mut().chain(&mut self.clipped);
        for sums in all.flatten() {
            sums.clear();
            sums.resize(cells, 0);
        }
    }
}

impl<'a> Counted<'a> {
    /// For a mosaic of a 2 x 2 pattern with one red, two green and one blue photosite; `None` when its levels differ between
    /// cells or are no whole counts.
    pub(crate) fn new(step: &SensorStep, mosaic: &'a Mosaic, full: [f32; 3]) -> Option<Self> {
        let black = &step.black;
        let Layout::Bayer(pattern) = &mosaic.layout else {
            return None;
        };
        let mut channels = pattern.concat();
        channels.sort_unstable();
        let has_deviation = !(black.row_deviation.is_empty() && black.column_deviation.is_empty());
        let is_regular =
            2_usize.is_multiple_of(black.rows) && 2_usize.is_multiple_of(black.columns);
        if channels != [0, 1, 1, 2] || has_deviation || !is_regular {
            return None;
        }
        let photosite = |y: usize, x: usize| {
            let channel = usize::from(pattern[y][x]);
            let black = black.at(x, y, 0);
            Photosite::new(channel, black, step.white[channel], full[channel])
        };
        Some(Self {
            mosaic,
            full,
            photosites: [
                [photosite(0, 0)?, photosite(0, 1)?],
                [photosite(1, 0)?, photosite(1, 1)?],
            ],
        })
    }

    /// Rows of cells.
    pub(crate) fn rows(&self) -> usize {
        self.mosaic.height().div_ceil(SIDE)
    }

    /// The rows of photosites that a row of cells covers.
    pub(crate) fn photosites_of(&self, row: usize) -> Range<usize> {
        row * SIDE..((row + 1) * SIDE).min(self.mosaic.height())
    }

    /// Gathers a row of cells, whose rows of photosites have these faulty ones.
    pub(crate) fn gather(
        &self,
        sums: &mut Sums,
        row: usize,
        replacements: &[ReplacementsOfRow],
    ) -> Vec<Cell> {
        let mosaic = self.mosaic;
        let rows = self.photosites_of(row);
        let mut cells = vec![Cell::default(); mosaic.width().div_ceil(SIDE)];
        // Cells that the border does not cut.
        let whole = mosaic.width() / SIDE;
        sums.clear(cells.len());
        for (parity, photosites) in self.photosites.iter().enumerate() {
            let rows: Vec<&[u16]> = rows
                .clone()
                .skip(parity)
                .step_by(2)
                .map(|y| mosaic.counts.row(y))
                .collect();
            let [held_even, held_odd] = &mut sums.held[parity];
            let [clipped_even, clipped_odd] = &mut sums.clipped[parity];
            add_rows(
                &rows,
                photosites.map(|photosite| photosite.most),
                photosites.map(|photosite| photosite.clipped),
                &mut held_even[..whole],
                &mut held_odd[..whole],
                &mut clipped_even[..whole],
                &mut clipped_odd[..whole],
            );
        }
        for (y, replacements) in rows.clone().zip(replacements) {
            for x in whole * SIDE..mosaic.width() {
                self.change(sums, (x, y), mosaic.counts.row(y)[x], u32::add_assign);
            }
            for (x, count) in replacements {
                self.change(sums, (*x, y), mosaic.counts.row(y)[*x], u32::sub_assign);
                self.change(sums, (*x, y), *count, u32::add_assign);
            }
        }
        self.make(sums, &rows, &mut cells[..whole]);
        if let Some(cell) = cells.get_mut(whole) {
            let columns = whole * SIDE..mosaic.width();
            *cell = cell_of(&self.sums_of_cell(sums, whole, &rows, &columns), self.full);
        }
        cells
    }

    /// Changes the sums of one photosite's cell by its held count, and by whether it is clipped.
    fn change(&self, sums: &mut Sums, (x, y): (usize, usize), count: u16, by: fn(&mut u32, u32)) {
        let (row, column) = (y % 2, x % 2);
        let photosite = &self.photosites[row][column];
        let cell = x / SIDE;
        by(
            &mut sums.held[row][column][cell],
            u32::from(count.min(photosite.most)),
        );
        by(
            &mut sums.clipped[row][column][cell],
            u32::from(count >= photosite.clipped),
        );
    }

    /// Light, photosites and clipped ones of each channel in one cell, which has these rows and columns.
    fn sums_of_cell(
        &self,
        sums: &Sums,
        cell: usize,
        rows: &Range<usize>,
        columns: &Range<usize>,
    ) -> [Sum; 3] {
        let mut of_channel = [Sum::default(); 3];
        for (y, photosites) in self.photosites.iter().enumerate() {
            for (x, photosite) in photosites.iter().enumerate() {
                let every_other = |places: &Range<usize>, parity: usize| {
                    places.clone().skip(parity).step_by(2).count()
                };
                let sites = (every_other(rows, y) * every_other(columns, x)) as f32;
                let held = sums.held[y][x][cell] as f32;
                let sum = &mut of_channel[photosite.channel];
                *sum = sum.and(Sum {
                    light: (held - sites * photosite.black) * photosite.scale,
                    sites,
                    clipped: sums.clipped[y][x][cell] as f32,
                });
            }
        }
        of_channel
    }

    /// Makes cells that the border does not cut at their sides, from these rows.
    fn make(&self, sums: &Sums, rows: &Range<usize>, cells: &mut [Cell]) {
        let mut photosites = [(0, 0), (0, 1), (1, 0), (1, 1)];
        photosites.sort_by_key(|(y, x)| self.photosites[*y][*x].channel);
        let meaning = photosites.map(|(y, x)| {
            let photosite = &self.photosites[y][x];
            let sites = rows.clone().skip(y).step_by(2).count() * SIDE / 2;
            [sites as f32, photosite.black, photosite.scale]
        });
        make_cells(
            self.full,
            meaning,
            photosites.map(|(y, x)| &sums.held[y][x][..]),
            photosites.map(|(y, x)| &sums.clipped[y][x][..]),
            cells,
        );
    }
}

row_kernel! {
    /// Adds rows of one parity to the sums of their cells, even and odd columns apart: counts held at `most`, and how many
    /// reach `limit`. There are as many cells as the sums have; a row has [`SIDE`] columns for each.
    fn add_rows(
        rows: &[&[u16]],
        most: [u16; 2],
        limit: [u16; 2],
        held_even: &mut [u32],
        held_odd: &mut [u32],
        clipped_even: &mut [u32],
        clipped_odd: &mut [u32],
    ) {
        let sums = [held_even, held_odd, clipped_even, clipped_odd];
        // Sums as wide as the counts make vectors of twice as many; those of 14 bits always do.
        if rows.len() * usize::from(most[0].max(most[1])) <= usize::from(u16::MAX) {
            add_rows_to::<u16>(rows, most, limit, sums);
        } else {
            add_rows_to::<u32>(rows, most, limit, sums);
        }
    }
}

/// See [`add_rows`]. A column's sum fits the number.
#[inline(always)]
fn add_rows_to<Number: Copy + Default + From<u16> + Into<u32> + AddAssign>(
    rows: &[&[u16]],
    most: [u16; 2],
    limit: [u16; 2],
    [held_even, held_odd, clipped_even, clipped_odd]: [&mut [u32]; 4],
) {
    const COLUMNS: usize = BLOCK * SIDE;
    let cells = held_even.len();
    let (held_odd, clipped_even) = (&mut held_odd[..cells], &mut clipped_even[..cells]);
    let clipped_odd = &mut clipped_odd[..cells];
    let [most, limit] = [most, limit].map(|[even, odd]| {
        let mut columns = [even; COLUMNS];
        for pair in columns.as_chunks_mut::<2>().0 {
            pair[1] = odd;
        }
        columns
    });
    for start in (0..cells).step_by(BLOCK) {
        let size = BLOCK.min(cells - start);
        let mut held = [Number::default(); COLUMNS];
        let mut clipped = [0_u16; COLUMNS];
        for row in rows {
            let counts = &row[start * SIDE..(start + size) * SIDE];
            // A block of fixed length is added up without a remainder.
            let mut last = [0; COLUMNS];
            let counts = counts.first_chunk::<COLUMNS>().unwrap_or_else(|| {
                last[..counts.len()].copy_from_slice(counts);
                &last
            });
            for x in 0..COLUMNS {
                held[x] += Number::from(counts[x].min(most[x]));
                clipped[x] += u16::from(counts[x] >= limit[x]);
            }
        }
        let mut sums = [[0; BLOCK]; 4];
        let cells = held
            .as_chunks::<SIDE>()
            .0
            .iter()
            .zip(clipped.as_chunks::<SIDE>().0);
        for (cell, (held, clipped)) in cells.enumerate() {
            let photosites = [held.map(Number::into), clipped.map(u32::from)];
            for (photosite, sum) in photosites.iter().zip(sums.as_chunks_mut::<2>().0) {
                for (parity, sum) in sum.iter_mut().enumerate() {
                    sum[cell] = (photosite[parity] + photosite[parity + 2])
                        + (photosite[parity + 4] + photosite[parity + 6]);
                }
            }
        }
        let made = start..start + size;
        held_even[made.clone()].copy_from_slice(&sums[0][..size]);
        held_odd[made.clone()].copy_from_slice(&sums[1][..size]);
        clipped_even[made.clone()].copy_from_slice(&sums[2][..size]);
        clipped_odd[made].copy_from_slice(&sums[3][..size]);
    }
}

row_kernel! {
    /// Makes cells from what their red, green, green and blue photosites add up to. `meaning` is how many there are of each,
    /// their black level and the light of a count above it.
    fn make_cells(
        full: [f32; 3],
        meaning: [[f32; 3]; 4],
        held: [&[u32]; 4],
        clipped: [&[u32]; 4],
        cells: &mut [Cell],
    ) {
        for (block, cells) in cells.chunks_mut(BLOCK).enumerate() {
            let from = block * BLOCK..block * BLOCK + cells.len();
            let [held, clipped] = [held, clipped].map(|sums| {
                sums.map(|sums| {
                    let mut values = [0.0; BLOCK];
                    for (value, sum) in values.iter_mut().zip(&sums[from.clone()]) {
                        *value = *sum as f32;
                    }
                    values
                })
            });
            // Field by field, so that a vector holds one field of many cells.
            let mut fields = [[0.0; BLOCK]; 2 + FIELDS];
            for x in 0..BLOCK {
                let sum = |photosite: usize| {
                    let [sites, black, scale] = meaning[photosite];
                    Sum {
                        light: (held[photosite][x] - sites * black) * scale,
                        sites,
                        clipped: clipped[photosite][x],
                    }
                };
                let cell = cell_of(&[sum(0), sum(1).and(sum(2)), sum(3)], full);
                fields[0][x] = cell.core;
                fields[1][x] = cell.colour.weight;
                for (field, value) in fields[2..].iter_mut().zip(cell.colour.sums) {
                    field[x] = value;
                }
            }
            for (x, cell) in cells.iter_mut().enumerate() {
                *cell = Cell {
                    core: fields[0][x],
                    colour: Weighted {
                        weight: fields[1][x],
                        sums: std::array::from_fn(|field| fields[2 + field][x]),
                    },
                };
            }
        }
    }
}

#[cfg(test)]
mod tests;
