//! Which part of a difference is noise.
//!
//! The spatially adaptive estimate of Mihcak, Kozintsev, Ramchandran and Moulin ("Low-complexity image denoising based on
//! statistical modeling of wavelet coefficients", IEEE Signal Processing Letters 6:300, 1999), which refines the one
//! threshold a band of BayesShrink (Chang, Yu and Vetterli, IEEE TIP 9:1532, 2000): the mean square m of a
//! coefficient's neighbourhood holds signal and noise, so that the share s²/m of the coefficient is noise. The noise's
//! variance s² is known from the sensor, never guessed from the picture, so that a band, a tile and a whole picture agree.

use super::haar::PIECE;
use crate::base::kernel::row_kernel;

/// Rows and columns of the neighbourhood beyond the coefficient's own.
pub(super) const REACH_DOWN: usize = 1;
pub(super) const REACH_ACROSS: usize = 2;

/// Coefficients in a neighbourhood.
pub(super) const NEIGHBOURHOOD: f32 = ((2 * REACH_DOWN + 1) * (2 * REACH_ACROSS + 1)) as f32;

row_kernel! {
    /// The part of each coefficient of `row` that is taken for noise: at most the share `most`, and `threshold` over the
    /// sum of squares of the neighbourhood. The outermost columns, which lack neighbours, are left as they are.
    fn noise_of_row(
        above: &[f32],
        row: &[f32],
        below: &[f32],
        threshold: f32,
        most: f32,
        squares: &mut [f32],
        noise: &mut [f32],
    ) {
        let length = noise.len();
        let (above, row, below) = (&above[..length], &row[..length], &below[..length]);
        let inner = length.saturating_sub(2 * REACH_ACROSS);
        for start in (0..inner).step_by(PIECE) {
            let here = PIECE.min(inner - start);
            let wide = here + 2 * REACH_ACROSS;
            let [above, row, below] = [above, row, below].map(|row| &row[start..][..wide]);
            let squares = &mut squares[..wide];
            for x in 0..wide {
                squares[x] = above[x] * above[x] + row[x] * row[x] + below[x] * below[x];
            }
            let around: [&[f32]; 2 * REACH_ACROSS + 1] =
                [&squares[..here], &squares[1..][..here], &squares[2..][..here], &squares[3..][..here], &squares[4..][..here]];
            let row = &row[REACH_ACROSS..][..here];
            let noise = &mut noise[start + REACH_ACROSS..][..here];
            for x in 0..here {
                let sum = around[0][x] + around[1][x] + around[2][x] + around[3][x] + around[4][x];
                noise[x] = row[x] * (threshold / sum).min(most);
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
        hold_together(&noise_of_row::levels(), |kernel, length| {
            let [above, row, below] = [1, 2, 3].map(|seed| unordered_row(seed, length));
            let (mut squares, mut noise) = (vec![0.0; length], vec![0.0; length]);
            kernel(&above, &row, &below, 0.7, 0.8, &mut squares, &mut noise);
            noise
        });
    }

    #[test]
    fn working_in_pieces_leaves_no_seam() {
        let length = 2 * PIECE + 77;
        let rows = [1, 2, 3].map(|seed| unordered_row(seed, length));
        let noise_of = |part: std::ops::Range<usize>| {
            let [above, row, below] = rows.each_ref().map(|row| &row[part.clone()]);
            let (mut squares, mut noise) = (vec![0.0; part.len()], vec![0.0; part.len()]);
            noise_of_row(above, row, below, 0.7, 0.8, &mut squares, &mut noise);
            noise
        };
        let whole = noise_of(0..length);
        for start in [0, PIECE - 40, 2 * PIECE - 40] {
            let end = start + 100;
            let part = noise_of(start..end);
            let inner = REACH_ACROSS..100 - REACH_ACROSS;
            assert_eq!(part[inner.clone()], whole[start..end][inner]);
        }
    }

    #[test]
    fn nothing_is_no_noise_and_strong_detail_is_kept() {
        let length = 9;
        let (mut squares, mut noise) = (vec![0.0; length], vec![0.0; length]);
        let flat = vec![0.0; length];
        noise_of_row(&flat, &flat, &flat, 1.0, 1.0, &mut squares, &mut noise);
        assert_eq!(noise, flat);
        let strong = vec![100.0; length];
        noise_of_row(
            &strong,
            &strong,
            &strong,
            NEIGHBOURHOOD,
            1.0,
            &mut squares,
            &mut noise,
        );
        // A unit of noise variance in a mean square of 10 000.
        assert!((noise[4] - 0.01).abs() < 1e-6);
        let weak = vec![0.5; length];
        noise_of_row(
            &weak,
            &weak,
            &weak,
            NEIGHBOURHOOD,
            0.8,
            &mut squares,
            &mut noise,
        );
        assert_eq!(noise[4], 0.4);
    }
}
