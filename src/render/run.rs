//! The one loop that runs a plan: bands of upright rows, each made of a rectangle of the stored picture.

use crate::base::bands::Threads;
use crate::base::geometry::Rect;
use crate::colour::transfer::encode_row_8bit;
use crate::raw::frame::Mosaic;
use crate::render::Rendered;
use crate::render::develop::Strip;
use crate::render::orient::{place, stored_part, upright_index};
use crate::render::plan::Plan;
use crate::render::points::{ChunkMemory, Prepared};
use crate::render::resize::{Axis, Resizer};
use crate::render::row::RgbRow;
use crate::render::sharpen::Sharpener;
use std::ops::Range;

/// Upright rows a band: enough that the rows computed twice at its border cost a few per cent, few enough that several
/// threads find work, and that a band of a picture on its side makes strips whose rows fill vectors.
const BAND_ROWS: usize = 256;

/// Runs a plan on its mosaic.
pub(crate) fn run(plan: &Plan, mosaic: &Mosaic, threads: &Threads) -> Rendered {
    run_in_bands(plan, mosaic, threads, BAND_ROWS)
}

/// The same with any height of bands.
pub(crate) fn run_in_bands(
    plan: &Plan,
    mosaic: &Mosaic,
    threads: &Threads,
    band_rows: usize,
) -> Rendered {
    let stored = plan.size.finished;
    let (width, height) = plan.orientation.upright_size(stored.0, stored.1);
    let mut rgb = vec![0u8; width * height * 3];
    let fixed = Fixed::new(plan);
    threads.for_each_band(
        &mut rgb,
        width * 3,
        band_rows,
        || (),
        |(), first, band| {
            let rows = band.len() / (width * 3);
            let part = stored_part(plan.orientation, stored, first, rows);
            let mut stages = Stages::new(plan, &fixed, mosaic, part);
            let mut codes = vec![0u8; part.width * 3];
            for y in part.top..part.top + part.height {
                let line = stages.finished_row(y);
                let [red, green, blue] = line;
                encode_row_8bit(red, green, blue, &mut codes);
                let index = |x: usize| upright_index(plan.orientation, stored, x, y);
                let start = index(part.left);
                let next = index((part.left + 1).min(part.left + part.width - 1));
                let step = next as isize - start as isize;
                place(&codes, start - first * width, step, band);
            }
        },
    );
    Rendered { width, height, rgb }
}

/// What all bands share.
struct Fixed {
    points: Prepared,
    /// Columns and rows of the resize.
    axes: Option<(Axis, Axis)>,
}

impl Fixed {
    fn new(plan: &Plan) -> Self {
        let size = &plan.size;
        let axes = size.is_resized().then(|| {
            (
                Axis::new(size.made.0, size.span.0, size.finished.0),
                Axis::new(size.made.1, size.span.1, size.finished.1),
            )
        });
        Self {
            points: Prepared::new(&plan.points),
            axes,
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
    fn new(plan: &'a Plan, fixed: &'a Fixed, mosaic: &'a Mosaic, part: Rect) -> Self {
        let columns = part.left..part.left + part.width;
        let sharpener = plan
            .sharpen
            .as_ref()
            .map(|step| Sharpener::new(step, plan.size.finished, columns.clone(), part.top));
        let (columns, first_row) = sharpener
            .as_ref()
            .map_or((columns, part.top), Sharpener::source);
        Self {
            scaled: Scaled::new(plan, fixed, mosaic, columns, first_row),
            sharpener,
            row: RgbRow::new(part.width),
            width: part.width,
        }
    }

    /// Row `y` of the finished picture, in linear light; rows must be asked for from top to bottom.
    fn finished_row(&mut self, y: usize) -> [&[f32]; 3] {
        let scaled = &mut self.scaled;
        match &mut self.sharpener {
            Some(sharpener) => sharpener.row(y, &mut self.row, |y, row| scaled.row(y, row)),
            None => scaled.row(y, &mut self.row),
        }
        let [red, green, blue] = &self.row.planes;
        [
            &red[..self.width],
            &green[..self.width],
            &blue[..self.width],
        ]
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
        fixed: &'a Fixed,
        mosaic: &'a Mosaic,
        columns: Range<usize>,
        first_row: usize,
    ) -> Self {
        let resizer = fixed
            .axes
            .as_ref()
            .map(|(across, down)| Resizer::new(across, down, columns.clone(), first_row));
        let (columns, first_row) = resizer
            .as_ref()
            .map_or((columns, first_row), Resizer::source);
        Self {
            developer: Developer::new(plan, fixed, mosaic, columns, first_row),
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
    points: &'a Prepared,
    memory: ChunkMemory,
}

impl<'a> Developer<'a> {
    fn new(
        plan: &'a Plan,
        fixed: &'a Fixed,
        mosaic: &'a Mosaic,
        columns: Range<usize>,
        first_row: usize,
    ) -> Self {
        Self {
            strip: Strip::new(&plan.sensor, plan.demosaic, mosaic, columns, first_row),
            points: &fixed.points,
            memory: ChunkMemory::default(),
        }
    }

    fn row(&mut self, y: usize, row: &mut RgbRow) {
        let (points, memory) = (self.points, &mut self.memory);
        self.strip.row(y, row, |chunk| points.run(chunk, memory));
    }
}
