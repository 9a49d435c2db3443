//! Half-size pixels: two by two photosites hold one red, one blue and two greens.
//!
//! Nothing is interpolated, so nothing can zip or maze, and noise is averaged; red and blue lie a quarter of the new
//! pixel off its centre, which a picture of at most half the sensor's resolution does not show.

use crate::base::kernel::row_kernel;

/// The last of an odd number of rows or columns is paired with the one before it.
pub(crate) const REACH: usize = 1;

row_kernel! {
    /// One row from two sensor rows of twice its length. `swap` is 1 when green comes first in the upper row.
    /// `upper_colour` is the upper row's colour besides green, `lower_colour` the lower row's.
    fn half_row(
        upper: &[f32],
        lower: &[f32],
        swap: usize,
        upper_colour: &mut [f32],
        green: &mut [f32],
        lower_colour: &mut [f32],
    ) {
        let length = green.len();
        let (upper_colour, lower_colour) =
            (&mut upper_colour[..length], &mut lower_colour[..length]);
        let (upper, lower) = (&upper[..2 * length], &lower[..2 * length]);
        // Written out twice, so that the inner loops read fixed places.
        if swap == 0 {
            for x in 0..length {
                upper_colour[x] = upper[2 * x];
                green[x] = 0.5 * (upper[2 * x + 1] + lower[2 * x]);
                lower_colour[x] = lower[2 * x + 1];
            }
        } else {
            for x in 0..length {
                upper_colour[x] = upper[2 * x + 1];
                green[x] = 0.5 * (upper[2 * x] + lower[2 * x + 1]);
                lower_colour[x] = lower[2 * x];
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
        hold_together(&half_row::levels(), |kernel, length| {
            let rows = [0, 1].map(|seed| unordered_row(seed, 2 * length));
            let mut made = Vec::new();
            for swap in [0, 1] {
                let mut out = [0, 1, 2].map(|_| vec![0.0; length]);
                let [upper, green, lower] = &mut out;
                kernel(&rows[0], &rows[1], swap, upper, green, lower);
                made.extend(out.concat());
            }
            made
        });
    }
}
