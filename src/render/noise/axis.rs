//! One opponent axis: its fine levels, its coarse ones, and the rows between them and what comes out.

use super::bank::{Bank, Ring, Threshold, delay};
use super::coarse::{GROWN_FROM, halve_row};
use super::{COARSE_STEPS, FINE_STEPS, LEVELS};
use crate::base::kernel::row_kernel;

/// Fine rows that the fine levels' averages span beyond their own.
pub(super) const FINE_SPAN: usize = FINE_STEPS[0] + FINE_STEPS[1];
/// The coarse levels' delay in coarse rows: as `bank::delay`.
pub(super) const COARSE_DELAY: usize = COARSE_STEPS[0] + COARSE_STEPS[1] + COARSE_STEPS[2] + 1;
/// Rows that go in together, even: each axis works on all of them before the next one does, so that a third-level cache holds the
/// some 5 megabytes of rows that one axis keeps at 24 megapixels and need not hold those of three.
pub(super) const TOGETHER: usize = 16;
const _: () = assert!(TOGETHER.is_multiple_of(2));

/// Rows that the fine levels are done with before the coarse ones are.
pub(super) const WAITING_ROWS: usize = 2 * (COARSE_DELAY + 2) + FINE_SPAN + 3 + TOGETHER;

/// One opponent axis.
#[derive(Debug)]
pub(super) struct Axis {
    pub(super) fine: Bank,
    pub(super) coarse: Bank,
    /// Rows that the fine levels are done with.
    pub(super) waiting: Ring,
}

impl Axis {
    /// An axis with the thresholds of its levels, for rows of `length` values, the first of which will have the number `first`.
    pub(super) fn new(thresholds: &[Threshold; LEVELS], length: usize, first: usize) -> Self {
        let (fine, coarse) = thresholds.split_at(FINE_STEPS.len());
        let input = delay(&FINE_STEPS) + TOGETHER;
        let noise = GROWN_FROM + TOGETHER / 2;
        Self {
            fine: Bank::new(&FINE_STEPS, fine, length, first, input, 1),
            coarse: Bank::new(&COARSE_STEPS, coarse, length / 2, first / 2, 0, noise),
            waiting: Ring::new(WAITING_ROWS, length),
        }
    }

    /// Works on a row that was put into its place. Returns the last coarse row whose noise is found, where that is another one.
    pub(super) fn advance(&mut self, number: usize) -> Option<usize> {
        let progress = self.fine.advance(number);
        if let Some(done) = progress.noise {
            subtract_row(
                self.fine.input(done),
                self.fine.noise(done),
                self.waiting.row_mut(done),
            );
        }
        let averages = progress.averages.filter(|row| row.is_multiple_of(2))?;
        halve_row(
            self.fine.averages(averages),
            self.coarse.input_mut(averages / 2),
        );
        self.coarse.advance(averages / 2).noise
    }
}

row_kernel! {
    /// What is left of a row when its noise is taken away.
    fn subtract_row(row: &[f32], noise: &[f32], left: &mut [f32]) {
        let length = left.len();
        let (row, noise) = (&row[..length], &noise[..length]);
        for x in 0..length {
            left[x] = row[x] - noise[x];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&subtract_row::levels(), |kernel, length| {
            let mut left = vec![0.0; length];
            kernel(
                &unordered_row(1, length),
                &unordered_row(2, length),
                &mut left,
            );
            left
        });
    }
}
