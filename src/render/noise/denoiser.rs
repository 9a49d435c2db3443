//! The stage itself: rows of white-balanced light in, the same rows with less noise out, a few dozen rows later.

use super::NoiseStep;
use super::axis::{Axis, COARSE_DELAY, FINE_SPAN, TOGETHER, WAITING_ROWS};
use super::coarse::{rows_of, subtract_grown};
use super::full::Full;
use super::stabilise::{restore, stabilise};
use crate::render::row::{RgbRow, Row, mirrored, row_of};
use std::collections::BTreeMap;
use std::ops::Range;

/// Rows and columns beyond a pixel that decide about it; even, so that both grids keep their phase. Coarse neighbourhoods
/// reach one place further across than down, and growing takes two.
const REACH: usize = 2 * (COARSE_DELAY + 3) + FINE_SPAN.next_multiple_of(2);

/// Noise reduction of a strip of columns, from some row on.
#[derive(Debug)]
pub(crate) struct Denoiser<'a> {
    step: &'a NoiseStep,
    height: usize,
    /// Picture columns that are made.
    columns: Range<usize>,
    /// Picture columns that are asked for.
    asked: Range<usize>,
    /// For each working column its place among those asked for.
    places: Vec<usize>,
    /// Working columns that lie inside the picture.
    inside: Range<usize>,
    /// Working columns before the first that is made.
    before: usize,
    axes: [Axis; 3],
    full: Vec<Full>,
    /// Number of the next row that goes in; picture rows are numbered from [`REACH`] on, so that rows above the picture
    /// have numbers too.
    next: usize,
    /// The last coarse row whose noise is found.
    coarse_found: usize,
    /// The picture row that the stage before gives next.
    next_source: usize,
    first_source: usize,
    /// Rows near the picture's upper and lower border, which stand in for rows beyond it.
    kept: BTreeMap<usize, ([Vec<f32>; 3], Full)>,
    source: RgbRow,
    mixed: Row,
}

impl<'a> Denoiser<'a> {
    /// Ready for the columns of a picture of `size`, from row `first_row` on.
    pub(crate) fn new(
        step: &'a NoiseStep,
        size: (usize, usize),
        columns: Range<usize>,
        first_row: usize,
    ) -> Self {
        let (width, height) = size;
        let start = columns.start as isize - REACH as isize;
        let start = start - start.rem_euclid(2);
        let length = (columns.end + REACH) - (start + REACH as isize) as usize + REACH;
        let length = length.next_multiple_of(2);
        // Two more, because a mirrored column may be that of the rounding above.
        let asked = columns.start.saturating_sub(REACH + 2)..(columns.end + REACH + 2).min(width);
        let places = (0..length)
            .map(|at| mirrored(start + at as isize, width) - asked.start)
            .collect();
        let inside_end = (asked.end as isize - start) as usize;
        let inside = (asked.start as isize - start).max(0) as usize..inside_end.min(length);
        // Picture row y has the number y + REACH; the rows that decide about the first begin REACH above it.
        let first = first_row - first_row % 2;
        let source = RgbRow::new(asked.len());
        // The first row asked of the stage before; the rows above the picture are rows of the picture mirrored.
        let first_source = first.saturating_sub(REACH);
        Self {
            step,
            height,
            before: (columns.start as isize - start) as usize,
            columns,
            asked,
            places,
            inside,
            axes: (step.thresholds.each_ref()).map(|levels| Axis::new(levels, length, first)),
            full: vec![Full::default(); WAITING_ROWS + FINE_SPAN + 3],
            next: first,
            coarse_found: 0,
            next_source: first_source.min(height - 1),
            first_source,
            kept: BTreeMap::new(),
            source,
            mixed: row_of(length / 2),
        }
    }

    /// Columns that rows of the stage before must have, and the first row that is asked for.
    pub(crate) fn source(&self) -> (Range<usize>, usize) {
        (self.asked.clone(), self.next_source)
    }

    /// Makes row `y`, from top to bottom. `make` gives a row of the stage before; it is asked for each once, in order.
    pub(crate) fn row(
        &mut self,
        y: usize,
        row: &mut RgbRow,
        mut make: impl FnMut(usize, &mut RgbRow),
    ) {
        let number = y + REACH;
        let (coarse_rows, weights) = rows_of(number);
        while self.coarse_found < coarse_rows[2] {
            self.feed(&mut make);
        }
        let made = self.before..self.before + self.columns.len();
        for (axis, plane) in self.axes.iter_mut().zip(&mut row.planes) {
            let waiting = axis.waiting.row_mut(number);
            let [first, second, third] = coarse_rows.map(|number| axis.coarse.noise(number));
            subtract_grown(first, second, third, weights, &mut self.mixed, waiting);
            plane[..made.len()].copy_from_slice(&waiting[made.clone()]);
        }
        restore(&self.step.channels, row.columns_mut(0..self.columns.len()));
        let full = &self.full[number % self.full.len()];
        full.hold(made, &self.step.full, &mut row.planes);
    }

    /// Puts the next rows into the levels.
    fn feed(&mut self, make: &mut impl FnMut(usize, &mut RgbRow)) {
        let numbers = self.next..self.next + TOGETHER;
        self.next = numbers.end;
        for number in numbers.clone() {
            self.take(number, make);
        }
        for axis in &mut self.axes {
            for number in numbers.clone() {
                // All axes are as far at the end.
                self.coarse_found = axis.advance(number).unwrap_or(self.coarse_found);
            }
        }
    }

    /// Puts row `number` into its place in the fine levels, stabilised.
    fn take(&mut self, number: usize, make: &mut impl FnMut(usize, &mut RgbRow)) {
        let y = number as isize - REACH as isize;
        let stored = mirrored(y, self.height);
        // Rows that come back: below the upper border when the strip begins there, above the lower one always.
        let (is_upper, is_lower) = (
            self.first_source == 0 && stored <= REACH,
            stored + REACH + 2 >= self.height,
        );
        while self.next_source < stored {
            self.make_row(number, make);
            self.keep(number, self.next_source - 1);
        }
        if self.next_source == stored {
            self.make_row(number, make);
            if is_upper || is_lower {
                self.keep(number, stored);
            }
        } else if let Some((planes, full)) = self.kept.get(&stored) {
            // None are kept for rows so far below the picture that none of its own looks at them: what stands there stays.
            for (axis, plane) in self.axes.iter_mut().zip(planes) {
                axis.fine.input_mut(number).copy_from_slice(plane);
            }
            let ring = self.full.len();
            self.full[number % ring].clone_from(full);
        }
        if !is_lower && y == stored as isize {
            self.kept.remove(&stored);
        }
    }

    /// Lets the stage before make its next row and stabilises it into the place of row `number`.
    fn make_row(&mut self, number: usize, make: &mut impl FnMut(usize, &mut RgbRow)) {
        make(self.next_source, &mut self.source);
        self.next_source += 1;
        let ring = self.full.len();
        let [red, green, blue] = &mut self.axes;
        let planes = [red, green, blue].map(|axis| axis.fine.input_mut(number));
        for (plane, made) in planes.into_iter().zip(&self.source.planes) {
            spread(made, &self.places, self.inside.clone(), plane);
        }
        let [red, green, blue] = &mut self.axes;
        let planes = [red, green, blue].map(|axis| axis.fine.input_mut(number));
        self.full[number % ring].mark(&planes, &self.step.full);
        stabilise(&self.step.channels, planes);
    }

    fn keep(&mut self, number: usize, stored: usize) {
        let planes = self
            .axes
            .each_ref()
            .map(|axis| axis.fine.input(number).to_vec());
        let full = self.full[number % self.full.len()].clone();
        self.kept.insert(stored, (planes, full));
    }
}

/// Fills a working row from the columns asked for: those inside the picture at once, mirrored ones beyond it.
fn spread(made: &[f32], places: &[usize], inside: Range<usize>, row: &mut [f32]) {
    for at in (0..inside.start).chain(inside.end..row.len()) {
        row[at] = made[places[at]];
    }
    let first = places[inside.start];
    let inner = &made[first..first + inside.len()];
    row[inside].copy_from_slice(inner);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::look::correction::NoiseReduction;
    use crate::raw::noise::NoiseModel;
    use crate::render::noise::{LEVELS, Stabiliser, Threshold};

    /// A step for white noise of variance `slope · x + floor`: each level leaves a quarter of its average's variance.
    fn white_noise(slope: f64, floor: f64) -> NoiseStep {
        let levels = std::array::from_fn::<_, LEVELS, _>(|level| Threshold {
            variance: [2.0 * 0.25f32.powi(level as i32 + 1); 3],
            most: 1.0,
        });
        NoiseStep {
            channels: [Stabiliser::new(slope, floor, 1.0, 1.0); 3],
            thresholds: [levels; 3],
            amounts: NoiseReduction {
                luminance: 1.0,
                colour: 1.0,
                grain: 0.0,
            },
            found: NoiseModel { slope, floor },
            full: [1.0; 3],
        }
    }

    type Picture = Vec<[Vec<f32>; 3]>;

    /// A picture made in one strip, row by row of `source`.
    fn denoised(step: &NoiseStep, source: &Picture) -> Picture {
        let (width, height) = (source[0][0].len(), source.len());
        let mut denoiser = Denoiser::new(step, (width, height), 0..width, 0);
        let mut row = RgbRow::new(width);
        (0..height)
            .map(|y| {
                denoiser.row(y, &mut row, |y, row| {
                    for (plane, from) in row.planes.iter_mut().zip(&source[y]) {
                        plane.copy_from_slice(from);
                    }
                });
                row.planes.each_ref().map(|plane| plane.to_vec())
            })
            .collect()
    }

    /// When all that differs counts as noise, no neighbourhood decides anything, and what is left of a picture that is
    /// turned over its diagonal is what was left of the picture, turned: rows are treated as columns are.
    #[test]
    fn rows_are_treated_as_columns_are() {
        const SIDE: usize = 96;
        let mut step = white_noise(4e-3, 2e-5);
        for threshold in step.thresholds.as_flattened_mut() {
            threshold.variance = [1e9; 3];
        }
        let pixel = |x: usize, y: usize| {
            0.2 + 0.1 * ((x * 7 + y * 13) % 29) as f32 / 29.0 + 0.002 * x as f32
        };
        let picture = |turned: bool| -> Picture {
            let row =
                |y: usize| (0..SIDE).map(move |x| if turned { pixel(y, x) } else { pixel(x, y) });
            (0..SIDE)
                .map(|y| std::array::from_fn(|_| row(y).collect()))
                .collect()
        };
        let (made, turned) = (
            denoised(&step, &picture(false)),
            denoised(&step, &picture(true)),
        );
        for (y, row) in made.iter().enumerate() {
            for (x, value) in row[1].iter().enumerate() {
                let other = turned[x][1][y];
                assert!((value - other).abs() < 1e-5, "{x},{y}: {value} {other}");
            }
        }
    }

    #[test]
    fn flat_stays_flat_at_any_size_and_nothing_bleeds_from_a_lamp() {
        let step = white_noise(4e-3, 2e-5);
        for (width, height) in [(1, 1), (1, 9), (9, 1), (2, 3), (5, 90), (130, 4), (41, 81)] {
            let source: Picture =
                vec![std::array::from_fn(|c| vec![0.2 + 0.1 * c as f32; width]); height];
            for row in denoised(&step, &source) {
                for (channel, plane) in row.iter().enumerate() {
                    for value in plane {
                        let expected = 0.2 + 0.1 * channel as f32;
                        // The exact unbiased inverse of a value without noise is a quarter of the slope high.
                        assert!((value - expected - 1e-3).abs() < 1e-4, "{value}");
                    }
                }
            }
        }
        // A clipped lamp on a dark ground.
        let lit = |x: usize, y: usize| (40..60).contains(&x) && (30..50).contains(&y);
        let source: Picture = (0..80)
            .map(|y| {
                std::array::from_fn(|_| {
                    (0..100)
                        .map(|x| if lit(x, y) { 1.0 } else { 0.02 })
                        .collect()
                })
            })
            .collect();
        let made = denoised(&step, &source);
        for (y, row) in made.iter().enumerate() {
            for (x, value) in row[0].iter().enumerate() {
                if lit(x, y) {
                    assert!(*value >= 1.0, "{x},{y}: {value}");
                } else {
                    // The ground's noise has a standard deviation of 0.01.
                    assert!((value - 0.021).abs() < 0.003, "{x},{y}: {value}");
                }
            }
        }
    }
}
