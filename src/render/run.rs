//! The loops that run a plan: row by row where one thread makes an upright picture, else in bands of upright rows, each
//! made of a rectangle of the stored picture.

use crate::base::bands::Threads;
use crate::base::geometry::{Orientation, Rect};
use crate::raw::frame::Mosaic;
use crate::render::Rendered;
use crate::render::detail::Sharpness;
use crate::render::develop::{CHUNK, Strip};
use crate::render::first_walk::walk;
use crate::render::highlights::{Rebuilder, Surroundings};
use crate::render::noise::Denoiser;
use crate::render::orient::{place, stored_part, upright_index};
use crate::render::plan::Plan;
use crate::render::points::{ChunkMemory, Prepared};
use crate::render::resize::{Across, Axis, Resizer};
use crate::render::row::RgbRow;
use crate::render::sample::{Sample, finish_row, interleave_rows};
use crate::render::sensor::Sensor;
use crate::render::sharpen::Sharpener;
use std::convert::Infallible;
use std::ops::Range;
use std::sync::atomic::{AtomicU64, Ordering};

/// Upright rows a band: enough that the rows computed twice at its border cost a few per cent, few enough that several
/// threads find work, and that a band of a picture on its side makes strips whose rows fill vectors.
const BAND_ROWS: usize = 256;

/// The same with noise reduction, which makes some forty rows more on each side of a band's own.
const QUIET_BAND_ROWS: usize = 1024;

/// Rows that one thread hands on at a time: whole rows of a JPEG's blocks, and few enough for a second-level cache of 512 KiB, which
/// has forgotten the first of twice as many when they are coded (measured at 24 megapixels). Every group of rows but a picture's
/// last is a multiple of it, whoever makes it.
pub(crate) const HANDED_ROWS: usize = 16;
const _: () =
    assert!(BAND_ROWS.is_multiple_of(HANDED_ROWS) && QUIET_BAND_ROWS.is_multiple_of(HANDED_ROWS));

/// Rows of the bands that a plan is run in.
fn band_rows(plan: &Plan) -> usize {
    if plan.noise.is_some() {
        QUIET_BAND_ROWS
    } else {
        BAND_ROWS
    }
}

/// Runs a plan on its mosaic and holds the picture whole, in 8 bits.
pub(crate) fn run(plan: &Plan, mosaic: &Mosaic, threads: &Threads) -> Rendered {
    let (width, height) = plan.upright_size();
    let mut rgb = Vec::with_capacity(width * height * 3);
    let Ok(_) = run_in_order(plan, mosaic, threads, |rows: &[u8]| {
        interleave_rows(width, rows, &mut rgb);
        Ok::<(), Infallible>(())
    });
    Rendered {
        width,
        height,
        space: plan.space,
        rgb,
    }
}

/// Runs it in 8 or 16 bits and hands on rows in order, each as [`crate::render::sample`] has it. Several threads make a group of
/// bands at a time: as many as there are threads, so that only those are ever held.
pub(crate) fn run_in_order<S: Sample, E>(
    plan: &Plan,
    mosaic: &Mosaic,
    threads: &Threads,
    take: impl FnMut(&[S]) -> Result<(), E>,
) -> Result<f64, E> {
    if threads.count() == 1 && plan.orientation == Orientation::Upright {
        run_row_by_row(plan, mosaic, threads, take)
    } else {
        run_in_bands(plan, mosaic, threads, band_rows(plan), take)
    }
}

/// The same for one thread and a picture that is stored as it stands: each row of each stage is made once, and rows are
/// handed on while a second-level cache has them.
fn run_row_by_row<S: Sample, E>(
    plan: &Plan,
    mosaic: &Mosaic,
    threads: &Threads,
    mut take: impl FnMut(&[S]) -> Result<(), E>,
) -> Result<f64, E> {
    let (width, height) = plan.upright_size();
    let fixed = Fixed::new(plan, mosaic, threads);
    let whole = Rect {
        left: 0,
        top: 0,
        width,
        height,
    };
    let mut stages = Stages::new(plan, &fixed, whole);
    let mut codes = vec![S::default(); width * 3 * HANDED_ROWS.min(height)];
    for top in (0..height).step_by(HANDED_ROWS) {
        let group = &mut codes[..width * 3 * HANDED_ROWS.min(height - top)];
        for (y, codes) in (top..).zip(group.chunks_exact_mut(width * 3)) {
            finish_row(plan.space, stages.finished_row(y), codes);
        }
        take(group)?;
    }
    Ok(share_outside(plan, stages.scaled.developer.memory.outside))
}

/// The share of a plan's pixels that `outside` of them are.
fn share_outside(plan: &Plan, outside: u64) -> f64 {
    let (columns, rows) = plan.size.made;
    outside as f64 / (columns * rows) as f64
}

/// The same with any height of bands.
fn run_in_bands<S: Sample, E>(
    plan: &Plan,
    mosaic: &Mosaic,
    threads: &Threads,
    band_rows: usize,
    mut take: impl FnMut(&[S]) -> Result<(), E>,
) -> Result<f64, E> {
    let (width, height) = plan.upright_size();
    let fixed = Fixed::new(plan, mosaic, threads);
    // A sum of whole numbers is the same in any order.
    let outside = AtomicU64::new(0);
    let group_rows = (band_rows * threads.count()).min(height);
    let mut rgb = vec![S::default(); width * group_rows * 3];
    for top in (0..height).step_by(group_rows) {
        let group = &mut rgb[..width * group_rows.min(height - top) * 3];
        threads.for_each_band(
            group,
            width * 3,
            band_rows,
            || (),
            |(), first, band| {
                let outside_here = finish_band(plan, &fixed, top + first, band);
                outside.fetch_add(outside_here, Ordering::Relaxed);
            },
        );
        take(group)?;
    }
    Ok(share_outside(plan, outside.into_inner()))
}

/// Makes the upright rows from `first` on that fill `band`. Returns how many of the band's own pixels, as the demosaic made
/// them, were outside the picture's space.
fn finish_band<S: Sample>(plan: &Plan, fixed: &Fixed<'_>, first: usize, band: &mut [S]) -> u64 {
    let stored = plan.size.finished;
    let (width, _) = plan.upright_size();
    let rows = band.len() / (width * 3);
    let part = stored_part(plan.orientation, stored, first, rows);
    let mut stages = Stages::new(plan, fixed, part);
    let mut codes = vec![S::default(); part.width * 3];
    for y in part.top..part.top + part.height {
        finish_row(plan.space, stages.finished_row(y), &mut codes);
        let index = |x: usize| upright_index(plan.orientation, stored, x, y);
        let start = index(part.left);
        let next = index((part.left + 1).min(part.left + part.width - 1));
        let step = next as isize - start as isize;
        place(&codes, width, start - first * width, step, band);
    }
    stages.scaled.developer.memory.outside
}

/// The pixels before a resize that belong to these pixels after it: each to exactly one.
fn before_resize(after: Range<usize>, before_length: usize, after_length: usize) -> Range<usize> {
    let first = |index: usize| (index * before_length).div_ceil(after_length);
    first(after.start)..first(after.end)
}

/// What all bands share.
struct Fixed<'a> {
    sensor: Sensor<'a>,
    points: Prepared,
    /// Columns and rows of the resize.
    axes: Option<(Across, Axis)>,
    /// The colour around clipped places, where there are any.
    surroundings: Option<Surroundings>,
}

impl<'a> Fixed<'a> {
    fn new(plan: &'a Plan, mosaic: &'a Mosaic, threads: &Threads) -> Self {
        let highlights = plan.highlights.as_ref();
        let (sensor, surroundings) = walk(&plan.sensor, highlights, mosaic, threads);
        let size = &plan.size;
        let axes = size.is_resized().then(|| {
            (
                Across::new(&Axis::new(size.made.0, size.span.0, size.finished.0)),
                Axis::new(size.made.1, size.span.1, size.finished.1),
            )
        });
        Self {
            points: Prepared::new(&plan.points),
            axes,
            surroundings,
            sensor,
        }
    }
}

/// The stages of one band, each with the rows it keeps.
struct Stages<'a> {
    scaled: Scaled<'a>,
    sharpener: Option<Sharpener>,
    row: RgbRow,
    width: usize,
}

impl<'a> Stages<'a> {
    fn new(plan: &'a Plan, fixed: &'a Fixed<'_>, part: Rect) -> Self {
        let columns = part.left..part.left + part.width;
        let sharpener = plan
            .sharpen
            .as_ref()
            .map(|step| Sharpener::new(step, plan.size.finished, columns.clone(), part.top));
        let (columns, first_row) = sharpener
            .as_ref()
            .map_or((columns, part.top), Sharpener::source);
        Self {
            scaled: Scaled::new(plan, fixed, columns, first_row, part),
            sharpener,
            row: RgbRow::new(part.width),
            width: part.width,
        }
    }

    /// Row `y` of the finished picture, in linear light; rows must be asked for from top to bottom.
    fn finished_row(&mut self, y: usize) -> [&mut [f32]; 3] {
        let scaled = &mut self.scaled;
        match &mut self.sharpener {
            Some(sharpener) => sharpener.row(y, &mut self.row, |y, row| scaled.row(y, row)),
            None => scaled.row(y, &mut self.row),
        }
        self.row.columns_mut(0..self.width)
    }
}

/// The picture in its final size, before sharpening.
struct Scaled<'a> {
    developer: Developer<'a>,
    resizer: Option<Resizer<'a>>,
}

impl<'a> Scaled<'a> {
    fn new(
        plan: &'a Plan,
        fixed: &'a Fixed<'_>,
        columns: Range<usize>,
        first_row: usize,
        part: Rect,
    ) -> Self {
        let resizer = fixed
            .axes
            .as_ref()
            .map(|(across, down)| Resizer::new(across, down, columns.clone(), first_row));
        let (columns, first_row) = resizer
            .as_ref()
            .map_or((columns, first_row), Resizer::source);
        Self {
            developer: Developer::new(plan, fixed, columns, first_row, part),
            resizer,
        }
    }

    fn row(&mut self, y: usize, row: &mut RgbRow) {
        let developer = &mut self.developer;
        match &mut self.resizer {
            Some(resizer) => resizer.row(y, row, |y, row| developer.row(y, row)),
            None => developer.row(y, row),
        }
    }
}

/// Mosaic to linear sRGB, row by row.
struct Developer<'a> {
    strip: Strip<'a>,
    denoiser: Option<Denoiser<'a>>,
    sharpness: Option<Sharpness<'a>>,
    rebuilder: Option<Rebuilder<'a>>,
    first_column: usize,
    width: usize,
    points: &'a Prepared,
    memory: ChunkMemory,
    /// Pixels that are counted here and in no other band.
    own_columns: Range<usize>,
    own_rows: Range<usize>,
}

impl<'a> Developer<'a> {
    fn new(
        plan: &'a Plan,
        fixed: &'a Fixed<'_>,
        columns: Range<usize>,
        first_row: usize,
        part: Rect,
    ) -> Self {
        let (made, finished) = (plan.size.made, plan.size.finished);
        let (first_column, width) = (columns.start, columns.len());
        let sharpness = plan
            .detail
            .as_ref()
            .map(|step| Sharpness::new(step, plan.size.made, columns.clone(), first_row));
        let (columns, first_row) = sharpness
            .as_ref()
            .map_or((columns, first_row), Sharpness::source);
        let denoiser = plan
            .noise
            .as_ref()
            .map(|step| Denoiser::new(step, plan.size.made, columns.clone(), first_row));
        let rebuilder =
            plan.highlights
                .zip(fixed.surroundings.as_ref())
                .map(|(step, surroundings)| {
                    let photosites = plan.demosaic.reduction();
                    let columns = first_column..first_column + width;
                    Rebuilder::new(step, surroundings, &fixed.sensor, photosites, &columns)
                });
        let (columns, first_row) = denoiser
            .as_ref()
            .map_or((columns, first_row), Denoiser::source);
        Self {
            own_columns: before_resize(part.left..part.left + part.width, made.0, finished.0),
            own_rows: before_resize(part.top..part.top + part.height, made.1, finished.1),
            rebuilder,
            first_column,
            width,
            strip: Strip::new(&fixed.sensor, plan.demosaic, columns, first_row),
            denoiser,
            sharpness,
            points: &fixed.points,
            memory: ChunkMemory::default(),
        }
    }

    fn row(&mut self, y: usize, row: &mut RgbRow) {
        let (points, memory) = (self.points, &mut self.memory);
        let (rebuilder, first) = (&mut self.rebuilder, self.first_column);
        let (own_columns, is_own_row) = (&self.own_columns, self.own_rows.contains(&y));
        let mut finish = |columns: Range<usize>, mut chunk: [&mut [f32]; 3]| {
            if let Some(rebuilder) = rebuilder {
                let [red, green, blue] = &mut chunk;
                rebuilder.run(
                    y,
                    first + columns.start..first + columns.end,
                    [red, green, blue],
                );
            }
            let start = first + columns.start;
            memory.counted = if is_own_row {
                own_columns.start.max(start) - start..own_columns.end.max(start) - start
            } else {
                0..0
            };
            points.run(chunk, memory);
        };
        let strip = &mut self.strip;
        if self.denoiser.is_none() && self.sharpness.is_none() {
            strip.row(y, row, finish);
            return;
        }
        let mut quiet = |y: usize, row: &mut RgbRow| match &mut self.denoiser {
            Some(denoiser) => denoiser.row(y, row, |y, row| strip.row(y, row, |_, _| ())),
            None => strip.row(y, row, |_, _| ()),
        };
        if let Some(sharpness) = &mut self.sharpness {
            sharpness.row(y, row, quiet);
        } else {
            quiet(y, row);
        }
        for start in (0..self.width).step_by(CHUNK) {
            let chunk = start..(start + CHUNK).min(self.width);
            finish(chunk.clone(), row.columns_mut(chunk));
        }
    }
}

#[cfg(test)]
mod tests;
