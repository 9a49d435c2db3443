//! Rows in blocks of a fixed length, and the arithmetic that vectorises over a block.

use crate::base::arithmetic::{ROUNDER, reciprocal_cube_root};

/// Pixels in a block: one vector of the widest machines, two or four of the others.
pub(in crate::colour) const BLOCK: usize = 16;

/// One channel of a block.
pub(in crate::colour) type Lane = [f32; BLOCK];

/// Calls `work` on every block of three rows of one length. The rest of a row is worked in a block of its own, filled
/// up with black, so that a pixel comes out the same wherever in a row it stands.
#[inline(always)]
pub(in crate::colour) fn for_each_block(
    red: &mut [f32],
    green: &mut [f32],
    blue: &mut [f32],
    mut work: impl FnMut(&mut Lane, &mut Lane, &mut Lane),
) {
    let (reds, red_rest) = red.as_chunks_mut::<BLOCK>();
    let (greens, green_rest) = green.as_chunks_mut::<BLOCK>();
    let (blues, blue_rest) = blue.as_chunks_mut::<BLOCK>();
    for ((red, green), blue) in reds.iter_mut().zip(greens).zip(blues) {
        work(red, green, blue);
    }
    let mut rest = [[0.0; BLOCK]; 3];
    let [rest_red, rest_green, rest_blue] = &mut rest;
    let pairs = [
        (&mut *rest_red, red_rest),
        (&mut *rest_green, green_rest),
        (&mut *rest_blue, blue_rest),
    ];
    if pairs.iter().all(|(_, row)| row.is_empty()) {
        return;
    }
    for (lane, row) in &pairs {
        debug_assert!(row.len() < lane.len());
    }
    let mut rows = pairs.map(|(lane, row)| {
        for (inside, value) in lane.iter_mut().zip(row.iter()) {
            *inside = *value;
        }
        row
    });
    work(rest_red, rest_green, rest_blue);
    for (row, lane) in rows.iter_mut().zip(&rest) {
        for (value, inside) in row.iter_mut().zip(lane) {
            *value = *inside;
        }
    }
}

/// A function of one variable as straight pieces between evenly spaced nodes.
pub(super) struct Pieces<const COUNT: usize> {
    starts: [f32; COUNT],
    rises: [f32; COUNT],
}

impl<const COUNT: usize> Pieces<COUNT> {
    /// From the values at the nodes 0 to COUNT; COUNT must be a power of two.
    pub(super) fn new(value_at: impl Fn(usize) -> f64) -> Self {
        const { assert!(COUNT.is_power_of_two()) };
        #[expect(
            clippy::cast_possible_truncation,
            reason = "rounding to single precision is meant"
        )]
        let piece = |index: usize| {
            let (start, end) = (value_at(index), value_at(index + 1));
            (start as f32, (end - start) as f32)
        };
        Self {
            starts: std::array::from_fn(|index| piece(index).0),
            rises: std::array::from_fn(|index| piece(index).1),
        }
    }

    /// The value at a position from 0 to COUNT, in nodes. Other positions, and NaN, give no panic and no meaning.
    #[inline(always)]
    pub(super) fn at(&self, position: f32) -> f32 {
        // Half a node down turns rounding into cutting off; at a node itself either neighbour's piece is right.
        let rounded = (position - 0.5) + ROUNDER;
        let index = rounded.to_bits() as usize & (COUNT - 1);
        let share = position - (rounded - ROUNDER);
        self.starts[index] + self.rises[index] * share
    }

    /// The values at a block's positions.
    #[inline(always)]
    pub(super) fn at_each(&self, positions: &Lane) -> Lane {
        let mut values = [0.0; BLOCK];
        for (value, position) in values.iter_mut().zip(positions) {
            *value = self.at(*position);
        }
        values
    }
}

/// Cube root, of negative numbers too. Relative error below 3e-7; magnitudes below 1e-12 count as 1e-12.
#[inline(always)]
pub(in crate::colour) fn cube_root(x: f32) -> f32 {
    const LEAST: f32 = 1e-12;
    let magnitude = x.abs().max(LEAST);
    let reciprocal = reciprocal_cube_root(magnitude);
    (magnitude * (reciprocal * reciprocal)).copysign(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_keep_the_stated_error() {
        for step in 0..=10_007 {
            let x = 2_f64.powf(-16.0 + 32.0 * f64::from(step) / 10_007.0) as f32;
            let exact = f64::from(x);
            assert!(
                (f64::from(cube_root(x)) / exact.cbrt() - 1.0).abs() < 3e-7,
                "{x}"
            );
            assert_eq!(cube_root(-x), -cube_root(x));
        }
        assert!((0.0..1.1e-4).contains(&cube_root(0.0)));
    }

    #[test]
    fn pieces_meet_their_nodes_and_the_straight_line_between() {
        let pieces = Pieces::<8>::new(|node| (node * node) as f64);
        for node in 0..8_u8 {
            let start = f32::from(node);
            assert_eq!(pieces.at(start), start * start);
            assert_eq!(
                pieces.at(start + 0.5),
                (start * start + (start + 1.0) * (start + 1.0)) / 2.0
            );
        }
        // The last node belongs to the last piece or wraps to the first: no panic.
        assert!(pieces.at(8.0).is_finite());
        let _ = pieces.at(f32::NAN);
        let _ = pieces.at(-3.0);
    }

    #[test]
    fn every_pixel_of_a_row_is_worked_once() {
        for length in [0, 1, BLOCK - 1, BLOCK, BLOCK + 1, 3 * BLOCK + 5] {
            let mut rows = [vec![1.0; length], vec![2.0; length], vec![3.0; length]];
            let [red, green, blue] = &mut rows;
            for_each_block(red, green, blue, |red, green, blue| {
                for ((red, green), blue) in red.iter_mut().zip(green).zip(blue) {
                    *red += 10.0;
                    *green += 20.0;
                    *blue += 30.0;
                }
            });
            assert_eq!(
                rows,
                [vec![11.0; length], vec![22.0; length], vec![33.0; length]]
            );
        }
    }
}
