//! Decimal numbers as the fractions that EXIF stores.
//!
//! A decoder hands on an exposure time as 0.004; the file should say 1/250 again. The convergents of the continued fraction
//! are the best approximations of their size (Hardy and Wright, An Introduction to the Theory of Numbers, chapter X), so the
//! first one that is close enough is the fraction a body would have written, and not 4000000/1000000000.

/// An unsigned fraction, numerator and denominator, as an EXIF RATIONAL holds it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Fraction {
    pub(crate) numerator: u32,
    pub(crate) denominator: u32,
}

/// Relative distance at which a fraction is taken for the number itself. A third of a stop, the smallest step of a shutter, is
/// ten thousand times wider, and single precision keeps seven digits.
const CLOSE_ENOUGH: f64 = 1e-6;

impl Fraction {
    /// The simplest convergent close to `value`; `None` when it is not positive, not finite or beyond 32 bits either way.
    pub(crate) fn near(value: f64) -> Option<Self> {
        if !(value.is_finite() && value > 0.0) {
            return None;
        }
        // h and k of the recurrence: h[n] = a[n] h[n-1] + h[n-2], the same for k.
        let (mut h, mut k) = ((1.0, 0.0), (0.0, 1.0));
        let mut rest = value;
        loop {
            let whole = rest.floor();
            h = (whole * h.0 + h.1, h.0);
            k = (whole * k.0 + k.1, k.0);
            if h.0 > f64::from(u32::MAX) || k.0 > f64::from(u32::MAX) {
                return None;
            }
            if h.0 > 0.0 && (h.0 / k.0 - value).abs() <= CLOSE_ENOUGH * value {
                return Some(Self {
                    numerator: whole_number(h.0),
                    denominator: whole_number(k.0),
                });
            }
            // The convergents alternate around the value and come closer each time; a rest of 0 was close enough above.
            rest = 1.0 / (rest - whole);
        }
    }

    /// A whole number.
    pub(crate) const fn whole(value: u32) -> Self {
        Self {
            numerator: value,
            denominator: 1,
        }
    }
}

impl std::fmt::Display for Fraction {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "{}/{}", self.numerator, self.denominator)
    }
}

/// A non-negative whole `f64` not above `u32::MAX` as an integer.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "callers have checked the range"
)]
pub(crate) fn whole_number(value: f64) -> u32 {
    value as u32
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn settings_come_back_as_bodies_write_them() {
        for (value, numerator, denominator) in [
            (1.0 / 250.0, 1, 250),
            (1.0 / 640.0, 1, 640),
            (1.0 / 8000.0, 1, 8000),
            (1.0 / 32_000.0, 1, 32_000),
            (1.0 / 3.0, 1, 3),
            (0.4, 2, 5),
            (1.3, 13, 10),
            (2.5, 5, 2),
            (30.0, 30, 1),
            (5.6, 28, 5),
            (2.8, 14, 5),
            (85.0, 85, 1),
            (f64::from(1.0f32 / 250.0), 1, 250),
            (f64::from(0.95f32), 19, 20),
            (10.0 / 6000.0, 1, 600),
        ] {
            assert_eq!(
                Fraction::near(value),
                Some(Fraction {
                    numerator,
                    denominator
                }),
                "{value}"
            );
        }
    }

    #[test]
    fn what_no_fraction_can_say_is_none() {
        for value in [
            0.0,
            -1.0,
            f64::NAN,
            f64::INFINITY,
            f64::NEG_INFINITY,
            1e10,
            1e-10,
            f64::MIN_POSITIVE,
        ] {
            assert_eq!(Fraction::near(value), None, "{value}");
        }
    }

    proptest! {
        #[test]
        fn every_fraction_is_close(value in 1e-6f64..1e6) {
            let fraction = Fraction::near(value).expect("in range");
            let back = f64::from(fraction.numerator) / f64::from(fraction.denominator);
            prop_assert!((back / value - 1.0).abs() <= CLOSE_ENOUGH * 1.000_001);
        }
    }
}
