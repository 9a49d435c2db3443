//! The transfer curves of delivered pictures, exactly as IEC 61966-2-1 (sRGB) and ITU-R BT.2020-2 state them, and their
//! fast versions for rows of pixels.
//!
//! The plain pairs work in double precision. Rows use tables made from them, one a curve, that interpolate the encoded
//! value; they find their entry from the leading bits of the number itself (exponent and seven bits of the fraction), so
//! the steps are as fine in the dark as the curve is steep there. Codes of 8 bits need less: [`super::codes`].

use std::sync::OnceLock;

/// Linear values up to this are encoded on a straight line (IEC 61966-2-1, 5.2).
pub(super) const KNEE: f64 = 0.003_130_8;
/// The knee as an encoded value.
const ENCODED_KNEE: f64 = 0.040_45;
/// Slope of the straight line.
pub(super) const SLOPE: f64 = 12.92;
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
pub(super) const BT2020_KNEE: f64 = 0.018_053_968_510_807;
pub(super) const BT2020_SLOPE: f64 = 4.5;
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
}
