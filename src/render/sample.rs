//! The numbers of a finished picture: 8 or 16 bits a channel.
//!
//! A finished row is all of its red, then its green, then its blue: what is made of a channel lies together, as vectors make it and
//! JPEG takes it. Whoever wants pixels interleaves rows ([`Sample::interleave`]).

use crate::base::kernel::row_kernel;
use crate::colour::codes::encode_row_8bit;
use crate::colour::output_space::OutputSpace;

/// One channel of a finished pixel.
pub trait Sample: Copy + Default + PartialEq + std::fmt::Debug + Send + Sync + 'static {
    /// How many bits it has.
    const BITS: u32;

    /// A linear row of one channel of a space to its signal, clamped to 0 to 1 and rounded half up: as many `codes` as it has
    /// values. The row is left as the signal or as it was.
    fn encode(space: OutputSpace, row: &mut [f32], codes: &mut [Self]);

    /// A finished row to pixels, red, green and blue by turns. Both have three numbers a pixel.
    fn interleave(row: &[Self], pixels: &mut [Self]);
}

impl Sample for u8 {
    const BITS: u32 = 8;

    fn encode(space: OutputSpace, row: &mut [f32], codes: &mut [Self]) {
        encode_row_8bit(space.transfer(), row, codes);
    }

    fn interleave(row: &[Self], pixels: &mut [Self]) {
        interleave_8_bits(row, pixels);
    }
}

impl Sample for u16 {
    const BITS: u32 = 16;

    fn encode(space: OutputSpace, row: &mut [f32], codes: &mut [Self]) {
        space.transfer().encode_row(row);
        round_to_16_bits(row, codes);
    }

    fn interleave(row: &[Self], pixels: &mut [Self]) {
        interleave_16_bits(row, pixels);
    }
}

/// Linear rows of red, green and blue to one finished row.
pub(crate) fn finish_row<S: Sample>(space: OutputSpace, rows: [&mut [f32]; 3], codes: &mut [S]) {
    let width = codes.len() / 3;
    for (row, codes) in rows.into_iter().zip(codes.chunks_exact_mut(width)) {
        S::encode(space, row, codes);
    }
}

/// Finished rows of `width` pixels, at least 1, to pixels, red, green and blue by turns, behind those that are there.
pub fn interleave_rows<S: Sample>(width: usize, rows: &[S], pixels: &mut Vec<S>) {
    let start = pixels.len();
    pixels.resize(start + rows.len(), S::default());
    let made = pixels[start..].chunks_exact_mut(3 * width);
    for (row, pixels) in rows.chunks_exact(3 * width).zip(made) {
        S::interleave(row, pixels);
    }
}

#[inline(always)]
fn interleave<S: Sample>(row: &[S], pixels: &mut [S]) {
    let width = row.len() / 3;
    let [red, green, blue] = std::array::from_fn(|channel| &row[channel * width..][..width]);
    let pixels = pixels.as_chunks_mut::<3>().0.iter_mut();
    for (((pixel, r), g), b) in pixels.zip(red).zip(green).zip(blue) {
        *pixel = [*r, *g, *b];
    }
}

row_kernel! {
    fn interleave_8_bits(row: &[u8], pixels: &mut [u8]) {
        interleave(row, pixels);
    }
}

row_kernel! {
    fn interleave_16_bits(row: &[u16], pixels: &mut [u16]) {
        interleave(row, pixels);
    }
}

row_kernel! {
    /// A signal from 0 to 1 to codes of 16 bits.
    fn round_to_16_bits(signal: &[f32], codes: &mut [u16]) {
        for (code, value) in codes.iter_mut().zip(signal) {
            *code = (value * 65_535.0 + 0.5) as u16;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_codes() {
        hold_together(&round_to_16_bits::levels(), |kernel, length| {
            let row = unordered_row(1, length);
            let signal: Vec<f32> = row.iter().map(|value| value.clamp(0.0, 1.0)).collect();
            let mut codes = vec![0; length];
            kernel(&signal, &mut codes);
            codes.into_iter().map(f32::from).collect()
        });
    }

    /// A row, interleaved: every pixel is looked at.
    fn interleaved<S: Sample>(kernel: fn(&[S], &mut [S]), row: &[S]) -> Vec<S> {
        let mut pixels = vec![S::default(); row.len()];
        kernel(row, &mut pixels);
        let width = row.len() / 3;
        for (x, pixel) in pixels.as_chunks::<3>().0.iter().enumerate() {
            assert_eq!(*pixel, [row[x], row[width + x], row[2 * width + x]]);
        }
        pixels
    }

    #[test]
    fn a_row_is_interleaved_pixel_by_pixel_by_every_copy() {
        hold_together(&interleave_8_bits::levels(), |kernel, width| {
            let row: Vec<u8> = (0..3 * width).map(|at| (at * 89 % 251) as u8).collect();
            let pixels = interleaved(kernel, &row);
            pixels.into_iter().map(f32::from).collect()
        });
        hold_together(&interleave_16_bits::levels(), |kernel, width| {
            let row = (0..3 * width).map(|at| (at * 7919 % 65_521) as u16);
            let pixels = interleaved(kernel, &row.collect::<Vec<u16>>());
            pixels.into_iter().map(f32::from).collect()
        });
    }

    /// Both depths hold what the plain curve says: every code within one half of a step, and the fast curve's error.
    #[test]
    fn codes_are_those_of_the_plain_curve() {
        let values: Vec<f32> = (0..=9973_u16)
            .map(|step| (f32::from(step) / 9973.0).powi(2))
            .collect();
        for space in OutputSpace::ALL {
            let mut fine = vec![0_u16; values.len()];
            let mut coarse = vec![0_u8; values.len()];
            u8::encode(space, &mut values.clone(), &mut coarse);
            u16::encode(space, &mut values.clone(), &mut fine);
            for ((value, fine), coarse) in values.iter().zip(fine).zip(coarse) {
                let signal = space.transfer().encode(f64::from(*value));
                let [fine, coarse] = [f64::from(fine) / 65_535.0, f64::from(coarse) / 255.0];
                assert!((fine - signal).abs() < 0.5 / 65_535.0 + 3.1e-6, "{value}");
                assert!((coarse - signal).abs() < 0.5 / 255.0 + 3.1e-6, "{value}");
            }
        }
    }
}
