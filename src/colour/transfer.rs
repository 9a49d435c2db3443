//! The transfer curves of delivered pictures, exactly as IEC 61966-2-1 (sRGB) and ITU-R BT.2020-2 state them, and their
//! fast versions for rows of pixels.
//!
//! The plain pairs work in double precision. Rows use tables made from them: one turns a linear value into the 8-bit
//! sRGB code that the plain curve rounds to, always the same code; others, one a curve, interpolate the encoded value.
//! All find their entry from the leading bits of the number itself (exponent and seven bits of the fraction), so the
//! steps are as fine in the dark as the curve is steep there. A polynomial was the simpler way, but cannot promise the
//! plain curve's code.

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

/// The 8-bit code of linear light: clamped to 0 to 1 (NaN to 0), encoded, rounded half up. The plain twin of
/// [`encode_row_8bit`].
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

/// Bits of the fraction that pick a bucket: 128 to an octave. With 64 the topmost octave has two code boundaries in
/// one bucket.
const FRACTION_BITS: u32 = 7;
/// The lowest octave of the tables: below 2⁻¹³ every value has code 0, and the encoded value is on the straight line.
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

/// Entries of the code table: one bucket more for the value 1 itself, filled up to a power of two, so that a look-up
/// needs no check.
const CODE_ENTRIES: usize = (BUCKETS + 1).next_power_of_two();

/// For each bucket one number: its first value's code in the upper half, and in the lower half what must be added to
/// the place within the bucket to carry into the code from the next code's first value on. One look-up and one sum then
/// give the code.
fn code_table() -> &'static [u32; CODE_ENTRIES] {
    static TABLE: OnceLock<[u32; CODE_ENTRIES]> = OnceLock::new();
    TABLE.get_or_init(|| {
        std::array::from_fn(|bucket| {
            let start = bucket_start(bucket.min(BUCKETS));
            let code = srgb_code(start);
            let places_to_next = first_of_next_code(code).to_bits() - start.to_bits();
            let carry = (1_u32 << SHIFT).saturating_sub(places_to_next);
            (u32::from(code) << SHIFT) + carry
        })
    })
}

/// The smallest number that is encoded above `code`; beyond 1 for the last.
fn first_of_next_code(code: u8) -> f32 {
    if code == u8::MAX {
        return f32::INFINITY;
    }
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a first guess, settled below"
    )]
    let mut boundary = srgb_decode((f64::from(code) + 0.5) / 255.0) as f32;
    while srgb_code(boundary) > code {
        boundary = boundary.next_down();
    }
    while srgb_code(boundary) <= code {
        boundary = boundary.next_up();
    }
    boundary
}

/// Linear rows to interleaved 8-bit sRGB. `codes` holds three bytes a pixel; what is beyond the shortest stays. Equals
/// [`srgb_code`] on every number.
pub fn encode_row_8bit(red: &[f32], green: &[f32], blue: &[f32], codes: &mut [u8]) {
    encode_pixels(code_table(), red, green, blue, codes.as_chunks_mut::<3>().0);
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn encode_pixels(
    table: &[u32; CODE_ENTRIES],
    red: &[f32],
    green: &[f32],
    blue: &[f32],
    pixels: &mut [[u8; 3]],
) {
    /// Values that are looked up side by side before they are interleaved.
    const BLOCK: usize = 64;
    let mut codes = [[0_u8; BLOCK]; 3];
    let blocks = pixels
        .chunks_mut(BLOCK)
        .zip(red.chunks(BLOCK))
        .zip(green.chunks(BLOCK))
        .zip(blue.chunks(BLOCK));
    for (((pixels, red), green), blue) in blocks {
        for (codes, row) in codes.iter_mut().zip([red, green, blue]) {
            for (code, value) in codes.iter_mut().zip(row) {
                *code = look_up(table, *value);
            }
        }
        let length = red.len().min(green.len()).min(blue.len());
        for (index, pixel) in pixels.iter_mut().take(length).enumerate() {
            *pixel = [codes[0][index], codes[1][index], codes[2][index]];
        }
    }
}

#[inline(always)]
fn look_up(table: &[u32; CODE_ENTRIES], linear: f32) -> u8 {
    const PLACE: u32 = (1 << SHIFT) - 1;
    let value = linear.max(LOWEST).min(1.0);
    let entry = table[bucket_of(value) & (CODE_ENTRIES - 1)];
    #[expect(clippy::cast_possible_truncation, reason = "codes end at 255")]
    let code = ((entry + (value.to_bits() & PLACE)) >> SHIFT) as u8;
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

    #[test]
    fn the_fast_codes_are_the_plain_codes_at_every_boundary() {
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
        for code in 0..=254 {
            let boundary = first_of_next_code(code);
            values.extend([boundary.next_down(), boundary, boundary.next_up()]);
        }
        for bucket in 0..=BUCKETS {
            let start = bucket_start(bucket);
            values.extend([start.next_down(), start, start.next_up()]);
        }
        // A prime step, so that no bucket is met at one place only.
        values.extend((0..65_521_u16).map(|step| f32::from(step) / 65_521.0));
        let mut codes = vec![0; values.len() * 3];
        encode_row_8bit(&values, &values, &values, &mut codes);
        for (value, code) in values.iter().zip(codes.as_chunks::<3>().0) {
            assert_eq!(*code, [srgb_code(*value); 3], "{value}");
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
            encode_row_8bit(&row, &row, &row, &mut codes);
            let (worked, beyond) = codes.split_at(length * 3);
            assert!(worked.iter().all(|code| *code == 118));
            assert!(beyond.iter().all(|code| *code == 7));
        }
    }
}
