//! The row functions of the method for the 6 x 6 pattern. All values are roots of light but where said.

use crate::base::kernel::row_kernel;
use crate::render::demosaic::root::Root;

row_kernel! {
    /// Green minus the own colour at photosites of red or blue, estimated along the row and along the column; 0 at green
    /// ones. `own` begins two photosites west of the first that is made; `column` goes from two rows above to two below.
    fn estimate_row(
        own: &[f32],
        column: [&[f32]; 5],
        row_weights: [&[f32]; 5],
        column_weights: [&[f32]; 5],
        along_row: &mut [f32],
        along_column: &mut [f32],
    ) {
        let n = along_row.len();
        let along_column = &mut along_column[..n];
        let row: [&[f32]; 5] = std::array::from_fn(|i| &own[i..i + n]);
        let column = column.map(|row| &row[..n]);
        let row_weights = row_weights.map(|row| &row[..n]);
        let column_weights = column_weights.map(|row| &row[..n]);
        for x in 0..n {
            let sum = |values: &[&[f32]; 5], weights: &[&[f32]; 5]| {
                let part = |i: usize| values[i][x] * weights[i][x];
                (part(0) + part(4)) + ((part(1) + part(3)) + part(2))
            };
            along_row[x] = sum(&row, &row_weights);
            along_column[x] = sum(&column, &column_weights);
        }
    }
}

row_kernel! {
    /// Sums down five rows: of the differences of red, of blue, and of all squares.
    fn column_sums_row(
        differences: [&[f32]; 5],
        is_red: [&[f32]; 5],
        is_blue: [&[f32]; 5],
        red: &mut [f32],
        blue: &mut [f32],
        squares: &mut [f32],
    ) {
        let n = red.len();
        let (blue, squares) = (&mut blue[..n], &mut squares[..n]);
        let differences = differences.map(|row| &row[..n]);
        let is_red = is_red.map(|row| &row[..n]);
        let is_blue = is_blue.map(|row| &row[..n]);
        for x in 0..n {
            let sum = |of: &dyn Fn(usize) -> f32| (of(0) + of(4)) + ((of(1) + of(3)) + of(2));
            red[x] = sum(&|i| differences[i][x] * is_red[i][x]);
            blue[x] = sum(&|i| differences[i][x] * is_blue[i][x]);
            squares[x] = sum(&|i| differences[i][x] * differences[i][x]);
        }
    }
}

/// Added to each direction's scatter (a sum of about fourteen squares of roots): below it nothing decides. Measured: from
/// 1e-5 to 1e-3 the figures change by 0.01 dB, and in noise more is better.
const LEAST_SCATTER: f32 = 1e-3;

row_kernel! {
    /// Green's difference from the own colour, mixed of both directions by the inverse squares of how much the differences
    /// of each scatter in the square around, and the share of the row's direction in it. Sums begin two columns west of the
    /// first that is made and stand for red, blue and squares along the row, then along the column.
    fn mix_row(
        sums: [&[f32]; 6],
        inverse_red: &[f32],
        inverse_blue: &[f32],
        along_row: &[f32],
        along_column: &[f32],
        difference: &mut [f32],
        share: &mut [f32],
    ) {
        let n = difference.len();
        let share = &mut share[..n];
        let (inverse_red, inverse_blue) = (&inverse_red[..n], &inverse_blue[..n]);
        let (along_row, along_column) = (&along_row[..n], &along_column[..n]);
        let sums: [[&[f32]; 5]; 6] =
            std::array::from_fn(|which| std::array::from_fn(|i| &sums[which][i..i + n]));
        for x in 0..n {
            let sum = |which: usize| {
                let s = &sums[which];
                (s[0][x] + s[4][x]) + ((s[1][x] + s[3][x]) + s[2][x])
            };
            let scatter = |first: usize| {
                let (red, blue) = (sum(first), sum(first + 1));
                let means = red * red * inverse_red[x] + blue * blue * inverse_blue[x];
                (sum(first + 2) - means).max(0.0) + LEAST_SCATTER
            };
            let (row, column) = (scatter(0), scatter(3));
            let (row, column) = (row * row, column * column);
            let along = column / (row + column);
            difference[x] = along_column[x] + along * (along_row[x] - along_column[x]);
            share[x] = along;
        }
    }
}

row_kernel! {
    /// Green, and its difference from red and from blue where those were counted (elsewhere 0).
    fn green_row(
        roots: &[f32],
        difference: &[f32],
        is_red: &[f32],
        is_blue: &[f32],
        green: &mut [f32],
        red: &mut [f32],
        blue: &mut [f32],
    ) {
        let n = green.len();
        let (red, blue) = (&mut red[..n], &mut blue[..n]);
        let (roots, difference) = (&roots[..n], &difference[..n]);
        let (is_red, is_blue) = (&is_red[..n], &is_blue[..n]);
        for x in 0..n {
            green[x] = roots[x] + difference[x];
            red[x] = difference[x] * is_red[x];
            blue[x] = difference[x] * is_blue[x];
        }
    }
}

/// Change of green, in roots, that halves a neighbour's weight at equal distance. Measured: from 0.01 to 0.05 the figures
/// change by 0.05 dB.
const LIKENESS: f32 = 0.02;

row_kernel! {
    /// Adds one row of neighbours to the weighted sums of the differences of red and of blue. A neighbour weighs by
    /// `nearness` (of its column) and by how little green changes on the way to it. All rows but `own` (green) and the sums
    /// begin two photosites west of the first that is made.
    fn gather_row(
        own: &[f32],
        green: &[f32],
        red: &[f32],
        blue: &[f32],
        is_red: &[f32],
        is_blue: &[f32],
        nearness: [f32; 5],
        red_sum: &mut [f32],
        blue_sum: &mut [f32],
        red_weight: &mut [f32],
        blue_weight: &mut [f32],
    ) {
        let n = red_sum.len();
        let blue_sum = &mut blue_sum[..n];
        let (red_weight, blue_weight) = (&mut red_weight[..n], &mut blue_weight[..n]);
        let own = &own[..n];
        let green: [&[f32]; 5] = std::array::from_fn(|i| &green[i..i + n]);
        let red: [&[f32]; 5] = std::array::from_fn(|i| &red[i..i + n]);
        let blue: [&[f32]; 5] = std::array::from_fn(|i| &blue[i..i + n]);
        let is_red: [&[f32]; 5] = std::array::from_fn(|i| &is_red[i..i + n]);
        let is_blue: [&[f32]; 5] = std::array::from_fn(|i| &is_blue[i..i + n]);
        for x in 0..n {
            let mut sums = [red_sum[x], blue_sum[x], red_weight[x], blue_weight[x]];
            for i in 0..5 {
                let weight = nearness[i] / ((own[x] - green[i][x]).abs() + LIKENESS);
                sums[0] += weight * red[i][x];
                sums[1] += weight * blue[i][x];
                sums[2] += weight * is_red[i][x];
                sums[3] += weight * is_blue[i][x];
            }
            [red_sum[x], blue_sum[x], red_weight[x], blue_weight[x]] = sums;
        }
    }
}

row_kernel! {
    /// Sums over weights; where the colour was counted, its own difference. 0 where no neighbour had the colour.
    fn mean_row(own: &[f32], is_own: &[f32], weights: &[f32], sums: &mut [f32]) {
        let n = sums.len();
        let (own, is_own, weights) = (&own[..n], &is_own[..n], &weights[..n]);
        for x in 0..n {
            let mean = sums[x] / weights[x].max(f32::MIN_POSITIVE);
            sums[x] = if is_own[x] > 0.0 { own[x] } else { mean };
        }
    }
}

row_kernel! {
    /// Green's difference from the own colour once more: the mean of three of the own colour's differences along the
    /// direction that was preferred. Rows of differences are those above, of and below the row; the middle one begins one
    /// photosite west of the first that is made.
    fn refine_row(
        red: [&[f32]; 3],
        blue: [&[f32]; 3],
        share: &[f32],
        is_red: &[f32],
        is_blue: &[f32],
        difference: &mut [f32],
    ) {
        let n = difference.len();
        let share = &share[..n];
        let (is_red, is_blue) = (&is_red[..n], &is_blue[..n]);
        let views = [red, blue].map(|[above, own, below]| {
            [&above[..n], &below[..n], &own[..n], &own[2..2 + n], &own[1..1 + n]]
        });
        for x in 0..n {
            let smooth = |[above, below, west, east, own]: [&[f32]; 5]| {
                let ends = above[x] + below[x];
                let sides = west[x] + east[x];
                (own[x] + (ends + share[x] * (sides - ends))) * (1.0 / 3.0)
            };
            difference[x] = smooth(views[0]) * is_red[x] + smooth(views[1]) * is_blue[x];
        }
    }
}

row_kernel! {
    /// One row of light in three colours, from green and its differences; what was counted stays as it is.
    fn light_row(
        domain: Root,
        light: &[f32],
        green_root: &[f32],
        red_difference: &[f32],
        blue_difference: &[f32],
        is_red: &[f32],
        is_blue: &[f32],
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        let n = red.len();
        let (green, blue) = (&mut green[..n], &mut blue[..n]);
        let (light, green_root) = (&light[..n], &green_root[..n]);
        let (red_difference, blue_difference) = (&red_difference[..n], &blue_difference[..n]);
        let (is_red, is_blue) = (&is_red[..n], &is_blue[..n]);
        for x in 0..n {
            let counted = light[x];
            let made = [
                domain.light(green_root[x] - red_difference[x]),
                domain.light(green_root[x]),
                domain.light(green_root[x] - blue_difference[x]),
            ];
            let other = is_red[x] + is_blue[x] > 0.0;
            red[x] = if is_red[x] > 0.0 { counted } else { made[0] };
            green[x] = if other { made[1] } else { counted };
            blue[x] = if is_blue[x] > 0.0 { counted } else { made[2] };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};
    use std::array::from_fn;

    /// Rows without order, longer than what is made by `margin`.
    fn rows<const N: usize>(length: usize, margin: usize) -> [Vec<f32>; N] {
        from_fn(|seed| unordered_row(seed, length + margin))
    }

    #[test]
    fn every_copy_of_the_estimates_gives_the_same_bits() {
        hold_together(&estimate_row::levels(), |kernel, length| {
            let r: [_; 16] = rows(length, 4);
            let r = r.each_ref().map(Vec::as_slice);
            let [mut a, mut b] = rows(length, 0);
            let five = |from: usize| from_fn(|i| r[from + i]);
            kernel(r[0], five(1), five(6), five(11), &mut a, &mut b);
            [a, b].concat()
        });
    }

    #[test]
    fn every_copy_of_the_sums_gives_the_same_bits() {
        hold_together(&column_sums_row::levels(), |kernel, length| {
            let r: [_; 15] = rows(length, 0);
            let r = r.each_ref().map(Vec::as_slice);
            let [mut a, mut b, mut c] = rows(length, 0);
            let five = |from: usize| from_fn(|i| r[from + i]);
            kernel(five(0), five(5), five(10), &mut a, &mut b, &mut c);
            [a, b, c].concat()
        });
    }

    #[test]
    fn every_copy_of_the_mix_gives_the_same_bits() {
        hold_together(&mix_row::levels(), |kernel, length| {
            let r: [_; 10] = rows(length, 4);
            let r = r.each_ref().map(Vec::as_slice);
            let [mut a, mut b] = rows(length, 0);
            let sums = from_fn(|i| r[i]);
            kernel(sums, r[6], r[7], r[8], r[9], &mut a, &mut b);
            [a, b].concat()
        });
    }

    #[test]
    fn every_copy_of_green_gives_the_same_bits() {
        hold_together(&green_row::levels(), |kernel, length| {
            let r: [_; 4] = rows(length, 0);
            let [mut a, mut b, mut c] = rows(length, 0);
            kernel(&r[0], &r[1], &r[2], &r[3], &mut a, &mut b, &mut c);
            [a, b, c].concat()
        });
    }

    #[test]
    fn every_copy_of_the_gathering_gives_the_same_bits() {
        hold_together(&gather_row::levels(), |kernel, length| {
            let r: [_; 6] = rows(length, 4);
            let [mut a, mut b, mut c, mut d] = rows(length, 0);
            let nearness = [0.125, 0.2, 0.25, 0.2, 0.125];
            kernel(
                &r[0], &r[1], &r[2], &r[3], &r[4], &r[5], nearness, &mut a, &mut b, &mut c, &mut d,
            );
            [a, b, c, d].concat()
        });
    }

    #[test]
    fn every_copy_of_the_means_gives_the_same_bits() {
        hold_together(&mean_row::levels(), |kernel, length| {
            let r: [_; 3] = rows(length, 0);
            let [mut a] = rows(length, 0);
            kernel(&r[0], &r[1], &r[2], &mut a);
            a
        });
    }

    #[test]
    fn every_copy_of_the_refining_gives_the_same_bits() {
        hold_together(&refine_row::levels(), |kernel, length| {
            let r: [_; 9] = rows(length, 2);
            let r = r.each_ref().map(Vec::as_slice);
            let [mut a] = rows(length, 0);
            kernel(
                [r[0], r[1], r[2]],
                [r[3], r[4], r[5]],
                r[6],
                r[7],
                r[8],
                &mut a,
            );
            a
        });
    }

    #[test]
    fn every_copy_of_the_light_gives_the_same_bits() {
        hold_together(&light_row::levels(), |kernel, length| {
            let r: [_; 6] = rows(length, 0);
            let [mut a, mut b, mut c] = rows(length, 0);
            kernel(
                Root::new(4e-4),
                &r[0],
                &r[1],
                &r[2],
                &r[3],
                &r[4],
                &r[5],
                &mut a,
                &mut b,
                &mut c,
            );
            [a, b, c].concat()
        });
    }
}
