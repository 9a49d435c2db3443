//! Between the picture's own grid and that of the coarse levels, which see every second row and column.
//!
//! The averages of the fine levels span four pixels a side, so that every second of them loses next to nothing. What the
//! coarse levels find is grown again by linear interpolation followed by the fine levels' own averaging, which together
//! are the quadratic B-spline with the weights below.

use crate::base::kernel::row_kernel;

/// Weights of three coarse rows (or columns) in a fine one: for an even place those before the last, the last, and its own;
/// for an odd place the same backwards, one further on.
const WEIGHTS: [f32; 3] = [0.125, 0.5, 0.375];

/// Coarse rows that a fine one is made of.
pub(super) const GROWN_FROM: usize = WEIGHTS.len();

/// Coarse rows that fine row `number` is made of, and their weights.
pub(super) fn rows_of(number: usize) -> ([usize; 3], [f32; 3]) {
    let own = number / 2;
    let [far, near, here] = WEIGHTS;
    if number.is_multiple_of(2) {
        ([own - 2, own - 1, own], [far, near, here])
    } else {
        ([own - 1, own, own + 1], [here, near, far])
    }
}

row_kernel! {
    /// Every second value, from the first on.
    fn halve_row(row: &[f32], half: &mut [f32]) {
        for (half, pair) in half.iter_mut().zip(row.chunks_exact(2)) {
            *half = pair[0];
        }
    }
}

row_kernel! {
    /// Subtracts three weighted coarse rows, grown across, from a fine row of twice their length. The outermost columns
    /// are left as they are.
    fn subtract_grown(
        first: &[f32],
        second: &[f32],
        third: &[f32],
        weights: [f32; 3],
        mixed: &mut [f32],
        row: &mut [f32],
    ) {
        let length = mixed.len();
        let (first, second, third) = (&first[..length], &second[..length], &third[..length]);
        for x in 0..length {
            mixed[x] = first[x] * weights[0] + second[x] * weights[1] + third[x] * weights[2];
        }
        let inner = length.saturating_sub(3);
        if inner == 0 {
            return;
        }
        let [far, near, here] = WEIGHTS;
        let (a, b) = (&mixed[..inner], &mixed[1..=inner]);
        let (c, d) = (&mixed[2..][..inner], &mixed[3..][..inner]);
        for (x, pair) in row[4..].chunks_exact_mut(2).take(inner).enumerate() {
            pair[0] -= a[x] * far + b[x] * near + c[x] * here;
            pair[1] -= b[x] * here + c[x] * near + d[x] * far;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&halve_row::levels(), |kernel, length| {
            let mut half = vec![0.0; length / 2];
            kernel(&unordered_row(1, length), &mut half);
            half
        });
        hold_together(&subtract_grown::levels(), |kernel, length| {
            let [first, second, third] = [1, 2, 3].map(|seed| unordered_row(seed, length));
            let (mut mixed, mut row) = (vec![0.0; length], unordered_row(4, 2 * length));
            kernel(
                &first,
                &second,
                &third,
                [0.1, 0.2, 0.7],
                &mut mixed,
                &mut row,
            );
            row
        });
    }

    #[test]
    fn growing_keeps_flat_rows_and_straight_lines() {
        let length = 12;
        // A coarse place stands for the mean of four fine ones that begin with its own, and a fine value is the mean of
        // what four of those say: a straight line comes back where it was.
        let line: Vec<f32> = (0..length).map(|x| 2.0 * x as f32).collect();
        let (mut mixed, mut row) = (vec![0.0; length], vec![0.0; 2 * length]);
        subtract_grown(&line, &line, &line, WEIGHTS, &mut mixed, &mut row);
        for (x, value) in row.iter().enumerate().take(2 * length - 2).skip(4) {
            // The averages begin with their own place, so the line is seen 1.5 late.
            assert!((value + x as f32 - 1.5).abs() < 1e-4, "{x}: {value}");
        }
    }
}
