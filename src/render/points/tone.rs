//! Levels and tone curve on the brightest channel, with the ratios of channels kept.
//!
//! A curve on each channel by itself drags colours towards the primaries and secondaries: a blue wash turns cyan as it
//! gets brighter. On the brightest channel alone nothing overflows, and a pixel's ratios, hence its hue, stay.

use crate::base::arithmetic::{Power, largest, smaller};
use crate::base::kernel::row_kernel;
use crate::look::correction::{Curve, Levels};

/// Below this the brightest channel is black and has no ratios.
const LEAST_NORM: f32 = 1e-6;

/// Levels and curve in the form that the row function takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ready {
    black: f32,
    per_range: f32,
    curve: ReadyCurve,
}

/// What becomes of the brightest channel x between black and white.
#[derive(Clone, Copy, Debug, PartialEq)]
enum ReadyCurve {
    /// x.
    Straight,
    /// x to a power.
    Raised(Power),
    /// m p / (p + b), where p is x to a power: the middle's and the contrast's in one.
    Shoulder { power: Power, m: f32, b: f32 },
}

impl Ready {
    /// From plain numbers that a plan has checked.
    pub(crate) fn new(levels: &Levels, curve: &Curve) -> Self {
        let exponent = 1.0 / levels.middle;
        let curve = match curve.shoulder() {
            Some(shoulder) => ReadyCurve::Shoulder {
                power: Power::new((exponent * shoulder.contrast) as f32),
                m: shoulder.m as f32,
                b: shoulder.b as f32,
            },
            None if levels.middle == 1.0 => ReadyCurve::Straight,
            None => ReadyCurve::Raised(Power::new(exponent as f32)),
        };
        Self {
            black: levels.black as f32,
            per_range: (1.0 / (levels.white - levels.black)) as f32,
            curve,
        }
    }

    /// Applies both to one chunk.
    pub(crate) fn run(&self, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        tone_row(*self, red, green, blue);
    }

    /// Scales each pixel so that its brightest channel becomes what a curve makes of it, at most 1. The curve comes in two
    /// parts, so that a loop over each is short ([`Power`] says why): the second makes of the first's result a numerator and
    /// a denominator above 0, so that one division serves the curve and the ratio.
    #[inline(always)]
    fn scale_each(
        &self,
        [red, green, blue]: [&mut [f32]; 3],
        first: impl Fn(f32) -> f32,
        second: impl Fn(f32) -> [f32; 2],
    ) {
        /// Pixels that are worked on together.
        const BLOCK: usize = 256;
        let mut between = [0.0; BLOCK];
        let blocks = red.chunks_mut(BLOCK).zip(green.chunks_mut(BLOCK));
        for ((red, green), blue) in blocks.zip(blue.chunks_mut(BLOCK)) {
            let length = red.len();
            let (green, blue) = (&mut green[..length], &mut blue[..length]);
            let between = &mut between[..length];
            for x in 0..length {
                let brightest = largest([red[x], green[x], blue[x]]);
                between[x] = first((brightest - self.black) * self.per_range);
            }
            for x in 0..length {
                let brightest = largest([red[x], green[x], blue[x]]);
                let [value, per] = second(between[x]);
                let factor = smaller(value, per) / (per * brightest.max(LEAST_NORM));
                red[x] *= factor;
                green[x] *= factor;
                blue[x] *= factor;
            }
        }
    }
}

row_kernel! {
    /// Levels and curve on the brightest channel of each pixel, the ratios of channels kept.
    fn tone_row(ready: Ready, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        let planes = [red, green, blue];
        match ready.curve {
            ReadyCurve::Straight => ready.scale_each(planes, |level| level.max(0.0), |level| [level, 1.0]),
            ReadyCurve::Raised(power) => ready.scale_each(
                planes,
                |level| power.logarithm(level),
                |logarithm| [Power::raised(logarithm), 1.0],
            ),
            ReadyCurve::Shoulder { power, m, b } => ready.scale_each(
                planes,
                |level| power.logarithm(level),
                |logarithm| {
                    let p = Power::raised(logarithm);
                    [m * p, p + b]
                },
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        let curves = [
            ReadyCurve::Straight,
            ReadyCurve::Raised(Power::new(0.8)),
            ReadyCurve::Shoulder {
                power: Power::new(1.3),
                m: 1.03,
                b: 0.51,
            },
        ];
        for curve in curves {
            let ready = Ready {
                black: 0.01,
                per_range: 1.1,
                curve,
            };
            hold_together(&tone_row::levels(), |kernel, length| {
                let [mut red, mut green, mut blue] =
                    [1, 2, 3].map(|seed| unordered_row(seed, length));
                kernel(ready, &mut red, &mut green, &mut blue);
                [red, green, blue].concat()
            });
        }
    }

    #[test]
    fn the_fast_curve_is_the_plain_one() {
        let levels = Levels {
            black: 0.01,
            middle: 1.2,
            white: 0.9,
        };
        let curve = Curve::Shoulder {
            contrast: 1.3,
            ceiling: 8.0,
        };
        let plain = curve.shoulder().expect("a shoulder");
        let ready = Ready::new(&levels, &curve);
        for step in 0..=4000 {
            let light = (f64::from(step) / 4000.0).powi(3) * 8.5;
            let mut colour = [[light as f32], [0.5 * light as f32], [0.25 * light as f32]];
            let [red, green, blue] = &mut colour;
            ready.run(red, green, blue);
            let level = ((light - 0.01) / 0.89).max(0.0).powf(1.0 / 1.2);
            let expected = plain.at(level).min(1.0);
            // A power in single precision: 2e-6 of the value, and what rounding of the black point leaves.
            let error = (f64::from(colour[0][0]) - expected).abs();
            assert!(error < 3e-6 * expected + 1e-7, "{light}: {error}");
            assert!((colour[1][0] - 0.5 * colour[0][0]).abs() < 1e-6);
        }
    }

    #[test]
    fn what_is_far_beyond_white_becomes_white() {
        // The strongest look that can be asked for, up to the light of a lamp six stops over.
        let levels = Levels {
            black: 0.2,
            middle: 0.25,
            white: 0.25,
        };
        let curve = Curve::Shoulder {
            contrast: 2.0,
            ceiling: 8.0,
        };
        for curve in [curve, Curve::Straight] {
            let ready = Ready::new(&levels, &curve);
            for light in [0.3, 10.0, 1e3, 1e6, 1e20] {
                let [mut red, mut green, mut blue] = [[light], [0.5 * light], [0.0]];
                ready.run(&mut red, &mut green, &mut blue);
                assert!(red[0] > 0.9 && red[0] <= 1.0 + 1e-6, "{light}: {}", red[0]);
                assert!((green[0] - 0.5 * red[0]).abs() < 1e-6 && blue[0] == 0.0);
            }
        }
    }

    #[test]
    fn straight_with_neutral_levels_changes_no_bit_up_to_one() {
        let neutral = Levels {
            black: 0.0,
            middle: 1.0,
            white: 1.0,
        };
        let ready = Ready::new(&neutral, &Curve::Straight);
        let rows = [1, 2, 3].map(|seed| -> Vec<f32> {
            unordered_row(seed, 1009)
                .iter()
                .map(|v| v.clamp(0.0, 1.0))
                .collect()
        });
        let mut planes = rows.clone();
        let [red, green, blue] = &mut planes;
        ready.run(red, green, blue);
        assert_eq!(planes, rows);
    }
}
