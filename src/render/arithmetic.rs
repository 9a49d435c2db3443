//! Arithmetic that vectorises: logarithm, power and smooth step in single precision, from additions, products, one
//! division and bit patterns only.
//!
//! The standard library's functions are calls into the system's mathematics, which a loop cannot vectorise and which
//! differ in the last bit between systems. These are the same everywhere. Errors are stated at each function and tested
//! against double precision.

/// Least value whose logarithm is taken: the smallest normal number.
const LEAST: f32 = f32::MIN_POSITIVE;

/// Logarithm to base two of a positive finite number; numbers below the smallest normal one count as that one, and so
/// does NaN. Absolute error below 5e-7 for results within ±16, the rounding of the result beyond.
///
/// The number is split into a power of two and a factor m within √½..√2; ln m = 2 artanh((m-1)/(m+1)), whose series is
/// cut after the seventh power (remainder below 1e-7).
#[inline(always)]
pub(crate) fn log2(x: f32) -> f32 {
    /// Bits of √½.
    const ROOT_HALF: u32 = 0x3f35_04f3;
    let bits = x.max(LEAST).to_bits();
    let shifted = bits.wrapping_sub(ROOT_HALF);
    let exponent = (shifted as i32) >> 23;
    let mantissa = f32::from_bits((shifted & 0x007f_ffff).wrapping_add(ROOT_HALF));
    let t = (mantissa - 1.0) / (mantissa + 1.0);
    let t2 = t * t;
    const FACTOR: f32 = 2.0 * std::f32::consts::LOG2_E;
    let series = FACTOR * t * (1.0 + t2 * (1.0 / 3.0 + t2 * (0.2 + t2 * (1.0 / 7.0))));
    exponent as f32 + series
}

/// Two to the power `y`, for `y` within ±126 (clamped). Relative error below 5e-7 within ±16.
///
/// The exponent's fraction lies within ±½, where the series of the exponential is cut after the sixth power (remainder
/// below 2e-7).
#[expect(clippy::manual_clamp, reason = "NaN must become the lower bound")]
#[inline(always)]
pub(crate) fn exp2(y: f32) -> f32 {
    /// Adding and subtracting 1.5 · 2²³ rounds to whole numbers, which then stand in the low bits.
    const ROUNDER: f32 = 12_582_912.0;
    let y = y.max(-126.0).min(126.0);
    let rounded = y + ROUNDER;
    let whole = rounded - ROUNDER;
    let f = (y - whole) * std::f32::consts::LN_2;
    let series = 1.0
        + f * (1.0
            + f * (0.5
                + f * (1.0 / 6.0 + f * (1.0 / 24.0 + f * (1.0 / 120.0 + f * (1.0 / 720.0))))));
    let exponent = rounded.to_bits().wrapping_sub(ROUNDER.to_bits());
    let power = f32::from_bits(exponent.wrapping_add(127) << 23);
    series * power
}

/// `x` to the power `exponent`, for positive `x`; 0 and below give (nearly) 0 for positive exponents.
#[inline(always)]
pub(crate) fn power(x: f32, exponent: f32) -> f32 {
    exp2(log2(x) * exponent)
}

/// Smooth step: 0 below `from`, 1 above `to`, 3t² - 2t³ between.
#[expect(clippy::manual_clamp, reason = "NaN must become the lower bound")]
#[inline(always)]
pub(crate) fn smooth_step(x: f32, from: f32, to: f32) -> f32 {
    let t = ((x - from) / (to - from)).max(0.0).min(1.0);
    t * t * (3.0 - 2.0 * t)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A geometric walk with a prime number of steps.
    fn walk(from: f64, to: f64) -> impl Iterator<Item = f32> {
        (0..=10_007).map(move |i| (from * (to / from).powf(f64::from(i) / 10_007.0)) as f32)
    }

    #[test]
    fn logarithms_and_powers_keep_the_stated_error() {
        for x in walk(2f64.powi(-16), 2f64.powi(16)) {
            let exact = f64::from(x).log2();
            assert!((f64::from(log2(x)) - exact).abs() < 1e-6, "log2({x})");
        }
        for i in -16_000..=16_000 {
            let y = i as f32 / 1000.0;
            let exact = f64::from(y).exp2();
            assert!((f64::from(exp2(y)) / exact - 1.0).abs() < 5e-7, "exp2({y})");
        }
    }

    #[test]
    fn whole_powers_of_two_are_exact() {
        for exponent in -100..=100 {
            let x = 2f32.powi(exponent);
            assert_eq!(log2(x), exponent as f32);
            assert_eq!(exp2(exponent as f32), x);
        }
        assert!(power(0.0, 1.3) < 1e-30);
    }
}
