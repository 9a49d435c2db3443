//! Rows in blocks of a fixed length, and the arithmetic that vectorises over a block.

use crate::base::arithmetic::{self, ROUNDER};

/// Pixels in a block: one vector of the widest machines, two or four of the others.
pub(super) const BLOCK: usize = 16;

/// One channel of a block.
pub(in crate::colour) type Lane = [f32; BLOCK];

/// Pixels of blocks that are worked on together, at most: what is done to a pixel is a long chain of steps, each of which waits for
/// the one before it, and a machine looks no further ahead than a chain or two. Step after step over many it need not wait.
pub(super) const TOGETHER: usize = 8 * BLOCK;

/// One channel of pixels that are worked on together.
pub(super) type Lanes = [f32; TOGETHER];

/// The pixels of a block that ask for work: those with another number than 0.
pub(in crate::colour) type Marks = [u8; BLOCK];

/// Of three rows of one length, calls `work` on the stretches in which a pixel asks for it: `ask` marks those that do. The rest of
/// a row is worked in a block of its own, filled up with black, so that a pixel comes out the same wherever in a row it stands.
pub(in crate::colour) fn for_stretches_that_ask(
    [red, green, blue]: [&mut [f32]; 3],
    ask: impl Fn(&[f32], &[f32], &[f32], &mut [u8]),
    mut work: impl FnMut(&[Marks], [&mut [Lane]; 3]),
) {
    /// Blocks of a stretch.
    const STRETCH: usize = 64;
    const NONE: &[Marks; STRETCH] = &[[0; BLOCK]; STRETCH];
    let mut marks = [[0; BLOCK]; STRETCH];
    let mut work_where_asked = |red: &mut [Lane], green: &mut [Lane], blue: &mut [Lane]| {
        let marks = &mut marks[..red.len()];
        ask(
            red.as_flattened(),
            green.as_flattened(),
            blue.as_flattened(),
            marks.as_flattened_mut(),
        );
        // Compared as bytes: the system's library does that in the widest vectors.
        if marks.as_flattened() != &NONE.as_flattened()[..marks.len() * BLOCK] {
            work(marks, [red, green, blue]);
        }
    };
    let (reds, red_rest) = red.as_chunks_mut::<BLOCK>();
    let (greens, green_rest) = green.as_chunks_mut::<BLOCK>();
    let (blues, blue_rest) = blue.as_chunks_mut::<BLOCK>();
    let stretches = reds.chunks_mut(STRETCH).zip(greens.chunks_mut(STRETCH));
    for ((red, green), blue) in stretches.zip(blues.chunks_mut(STRETCH)) {
        let count = red.len().min(green.len()).min(blue.len());
        work_where_asked(&mut red[..count], &mut green[..count], &mut blue[..count]);
    }
    let rest = red_rest.len().min(green_rest.len()).min(blue_rest.len());
    if rest > 0 {
        let [mut red, mut green, mut blue] = [[[0.0; BLOCK]]; 3];
        red[0][..rest].copy_from_slice(&red_rest[..rest]);
        green[0][..rest].copy_from_slice(&green_rest[..rest]);
        blue[0][..rest].copy_from_slice(&blue_rest[..rest]);
        work_where_asked(&mut red, &mut green, &mut blue);
        red_rest[..rest].copy_from_slice(&red[0][..rest]);
        green_rest[..rest].copy_from_slice(&green[0][..rest]);
        blue_rest[..rest].copy_from_slice(&blue[0][..rest]);
    }
}

fn has_any(marks: &Marks) -> bool {
    u128::from_ne_bytes(*marks) != 0
}

/// Calls `work` on the blocks of a stretch in which a pixel asks for it, set one after the other to rows of at most [`TOGETHER`]
/// pixels.
#[inline(always)]
pub(in crate::colour) fn for_rows_of_asking(
    marks: &[Marks],
    [red, green, blue]: [&mut [Lane]; 3],
    mut work: impl FnMut(&mut [f32], &mut [f32], &mut [f32]),
) {
    const MOST: usize = TOGETHER / BLOCK;
    let count = marks.len();
    let (red, green, blue) = (&mut red[..count], &mut green[..count], &mut blue[..count]);
    let [mut reds, mut greens, mut blues] = [[[0.0; BLOCK]; MOST]; 3];
    let mut places = [0; MOST];
    let mut next = 0;
    while next < count {
        let mut asking = 0;
        while next < count && asking < MOST {
            if has_any(&marks[next]) {
                reds[asking] = red[next];
                greens[asking] = green[next];
                blues[asking] = blue[next];
                places[asking] = next;
                asking += 1;
            }
            next += 1;
        }
        if asking > 0 {
            work(
                reds[..asking].as_flattened_mut(),
                greens[..asking].as_flattened_mut(),
                blues[..asking].as_flattened_mut(),
            );
        }
        for (at, place) in places[..asking].iter().enumerate() {
            red[*place] = reds[at];
            green[*place] = greens[at];
            blue[*place] = blues[at];
        }
    }
}

/// A function of one variable as straight pieces between evenly spaced nodes.
///
/// Start and rise of a piece stand in one number, so that both are fetched together: fetching is what it costs.
pub(super) struct Pieces<const COUNT: usize>([u64; COUNT]);

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
            let (start, rise) = (start as f32, (end - start) as f32);
            u64::from(start.to_bits()) | u64::from(rise.to_bits()) << 32
        };
        Self(std::array::from_fn(piece))
    }

    /// The value at a position from 0 to COUNT, in nodes. Other positions, and NaN, give no panic and no meaning.
    #[inline(always)]
    pub(super) fn at(&self, position: f32) -> f32 {
        // Half a node down turns rounding into cutting off; at a node itself either neighbour's piece is right.
        let rounded = (position - 0.5) + ROUNDER;
        let index = rounded.to_bits() as usize & (COUNT - 1);
        let share = position - (rounded - ROUNDER);
        let piece = self.0[index];
        #[expect(clippy::cast_possible_truncation, reason = "the lower half is meant")]
        let (start, rise) = (piece as u32, (piece >> 32) as u32);
        f32::from_bits(start) + f32::from_bits(rise) * share
    }

    /// The values at a row's positions. Apart from all other work, because a compiler makes vectors of look-ups only where it
    /// sees that nothing is written into the table.
    #[inline(always)]
    pub(super) fn at_each(&self, positions: &[f32], values: &mut [f32]) {
        for (value, position) in values.iter_mut().zip(positions) {
            *value = self.at(*position);
        }
    }
}

/// Cube root, of negative numbers too. Relative error below 3e-7; magnitudes below 1e-12 count as 1e-12.
#[inline(always)]
pub(in crate::colour) fn cube_root(x: f32) -> f32 {
    const LEAST: f32 = 1e-12;
    let magnitude = x.abs().max(LEAST);
    arithmetic::cube_root(magnitude).copysign(x)
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
    fn every_pixel_that_asks_is_worked_once() {
        // Around a block, what is worked on together, and a stretch; with gaps, none and all that ask.
        for length in [
            0,
            1,
            BLOCK - 1,
            BLOCK,
            BLOCK + 1,
            3 * BLOCK + 5,
            TOGETHER + 3,
            70 * BLOCK + 7,
        ] {
            for every in [1, 2, 3, 40, 10_000] {
                let asks = |x: usize| (x / BLOCK).is_multiple_of(every) && every < 10_000;
                let mut rows = [
                    (1..=length).map(|number| number as f32).collect(),
                    vec![2.0; length],
                    vec![3.0; length],
                ];
                let [red, green, blue] = &mut rows;
                let mut calls = 0;
                for_stretches_that_ask(
                    [red, green, blue],
                    |red, _, _, marks| {
                        for (mark, x) in marks.iter_mut().zip(red) {
                            // What fills a block up is 0, and asks for nothing.
                            *mark = u8::from(*x > 0.0 && asks(*x as usize - 1));
                        }
                    },
                    |marks, stretch| {
                        calls += 1;
                        for_rows_of_asking(marks, stretch, |red, green, blue| {
                            assert!(!red.is_empty() && red.len() <= TOGETHER);
                            for (green, blue) in green.iter_mut().zip(blue) {
                                *green += 20.0;
                                *blue += 30.0;
                            }
                        });
                    },
                );
                let [red, green, blue] = rows;
                for x in 0..length {
                    // What asks takes its block along.
                    let added = if asks(x) { [20.0, 30.0] } else { [0.0; 2] };
                    assert_eq!(
                        [red[x], green[x] - added[0], blue[x] - added[1]],
                        [(x + 1) as f32, 2.0, 3.0],
                        "{x} of {length}"
                    );
                }
                assert!(every < 10_000 || calls == 0);
            }
        }
    }
}
