//! From rows of samples to quantised coefficients: the cosine transform of ITU-T T.81, A.3.3, in single precision.
//!
//! Eight rows are transformed downwards first, all columns side by side, by the scheme of Arai, Agui and Nakajima (1988): eight
//! multiplications fewer a column, and factors that are divided out with the quantisation. Along the rows the transform is a product
//! with a matrix: more arithmetic, but nothing has to be turned over, which on vectors costs more.

use super::tables::COEFFICIENTS;
use crate::render::kernel::row_kernel;
use std::f64::consts::{FRAC_1_SQRT_2, PI, SQRT_2};

/// Samples on a side of a block.
pub(super) const SIDE: usize = 8;
/// Samples of a row that are transformed together: sixteen blocks, eight rows of which fit the first cache.
pub(super) const GROUP: usize = 16 * SIDE;

/// A block's quantised coefficients, rows of the block: row frequency times 8 plus column frequency.
pub(super) type Block = [i16; COEFFICIENTS];

/// A transform with its quantisation.
#[derive(Clone, Debug)]
pub(super) struct Transform {
    /// Along a row: sample, frequency.
    along: [[f32; SIDE]; SIDE],
    /// What a coefficient is multiplied with at the end.
    factors: [f32; COEFFICIENTS],
}

impl Transform {
    /// For a quantisation table, rows of the block.
    pub(super) fn new(steps: &[u8; COEFFICIENTS]) -> Self {
        let along = |sample: usize, frequency: usize| {
            let scale = if frequency == 0 { FRAC_1_SQRT_2 } else { 1.0 };
            let angle = (2 * sample + 1) as f64 * frequency as f64 * PI / 16.0;
            (0.5 * scale * angle.cos()) as f32
        };
        // What the scheme leaves undone downwards.
        let downwards = |frequency: usize| match frequency {
            0 => SQRT_2 * 2.0,
            _ => (frequency as f64 * PI / 16.0).cos() * 4.0,
        };
        Self {
            along: std::array::from_fn(|sample| std::array::from_fn(|u| along(sample, u))),
            factors: std::array::from_fn(|at| {
                (1.0 / (downwards(at / SIDE) * f64::from(steps[at]))) as f32
            }),
        }
    }
}

/// Added, this moves a number's whole part into the lowest bits of its fraction, rounded to the nearest, for numbers below
/// 2^22; coefficients stay below 2^11.
const WHOLE: f32 = 12_582_912.0;

row_kernel! {
    /// Transforms and quantises blocks side by side. Each of the eight `rows` holds at least eight samples a block, and whole
    /// groups of [`GROUP`].
    fn quantise(rows: &[Vec<f32>; SIDE], transform: &Transform, blocks: &mut [Block]) {
        for (group, blocks) in blocks.chunks_mut(GROUP / SIDE).enumerate() {
            let mut lines = [[0.0_f32; GROUP]; SIDE];
            downwards(rows, group * GROUP, &mut lines);
            for (at, block) in blocks.iter_mut().enumerate() {
                for (line, coefficients) in lines.iter().zip(block.as_chunks_mut::<SIDE>().0.iter_mut().enumerate()) {
                    let (row, coefficients) = coefficients;
                    let mut sums = [0.0_f32; SIDE];
                    for (sample, along) in line[at * SIDE..(at + 1) * SIDE].iter().zip(&transform.along) {
                        for u in 0..SIDE {
                            sums[u] += sample * along[u];
                        }
                    }
                    for u in 0..SIDE {
                        coefficients[u] = whole(sums[u] * transform.factors[row * SIDE + u]);
                    }
                }
            }
        }
    }
}

/// The nearest whole number.
#[inline(always)]
#[expect(
    clippy::cast_possible_truncation,
    reason = "coefficients of 8-bit samples have 11 bits and a sign"
)]
fn whole(value: f32) -> i16 {
    let bits = (value + WHOLE).to_bits().cast_signed();
    bits.wrapping_sub(WHOLE.to_bits().cast_signed()) as i16
}

/// Eight rows become eight frequencies: Arai, Agui, Nakajima, "A fast DCT-SQ scheme for images", Transactions of the IEICE E71
/// (1988), figure 1.
#[inline(always)]
fn downwards(rows: &[Vec<f32>; SIDE], from: usize, lines: &mut [[f32; GROUP]; SIDE]) {
    let [r0, r1, r2, r3, r4, r5, r6, r7] = rows.each_ref().map(|row| &row[from..from + GROUP]);
    let [f0, f1, f2, f3, f4, f5, f6, f7] = lines;
    // cos(pi/4); sin(pi/8), and the difference and the sum of cos(pi/8) and it.
    const QUARTER: f32 = std::f32::consts::FRAC_1_SQRT_2;
    const EIGHTH: f32 = 0.382_683_43;
    const LESS: f32 = 0.541_196_1;
    const MORE: f32 = 1.306_563;
    for i in 0..GROUP {
        let (s0, s1, s2, s3) = (r0[i] + r7[i], r1[i] + r6[i], r2[i] + r5[i], r3[i] + r4[i]);
        let (d0, d1, d2, d3) = (r0[i] - r7[i], r1[i] - r6[i], r2[i] - r5[i], r3[i] - r4[i]);
        let (outer, inner) = (s0 + s3, s1 + s2);
        let (outer_difference, inner_difference) = (s0 - s3, s1 - s2);
        let middle = (inner_difference + outer_difference) * QUARTER;
        f0[i] = outer + inner;
        f4[i] = outer - inner;
        f2[i] = outer_difference + middle;
        f6[i] = outer_difference - middle;
        let (low, mid, high) = (d3 + d2, d2 + d1, d1 + d0);
        let turn = (low - high) * EIGHTH;
        let low = low * LESS + turn;
        let high = high * MORE + turn;
        let mid = mid * QUARTER;
        let (sum, difference) = (d0 + mid, d0 - mid);
        f5[i] = difference + low;
        f3[i] = difference - low;
        f1[i] = sum + high;
        f7[i] = sum - high;
    }
}

row_kernel! {
    /// Luminance and both colour differences of a row, all about zero: ITU-T T.871, 7, before rounding. The rows are as long as
    /// the picture is wide.
    fn separate(rgb: &[u8], luminance: &mut [f32], blue: &mut [f32], red: &mut [f32]) {
        let pixels = rgb.as_chunks::<3>().0.iter();
        for (((pixel, y), cb), cr) in pixels.zip(luminance).zip(blue).zip(red) {
            let [r, g, b] = pixel.map(f32::from);
            *y = 0.299 * r + 0.587 * g + 0.114 * b - 128.0;
            *cb = -0.168_735_9 * r - 0.331_264_1 * g + 0.5 * b;
            *cr = 0.5 * r - 0.418_687_6 * g - 0.081_312_41 * b;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::kernel::hold_together;

    /// Samples from -128 to 127 without order.
    fn rows(seed: usize, length: usize) -> [Vec<f32>; SIDE] {
        let sample = |at: usize| ((at * 7919 + seed * 104_729) % 2551) as f32 / 10.0 - 128.0;
        std::array::from_fn(|row| (0..length).map(|x| sample(row * length + x)).collect())
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
        for seed in 0..4 {
            let rows = rows(seed, GROUP);
            let mut blocks = [[0; COEFFICIENTS]; GROUP / SIDE];
            quantise(&rows, &transform, &mut blocks);
            for (number, block) in blocks.iter().enumerate() {
                for (at, &found) in block.iter().enumerate() {
                    let sample = |x: usize, y: usize| f64::from(rows[y][number * SIDE + x]);
                    let exact = plain(sample, at / SIDE, at % SIDE) / f64::from(steps[at]);
                    // Half a step of rounding, and what single precision loses.
                    assert!(
                        (f64::from(found) - exact).abs() < 0.501,
                        "{seed} {number} {at}"
                    );
                }
            }
        }
    }

    #[test]
    fn colours_are_separated_as_the_standard_says() {
        // T.871, 7: white, black, and the corners of the cube.
        for (rgb, expected) in [
            ([255, 255, 255], [127.0, 0.0, 0.0]),
            ([0, 0, 0], [-128.0, 0.0, 0.0]),
            ([255, 0, 0], [-51.755, -43.027_65, 127.5]),
            ([0, 0, 255], [-98.93, 127.5, -20.734_66]),
        ] {
            let (mut y, mut cb, mut cr) = ([0.0], [0.0], [0.0]);
            separate(&rgb, &mut y, &mut cb, &mut cr);
            for (found, expected) in [y[0], cb[0], cr[0]].iter().zip(expected) {
                assert!(
                    (found - expected).abs() < 1e-3,
                    "{rgb:?}: {found} {expected}"
                );
            }
        }
    }

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&separate::levels(), |separate, length| {
            let rgb: Vec<u8> = (0..3 * length).map(|at| (at * 89 % 256) as u8).collect();
            let mut rows = [const { Vec::new() }; 3];
            rows.fill(vec![0.0; length]);
            let [y, cb, cr] = &mut rows;
            separate(&rgb, y, cb, cr);
            rows.concat()
        });
        let transform = Transform::new(&[3; COEFFICIENTS]);
        hold_together(&quantise::levels(), |quantise, count| {
            let rows = rows(count, (count * SIDE).next_multiple_of(GROUP));
            let mut blocks = vec![[0; COEFFICIENTS]; count];
            quantise(&rows, &transform, &mut blocks);
            blocks
                .as_flattened()
                .iter()
                .map(|&c| f32::from(c))
                .collect()
        });
    }
}
