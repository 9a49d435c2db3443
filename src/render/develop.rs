//! From the mosaic to rows of white-balanced camera colour, for a strip of columns, from top to bottom.
//!
//! The strip keeps the few sensor rows that the demosaic looks at and makes each of them once. Pixels are counted from the
//! picture's crop; sensor rows and columns from the active area, whose photosites beyond the crop serve as neighbours.

use crate::base::geometry::Rect;
use crate::raw::frame::{Channel, Layout, Mosaic};
use crate::render::demosaic::directional::{self, Directional};
use crate::render::demosaic::half::{self, half_row};
use crate::render::demosaic::xtrans::{self, SixBySix, StandIn};
use crate::render::demosaic::{BayerRow, Method};
use crate::render::row::{RgbRow, Row, Window, mirrored, row_of};
use crate::render::sensor::{Sensor, SensorRows};
use std::ops::Range;

/// Columns worked on at a time: three rows of these and some working memory stay in a first-level cache of 32 KiB.
pub(crate) const CHUNK: usize = 1024;

/// The sensor rows that a method keeps.
#[derive(Debug)]
enum Kept {
    /// One value a photosite.
    Sensor(Window<Row>),
    /// The stages of the directional method.
    Directional(Box<Directional>),
    /// The stages of the method for the 6 x 6 pattern.
    SixBySix {
        stages: Box<SixBySix>,
        beyond: Beyond,
        values: Vec<f32>,
    },
    /// Three values a pixel, and working memory.
    Linear { interleaved: Vec<f32>, row: RgbRow },
}

/// A strip of the picture on its way from counts to camera colour.
#[derive(Debug)]
pub(crate) struct Strip<'a> {
    mosaic: &'a Mosaic,
    method: Method,
    crop: Rect,
    /// Pixel columns that are made.
    columns: Range<usize>,
    sensor: SensorRows<'a>,
    kept: Kept,
}

impl<'a> Strip<'a> {
    /// A strip of pixel columns, from pixel row `first_row` on.
    pub(crate) fn new(
        sensor: &'a Sensor<'_>,
        method: Method,
        columns: Range<usize>,
        first_row: usize,
    ) -> Self {
        let mosaic = sensor.mosaic;
        let (crop, reach, side) = (mosaic.crop, method.reach(), method.reduction());
        let columns_reach = method.columns_reach();
        let start = (crop.left + columns.start * side) as isize - columns_reach as isize;
        let end = (crop.left + columns.end * side + columns_reach) as isize;
        let asked = start..end;
        let length = asked.len();
        let top = crop.top + first_row * side;
        let row = || row_of(length);
        // Sensor columns that are made: mirroring asks for none beyond these, standing in for the 6 x 6 pattern does.
        let mut made = asked.clone();
        let kept = match (method, &mosaic.layout) {
            (Method::XTrans { offset }, Layout::XTrans(pattern)) => {
                let beyond = Beyond::new(pattern, mosaic, asked.clone());
                made = beyond.columns_made();
                let phase = (
                    xtrans::phase_of(-(reach as isize)),
                    xtrans::phase_of(asked.start),
                );
                Kept::SixBySix {
                    stages: Box::new(SixBySix::new(pattern, offset, phase, length, top)),
                    values: vec![0.0; made.len()],
                    beyond,
                }
            }
            (Method::Directional(tuning), Layout::Bayer(pattern)) => {
                let first = crop.left + columns.start;
                let colour_at = [0, 1].map(|y| 1 - BayerRow::of(pattern, y, first).green);
                Kept::Directional(Box::new(Directional::new(tuning, length, top, colour_at)))
            }
            (_, Layout::Linear) => Kept::Linear {
                interleaved: Vec::new(),
                row: RgbRow::new(length),
            },
            // The first rows of a low picture may be mirrored to rows further down, never further up than this.
            _ => Kept::Sensor(Window::new(
                2 * reach + side,
                top.saturating_sub(reach).min(mosaic.height() - 1),
                row,
            )),
        };
        Self {
            mosaic,
            method,
            crop,
            columns,
            sensor: SensorRows::new(sensor, made),
            kept,
        }
    }

    /// Makes pixel row `y`, in chunks of at most [`CHUNK`] columns, and hands each on, with its columns
    /// counted from the strip's first, while it is in the cache.
    pub(crate) fn row(
        &mut self,
        y: usize,
        row: &mut RgbRow,
        mut finish: impl FnMut(Range<usize>, [&mut [f32]; 3]),
    ) {
        let sensor_y = self.crop.top + y * self.method.reduction();
        self.keep(sensor_y);
        let width = self.columns.len();
        for start in (0..width).step_by(CHUNK) {
            let chunk = start..(start + CHUNK).min(width);
            self.demosaic(sensor_y, chunk.clone(), row);
            finish(chunk.clone(), row.columns_mut(chunk));
        }
    }

    /// Makes the sensor rows that pixel row `y` looks at.
    fn keep(&mut self, y: usize) {
        let height = self.mosaic.height();
        let reach = self.method.reach();
        let sensor = &self.sensor;
        match &mut self.kept {
            Kept::Sensor(window) => {
                let deepest = y + reach + self.method.reduction();
                window.fill_to(deepest.min(height), |y, row| sensor.mosaic_row(y, row));
            }
            Kept::Directional(kept) => kept.keep(y, |row, values| {
                let y = row as isize - directional::REACH as isize;
                sensor.mosaic_row(mirrored(y, height), values);
            }),
            Kept::SixBySix {
                stages,
                beyond,
                values,
            } => stages.keep(y, |row, made| {
                let y = row as isize - xtrans::REACH as isize;
                sensor.mosaic_row(beyond.rows.of(y), values);
                beyond.spread(values, made);
            }),
            Kept::Linear { interleaved, row } => sensor.linear_row(y, interleaved, row),
        }
    }

    fn demosaic(&self, y: usize, chunk: Range<usize>, row: &mut RgbRow) {
        match &self.kept {
            Kept::Directional(kept) => {
                let kind = self.bayer_row(y, self.crop.left + self.columns.start + chunk.start);
                kept.row(y, chunk, kind, row);
            }
            Kept::Sensor(window) => self.half(window, y, chunk, row),
            Kept::SixBySix { stages, .. } => stages.row(y, chunk, row),
            Kept::Linear { row: ready, .. } => {
                for (plane, from) in row.planes.iter_mut().zip(&ready.planes) {
                    plane[chunk.clone()].copy_from_slice(&from[chunk.clone()]);
                }
            }
        }
    }

    /// A kept row by sensor row number, which may lie beyond the border.
    fn mirrored_row<'w>(&self, window: &'w Window<Row>, y: isize) -> &'w [f32] {
        window.row(mirrored(y, self.mosaic.height()))
    }

    fn bayer_row(&self, y: usize, first_column: usize) -> BayerRow {
        match &self.mosaic.layout {
            Layout::Bayer(pattern) => BayerRow::of(pattern, y, first_column),
            // Compiling a plan pairs methods with layouts; nothing else comes here.
            Layout::XTrans(_) | Layout::Linear => BayerRow {
                colour: 0,
                green: 0,
            },
        }
    }

    fn half(&self, window: &Window<Row>, y: usize, chunk: Range<usize>, row: &mut RgbRow) {
        let kind = self.bayer_row(y, self.crop.left);
        let [red, green, blue] = row.columns_mut(chunk.clone());
        let (colour, other) = if kind.colour == 0 {
            (red, blue)
        } else {
            (blue, red)
        };
        let sites = 2 * chunk.start + half::REACH..2 * chunk.end + half::REACH;
        let upper = &self.mirrored_row(window, y as isize)[sites.clone()];
        let lower = &self.mirrored_row(window, y as isize + 1)[sites];
        half_row(upper, lower, 1 - kind.green, colour, green, other);
    }
}

/// What stands in for sensor rows and columns beyond the border of a 6 x 6 pattern.
#[derive(Debug)]
struct Beyond {
    rows: StandIn,
    /// For each column that is asked for, the sensor column that stands for it, counted from `first`.
    columns: Vec<usize>,
    first: usize,
    /// The columns asked for that exist, and where they begin among those made.
    existing: Range<usize>,
    begin: usize,
}

impl Beyond {
    fn new(pattern: &[[Channel; 6]; 6], mosaic: &Mosaic, asked: Range<isize>) -> Self {
        let same_row = |a: usize, b: usize| pattern[a] == pattern[b];
        let same_column = |a: usize, b: usize| pattern.iter().all(|row| row[a] == row[b]);
        let stand_in = StandIn::new(mosaic.width(), same_column);
        let columns: Vec<usize> = asked.clone().map(|column| stand_in.of(column)).collect();
        let first = columns.iter().copied().min().unwrap_or(0);
        let exists = |column: isize| column.clamp(0, mosaic.width() as isize) - asked.start;
        let existing = exists(asked.start) as usize..exists(asked.end) as usize;
        Self {
            rows: StandIn::new(mosaic.height(), same_row),
            begin: columns
                .get(existing.start)
                .map_or(0, |&column| column - first),
            columns: columns.into_iter().map(|column| column - first).collect(),
            first,
            existing,
        }
    }

    /// Sensor columns from which all that are asked for can be filled.
    fn columns_made(&self) -> Range<isize> {
        let last = self.columns.iter().copied().max().unwrap_or(0);
        self.first as isize..(self.first + last + 1) as isize
    }

    /// Fills a row of the columns asked for from the `values` made.
    fn spread(&self, values: &[f32], row: &mut [f32]) {
        let existing = self.existing.clone();
        let from = self.begin..self.begin + existing.len();
        row[existing.clone()].copy_from_slice(&values[from]);
        for at in (0..existing.start).chain(existing.end..row.len()) {
            row[at] = values[self.columns[at]];
        }
    }
}
