//! A few levels of the transform, fed row by row: what goes in is a row of a stabilised plane, what comes out a little
//! later is the noise that these levels find in it.
//!
//! Each level keeps the few rows that its differences, neighbourhoods and averages span, in rings. Rows are numbered as
//! the caller likes, upwards without a gap.

use super::haar::{BANDS, join_rows, split_rows};
use super::shrink::{NEIGHBOURHOOD, REACH_DOWN, noise_of_row};
use crate::render::row::{Row, row_of};

/// How much of a level's differences is noise.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Threshold {
    /// Variance that counts as noise, for differences down, across and along diagonals.
    pub variance: [f32; BANDS],
    /// Largest share of a difference that is taken away, 0 to 1; what is left of pure noise is grain.
    pub most: f32,
}

/// Rows in a ring; the number of a row chooses its place.
#[derive(Debug)]
pub(super) struct Ring(Vec<Row>);

impl Ring {
    pub(super) fn new(rows: usize, length: usize) -> Self {
        Self((0..rows).map(|_| row_of(length)).collect())
    }

    pub(super) fn row(&self, number: usize) -> &[f32] {
        &self.0[number % self.0.len()]
    }

    pub(super) fn row_mut(&mut self, number: usize) -> &mut [f32] {
        let rows = self.0.len();
        &mut self.0[number % rows]
    }
}

#[derive(Debug)]
struct Level {
    step: usize,
    threshold: Threshold,
    input: Ring,
    bands: [Ring; BANDS],
    noise: [Ring; BANDS],
    /// The noise of this level and all coarser ones.
    found: Ring,
}

/// Levels of growing step.
#[derive(Debug)]
pub(super) struct Bank {
    levels: Vec<Level>,
    first: usize,
    /// Averages of the coarsest level.
    averages: Ring,
    /// What stands for the noise of the averages: none.
    nothing: Row,
    squares: Row,
    left: Row,
    right: Row,
}

/// What a bank has made of the rows so far.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Progress {
    /// Number of the last row of averages.
    pub(super) averages: Option<usize>,
    /// Number of the last row whose noise is found.
    pub(super) noise: Option<usize>,
}

/// Rows that lie between a row going in and its noise coming out, and rows that go in before the first noise comes out.
pub(super) fn delay(steps: &[usize]) -> usize {
    steps.iter().sum::<usize>() + REACH_DOWN
}

impl Bank {
    /// Levels of these steps for rows of `length` values, the first of which will have the number `first`. The input of
    /// the last `kept` rows stays at hand, and the noise of the last `kept_noise`.
    pub(super) fn new(
        steps: &[usize],
        thresholds: &[Threshold],
        length: usize,
        first: usize,
        kept: usize,
        kept_noise: usize,
    ) -> Self {
        let row = || row_of(length);
        let levels = steps
            .iter()
            .zip(thresholds)
            .enumerate()
            .map(|(index, (&step, &threshold))| {
                let coarser: usize = steps[index + 1..].iter().sum();
                let found = match index.checked_sub(1) {
                    None => kept_noise,
                    Some(finer) => steps[finer] + 1,
                };
                let bands = |rows: usize| std::array::from_fn(|_| Ring::new(rows, length));
                Level {
                    step,
                    threshold,
                    input: Ring::new((step + 1).max(if index == 0 { kept } else { 0 }), length),
                    bands: bands(2 * REACH_DOWN + 1),
                    noise: bands(step + coarser + 1),
                    found: Ring::new(found, length),
                }
            })
            .collect();
        Self {
            levels,
            first,
            averages: Ring::new(1, length),
            nothing: row(),
            squares: row(),
            left: row(),
            right: row(),
        }
    }

    /// The place of the next row that goes in.
    pub(super) fn input_mut(&mut self, number: usize) -> &mut [f32] {
        self.levels[0].input.row_mut(number)
    }

    /// A row that went in.
    pub(super) fn input(&self, number: usize) -> &[f32] {
        self.levels[0].input.row(number)
    }

    /// The averages of the coarsest level.
    pub(super) fn averages(&self, number: usize) -> &[f32] {
        self.averages.row(number)
    }

    /// The noise of a row, one of the last that are kept.
    pub(super) fn noise(&self, number: usize) -> &[f32] {
        self.levels[0].found.row(number)
    }

    /// Works on row `number`, which must have been put into its place.
    pub(super) fn advance(&mut self, number: usize) -> Progress {
        let mut newest = number;
        for index in 0..self.levels.len() {
            let (finer, coarser) = self.levels.split_at_mut(index + 1);
            let level = &mut finer[index];
            let Some(row) = newest
                .checked_sub(level.step)
                .filter(|row| *row >= self.first)
            else {
                return Progress {
                    averages: None,
                    noise: None,
                };
            };
            let averages = match coarser.first_mut() {
                Some(next) => next.input.row_mut(row),
                None => self.averages.row_mut(row),
            };
            level.split(row, averages);
            if row >= self.first + 2 * REACH_DOWN {
                level.shrink(row - REACH_DOWN, &mut self.squares);
            }
            newest = row;
        }
        Progress {
            averages: Some(newest),
            noise: newest
                .checked_sub(REACH_DOWN)
                .and_then(|row| self.join(row).then_some(row)),
        }
    }

    /// Joins the noise of all levels at `row`; whether the finest has all that it needs.
    fn join(&mut self, row: usize) -> bool {
        let mut earliest = self.first + REACH_DOWN;
        for index in (0..self.levels.len()).rev() {
            let (finer, coarser) = self.levels.split_at_mut(index + 1);
            let level = &mut finer[index];
            earliest += level.step;
            if row < earliest {
                return false;
            }
            let above = row - level.step;
            let average = |number| {
                coarser
                    .first()
                    .map_or(&self.nothing[..], |next| next.found.row(number))
            };
            let [down, across, diagonal] = &level.noise;
            join_rows(
                average(row),
                average(above),
                down.row(row),
                down.row(above),
                across.row(row),
                across.row(above),
                diagonal.row(row),
                diagonal.row(above),
                level.step,
                &mut self.left,
                &mut self.right,
                level.found.row_mut(row),
            );
        }
        true
    }
}

impl Level {
    fn split(&mut self, row: usize, averages: &mut [f32]) {
        let [down, across, diagonal] = &mut self.bands;
        split_rows(
            self.input.row(row),
            self.input.row(row + self.step),
            self.step,
            averages,
            down.row_mut(row),
            across.row_mut(row),
            diagonal.row_mut(row),
        );
    }

    fn shrink(&mut self, row: usize, squares: &mut [f32]) {
        let bands = self.bands.iter().zip(&mut self.noise);
        for ((band, noise), variance) in bands.zip(self.threshold.variance) {
            noise_of_row(
                band.row(row - 1),
                band.row(row),
                band.row(row + 1),
                variance * NEIGHBOURHOOD,
                self.threshold.most,
                squares,
                noise.row_mut(row),
            );
        }
    }
}
