//! Linear light to codes of 8 bits, in rows.
//!
//! A polynomial of the square root is within a thousandth of a code over one part of the curve, and the other part is the same
//! curve with other factors: a power of k times the light is k's power times the light's. Vectors do it in a third of the time that
//! looking up takes.

use crate::base::arithmetic::ROUNDER;
use crate::base::kernel::row_kernel;
use crate::colour::transfer::{BT2020_KNEE, BT2020_SLOPE, KNEE, SLOPE, Transfer};

/// How a curve's codes of 8 bits are computed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EightBits {
    /// Linear values below this are on the straight line.
    knee: f32,
    /// Codes there, for a linear value of 1.
    slope: f32,
    /// Linear values below this are multiplied with `lift`, which brings those above the knee to where the polynomial holds: from
    /// `dark_end`, the root of the knee, to 1.
    dark_end: f32,
    lift: f32,
    /// Codes of what was lifted: what the polynomial gives is multiplied with the first, and the second added.
    lowered: [f32; 2],
    /// Codes from `dark_end` on: a polynomial of the linear value's root, lowest power first.
    curve: [f32; 8],
}

/// Largest distance of the computed code from the true one before both are rounded: the polynomials' 2.5e-4 and 1.1e-5,
/// and what single precision loses. Codes are the nearest but for signals that are this near to the middle of two.
#[cfg(test)]
const CODE_ERROR: f64 = 6e-4;

/// The polynomials have the least largest error from the knee's root to 1, by Remez' exchange.
#[expect(
    clippy::cast_possible_truncation,
    reason = "constants of the standards"
)]
const SRGB_CODES: EightBits = EightBits {
    knee: KNEE as f32,
    slope: (255.0 * SLOPE) as f32,
    dark_end: 0.055_953_55,
    lift: 17.871_966,
    lowered: [0.300_788_7, -9.806_438],
    curve: [
        -8.836_418,
        371.857_77,
        -313.977_34,
        534.598_43,
        -669.338_55,
        539.772_3,
        -248.549_98,
        49.474_04,
    ],
};
#[expect(
    clippy::cast_possible_truncation,
    reason = "constants of the standards"
)]
const BT2020_CODES: EightBits = EightBits {
    knee: BT2020_KNEE as f32,
    slope: (255.0 * BT2020_SLOPE) as f32,
    dark_end: 0.134_365_06,
    lift: 7.442_411,
    lowered: [0.405_255_44, -15.059_343],
    curve: [
        -22.083_882,
        336.182_74,
        -148.408_47,
        205.947_45,
        -217.853_23,
        151.680_52,
        -61.348_51,
        10.883_391,
    ],
};

/// A linear row of one channel to its signal in 8 bits, clamped to 0 to 1 (NaN to 0). What is beyond the shorter stays. Codes are
/// those nearest to [`Transfer::encode`], but for signals that are within a thousandth of a code of the middle between two.
pub fn encode_row_8bit(transfer: Transfer, linear: &[f32], codes: &mut [u8]) {
    let curve = match transfer {
        Transfer::Srgb => SRGB_CODES,
        Transfer::Bt2020 => BT2020_CODES,
    };
    let length = linear.len().min(codes.len());
    encode_row(curve, &linear[..length], &mut codes[..length]);
}

row_kernel! {
    /// Two rows of one length.
    fn encode_row(curve: EightBits, linear: &[f32], codes: &mut [u8]) {
        for (code, linear) in codes.iter_mut().zip(linear) {
            *code = eight_bits(&curve, *linear);
        }
    }
}

#[inline(always)]
fn eight_bits(curve: &EightBits, linear: f32) -> u8 {
    let linear = linear.max(0.0).min(1.0);
    let lifted = if linear < curve.dark_end {
        linear * curve.lift
    } else {
        linear
    };
    let root = lifted.sqrt();
    // Even and odd powers apart: two short chains that do not wait for the root.
    let [c0, c1, c2, c3, c4, c5, c6, c7] = curve.curve;
    let even = c6
        .mul_add(lifted, c4)
        .mul_add(lifted, c2)
        .mul_add(lifted, c0);
    let odd = c7
        .mul_add(lifted, c5)
        .mul_add(lifted, c3)
        .mul_add(lifted, c1);
    let upper = odd.mul_add(root, even);
    // Asked another way than above: of the same question a compiler would make two loops' work.
    let curved = if lifted > linear {
        upper.mul_add(curve.lowered[0], curve.lowered[1])
    } else {
        upper
    };
    let straight = curve.slope * linear;
    let code = if linear < curve.knee {
        straight
    } else {
        curved
    };
    #[expect(clippy::cast_possible_truncation, reason = "codes end at 255")]
    let code = (code + ROUNDER).to_bits() as u8;
    code
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    const BOTH: [Transfer; 2] = [Transfer::Srgb, Transfer::Bt2020];

    /// The code before rounding, plainly.
    fn true_code(transfer: Transfer, linear: f32) -> f64 {
        255.0 * transfer.encode(f64::from(linear.max(0.0).min(1.0)))
    }

    fn codes_of(transfer: Transfer, values: &[f32]) -> Vec<u8> {
        let mut codes = vec![0; values.len()];
        encode_row_8bit(transfer, values, &mut codes);
        codes
    }

    #[test]
    fn the_fast_codes_are_the_nearest_within_their_stated_error() {
        let mut values = vec![
            f32::NAN,
            -1.0,
            -0.0,
            0.0,
            f32::MIN_POSITIVE,
            1.0,
            1.5,
            f32::INFINITY,
        ];
        // A prime step, and every octave below as densely.
        for octave in 0..14 {
            let scale = 0.5_f32.powi(octave);
            values.extend((0..65_521_u16).map(|step| scale * f32::from(step) / 65_521.0));
        }
        for transfer in BOTH {
            // Around the middle between every two codes, just beyond the stated error, the code is the nearest.
            for code in 0..255 {
                for side in [-1.001, 1.001] {
                    let signal = (f64::from(code) + 0.5 + side * CODE_ERROR) / 255.0;
                    values.push(transfer.decode(signal) as f32);
                }
            }
            for (value, code) in values.iter().zip(codes_of(transfer, &values)) {
                let off = (f64::from(code) - true_code(transfer, *value)).abs();
                assert!(off <= 0.5 + CODE_ERROR, "{value}: {code}");
            }
        }
        for value in [f32::NAN, -1.0] {
            assert_eq!(codes_of(Transfer::Srgb, &[value]), [0]);
        }
        for value in [1.0, 1.5, f32::INFINITY] {
            assert_eq!(codes_of(Transfer::Bt2020, &[value]), [255]);
        }
    }

    #[test]
    fn every_copy_gives_the_plain_codes() {
        for curve in [SRGB_CODES, BT2020_CODES] {
            hold_together(&encode_row::levels(), |kernel, length| {
                let linear = unordered_row(3, length);
                let mut codes = vec![0; length];
                kernel(curve, &linear, &mut codes);
                codes.into_iter().map(f32::from).collect()
            });
        }
    }

    #[test]
    fn rows_of_any_length() {
        for length in [0, 1, 2, 15, 16, 17, 31, 32, 50] {
            let row = vec![0.18; length];
            // Room for more than the row has: it stays as it was.
            let mut codes = vec![7; length + 40];
            encode_row_8bit(Transfer::Srgb, &row, &mut codes);
            let (worked, beyond) = codes.split_at(length);
            assert!(worked.iter().all(|code| *code == 118));
            assert!(beyond.iter().all(|code| *code == 7));
        }
    }
}
