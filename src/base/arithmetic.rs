//! Arithmetic that vectorises: logarithm, power, root and smooth step in single precision, from additions, products, products
//! fused with a sum (rounded once, on every machine) and bit patterns only.
//!
//! The standard library's functions are calls into the system's mathematics, which a loop cannot vectorise and which
//! differ in the last bit between systems. These are the same everywhere. Errors are stated at each function and tested
//! against double precision.

/// Least value whose logarithm is taken: the smallest normal number.
const LEAST: f32 = f32::MIN_POSITIVE;

/// 1.5 · 2²³: added and subtracted it rounds to whole numbers, which stand in the low bits between the two.
pub(crate) const ROUNDER: f32 = 12_582_912.0;

/// Logarithm to base two of a positive finite number; numbers below the smallest normal one count as that one, and so
/// does NaN. Absolute error below 6e-7 for results within ±16, the rounding of the result beyond.
///
/// The number is split into a power of two and a factor m within √½..√2; log2 m is m - 1 times a polynomial, fitted to the
/// least largest error (Lawson's weights, ours; 5e-8, and 9e-8 with rounding), since a division would cost more than all of it.
#[inline(always)]
pub(crate) fn log2(x: f32) -> f32 {
    /// Bits of √½.
    const ROOT_HALF: u32 = 0x3f35_04f3;
    /// Factors of the powers of m - 1, the highest first.
    const SERIES: [f32; 8] = [
        -0.145_742_95,
        0.236_889_78,
        -0.250_069_3,
        0.286_707_55,
        -0.360_087_2,
        0.480_939_45,
        -0.721_357_17,
        1.442_694_8,
    ];
    let bits = x.max(LEAST).to_bits();
    let shifted = bits.wrapping_sub(ROOT_HALF);
    let exponent = (shifted as i32) >> 23;
    let mantissa = f32::from_bits((shifted & 0x007f_ffff).wrapping_add(ROOT_HALF));
    let t = mantissa - 1.0;
    let mut series = SERIES[0];
    for factor in &SERIES[1..] {
        series = series.mul_add(t, *factor);
    }
    series.mul_add(t, exponent as f32)
}

/// Two to the power `y`, for `y` within ±126 (clamped). Relative error below 5e-7 within ±16.
///
/// The exponent's fraction lies within ±½, where the series of the exponential is cut after the sixth power (remainder
/// below 2e-7).
#[expect(clippy::manual_clamp, reason = "NaN must become the lower bound")]
#[inline(always)]
pub(crate) fn exp2(y: f32) -> f32 {
    /// Factors of the powers of f, the highest first.
    const SERIES: [f32; 7] = [
        1.0 / 720.0,
        1.0 / 120.0,
        1.0 / 24.0,
        1.0 / 6.0,
        0.5,
        1.0,
        1.0,
    ];
    let y = y.max(-126.0).min(126.0);
    let rounded = y + ROUNDER;
    let whole = rounded - ROUNDER;
    let f = (y - whole) * std::f32::consts::LN_2;
    let mut series = SERIES[0];
    for factor in &SERIES[1..] {
        series = series.mul_add(f, *factor);
    }
    let exponent = rounded.to_bits().wrapping_sub(ROUNDER.to_bits());
    let power = f32::from_bits(exponent.wrapping_add(127) << 23);
    series * power
}

/// `x` to the power `exponent`, for positive `x`; 0 and below give (nearly) 0 for positive exponents.
#[inline(always)]
pub(crate) fn power(x: f32, exponent: f32) -> f32 {
    exp2(log2(x) * exponent)
}

/// Reciprocal cube root of a positive normal number. Relative error below 3e-7.
///
/// Two steps of the third order for the root of 1/y³ - x (A. S. Householder, "The Numerical Treatment of a Single Nonlinear
/// Equation", 1970): with h = 1 - x y³, y grows by y (h / 3 + 2 h² / 9). No division.
#[inline(always)]
pub(crate) fn reciprocal_cube_root(x: f32) -> f32 {
    /// A third of the exponent's bits, taken from where a third of it belongs: within 3.5 % of the root.
    const START: u32 = 0x54a2_3000;
    let mut y = f32::from_bits(START - x.to_bits() / 3);
    for _ in 0..2 {
        let h = (-x * y).mul_add(y * y, 1.0);
        let grown = (2.0_f32 / 9.0).mul_add(h, 1.0 / 3.0);
        y = (y * h).mul_add(grown, y);
    }
    y
}

/// The larger of two numbers; the second where they cannot be compared. One vector instruction, where [`f32::max`] of two
/// variables needs three to look for what is no number: for rows that hold only numbers.
#[inline(always)]
pub(crate) fn larger(one: f32, other: f32) -> f32 {
    if one > other { one } else { other }
}

/// The smaller of two numbers; the second where they cannot be compared. See [`larger`].
#[inline(always)]
pub(crate) fn smaller(one: f32, other: f32) -> f32 {
    if one < other { one } else { other }
}

/// Smooth step: 0 below `from`, 1 above `to`, 3t² - 2t³ between.
#[expect(clippy::manual_clamp, reason = "NaN must become the lower bound")]
#[inline(always)]
pub(crate) fn smooth_step(x: f32, from: f32, to: f32) -> f32 {
    // The same two limits serve a whole row, so that the quotient is taken outside its loop.
    let per_range = 1.0 / (to - from);
    let t = ((x - from) * per_range).max(0.0).min(1.0);
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
            assert!((f64::from(log2(x)) - exact).abs() < 6e-7, "log2({x})");
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

    #[test]
    fn reciprocal_cube_roots_keep_the_stated_error() {
        for x in walk(2f64.powi(-40), 2f64.powi(40)) {
            let exact = 1.0 / f64::from(x).cbrt();
            let error = f64::from(reciprocal_cube_root(x)) / exact - 1.0;
            assert!(error.abs() < 3e-7, "{x}: {error}");
        }
    }
}
