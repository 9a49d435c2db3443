//! Correlation of a plane with small kernels, along rows and down columns, a row at a time.
//!
//! Each row is taken along once, kept while the rows below and above ask for it, and then taken down: what is in hand stays in the
//! processor's nearest caches. A sum adds its products in the order of the kernel, however many stand side by side.

use crate::base::kernel::row_kernel;

/// Sums that stand side by side.
const LANES: usize = 32;

/// The rows of a plane, each taken along by one kernel, as many as a kernel down columns asks for at once.
struct Window<'a> {
    plane: &'a [f64],
    width: usize,
    height: usize,
    along: &'a [f64],
    /// Rows from the one above the first asked for, in turn.
    rows: Vec<Vec<f64>>,
    /// Rows that were taken along so far.
    ready: usize,
    padded: Vec<f64>,
}

impl<'a> Window<'a> {
    fn new(plane: &'a [f64], width: usize, along: &'a [f64], reach: usize) -> Self {
        Self {
            plane,
            width,
            height: plane.len() / width,
            along,
            rows: vec![vec![0.0; width]; 2 * reach + 1],
            ready: 0,
            padded: Vec::new(),
        }
    }

    /// Takes row `y` down by a kernel no longer than the window; rows are asked for one after another. Edge values are repeated.
    fn down(&mut self, y: usize, down: &[f64], target: &mut [f64]) {
        let reach = down.len() / 2;
        let count = self.rows.len();
        while self.ready < (y + count / 2 + 1).min(self.height) {
            let source = &self.plane[self.ready * self.width..][..self.width];
            pad(source, self.along.len() / 2, &mut self.padded);
            along(&self.padded, self.along, &mut self.rows[self.ready % count]);
            self.ready += 1;
        }
        let rows: Vec<&[f64]> = (0..down.len())
            .map(|at| (y + at).saturating_sub(reach).min(self.height - 1))
            .map(|y| self.rows[y % count].as_slice())
            .collect();
        add_rows(&rows, down, target);
    }
}

/// A row with its edge values repeated.
fn pad(row: &[f64], radius: usize, padded: &mut Vec<f64>) {
    padded.clear();
    let (Some(first), Some(last)) = (row.first(), row.last()) else {
        return;
    };
    padded.resize(radius, *first);
    padded.extend_from_slice(row);
    padded.resize(row.len() + 2 * radius, *last);
}

/// Correlation with a kernel along rows and one down columns.
pub(super) fn separable(plane: &[f64], width: usize, along: &[f64], down: &[f64]) -> Vec<f64> {
    let mut result = vec![0.0; plane.len()];
    if width == 0 {
        return result;
    }
    let mut window = Window::new(plane, width, along, down.len() / 2);
    for (y, target) in result.chunks_exact_mut(width).enumerate() {
        window.down(y, down, target);
    }
    result
}

/// Length of the gradient whose parts are a derivative along one direction and a blur across it.
pub(super) fn gradient(plane: &[f64], width: usize, derivative: &[f64], blur: &[f64]) -> Vec<f64> {
    let mut result = vec![0.0; plane.len()];
    if width == 0 {
        return result;
    }
    let reach = derivative.len().max(blur.len()) / 2;
    let mut changes = Window::new(plane, width, derivative, reach);
    let mut means = Window::new(plane, width, blur, reach);
    let mut down = vec![0.0; width];
    for (y, target) in result.chunks_exact_mut(width).enumerate() {
        changes.down(y, blur, target);
        means.down(y, derivative, &mut down);
        lengths(target, &down);
    }
    result
}

row_kernel! {
    /// Correlation of a padded row with a kernel.
    fn along(padded: &[f64], kernel: &[f64], target: &mut [f64]) {
        let (parts, rest) = target.as_chunks_mut::<LANES>();
        let mut from = 0;
        for sums in parts {
            let mut sum = [0.0; LANES];
            for (values, factor) in padded[from..].windows(LANES).zip(kernel) {
                add_scaled(&mut sum, values, *factor);
            }
            *sums = sum;
            from += LANES;
        }
        for (at, sum) in rest.iter_mut().enumerate() {
            let values = padded[from + at..].iter().zip(kernel);
            *sum = values.fold(0.0, |sum, (value, factor)| sum + factor * value);
        }
    }
}

row_kernel! {
    /// The sum of rows, each times its factor.
    fn add_rows(rows: &[&[f64]], factors: &[f64], target: &mut [f64]) {
        let (parts, rest) = target.as_chunks_mut::<LANES>();
        let mut from = 0;
        for sums in parts {
            let mut sum = [0.0; LANES];
            for (row, factor) in rows.iter().zip(factors) {
                add_scaled(&mut sum, &row[from..from + LANES], *factor);
            }
            *sums = sum;
            from += LANES;
        }
        for (at, sum) in rest.iter_mut().enumerate() {
            let rows = rows.iter().zip(factors);
            *sum = rows.fold(0.0, |sum, (row, factor)| sum + factor * row[from + at]);
        }
    }
}

#[inline(always)]
fn add_scaled(sums: &mut [f64; LANES], values: &[f64], factor: f64) {
    for (sum, value) in sums.iter_mut().zip(values) {
        *sum += factor * value;
    }
}

row_kernel! {
    /// Lengths of vectors whose parts stand in two rows, into the first.
    fn lengths(along: &mut [f64], down: &[f64]) {
        for (along, down) in along.iter_mut().zip(down) {
            *along = (*along * *along + down * down).sqrt();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::hold_together;

    /// Values around 0 without order; a prime multiplier, so that swapped rows show.
    fn unordered(seed: usize, length: usize) -> Vec<f64> {
        (0..length)
            .map(|at| ((at * 7919 + seed * 104_729) % 1009) as f64 / 800.0 - 0.6)
            .collect()
    }

    /// The sum for each value by itself.
    fn plainly(plane: &[f64], width: usize, along: &[f64], down: &[f64]) -> Vec<f64> {
        let height = plane.len() / width;
        let near = |at: usize, by: usize, kernel: &[f64], length: usize| {
            (at + by).saturating_sub(kernel.len() / 2).min(length - 1)
        };
        let rows: Vec<f64> = (0..plane.len())
            .map(|place| {
                let (x, y) = (place % width, place / width);
                along.iter().enumerate().fold(0.0, |sum, (at, factor)| {
                    sum + factor * plane[y * width + near(x, at, along, width)]
                })
            })
            .collect();
        (0..plane.len())
            .map(|place| {
                let (x, y) = (place % width, place / width);
                down.iter().enumerate().fold(0.0, |sum, (at, factor)| {
                    sum + factor * rows[near(y, at, down, height) * width + x]
                })
            })
            .collect()
    }

    #[test]
    fn planes_are_filtered_as_value_by_value() {
        // One value, one row, one column, smaller than the kernels, odd sizes around the lanes.
        for (width, height) in [(1, 1), (40, 1), (1, 40), (3, 4), (15, 9), (16, 5), (33, 21)] {
            let plane = unordered(width, width * height);
            let (long, short) = (unordered(1, 13), unordered(2, 5));
            for (along, down) in [(&long, &short), (&short, &long), (&long, &long)] {
                assert_eq!(
                    separable(&plane, width, along, down),
                    plainly(&plane, width, along, down)
                );
            }
            let (dx, dy) = (
                plainly(&plane, width, &short, &long),
                plainly(&plane, width, &long, &short),
            );
            let expected: Vec<f64> = dx
                .iter()
                .zip(&dy)
                .map(|(dx, dy)| (dx * dx + dy * dy).sqrt())
                .collect();
            assert_eq!(gradient(&plane, width, &short, &long), expected);
        }
        assert!(separable(&[], 0, &[1.0], &[1.0]).is_empty());
    }

    #[test]
    fn all_copies_of_the_kernels_are_one() {
        let kernel = unordered(3, 7);
        hold_together(&along::levels(), |along, length| {
            let mut found = vec![0.0; length];
            along(&unordered(4, length + 6), &kernel, &mut found);
            found
        });
        hold_together(&add_rows::levels(), |add_rows, length| {
            let rows: Vec<Vec<f64>> = (0..7).map(|seed| unordered(seed, length)).collect();
            let rows: Vec<&[f64]> = rows.iter().map(Vec::as_slice).collect();
            let mut found = vec![0.0; length];
            add_rows(&rows, &kernel, &mut found);
            found
        });
        hold_together(&lengths::levels(), |lengths, length| {
            let mut found = unordered(5, length);
            lengths(&mut found, &unordered(6, length));
            found
        });
    }
}
