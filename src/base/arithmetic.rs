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

/// Bits of √½.
const ROOT_HALF: u32 = 0x3f35_04f3;

/// Logarithm to base two of a positive finite number; numbers below the smallest normal one count as that one, and so
/// does NaN. Absolute error below 6e-7 for results within ±16, the rounding of the result beyond.
///
/// The number is split into a power of two and a factor m within √½..√2; log2 m is m - 1 times a polynomial, fitted to the
/// least largest error (Lawson's weights, ours; 5e-8, and 9e-8 with rounding), since a division would cost more than all of it.
#[inline(always)]
pub(crate) fn log2(x: f32) -> f32 {
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

/// A power with one exponent for many numbers. Relative error below 1.5e-6 while exponent and result stay within ±4 and 2^±8.
///
/// It is made in two halves, [`Power::logarithm`] and [`Power::raised`], because a loop over each takes three quarters of the time of
/// one loop over both: a machine looks no further ahead than a few of such long chains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Power {
    /// Factors of the powers of m - 1, the lowest first, as in [`log2`], times the exponent.
    series: [f32; 7],
    /// The exponent, for one step of the lowest bit of a number's own exponent times 2^-23.
    per_bit: f32,
}

impl Power {
    /// Of an exponent.
    pub(crate) fn new(exponent: f32) -> Self {
        /// Fitted as in [`log2`], with one power less: 3e-7.
        const SERIES: [f64; 7] = [
            1.442_699_73,
            -0.721_375_872,
            0.480_465_033,
            -0.358_961_848,
            0.297_262_595,
            -0.272_697_953,
            0.170_634_506,
        ];
        const PER_BIT: f32 = 1.0 / (1 << 23) as f32;
        Self {
            series: SERIES.map(|factor| (factor * f64::from(exponent)) as f32),
            per_bit: exponent * PER_BIT,
        }
    }

    /// The power's logarithm to base two. Numbers below the smallest normal one count as that one, and so does NaN.
    #[inline(always)]
    pub(crate) fn logarithm(&self, x: f32) -> f32 {
        /// Sign and exponent.
        const HIGH: u32 = 0xff80_0000;
        let bits = x.max(LEAST).to_bits();
        let exponent = bits.wrapping_sub(ROOT_HALF) & HIGH;
        let t = f32::from_bits(bits.wrapping_sub(exponent)) - 1.0;
        let [s1, s2, s3, s4, s5, s6, s7] = self.series;
        // Odd and even powers apart: two short chains.
        let square = t * t;
        let odd = s7
            .mul_add(square, s5)
            .mul_add(square, s3)
            .mul_add(square, s1);
        let even = s6.mul_add(square, s4).mul_add(square, s2);
        let within = even.mul_add(square, odd * t);
        (exponent.cast_signed() as f32).mul_add(self.per_bit, within)
    }

    /// The power of its logarithm, which counts as within -126 and 50: products with the largest stay numbers.
    #[expect(clippy::manual_clamp, reason = "NaN must become the lower bound")]
    #[inline(always)]
    pub(crate) fn raised(logarithm: f32) -> f32 {
        /// Factors of the powers of the fraction, the lowest first, fitted to the least largest error (Lawson's weights, ours; 1e-7).
        const SERIES: [f32; 6] = [
            1.0,
            std::f32::consts::LN_2,
            0.240_222_42,
            0.055_507_34,
            0.009_671_513,
            0.001_326_472_7,
        ];
        let y = logarithm.max(-126.0).min(50.0);
        let rounded = y + ROUNDER;
        let f = y - (rounded - ROUNDER);
        let [s0, s1, s2, s3, s4, s5] = SERIES;
        let square = f * f;
        let even = s4.mul_add(square, s2).mul_add(square, s0);
        let odd = s5.mul_add(square, s3).mul_add(square, s1);
        let within = odd.mul_add(f, even);
        f32::from_bits(within.to_bits().wrapping_add(rounded.to_bits() << 23))
    }
}

/// Cube root of a positive normal number. Relative error below 3e-7.
///
/// Two steps for y, the reciprocal root, from the series of the power -1/3 (A. S. Householder, "The Numerical Treatment of a Single
/// Nonlinear Equation", 1970): with h = 1 - x y³, y grows by y (h / 3 + 2 h² / 9), of which the factors are fitted to the least
/// largest error of the first step, 5e-5. The second is a step of w = x y², the root: w grows by 2/3 w h. No division.
#[inline(always)]
pub(crate) fn cube_root(x: f32) -> f32 {
    /// A third of the exponent's bits, taken from where a third of it belongs: within 3.6 % of the root.
    const START: u32 = 0x54a1_8c00;
    /// The third is taken as 5461 of 2^14, which vectors multiply in one step.
    const THIRD: u32 = 5461;
    const SERIES: [f32; 3] = [0.999_997_3, 0.334_744_93, 0.223_916_98];
    let y = f32::from_bits(START.wrapping_sub((x.to_bits() >> 14).wrapping_mul(THIRD)));
    let h = (-x * y).mul_add(y * y, 1.0);
    let y = y * SERIES[2].mul_add(h, SERIES[1]).mul_add(h, SERIES[0]);
    let w = x * (y * y);
    let h = (-w).mul_add(y, 1.0);
    (w * h).mul_add(2.0 / 3.0, w)
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

/// The largest of three numbers, by [`larger`].
#[inline(always)]
pub(crate) fn largest([first, second, third]: [f32; 3]) -> f32 {
    larger(larger(first, second), third)
}

/// The smallest of three numbers, by [`smaller`].
#[inline(always)]
pub(crate) fn smallest([first, second, third]: [f32; 3]) -> f32 {
    smaller(smaller(first, second), third)
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
    }

    fn of(power: &Power, x: f32) -> f32 {
        Power::raised(power.logarithm(x))
    }

    #[test]
    fn powers_keep_the_stated_error() {
        for exponent in [-4.0, -1.0 / 1.2, 0.25, 1.0, 1.3, 4.0_f32] {
            let power = Power::new(exponent);
            let farthest = 2_f64.powf(8.0 / f64::from(exponent.abs()).max(1.0));
            for x in walk(1.0 / farthest, farthest) {
                let exact = f64::from(x).powf(f64::from(exponent));
                let error = f64::from(of(&power, x)) / exact - 1.0;
                assert!(error.abs() < 1.5e-6, "{x} to {exponent}: {error}");
            }
        }
        let power = Power::new(1.3);
        for none in [0.0, -1.0, f32::NAN] {
            assert!((0.0..1e-30).contains(&of(&power, none)), "{none}");
        }
        // Far beyond, and no further.
        for far in [1e30, f32::INFINITY] {
            assert_eq!(of(&power, far), 2_f32.powi(50));
        }
    }

    #[test]
    fn cube_roots_keep_the_stated_error() {
        for x in walk(2f64.powi(-40), 2f64.powi(40)) {
            let error = f64::from(cube_root(x)) / f64::from(x).cbrt() - 1.0;
            assert!(error.abs() < 3e-7, "{x}: {error}");
        }
    }
}
