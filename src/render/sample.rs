//! The numbers of a finished picture: 8 or 16 bits a channel.

use crate::base::kernel::row_kernel;
use crate::colour::codes::encode_row_8bit;
use crate::colour::output_space::OutputSpace;

/// One channel of a finished pixel.
pub trait Sample: Copy + Default + PartialEq + std::fmt::Debug + Send + Sync + 'static {
    /// How many bits it has.
    const BITS: u32;

    /// Linear rows of a space's primaries to its interleaved signal, clamped to 0 to 1 and rounded half up; `codes` holds
    /// three numbers a pixel. The rows are left as the signal or as they were.
    fn encode(space: OutputSpace, rows: [&mut [f32]; 3], codes: &mut [Self]);
}

impl Sample for u8 {
    const BITS: u32 = 8;

    fn encode(space: OutputSpace, [red, green, blue]: [&mut [f32]; 3], codes: &mut [Self]) {
        encode_row_8bit(space.transfer(), red, green, blue, codes);
    }
}

impl Sample for u16 {
    const BITS: u32 = 16;

    fn encode(space: OutputSpace, [red, green, blue]: [&mut [f32]; 3], codes: &mut [Self]) {
        for row in [&mut *red, &mut *green, &mut *blue] {
            space.transfer().encode_row(row);
        }
        round_to_16_bits(red, green, blue, codes);
    }
}

row_kernel! {
    /// Signals from 0 to 1 to interleaved codes of 16 bits.
    fn round_to_16_bits(red: &[f32], green: &[f32], blue: &[f32], codes: &mut [u16]) {
        for (((code, r), g), b) in codes.as_chunks_mut::<3>().0.iter_mut().zip(red).zip(green).zip(blue) {
            *code = [
                (r * 65_535.0 + 0.5) as u16,
                (g * 65_535.0 + 0.5) as u16,
                (b * 65_535.0 + 0.5) as u16,
            ];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    fn signals(seed: usize, length: usize) -> Vec<f32> {
        let row = unordered_row(seed, length);
        row.iter().map(|value| value.clamp(0.0, 1.0)).collect()
    }

    #[test]
    fn every_copy_gives_the_same_codes() {
        hold_together(&round_to_16_bits::levels(), |kernel, length| {
            let mut codes = vec![0; 3 * length];
            let [red, green, blue] = [1, 2, 3].map(|seed| signals(seed, length));
            kernel(&red, &green, &blue, &mut codes);
            codes.into_iter().map(f32::from).collect()
        });
    }

    /// Both depths hold what the plain curve says: every code within one half of a step, and the fast curve's error.
    #[test]
    fn codes_are_those_of_the_plain_curve() {
        let values: Vec<f32> = (0..=9973_u16)
            .map(|step| (f32::from(step) / 9973.0).powi(2))
            .collect();
        for space in OutputSpace::ALL {
            let mut fine = vec![0_u16; 3 * values.len()];
            let mut coarse = vec![0_u8; 3 * values.len()];
            let mut rows = [values.clone(), values.clone(), values.clone()];
            let [red, green, blue] = &mut rows;
            u8::encode(space, [red, green, blue], &mut coarse);
            let mut rows = [values.clone(), values.clone(), values.clone()];
            let [red, green, blue] = &mut rows;
            u16::encode(space, [red, green, blue], &mut fine);
            for (index, value) in values.iter().enumerate() {
                let signal = space.transfer().encode(f64::from(*value));
                let [fine, coarse] = [
                    f64::from(fine[3 * index]) / 65_535.0,
                    f64::from(coarse[3 * index + 1]) / 255.0,
                ];
                assert!((fine - signal).abs() < 0.5 / 65_535.0 + 3.1e-6, "{value}");
                assert!((coarse - signal).abs() < 0.5 / 255.0 + 3.1e-6, "{value}");
            }
        }
    }
}
