//! The undecimated Haar transform, row by row: an average and three differences of four pixels, `step` apart.
//!
//! Written as the mean over all shifts of the picture (cycle spinning: Coifman and Donoho, "Translation-invariant
//! de-noising", 1995), so that no grid shows. Everything is a sum or a difference: a flat picture has no differences
//! at all. Of two columns `step` apart each place keeps the left one's coefficients; rows alike keep the upper one's.

use crate::base::kernel::row_kernel;

/// Differences down, across, and along both diagonals.
pub(super) const BANDS: usize = 3;

/// Columns that are worked on at a time where a loop leaves something for the next: few enough that it stays in a first-level cache.
pub(super) const PIECE: usize = 1024;

row_kernel! {
    /// Splits two rows, `step` apart, into their average and three differences. All slices are of one length; the last
    /// `step` columns, which lack a partner, are left as they are.
    fn split_rows(
        upper: &[f32],
        lower: &[f32],
        step: usize,
        average: &mut [f32],
        down: &mut [f32],
        across: &mut [f32],
        diagonal: &mut [f32],
    ) {
        let step = step.min(average.len());
        let length = average.len() - step;
        let (upper, upper_right) = (&upper[..length], &upper[step..][..length]);
        let (lower, lower_right) = (&lower[..length], &lower[step..][..length]);
        let (average, down) = (&mut average[..length], &mut down[..length]);
        let (across, diagonal) = (&mut across[..length], &mut diagonal[..length]);
        for x in 0..length {
            let (sum, difference) = (upper[x] + upper_right[x], upper[x] - upper_right[x]);
            let (sum_below, difference_below) = (lower[x] + lower_right[x], lower[x] - lower_right[x]);
            average[x] = (sum + sum_below) * 0.25;
            down[x] = (sum - sum_below) * 0.25;
            across[x] = (difference + difference_below) * 0.25;
            diagonal[x] = (difference - difference_below) * 0.25;
        }
    }
}

row_kernel! {
    /// Puts an average and three differences together again: each pixel is the mean of what the four places that it is
    /// part of say of it. `…_above` are the rows `step` above. The first `step` columns of `joined` are left as they are.
    fn join_rows(
        average: &[f32],
        average_above: &[f32],
        down: &[f32],
        down_above: &[f32],
        across: &[f32],
        across_above: &[f32],
        diagonal: &[f32],
        diagonal_above: &[f32],
        step: usize,
        left: &mut [f32],
        right: &mut [f32],
        joined: &mut [f32],
    ) {
        let all = joined.len();
        let step = step.min(all);
        for start in (0..all - step).step_by(PIECE) {
            let here = PIECE.min(all - step - start);
            let length = here + step;
            let [average, average_above, down, down_above] =
                [average, average_above, down, down_above].map(|row| &row[start..][..length]);
            let [across, across_above, diagonal, diagonal_above] =
                [across, across_above, diagonal, diagonal_above].map(|row| &row[start..][..length]);
            let (left, right) = (&mut left[..length], &mut right[..length]);
            for x in 0..length {
                let sum = average[x] + average_above[x] + (down[x] - down_above[x]);
                let difference = across[x] + across_above[x] + (diagonal[x] - diagonal_above[x]);
                left[x] = (sum + difference) * 0.25;
                right[x] = (sum - difference) * 0.25;
            }
            let joined = &mut joined[start + step..][..here];
            let (left, right) = (&left[step..], &right[..here]);
            for x in 0..here {
                joined[x] = left[x] + right[x];
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        for step in [1, 2, 8] {
            hold_together(&split_rows::levels(), |kernel, length| {
                let (upper, lower) = (unordered_row(1, length), unordered_row(2, length));
                let mut out = [const { Vec::new() }; 4].map(|_: Vec<f32>| vec![0.0; length]);
                let [average, down, across, diagonal] = &mut out;
                kernel(&upper, &lower, step, average, down, across, diagonal);
                out.concat()
            });
            hold_together(&join_rows::levels(), |kernel, length| {
                let rows: [Vec<f32>; 8] = std::array::from_fn(|seed| unordered_row(seed, length));
                let mut out = [const { Vec::new() }; 3].map(|_: Vec<f32>| vec![0.0; length]);
                let [left, right, joined] = &mut out;
                kernel(
                    &rows[0], &rows[1], &rows[2], &rows[3], &rows[4], &rows[5], &rows[6], &rows[7],
                    step, left, right, joined,
                );
                out.concat()
            });
        }
    }

    #[test]
    fn working_in_pieces_leaves_no_seam() {
        let (length, step) = (2 * PIECE + 77, 8);
        let rows: [Vec<f32>; 8] = std::array::from_fn(|seed| unordered_row(seed, length));
        let joined = |part: std::ops::Range<usize>| {
            let rows = rows.each_ref().map(|row| &row[part.clone()]);
            let mut out = [const { Vec::new() }; 3].map(|_: Vec<f32>| vec![0.0; part.len()]);
            let [left, right, joined] = &mut out;
            join_rows(
                rows[0], rows[1], rows[2], rows[3], rows[4], rows[5], rows[6], rows[7], step, left,
                right, joined,
            );
            out[2].clone()
        };
        let whole = joined(0..length);
        for start in [0, PIECE - 40, 2 * PIECE - 40] {
            let part = joined(start..start + 100);
            assert_eq!(part[step..], whole[start..start + 100][step..]);
        }
    }

    #[test]
    fn what_is_split_joins_to_itself() {
        let (width, height, step) = (40usize, 40usize, 4usize);
        let picture: Vec<Vec<f32>> = (0..height).map(|y| unordered_row(y, width)).collect();
        let split: Vec<[Vec<f32>; 4]> = (0..height - step)
            .map(|y| {
                let mut out = [const { Vec::new() }; 4].map(|_: Vec<f32>| vec![0.0; width]);
                let [average, down, across, diagonal] = &mut out;
                split_rows(
                    &picture[y],
                    &picture[y + step],
                    step,
                    average,
                    down,
                    across,
                    diagonal,
                );
                out
            })
            .collect();
        for y in step..height - step {
            let (here, above) = (&split[y], &split[y - step]);
            let [mut left, mut right, mut joined] =
                [const { Vec::new() }; 3].map(|_: Vec<f32>| vec![0.0; width]);
            join_rows(
                &here[0],
                &above[0],
                &here[1],
                &above[1],
                &here[2],
                &above[2],
                &here[3],
                &above[3],
                step,
                &mut left,
                &mut right,
                &mut joined,
            );
            for x in step..width - step {
                // Sixteen sums of values up to 1.2: a few units in the last place.
                assert!((joined[x] - picture[y][x]).abs() < 1e-6, "{x},{y}");
            }
        }
    }
}
