//! The least that full photosites leave of a channel.
//!
//! A demosaic takes the missing channels of a full photosite from differences, and those bend where a channel stops rising:
//! between photosites that are all full a channel may come out well below full, and such a pixel would pass for one with a
//! colour amid white ones. No channel of a pixel whose own photosite is full may lie below what the full photosites around
//! give by themselves, all others counting as dark: a bound that bilinear interpolation never falls below. Pixels whose
//! own photosite is not full stay as they are, so that a dark line between two lamps stays dark.

use super::CLIPPED;
use super::surroundings::{is_any_at_least, least_clipped_count};
use crate::base::kernel::row_kernel;
use crate::raw::frame::{Layout, Mosaic};
use crate::render::row::mirrored;
use crate::render::sensor::{Sensor, SensorRows};
use std::ops::Range;

/// Pixels that are looked at together: where no photosite is full, nothing is computed.
const BLOCK: usize = 64;
/// Columns whose counts are looked at together before their light is made.
const PIECE: usize = 512;
/// Rows after which every pattern of colours has come back: two of a 2 x 2 pattern, six of a 6 x 6 one.
const PATTERN_ROWS: usize = 6;

/// Raises rows of a strip whose pixels are one photosite each.
#[derive(Debug)]
pub(super) struct Floor<'a> {
    mosaic: &'a Mosaic,
    sensor: SensorRows<'a>,
    full: [f32; 3],
    /// The light from which a photosite counts as full, of each column that is kept, for each row of the pattern.
    limits: Vec<Vec<f32>>,
    /// Rows whose counts are all below hold no full photosite.
    least_count: u16,
    /// Photosites on each side that hold all three colours.
    reach: usize,
    /// Columns of the active area whose photosites are kept.
    kept: Range<usize>,
    /// Place in the active area of the picture's first pixel.
    crop: (usize, usize),
    /// A ring of rows of the active area.
    rows: Vec<Row>,
    light: Vec<f32>,
}

/// Which photosites of one row are full.
#[derive(Clone, Debug)]
struct Row {
    y: Option<usize>,
    is_any_full: bool,
    is_full: Vec<bool>,
}

impl<'a> Floor<'a> {
    /// For picture columns `columns`; `None` for three values a pixel, of which each stands for itself.
    pub(super) fn new(sensor: &'a Sensor<'_>, columns: &Range<usize>) -> Option<Self> {
        let mosaic = sensor.mosaic;
        let reach = match mosaic.layout {
            Layout::Bayer(_) => 1,
            Layout::XTrans(_) => 2,
            Layout::Linear => return None,
        };
        let (left, top) = (mosaic.crop.left, mosaic.crop.top);
        let kept = (left + columns.start).saturating_sub(reach)
            ..(left + columns.end + reach).min(mosaic.width());
        let full = sensor.step.full();
        let limits = (0..PATTERN_ROWS)
            .map(|y| {
                kept.clone()
                    .map(|x| full[mosaic.channel_at(x, y)] * CLIPPED.1)
                    .collect()
            })
            .collect();
        let row = Row {
            y: None,
            is_any_full: false,
            is_full: vec![false; kept.len()],
        };
        Some(Self {
            mosaic,
            sensor: SensorRows::new(sensor, kept.start as isize..kept.end as isize),
            full,
            limits,
            least_count: least_clipped_count(mosaic),
            reach,
            light: vec![0.0; PIECE.min(kept.len())],
            kept,
            crop: (left, top),
            rows: vec![row; 2 * reach + 1],
        })
    }

    /// Raises the pixels of picture columns `columns` in picture row `y`.
    pub(super) fn run(&mut self, y: usize, columns: Range<usize>, mut chunk: [&mut [f32]; 3]) {
        let y = self.crop.1 + y;
        let around = y.saturating_sub(self.reach)..(y + self.reach + 1).min(self.mosaic.height());
        for y in around.clone() {
            self.keep(y);
        }
        let size = self.rows.len();
        if !self.rows[y % size].is_any_full {
            return;
        }
        let first = self.crop.0 + columns.start;
        for start in (0..columns.len()).step_by(BLOCK) {
            let block = start..(start + BLOCK).min(columns.len());
            let from = first + block.start - self.kept.start;
            let own = &self.rows[y % size].is_full[from..from + block.len()];
            if !own.contains(&true) {
                continue;
            }
            for (at, _) in block.zip(own).filter(|(_, is_full)| **is_full) {
                let shares = self.shares(first + at, y);
                for ((plane, share), full) in chunk.iter_mut().zip(shares).zip(self.full) {
                    plane[at] = plane[at].max(share * full);
                }
            }
        }
    }

    /// Finds the full photosites of row `y` of the active area.
    fn keep(&mut self, y: usize) {
        let size = self.rows.len();
        let row = &mut self.rows[y % size];
        if row.y == Some(y) {
            return;
        }
        row.y = Some(y);
        row.is_any_full = false;
        row.is_full.fill(false);
        let counts = &self.mosaic.counts.row(y)[self.kept.clone()];
        let limits = &self.limits[y % PATTERN_ROWS];
        for start in (0..counts.len()).step_by(PIECE) {
            let piece = start..(start + PIECE).min(counts.len());
            if !is_any_at_least(&counts[piece.clone()], self.least_count) {
                continue;
            }
            // As the demosaic sees them, without hot ones.
            let light = &mut self.light[..piece.len()];
            self.sensor.part_of_mosaic_row(y, piece.clone(), light);
            mark_full(
                light,
                &limits[piece.clone()],
                &mut row.is_full[piece],
                &mut row.is_any_full,
            );
        }
    }

    /// The share of full photosites around column `x`, row `y`, by channel; near ones count more, as in bilinear
    /// interpolation.
    fn shares(&self, x: usize, y: usize) -> [f32; 3] {
        let mut sums = [(0.0_f32, 0.0_f32); 3];
        let reach = self.reach as isize;
        for down in -reach..=reach {
            let at_y = mirrored(y as isize + down, self.mosaic.height());
            let row = &self.rows[at_y % self.rows.len()];
            for across in -reach..=reach {
                let at_x = mirrored(x as isize + across, self.mosaic.width());
                let weight = ((reach + 1 - down.abs()) * (reach + 1 - across.abs())) as f32;
                let (full, all) = &mut sums[self.mosaic.channel_at(at_x, at_y)];
                *all += weight;
                if row.is_full[at_x - self.kept.start] {
                    *full += weight;
                }
            }
        }
        sums.map(|(full, all)| if all > 0.0 { full / all } else { 0.0 })
    }
}

row_kernel! {
    /// Marks light that reaches its limit, and says whether any does.
    fn mark_full(light: &[f32], limits: &[f32], is_full: &mut [bool], is_any: &mut bool) {
        let length = light.len();
        let (limits, is_full) = (&limits[..length], &mut is_full[..length]);
        let mut any = false;
        for x in 0..length {
            is_full[x] = light[x] >= limits[x];
            any |= is_full[x];
        }
        *is_any |= any;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_marks_the_same() {
        hold_together(&mark_full::levels(), |kernel, length| {
            let (mut is_full, mut is_any) = (vec![false; length], false);
            kernel(
                &unordered_row(1, length),
                &unordered_row(2, length),
                &mut is_full,
                &mut is_any,
            );
            assert_eq!(is_any, is_full.contains(&true));
            is_full
                .iter()
                .map(|full| f32::from(u8::from(*full)))
                .collect()
        });
    }
}
