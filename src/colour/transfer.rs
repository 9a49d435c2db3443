//! The transfer curves of delivered pictures, exactly as IEC 61966-2-1 (sRGB) and ITU-R BT.2020-2 state them, and their
//! fast versions for rows of pixels.
//!
//! The plain pairs work in double precision. Rows of 16 bits use tables made from them, one a curve, that interpolate the
//! encoded value; they find their entry from the leading bits of the number itself (exponent and seven bits of the
//! fraction), so the steps are as fine in the dark as the curve is steep there. Rows of 8 bits need less: a polynomial of
//! the number's fourth root, where both curves are nearly straight, is within a thousandth of a code, and vectors do it in
//! a third of the time that looking up takes.

use std::sync::OnceLock;

/// Linear values up to this are encoded on a straight line (IEC 61966-2-1, 5.2).
const KNEE: f64 = 0.003_130_8;
/// The knee as an encoded value.
const ENCODED_KNEE: f64 = 0.040_45;
/// Slope of the straight line.
const SLOPE: f64 = 12.92;
/// Offset and exponent of the curved part.
const OFFSET: f64 = 0.055;
const EXPONENT: f64 = 2.4;

/// A curve between linear light and signal, both nominally 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Transfer {
    /// IEC 61966-2-1.
    Srgb,
    /// ITU-R BT.2020-2, table 4, with the constants that make its two parts meet exactly.
    Bt2020,
}

/// α and β of ITU-R BT.2020-2 to more digits than its table has: where 4.5 β = α β^0.45 - (α - 1) and both slopes agree.
const BT2020_ALPHA: f64 = 1.099_296_826_809_442;
const BT2020_KNEE: f64 = 0.018_053_968_510_807;
const BT2020_SLOPE: f64 = 4.5;
const BT2020_EXPONENT: f64 = 0.45;

impl Transfer {
    /// Linear light to signal. Negative values stay on the straight line, values above 1 on the curve; callers clamp.
    #[must_use]
    pub fn encode(self, linear: f64) -> f64 {
        match self {
            Self::Srgb => srgb_encode(linear),
            Self::Bt2020 if linear < BT2020_KNEE => BT2020_SLOPE * linear,
            Self::Bt2020 => BT2020_ALPHA * linear.powf(BT2020_EXPONENT) - (BT2020_ALPHA - 1.0),
        }
    }

    /// Signal to linear light, the inverse.
    #[must_use]
    pub fn decode(self, signal: f64) -> f64 {
        match self {
            Self::Srgb => srgb_decode(signal),
            Self::Bt2020 if signal < BT2020_SLOPE * BT2020_KNEE => signal / BT2020_SLOPE,
            Self::Bt2020 => {
                ((signal + (BT2020_ALPHA - 1.0)) / BT2020_ALPHA).powf(1.0 / BT2020_EXPONENT)
            }
        }
    }

    /// The decoding as ICC's parametric curve of type 3 (ICC.1:2010, 10.16): Y = (a X + b)^g from X = d on, c X below;
    /// g, a, b, c, d.
    #[must_use]
    pub fn parameters(self) -> [f64; 5] {
        match self {
            Self::Srgb => [
                EXPONENT,
                1.0 / (1.0 + OFFSET),
                OFFSET / (1.0 + OFFSET),
                1.0 / SLOPE,
                ENCODED_KNEE,
            ],
            Self::Bt2020 => [
                1.0 / BT2020_EXPONENT,
                1.0 / BT2020_ALPHA,
                (BT2020_ALPHA - 1.0) / BT2020_ALPHA,
                1.0 / BT2020_SLOPE,
                BT2020_SLOPE * BT2020_KNEE,
            ],
        }
    }

    /// Slope of the straight part, at black.
    fn slope(self) -> f64 {
        match self {
            Self::Srgb => SLOPE,
            Self::Bt2020 => BT2020_SLOPE,
        }
    }

    /// Linear light to signal in place, clamped to 0 to 1 (NaN to 0). Within 3e-6 of [`Transfer::encode`], less than
    /// half a step of 16 bits.
    pub fn encode_row(self, row: &mut [f32]) {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a constant of the standard"
        )]
        encode_by(signal_table(self), self.slope() as f32, row);
    }
}

/// Linear light to the sRGB signal, both nominally 0 to 1. Negative values stay on the straight line, values above 1
/// on the curve; callers clamp.
#[must_use]
pub fn srgb_encode(linear: f64) -> f64 {
    if linear <= KNEE {
        SLOPE * linear
    } else {
        (1.0 + OFFSET) * linear.powf(1.0 / EXPONENT) - OFFSET
    }
}

/// The sRGB signal to linear light. Negative values stay on the straight line, values above 1 on the curve.
#[must_use]
pub fn srgb_decode(encoded: f64) -> f64 {
    if encoded <= ENCODED_KNEE {
        encoded / SLOPE
    } else {
        ((encoded + OFFSET) / (1.0 + OFFSET)).powf(EXPONENT)
    }
}

/// The 8-bit sRGB code of linear light: clamped to 0 to 1 (NaN to 0), encoded, rounded half up.
#[must_use]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to 0 to 1 before, so the code is 0 to 255"
)]
pub fn srgb_code(linear: f32) -> u8 {
    let clamped = f64::from(linear.max(0.0).min(1.0));
    (srgb_encode(clamped) * 255.0 + 0.5).floor() as u8
}

/// Linear light of every 8-bit code.
#[must_use]
pub fn linear_of_codes() -> &'static [f32; 256] {
    static CODES: OnceLock<[f32; 256]> = OnceLock::new();
    CODES.get_or_init(|| {
        let mut code = 0.0;
        [0.0; 256].map(|_: f32| {
            let linear = srgb_decode(code / 255.0);
            code += 1.0;
            #[expect(
                clippy::cast_possible_truncation,
                reason = "rounding to single precision is meant"
            )]
            let linear = linear as f32;
            linear
        })
    })
}

/// Bits of the fraction that pick a bucket: 128 to an octave.
const FRACTION_BITS: u32 = 7;
/// The lowest octave of the tables: below 2⁻¹³ the encoded value is on the straight line.
const LOWEST: f32 = 1.0 / 8192.0;
const BUCKETS: usize = 13 << FRACTION_BITS;
const SHIFT: u32 = f32::MANTISSA_DIGITS - 1 - FRACTION_BITS;

/// Start of a bucket.
fn bucket_start(bucket: usize) -> f32 {
    #[expect(clippy::cast_possible_truncation, reason = "at most BUCKETS")]
    let bits = (LOWEST.to_bits() >> SHIFT) + bucket as u32;
    f32::from_bits(bits << SHIFT)
}

/// Bucket of a value that was clamped to LOWEST to 1 (1 itself gives BUCKETS).
#[inline(always)]
fn bucket_of(value: f32) -> usize {
    ((value.to_bits() >> SHIFT) - (LOWEST.to_bits() >> SHIFT)) as usize
}

/// How a curve's codes of 8 bits are computed.
#[derive(Clone, Copy, Debug)]
struct EightBits {
    /// Linear values below this are on the straight line.
    knee: f32,
    /// Codes there, for a linear value of 1.
    slope: f32,
    /// Codes above it: a polynomial of the linear value's fourth root, lowest power first.
    curve: [f32; 7],
}

/// Largest distance of the computed code from the true one before both are rounded: the polynomials' 3.6e-4 and 2.7e-5,
/// and what single precision loses. Codes are the nearest but for signals that are this near to the middle of two.
#[cfg(test)]
const CODE_ERROR: f64 = 6e-4;

/// The polynomials have the least largest error from the knee to 1, by Remez' exchange.
#[expect(
    clippy::cast_possible_truncation,
    reason = "constants of the standards"
)]
const SRGB_CODES: EightBits = EightBits {
    knee: KNEE as f32,
    slope: (255.0 * SLOPE) as f32,
    curve: [
        -15.183_474,
        35.588_63,
        348.357_2,
        -217.613_79,
        167.720_17,
        -81.284_29,
        17.415_912,
    ],
};
#[expect(
    clippy::cast_possible_truncation,
    reason = "constants of the standards"
)]
const BT2020_CODES: EightBits = EightBits {
    knee: BT2020_KNEE as f32,
    slope: (255.0 * BT2020_SLOPE) as f32,
    curve: [
        -26.232_85,
        20.308_292,
        327.816_7,
        -115.133_37,
        72.924_69,
        -30.441_318,
        5.757_890_6,
    ],
};

/// Linear rows to interleaved signals of 8 bits, clamped to 0 to 1 (NaN to 0). `codes` holds three bytes a pixel; what is
/// beyond the shortest stays. Codes are those nearest to [`Transfer::encode`], but for signals that are within a thousandth of a
/// code of the middle between two.
pub fn encode_row_8bit(
    transfer: Transfer,
    red: &[f32],
    green: &[f32],
    blue: &[f32],
    codes: &mut [u8],
) {
    let curve = match transfer {
        Transfer::Srgb => SRGB_CODES,
        Transfer::Bt2020 => BT2020_CODES,
    };
    encode_pixels(&curve, red, green, blue, codes.as_chunks_mut::<3>().0);
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn encode_pixels(
    curve: &EightBits,
    red: &[f32],
    green: &[f32],
    blue: &[f32],
    pixels: &mut [[u8; 3]],
) {
    encode_pixels_plain(curve, red, green, blue, pixels);
}

#[inline(always)]
fn encode_pixels_plain(
    curve: &EightBits,
    red: &[f32],
    green: &[f32],
    blue: &[f32],
    pixels: &mut [[u8; 3]],
) {
    /// Values that are encoded side by side before they are interleaved.
    const BLOCK: usize = 512;
    let mut codes = [[0_u8; BLOCK]; 3];
    let blocks = pixels
        .chunks_mut(BLOCK)
        .zip(red.chunks(BLOCK))
        .zip(green.chunks(BLOCK))
        .zip(blue.chunks(BLOCK));
    for (((pixels, red), green), blue) in blocks {
        for (codes, row) in codes.iter_mut().zip([red, green, blue]) {
            for (code, linear) in codes.iter_mut().zip(row) {
                *code = eight_bits(curve, *linear);
            }
        }
        let length = red.len().min(green.len()).min(blue.len());
        let [red, green, blue] = codes.each_ref().map(|codes| &codes[..length]);
        for (((pixel, r), g), b) in pixels.iter_mut().zip(red).zip(green).zip(blue) {
            *pixel = [*r, *g, *b];
        }
    }
}

#[inline(always)]
fn eight_bits(curve: &EightBits, linear: f32) -> u8 {
    /// Added, this rounds a number below 2^22 and moves it into the lowest bits of the sum's fraction.
    const WHOLE: f32 = 12_582_912.0;
    let linear = linear.max(0.0).min(1.0);
    // Its square and its fourth power are known, which makes short chains of products.
    let square = linear.sqrt();
    let root = square.sqrt();
    let [c0, c1, c2, c3, c4, c5, c6] = curve.curve;
    let low = (c3 * root + c2) * square + (c1 * root + c0);
    let high = c6 * square + (c5 * root + c4);
    let curved = high * linear + low;
    let straight = curve.slope * linear;
    let code = if linear < curve.knee {
        straight
    } else {
        curved
    };
    #[expect(clippy::cast_possible_truncation, reason = "codes end at 255")]
    let code = (code + WHOLE).to_bits() as u8;
    code
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn encode_by(table: &[(f32, f32, f32)], slope_at_black: f32, row: &mut [f32]) {
    for value in row {
        let clamped = value.max(0.0).min(1.0);
        let bounded = clamped.max(LOWEST);
        let (start, signal, slope) = table[bucket_of(bounded)];
        let curved = signal + slope * (bounded - start);
        let straight = slope_at_black * clamped;
        *value = if clamped < LOWEST { straight } else { curved };
    }
}

fn signal_table(transfer: Transfer) -> &'static [(f32, f32, f32)] {
    static SRGB: OnceLock<Vec<(f32, f32, f32)>> = OnceLock::new();
    static BT2020: OnceLock<Vec<(f32, f32, f32)>> = OnceLock::new();
    let table = match transfer {
        Transfer::Srgb => &SRGB,
        Transfer::Bt2020 => &BT2020,
    };
    table.get_or_init(|| {
        (0..=BUCKETS)
            .map(|bucket| {
                let (start, end) = (bucket_start(bucket), bucket_start(bucket + 1));
                let signals = [start, end].map(|value| transfer.encode(f64::from(value)));
                let slope = (signals[1] - signals[0]) / f64::from(end - start);
                #[expect(
                    clippy::cast_possible_truncation,
                    reason = "rounding to single precision is meant"
                )]
                let entry = (start, signals[0] as f32, slope as f32);
                entry
            })
            .collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The code before rounding, plainly.
    fn true_code(transfer: Transfer, linear: f32) -> f64 {
        255.0 * transfer.encode(f64::from(linear.max(0.0).min(1.0)))
    }

    fn codes_of(transfer: Transfer, values: &[f32]) -> Vec<u8> {
        let mut codes = vec![0; values.len() * 3];
        encode_row_8bit(transfer, values, values, values, &mut codes);
        let pixels = codes.as_chunks::<3>().0.iter();
        pixels
            .map(|pixel| {
                assert!(pixel[0] == pixel[1] && pixel[0] == pixel[2]);
                pixel[0]
            })
            .collect()
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
    fn the_chosen_copy_gives_the_plain_codes() {
        for length in [0, 1, 15, 17, 63, 65, 511, 513, 1030] {
            let value = |at: usize, seed: usize| ((at * 7919 + seed) % 1009) as f32 / 960.0 - 0.02;
            let [red, green, blue] =
                [3, 5, 7].map(|seed| (0..length).map(|at| value(at, seed)).collect::<Vec<_>>());
            for curve in [SRGB_CODES, BT2020_CODES] {
                let (mut chosen, mut plain) = (vec![[0; 3]; length], vec![[0; 3]; length]);
                encode_pixels(&curve, &red, &green, &blue, &mut chosen);
                encode_pixels_plain(&curve, &red, &green, &blue, &mut plain);
                assert_eq!(chosen, plain, "{length}");
            }
        }
    }

    const BOTH: [Transfer; 2] = [Transfer::Srgb, Transfer::Bt2020];

    #[test]
    fn the_fast_signal_is_the_plain_signal_within_its_stated_error() {
        let values: Vec<f32> = (0..=262_139_u32)
            .map(|step| step as f32 / 262_139.0)
            .collect();
        for transfer in BOTH {
            let mut row = values.clone();
            transfer.encode_row(&mut row);
            for (signal, value) in row.iter().zip(&values) {
                let plain = transfer.encode(f64::from(*value));
                assert!(
                    (f64::from(*signal) - plain).abs() < 3e-6,
                    "{value}: {signal} {plain}"
                );
            }
            let mut ends = [f32::NAN, -3.0, 0.0, 1.0, 7.0];
            transfer.encode_row(&mut ends);
            assert_eq!(ends, [0.0, 0.0, 0.0, 1.0, 1.0]);
        }
    }

    #[test]
    fn curves_lead_back_meet_at_their_knee_and_are_their_parameters() {
        for transfer in BOTH {
            let [g, a, b, c, d] = transfer.parameters();
            for step in 0..=4001 {
                let signal = f64::from(step) / 4001.0;
                let linear = transfer.decode(signal);
                assert!((transfer.encode(linear) - signal).abs() < 2e-7);
                let by_parameters = if signal < d {
                    c * signal
                } else {
                    (a * signal + b).powf(g)
                };
                assert!((by_parameters - linear).abs() < 1e-7, "{signal}");
            }
        }
        // ITU-R BT.2020-2, table 4: E' = 4.5 E up to β = 0.0181 (12 bits), α = 1.0993.
        assert!((Transfer::Bt2020.encode(0.01) - 0.045).abs() < 1e-12);
        let grey = 1.0993 * 0.18_f64.powf(0.45) - 0.0993;
        assert!((Transfer::Bt2020.encode(0.18) - grey).abs() < 1e-5);
        let [below, above] = [-1e-9, 1e-9].map(|step| Transfer::Bt2020.encode(BT2020_KNEE + step));
        assert!((above - below).abs() < 1e-8);
    }

    #[test]
    fn rows_of_any_length() {
        for length in [0, 1, 2, 15, 16, 17, 31, 32, 50] {
            let row = vec![0.18; length];
            // Room for more pixels than the rows have: it stays as it was.
            let mut codes = vec![7; length * 3 + 40];
            encode_row_8bit(Transfer::Srgb, &row, &row, &row, &mut codes);
            let (worked, beyond) = codes.split_at(length * 3);
            assert!(worked.iter().all(|code| *code == 118));
            assert!(beyond.iter().all(|code| *code == 7));
        }
    }
}
