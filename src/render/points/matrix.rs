//! Matrices, gains and the cut at zero on rows of linear colour.
//!
//! A matrix that keeps grey is applied as grey plus differences, r' = s·(g + a·(r - g) + b·(b - g)): its rows then need
//! not sum to one in single precision for a grey to come out with three equal channels.

use crate::base::kernel::row_kernel;
use crate::base::matrix::Matrix3;

/// Rows of a matrix whose sums agree this closely keep grey; the rest is rounding of published digits.
const SAME_SUM: f64 = 1e-9;

/// A matrix in the form that the row functions take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Ready {
    /// Row sums are all `sum`; `slopes[row]` are the factors of r - g and b - g, the sum included.
    KeepsGrey { sum: f32, slopes: [[f32; 2]; 3] },
    /// Anything else.
    Any([[f32; 3]; 3]),
}

impl Ready {
    /// Chooses the form.
    pub(crate) fn new(matrix: &Matrix3) -> Self {
        let sums = matrix.0.map(|row| row.iter().sum::<f64>());
        let mean = sums.iter().sum::<f64>() / 3.0;
        if sums
            .iter()
            .any(|sum| (sum - mean).abs() > SAME_SUM * mean.abs())
        {
            return Self::Any(matrix.to_f32());
        }
        Self::KeepsGrey {
            sum: mean as f32,
            slopes: matrix.0.map(|row| [row[0] as f32, row[2] as f32]),
        }
    }

    /// Applies it to one chunk.
    pub(crate) fn run(&self, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        match self {
            Self::KeepsGrey { sum, slopes } => keep_grey(*sum, *slopes, red, green, blue),
            Self::Any(rows) => multiply(*rows, red, green, blue),
        }
    }

    /// Applies it to one chunk without its negative values: [`cut_negative`] before it, in one walk where it can be.
    pub(crate) fn run_cut(&self, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        match self {
            Self::KeepsGrey { sum, slopes } => cut_and_keep_grey(*sum, *slopes, red, green, blue),
            Self::Any(_) => {
                cut_negative(red, green, blue);
                self.run(red, green, blue);
            }
        }
    }
}

/// A matrix with equal row sums, as grey plus differences, on what `of` makes of the values.
#[inline(always)]
fn grey_kept(
    sum: f32,
    slopes: [[f32; 2]; 3],
    [red, green, blue]: [&mut [f32]; 3],
    of: impl Fn(f32) -> f32,
) {
    let length = red.len();
    let (green, blue) = (&mut green[..length], &mut blue[..length]);
    for x in 0..length {
        let [r, g, b] = [of(red[x]), of(green[x]), of(blue[x])];
        let grey = sum * g;
        let (from_red, from_blue) = (r - g, b - g);
        [red[x], green[x], blue[x]] =
            slopes.map(|slopes| slopes[0].mul_add(from_red, slopes[1].mul_add(from_blue, grey)));
    }
}

row_kernel! {
    /// A matrix with equal row sums.
    fn keep_grey(
        sum: f32,
        slopes: [[f32; 2]; 3],
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        grey_kept(sum, slopes, [red, green, blue], |value| value);
    }
}

row_kernel! {
    /// [`cut_negative`] and [`keep_grey`].
    fn cut_and_keep_grey(
        sum: f32,
        slopes: [[f32; 2]; 3],
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        grey_kept(sum, slopes, [red, green, blue], |value| value.max(0.0));
    }
}

row_kernel! {
    /// Any matrix.
    fn multiply(m: [[f32; 3]; 3], red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        for x in 0..length {
            let (r, g, b) = (red[x], green[x], blue[x]);
            red[x] = m[0][0] * r + m[0][1] * g + m[0][2] * b;
            green[x] = m[1][0] * r + m[1][1] * g + m[1][2] * b;
            blue[x] = m[2][0] * r + m[2][1] * g + m[2][2] * b;
        }
    }
}

row_kernel! {
    /// Negative values and NaN become 0.
    fn cut_negative(red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        for value in red.iter_mut() {
            *value = value.max(0.0);
        }
        for value in green.iter_mut() {
            *value = value.max(0.0);
        }
        for value in blue.iter_mut() {
            *value = value.max(0.0);
        }
    }
}

row_kernel! {
    /// One factor on all channels.
    fn scale(gain: f32, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        for value in red.iter_mut() {
            *value *= gain;
        }
        for value in green.iter_mut() {
            *value *= gain;
        }
        for value in blue.iter_mut() {
            *value *= gain;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    fn rows(length: usize) -> [Vec<f32>; 3] {
        [1, 2, 3].map(|seed| unordered_row(seed, length))
    }

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&keep_grey::levels(), |kernel, length| {
            let [mut red, mut green, mut blue] = rows(length);
            let slopes = [[0.7, 0.11], [-0.2, 0.3], [0.05, 0.93]];
            kernel(1.6, slopes, &mut red, &mut green, &mut blue);
            [red, green, blue].concat()
        });
        hold_together(&cut_and_keep_grey::levels(), |kernel, length| {
            let [mut red, mut green, mut blue] = rows(length);
            if let Some(value) = red.first_mut() {
                *value = f32::NAN;
            }
            let mut apart = [red.clone(), green.clone(), blue.clone()];
            let slopes = [[0.7, 0.11], [-0.2, 0.3], [0.05, 0.93]];
            kernel(1.6, slopes, &mut red, &mut green, &mut blue);
            let [r, g, b] = &mut apart;
            cut_negative(r, g, b);
            keep_grey(1.6, slopes, r, g, b);
            let together = [red, green, blue].concat();
            assert_eq!(together, apart.concat());
            together
        });
        hold_together(&multiply::levels(), |kernel, length| {
            let [mut red, mut green, mut blue] = rows(length);
            let matrix = [[0.7, 0.11, 0.3], [-0.2, 0.3, 0.8], [0.05, 0.93, -0.4]];
            kernel(matrix, &mut red, &mut green, &mut blue);
            [red, green, blue].concat()
        });
        hold_together(&cut_negative::levels(), |kernel, length| {
            let [mut red, mut green, mut blue] = rows(length);
            if let Some(value) = red.first_mut() {
                *value = f32::NAN;
            }
            kernel(&mut red, &mut green, &mut blue);
            assert!(
                [&red, &green, &blue]
                    .into_iter()
                    .flatten()
                    .all(|value| *value >= 0.0)
            );
            [red, green, blue].concat()
        });
        hold_together(&scale::levels(), |kernel, length| {
            let [mut red, mut green, mut blue] = rows(length);
            kernel(1.7, &mut red, &mut green, &mut blue);
            [red, green, blue].concat()
        });
    }

    #[test]
    fn grey_stays_grey_to_the_last_bit() {
        let matrix = Matrix3([[0.7, 0.2, 0.1], [-0.3, 1.15, 0.15], [0.04, -0.5, 1.46]]);
        let ready = Ready::new(&matrix);
        assert!(matches!(ready, Ready::KeepsGrey { .. }));
        let mut planes = [0, 1, 2].map(|_| unordered_row(5, 1009));
        let [red, green, blue] = &mut planes;
        ready.run(red, green, blue);
        assert_eq!(red, green);
        assert_eq!(green, blue);
        // And the form is the matrix: against double precision.
        let mut colour = [[0.2f32], [0.5], [0.9]];
        let [red, green, blue] = &mut colour;
        ready.run(red, green, blue);
        let expected = matrix.apply([f64::from(0.2f32), 0.5, f64::from(0.9f32)]);
        for (found, wanted) in colour.iter().zip(expected) {
            assert!((f64::from(found[0]) - wanted).abs() < 2e-7);
        }
    }
}
