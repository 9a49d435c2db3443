//! What is around a pixel: luminance blurred, and its least and largest near by; what both sharpenings compare a pixel with.
//!
//! A block of columns is worked on down its rows first and then along, so that each row of the picture is read once for it
//! and all that lies between stays in a first-level cache: reading is what this costs, not arithmetic.

use crate::base::arithmetic::{largest, smallest};
use crate::base::kernel::row_kernel;
use crate::render::row::LINE_VALUES;

/// Columns before the first, and after the last, of a row that is looked at: its own pixels begin at a line of memory.
pub(crate) const PADDING: usize = LINE_VALUES;
/// Rows and columns to each side that the widest blur looks at.
pub(crate) const MOST_REACH: usize = 7;
const _: () = assert!(PADDING >= MOST_REACH);
/// Columns that are worked on together: six times these are 13 kilobytes.
pub(crate) const BLOCK: usize = 512;

/// Values of a block's columns, beginning at a line of memory.
#[derive(Clone, Copy, Debug)]
#[repr(align(64))]
struct Columns<const LENGTH: usize>([f32; LENGTH]);

/// What is around the pixels of a block.
#[derive(Clone, Debug)]
pub(crate) struct Around {
    /// Blurred, least and largest down the columns, with the padding at both ends.
    down: [Columns<{ BLOCK + 2 * PADDING }>; 3],
    /// The same along the row as well.
    both: [Columns<BLOCK>; 3],
}

impl Around {
    pub(crate) fn new() -> Self {
        Self {
            down: [Columns([0.0; BLOCK + 2 * PADDING]); 3],
            both: [Columns([0.0; BLOCK]); 3],
        }
    }

    /// Looks at `size` pixels (at most [`BLOCK`]) from column `start` on and returns them blurred, and the least and the
    /// largest within `near` of them. `weights` are the blur's at the distances from 0; `rows` are padded by [`PADDING`] at
    /// both ends, of which the blur's reach is looked at, and there are as many above the own one as below it.
    pub(crate) fn gather(
        &mut self,
        weights: &[f32],
        near: usize,
        rows: &[&[f32]],
        start: usize,
        size: usize,
    ) -> [&[f32]; 3] {
        // From the line of memory that the first column looked at lies in.
        let columns = PADDING + size + weights.len() - 1;
        let [soft, low, high] = &mut self.down;
        let (soft, low) = (&mut soft.0[..columns], &mut low.0[..columns]);
        let high = &mut high.0[..columns];
        gather_down(weights, near, rows, start, soft, low, high);
        let [mask, least, most] = &mut self.both;
        let (mask, least) = (&mut mask.0[..size], &mut least.0[..size]);
        let most = &mut most.0[..size];
        gather_along(weights, near, soft, low, high, mask, least, most);
        [mask, least, most]
    }
}

row_kernel! {
    /// Blurs down the columns from `start` on, and finds the least and the largest of each value and those up to `near` above
    /// and below. The blur is the pixel plus differences: flat stays flat to the last bit.
    fn gather_down(
        weights: &[f32],
        near: usize,
        rows: &[&[f32]],
        start: usize,
        soft: &mut [f32],
        low: &mut [f32],
        high: &mut [f32],
    ) {
        let length = soft.len();
        let (low, high) = (&mut low[..length], &mut high[..length]);
        let reach = weights.len() - 1;
        let row = |number: usize| &rows[number][start..][..length];
        let (above, own, below) = (row(reach - 1), row(reach), row(reach + 1));
        if let (&[_, first, second], 1) = (weights, near) {
            // The blur of a screen, in one pass.
            let (above_two, below_two) = (row(0), row(4));
            for x in 0..length {
                let near = towards(first, own[x], [above[x], below[x]], own[x]);
                soft[x] = towards(second, own[x], [above_two[x], below_two[x]], near);
                low[x] = smallest([own[x], above[x], below[x]]);
                high[x] = largest([own[x], above[x], below[x]]);
            }
            return;
        }
        for x in 0..length {
            soft[x] = towards(weights[1], own[x], [above[x], below[x]], own[x]);
            low[x] = smallest([own[x], above[x], below[x]]);
            high[x] = largest([own[x], above[x], below[x]]);
        }
        for (distance, &weight) in weights.iter().enumerate().skip(2) {
            let (above, below) = (row(reach - distance), row(reach + distance));
            for x in 0..length {
                soft[x] = towards(weight, own[x], [above[x], below[x]], soft[x]);
            }
        }
        for distance in 2..=near {
            let (above, below) = (row(reach - distance), row(reach + distance));
            for x in 0..length {
                low[x] = smallest([low[x], above[x], below[x]]);
                high[x] = largest([high[x], above[x], below[x]]);
            }
        }
    }
}

row_kernel! {
    /// The same along a row, of what lies [`PADDING`] columns in.
    fn gather_along(
        weights: &[f32],
        near: usize,
        soft: &[f32],
        low: &[f32],
        high: &[f32],
        mask: &mut [f32],
        least: &mut [f32],
        most: &mut [f32],
    ) {
        let length = mask.len();
        let (least, most) = (&mut least[..length], &mut most[..length]);
        let own = &soft[PADDING..][..length];
        let [[before, after], [low_before, low_after], [high_before, high_after]] =
            [soft, low, high].map(|run| beside(run, 1, length));
        let (own_low, own_high) = (&low[PADDING..][..length], &high[PADDING..][..length]);
        if let (&[_, first, second], 1) = (weights, near) {
            let [before_two, after_two] = beside(soft, 2, length);
            for x in 0..length {
                let near = towards(first, own[x], [before[x], after[x]], own[x]);
                mask[x] = towards(second, own[x], [before_two[x], after_two[x]], near);
                least[x] = smallest([own_low[x], low_before[x], low_after[x]]);
                most[x] = largest([own_high[x], high_before[x], high_after[x]]);
            }
            return;
        }
        for x in 0..length {
            mask[x] = towards(weights[1], own[x], [before[x], after[x]], own[x]);
            least[x] = smallest([own_low[x], low_before[x], low_after[x]]);
            most[x] = largest([own_high[x], high_before[x], high_after[x]]);
        }
        for (distance, &weight) in weights.iter().enumerate().skip(2) {
            let [before, after] = beside(soft, distance, length);
            for x in 0..length {
                mask[x] = towards(weight, own[x], [before[x], after[x]], mask[x]);
            }
        }
        for distance in 2..=near {
            let [low_before, low_after] = beside(low, distance, length);
            let [high_before, high_after] = beside(high, distance, length);
            for x in 0..length {
                least[x] = smallest([least[x], low_before[x], low_after[x]]);
                most[x] = largest([most[x], high_before[x], high_after[x]]);
            }
        }
    }
}

/// A sum moved from a value towards its two neighbours at one distance.
#[inline(always)]
fn towards(weight: f32, own: f32, [before, after]: [f32; 2], sum: f32) -> f32 {
    weight.mul_add((before - own) + (after - own), sum)
}

/// The columns a distance before and after each.
#[inline(always)]
fn beside(run: &[f32], distance: usize, length: usize) -> [&[f32]; 2] {
    [PADDING - distance, PADDING + distance].map(|place| &run[place..][..length])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    const CASES: [(&[f32], usize); 4] = [
        (&[0.6, 0.2], 1),
        (&[0.4, 0.2, 0.1], 1),
        (&[0.4, 0.2, 0.1], 2),
        (&[0.3, 0.2, 0.1, 0.05], 2),
    ];

    #[test]
    fn every_copy_gives_the_same_bits() {
        for (weights, near) in CASES {
            hold_together(&gather_down::levels(), |kernel, length| {
                let rows: Vec<_> = (0..2 * weights.len() - 1)
                    .map(|seed| unordered_row(seed, length + 16))
                    .collect();
                let rows: Vec<&[f32]> = rows.iter().map(Vec::as_slice).collect();
                let [mut soft, mut low, mut high] = [0, 1, 2].map(|_| vec![0.0; length]);
                kernel(weights, near, &rows, 16, &mut soft, &mut low, &mut high);
                [soft, low, high].concat()
            });
            hold_together(&gather_along::levels(), |kernel, length| {
                let [soft, low, high] =
                    [1, 2, 3].map(|seed| unordered_row(seed, length + PADDING + MOST_REACH));
                let [mut mask, mut least, mut most] = [0, 1, 2].map(|_| vec![0.0; length]);
                kernel(
                    weights, near, &soft, &low, &high, &mut mask, &mut least, &mut most,
                );
                [mask, least, most].concat()
            });
        }
    }

    /// The passes for two distances are the general ones: a weight of nothing at a third distance sends them through those.
    #[test]
    fn two_distances_in_one_pass_are_the_general_ones() {
        let rows: Vec<_> = (0..7)
            .map(|seed| unordered_row(seed, BLOCK + 2 * PADDING))
            .collect();
        let rows: Vec<&[f32]> = rows.iter().map(Vec::as_slice).collect();
        let mut around = Around::new();
        let mut made = |weights: &[f32], rows: &[&[f32]]| {
            let seen = around.gather(weights, 1, rows, 0, BLOCK);
            seen.map(<[f32]>::to_vec)
        };
        assert_eq!(
            made(&[0.4, 0.2, 0.1], &rows[1..6]),
            made(&[0.4, 0.2, 0.1, 0.0], &rows)
        );
    }

    /// Block by block, against each pixel's sum over the square around it in double precision.
    #[test]
    fn what_is_around_a_pixel_is_the_square_around_it() {
        let length = 2 * BLOCK + 37;
        for (weights, near) in CASES {
            let reach = weights.len() - 1;
            let rows: Vec<_> = (0..=2 * reach)
                .map(|seed| unordered_row(seed, length + 2 * PADDING))
                .collect();
            let rows: Vec<&[f32]> = rows.iter().map(Vec::as_slice).collect();
            let square = |x: usize, reach_of: usize| {
                let rows = rows[reach - reach_of..=reach + reach_of].iter().zip(0..);
                rows.flat_map(move |(row, down): (_, usize)| {
                    let columns = x + PADDING - reach_of..=x + PADDING + reach_of;
                    let places = row[columns].iter().zip(0..);
                    places.map(move |(value, right): (_, usize)| {
                        (*value, [down.abs_diff(reach_of), right.abs_diff(reach_of)])
                    })
                })
            };
            // Weights at distance 0 are what the others leave.
            let others: f64 = weights[1..].iter().map(|weight| f64::from(*weight)).sum();
            let weight = |distance: usize| match distance {
                0 => 1.0 - 2.0 * others,
                _ => f64::from(weights[distance]),
            };
            let mut around = Around::new();
            for start in (0..length).step_by(BLOCK) {
                let size = BLOCK.min(length - start);
                let [mask, least, most] = around.gather(weights, near, &rows, start, size);
                for x in 0..size {
                    let blurred: f64 = square(start + x, reach)
                        .map(|(value, [down, right])| {
                            f64::from(value) * weight(down) * weight(right)
                        })
                        .sum();
                    assert!((f64::from(mask[x]) - blurred).abs() < 1e-6);
                    let values = || square(start + x, near).map(|(value, _)| value);
                    assert_eq!(least[x], values().fold(f32::INFINITY, f32::min));
                    assert_eq!(most[x], values().fold(f32::NEG_INFINITY, f32::max));
                }
            }
        }
    }
}
