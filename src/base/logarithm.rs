//! Natural logarithms and exponentials of many numbers at once, in operations that a compiler can put into vectors: the
//! system's own take one number at a time, and metering asks for half a million a frame.
//!
//! Both are as exact as double precision allows, up to a few units in the last place. The logarithm takes the number apart
//! into 2^k m with m from 1/sqrt(2) to sqrt(2) and sums the series of 2 artanh((m - 1) / (m + 1)); the exponential takes it
//! apart into k ln 2 + r with |r| up to half of ln 2 and sums the series of e^r.

use std::f64::consts::{LOG2_E, SQRT_2};

/// ln 2 in two parts: the first ends in 21 zero bits, so that its product with an exponent is exact.
const LN_2: (f64, f64) = (
    f64::from_bits(0x3fe6_2e42_fee0_0000),
    f64::from_bits(0x3dea_39ef_3579_3c76),
);
/// Bits of the fraction of a double.
const FRACTION_BITS: u32 = 52;
/// 2^52: a whole number below it, put into the fraction's bits, is that many units above it.
const WHOLE: f64 = 4_503_599_627_370_496.0;
/// What is added to an exponent to store it.
const BIAS: u64 = 1023;

/// The natural logarithm; not a number unless `value` is positive, finite and not so small that it has lost digits.
#[inline(always)]
pub(crate) fn ln(value: f64) -> f64 {
    /// Moves the exponent's step from powers of two to powers of two by the root of two.
    const ROUND: u64 = 1.0_f64.to_bits() - (SQRT_2 / 2.0).to_bits();
    let moved = value.to_bits().wrapping_add(ROUND);
    let power = moved >> FRACTION_BITS;
    let k = f64::from_bits(WHOLE.to_bits() | (power & 0x7ff)) - (WHOLE + BIAS as f64);
    let m =
        f64::from_bits((moved & ((1 << FRACTION_BITS) - 1)).wrapping_add((SQRT_2 / 2.0).to_bits()));
    let f = m - 1.0;
    let s = f / (2.0 + f);
    let z = s * s;
    // z is at most 0.0295: the next term would be 5e-17 of the sum.
    let mut series = 1.0 / 19.0;
    for divisor in [17.0, 15.0, 13.0, 11.0, 9.0, 7.0, 5.0, 3.0_f64] {
        series = series * z + divisor.recip();
    }
    // ln m = f - s (f - 2 z series): what is exact, f, less a small part.
    let small = s * (f - 2.0 * z * series);
    let ln = k * LN_2.0 + (f - (small - k * LN_2.1));
    if (f64::MIN_POSITIVE..=f64::MAX).contains(&value) {
        ln
    } else {
        f64::NAN
    }
}

/// e to the power of `exponent`, which counts as -700 below that and as 700 above.
#[inline(always)]
#[expect(
    clippy::manual_clamp,
    reason = "clamp lets NaN through where max().min() takes the lower bound"
)]
pub(crate) fn exp(exponent: f64) -> f64 {
    const LIMIT: f64 = 700.0;
    /// Added and taken away again, it rounds to whole numbers, and leaves them in the lowest bits.
    const ROUND: f64 = 1.5 * WHOLE;
    let x = exponent.max(-LIMIT).min(LIMIT);
    let rounded = x * LOG2_E + ROUND;
    let k = rounded - ROUND;
    let r = (x - k * LN_2.0) - k * LN_2.1;
    // r is at most 0.347: the next term would be 2e-16 of the sum.
    let mut series = 1.0 / 12.0;
    for divisor in [11.0, 10.0, 9.0, 8.0, 7.0, 6.0, 5.0, 4.0, 3.0, 2.0, 1.0_f64] {
        series = (series * r + 1.0) * divisor.recip();
    }
    let power = f64::from_bits(
        rounded
            .to_bits()
            .wrapping_add(BIAS)
            .wrapping_shl(FRACTION_BITS),
    );
    (series * r + 1.0) * power
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn logarithms_equal_the_systems() {
        // Every power of two that a double has, with fractions without order, and around 1, where the result is small.
        for at in 0..40_000_u32 {
            let fraction = 1.0 + f64::from(at * 7919 % 40_009) / 40_010.0;
            for value in [
                fraction * (f64::from(at % 2044) - 1022.0).exp2(),
                fraction,
                1.0 / fraction,
                1.0 + (fraction - 1.5) * 1e-6,
            ] {
                let expected = value.ln();
                // Four units in the last place.
                assert!(
                    (ln(value) - expected).abs() <= 9e-16 * expected.abs(),
                    "{value} {} {expected}",
                    ln(value)
                );
            }
        }
        assert_eq!(ln(1.0), 0.0);
        assert!(ln(f64::MIN_POSITIVE).is_finite() && ln(f64::MAX).is_finite());
        for none in [0.0, -0.0, -1.0, 1e-310, f64::INFINITY, f64::NAN] {
            assert!(ln(none).is_nan(), "{none}");
        }
    }

    #[test]
    fn exponentials_equal_the_systems() {
        for at in 0..140_001_u32 {
            let exponent = f64::from(at) * 0.01 - 700.0;
            let expected = exponent.exp();
            // Four units in the last place, and the argument's own rounding.
            assert!(
                (exp(exponent) / expected - 1.0).abs() <= 9e-16,
                "{exponent} {} {expected}",
                exp(exponent)
            );
        }
        assert_eq!(exp(0.0), 1.0);
        assert_eq!(exp(-1e9), exp(-700.0));
    }
}
