//! From samples to quantised coefficients: the cosine transform of ITU-T T.81, A.3.3, in single precision.
//!
//! Both ways by the scheme of Arai, Agui and Nakajima (1988), all blocks of a tile side by side: few products, and factors that are
//! divided out with the quantisation. Coefficients come out in the order of the file, and with them which are not zero.

use super::LANES;
use super::group::Group;
use super::samples::Tile;
use super::tables::{COEFFICIENTS, ZIGZAG};
use crate::base::arithmetic::ROUNDER;
use crate::base::kernel::row_kernel;
use std::f64::consts::{PI, SQRT_2};

/// Samples on a side of a block.
pub(super) const SIDE: usize = 8;

/// A transform with its quantisation.
#[derive(Clone, Debug)]
pub(super) struct Transform {
    /// What a coefficient is multiplied with at the end, in the order of the file.
    factors: [f32; COEFFICIENTS],
}

impl Transform {
    /// For a quantisation table, rows of the block.
    pub(super) fn new(steps: &[u8; COEFFICIENTS]) -> Self {
        // What the scheme leaves undone in one direction.
        let undone = |frequency: usize| match frequency {
            0 => SQRT_2 * 2.0,
            _ => (frequency as f64 * PI / 16.0).cos() * 4.0,
        };
        let factor = |at: usize| {
            let step = f64::from(steps[at]);
            (1.0 / (undone(at / SIDE) * undone(at % SIDE) * step)) as f32
        };
        Self {
            factors: ZIGZAG.map(|at| factor(usize::from(at))),
        }
    }
}

row_kernel! {
    /// Transforms and quantises the blocks of a tile, which is left without meaning.
    fn quantise(tile: &mut Tile, transform: &Transform, group: &mut Group) {
        downwards(tile);
        along(tile);
        let samples = tile.as_flattened();
        let mut marks = [[0; LANES]; COEFFICIENTS / PART];
        let places = ZIGZAG.chunks_exact(PART).zip(transform.factors.chunks_exact(PART));
        let coefficients = group.coefficients.chunks_exact_mut(PART);
        for ((marks, coefficients), (places, factors)) in marks.iter_mut().zip(coefficients).zip(places) {
            round(samples, places, factors, coefficients, marks);
        }
        let [first, second, third, fourth] = marks;
        for i in 0..LANES {
            let [low, high] = [[first[i], second[i]], [third[i], fourth[i]]]
                .map(|[low, high]| u64::from(low) | u64::from(high) << PART);
            group.set[i] = low | high << (2 * PART);
        }
        group.settle();
    }
}

/// So many coefficients are marked together, in a number as wide as a coefficient: vectors hold as many of one as of the other.
const PART: usize = 16;

/// The nearest whole numbers of coefficients, and which are not zero.
#[inline(always)]
fn round(
    samples: &[[f32; LANES]],
    places: &[u8],
    factors: &[f32],
    coefficients: &mut [[i16; LANES]],
    marks: &mut [u16; LANES],
) {
    /// Marks are gathered in so many places by turns: in one, each would wait for the one before it.
    const TURNS: usize = 4;
    let mut parts = [[0_u16; LANES]; TURNS];
    let lines = coefficients.iter_mut().zip(places).zip(factors);
    for (at, ((line, place), factor)) in lines.enumerate() {
        let from = &samples[usize::from(*place) % COEFFICIENTS];
        let part = &mut parts[at % TURNS];
        let mark = 1 << at;
        for i in 0..LANES {
            let value = whole(from[i] * factor);
            line[i] = value;
            part[i] |= if value == 0 { 0 } else { mark };
        }
    }
    for i in 0..LANES {
        marks[i] = parts.iter().fold(0, |all, part| all | part[i]);
    }
}

/// The nearest whole number: coefficients of 8-bit samples have 11 bits and a sign.
#[inline(always)]
#[expect(clippy::cast_possible_truncation, reason = "the lower half is meant")]
fn whole(value: f32) -> i16 {
    // Of the number that rounds, the lower half is 0.
    const { assert!(ROUNDER.to_bits() & 0xffff == 0) };
    (value + ROUNDER).to_bits() as i16
}

/// Transforms columns of blocks.
#[inline(always)]
fn downwards(tile: &mut Tile) {
    let [l0, l1, l2, l3, l4, l5, l6, l7] = tile.each_mut().map(|row| row.as_flattened_mut());
    for i in 0..l0.len() {
        let samples = [l0[i], l1[i], l2[i], l3[i], l4[i], l5[i], l6[i], l7[i]];
        [l0[i], l1[i], l2[i], l3[i], l4[i], l5[i], l6[i], l7[i]] = eight(samples);
    }
}

/// Transforms rows of blocks.
#[inline(always)]
fn along(tile: &mut Tile) {
    for [l0, l1, l2, l3, l4, l5, l6, l7] in tile {
        for i in 0..LANES {
            let samples = [l0[i], l1[i], l2[i], l3[i], l4[i], l5[i], l6[i], l7[i]];
            [l0[i], l1[i], l2[i], l3[i], l4[i], l5[i], l6[i], l7[i]] = eight(samples);
        }
    }
}

/// Eight samples become eight frequencies: Arai, Agui, Nakajima, "A fast DCT-SQ scheme for images", Transactions of the IEICE E71
/// (1988), figure 1.
#[inline(always)]
fn eight([r0, r1, r2, r3, r4, r5, r6, r7]: [f32; SIDE]) -> [f32; SIDE] {
    // cos(pi/4); sin(pi/8), and the difference and the sum of cos(pi/8) and it.
    const QUARTER: f32 = std::f32::consts::FRAC_1_SQRT_2;
    const EIGHTH: f32 = 0.382_683_43;
    const LESS: f32 = 0.541_196_1;
    const MORE: f32 = 1.306_563;
    let (s0, s1, s2, s3) = (r0 + r7, r1 + r6, r2 + r5, r3 + r4);
    let (d0, d1, d2, d3) = (r0 - r7, r1 - r6, r2 - r5, r3 - r4);
    let (outer, inner) = (s0 + s3, s1 + s2);
    let (outer_difference, inner_difference) = (s0 - s3, s1 - s2);
    let middle = (inner_difference + outer_difference) * QUARTER;
    let (low, mid, high) = (d3 + d2, d2 + d1, d1 + d0);
    let turn = (low - high) * EIGHTH;
    let low = low * LESS + turn;
    let high = high * MORE + turn;
    let mid = mid * QUARTER;
    let (sum, difference) = (d0 + mid, d0 - mid);
    [
        outer + inner,
        sum + high,
        outer_difference + middle,
        difference - low,
        outer - inner,
        difference + low,
        outer_difference - middle,
        sum - high,
    ]
}

#[cfg(test)]
mod tests {
    use super::super::samples::EMPTY;
    use super::*;
    use crate::base::kernel::hold_together;
    use std::f64::consts::FRAC_1_SQRT_2;

    /// Samples from -128 to 127 without order.
    fn samples(seed: usize) -> Tile {
        let sample = |at: usize| ((at * 7919 + seed * 104_729) % 2551) as f32 / 10.0 - 128.0;
        let mut tile = EMPTY;
        let all = tile.as_flattened_mut().as_flattened_mut();
        for (at, value) in all.iter_mut().enumerate() {
            *value = sample(at);
        }
        tile
    }

    /// T.81, A.3.3, as it stands there.
    fn plain(samples: impl Fn(usize, usize) -> f64, v: usize, u: usize) -> f64 {
        let c = |frequency| if frequency == 0 { FRAC_1_SQRT_2 } else { 1.0 };
        let wave = |at: usize, f: usize| ((2 * at + 1) as f64 * f as f64 * PI / 16.0).cos();
        let mut sum = 0.0;
        for y in 0..SIDE {
            for x in 0..SIDE {
                sum += samples(x, y) * wave(x, u) * wave(y, v);
            }
        }
        0.25 * c(u) * c(v) * sum
    }

    #[test]
    fn coefficients_are_those_of_the_standards_formula() {
        let steps: [u8; COEFFICIENTS] = std::array::from_fn(|at| (at % 7 + 1) as u8);
        let transform = Transform::new(&steps);
        for seed in 0..2 {
            let tile = samples(seed);
            let mut group = Group::EMPTY;
            quantise(&mut tile.clone(), &transform, &mut group);
            for (block, set) in group.set.iter().enumerate() {
                for (place, at) in ZIGZAG.into_iter().map(usize::from).enumerate() {
                    let sample = |x: usize, y: usize| f64::from(tile[y][x][block]);
                    let exact = plain(sample, at / SIDE, at % SIDE) / f64::from(steps[at]);
                    let found = match place {
                        0 => group.first[block],
                        _ => group.coefficients[place][block],
                    };
                    // Half a step of rounding, and what single precision loses.
                    assert!(
                        (f64::from(found) - exact).abs() < 0.501,
                        "{seed} {block} {at}"
                    );
                    let is_set = set >> place & 1 == 1;
                    assert_eq!(is_set, place != 0 && found != 0);
                }
            }
        }
    }

    #[test]
    fn every_copy_gives_the_same_bits() {
        let transform = Transform::new(&[3; COEFFICIENTS]);
        hold_together(&quantise::levels(), |quantise, seed| {
            let mut group = Group::EMPTY;
            quantise(&mut samples(seed), &transform, &mut group);
            let coefficients = group.coefficients.as_flattened().iter().chain(&group.first);
            let marks = group.set.iter().flat_map(|set| set.to_le_bytes());
            let unusual = group.unusual.iter().map(|&mark| f32::from(mark != 0));
            coefficients
                .map(|&c| f32::from(c))
                .chain(marks.map(f32::from))
                .chain(unusual)
                .collect()
        });
    }
}
