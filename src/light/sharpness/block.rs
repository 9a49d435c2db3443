//! The Laplacian of one block, a row of it in a vector: what [`super::laplacian_variance`] says of a picture of that size.

use crate::base::kernel::row_kernel;
use crate::light::sharpness::BLOCK;

/// A block of cells, row by row.
pub(super) type Block = [[f32; BLOCK]; BLOCK];

/// Sums down the columns of a block: of its values, of its Laplacian, and of the Laplacian's squares.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sums {
    values: [f64; BLOCK],
    laplacian: [f64; BLOCK],
    squares: [f64; BLOCK],
}

/// Mean of a block, and variance of its Laplacian, mirrored at the edges.
pub(super) fn mean_and_laplacian_variance(block: &Block) -> (f64, f64) {
    let mut sums = Sums {
        values: [0.0; BLOCK],
        laplacian: [0.0; BLOCK],
        squares: [0.0; BLOCK],
    };
    sum(block, &mut sums);
    let mean = |sums: [f64; BLOCK]| sums.iter().sum::<f64>() / (BLOCK * BLOCK) as f64;
    let variance = mean(sums.squares) - mean(sums.laplacian).powi(2);
    (mean(sums.values), variance)
}

row_kernel! {
    /// Sums a block.
    fn sum(block: &Block, sums: &mut Sums) {
        // One value more at each end: the neighbour of the one at the edge, again.
        let mut rows = [[0.0_f64; BLOCK + 2]; BLOCK];
        for (row, values) in rows.iter_mut().zip(block) {
            for (target, value) in row[1..].iter_mut().zip(values) {
                *target = f64::from(*value);
            }
            row[0] = row[2];
            row[BLOCK + 1] = row[BLOCK - 1];
        }
        for y in 0..BLOCK {
            let above = &rows[if y == 0 { 1 } else { y - 1 }];
            let below = &rows[if y + 1 == BLOCK { BLOCK - 2 } else { y + 1 }];
            let row = &rows[y];
            for x in 0..BLOCK {
                let value = row[x] + row[x + 2] + above[x + 1] + below[x + 1] - 4.0 * row[x + 1];
                sums.values[x] += row[x + 1];
                sums.laplacian[x] += value;
                sums.squares[x] += value * value;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::sharpness::laplacian_variance;

    #[test]
    fn a_block_is_a_picture_of_its_size() {
        for seed in 0..20_usize {
            let mut block = [[0.0; BLOCK]; BLOCK];
            for (at, value) in block.as_flattened_mut().iter_mut().enumerate() {
                *value = ((at + seed * 31) * 7919 % 1009) as f32 / 800.0 - 0.05;
            }
            let values = block.as_flattened();
            let (mean, variance) = mean_and_laplacian_variance(&block);
            let expected = values.iter().copied().map(f64::from).sum::<f64>();
            let expected = expected / values.len() as f64;
            // The same numbers in double precision, added in another order.
            assert!((mean - expected).abs() < 1e-14);
            assert!((variance / laplacian_variance(values, BLOCK) - 1.0).abs() < 1e-12);
            let of = |kernel: fn(&Block, &mut Sums)| {
                let mut sums = Sums {
                    values: [0.0; BLOCK],
                    laplacian: [0.0; BLOCK],
                    squares: [0.0; BLOCK],
                };
                kernel(&block, &mut sums);
                sums
            };
            let levels = sum::levels();
            for (name, kernel) in &levels {
                assert_eq!(of(*kernel), of(levels[0].1), "{name}");
            }
        }
    }
}
