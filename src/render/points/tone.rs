//! Levels and tone curve on the brightest channel, with the ratios of channels kept.
//!
//! A curve on each channel by itself drags colours towards the primaries and secondaries: a blue wash turns cyan as it
//! gets brighter. On the brightest channel alone nothing overflows, and a pixel's ratios, hence its hue, stay.

use crate::look::correction::{Curve, Levels};
use crate::render::arithmetic::power;
use crate::render::kernel::row_kernel;

/// Below this the brightest channel is black and has no ratios.
const LEAST_NORM: f32 = 1e-6;

/// Levels and curve in the form that the row functions take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ready {
    black: f32,
    per_range: f32,
    /// 1 / middle; `None` when that is 1.
    exponent: Option<f32>,
    /// a, m, b; `None` for a straight line.
    shoulder: Option<[f32; 3]>,
}

impl Ready {
    /// From plain numbers that a plan has checked.
    pub(crate) fn new(levels: &Levels, curve: &Curve) -> Self {
        Self {
            black: levels.black as f32,
            per_range: (1.0 / (levels.white - levels.black)) as f32,
            exponent: (levels.middle != 1.0).then(|| (1.0 / levels.middle) as f32),
            shoulder: curve
                .shoulder()
                .map(|s| [s.contrast as f32, s.m as f32, s.b as f32]),
        }
    }

    /// Applies both to one chunk; `norm` is working memory of the chunk's length.
    pub(crate) fn run(
        &self,
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
        norm: &mut [f32],
    ) {
        norm_between(self.black, self.per_range, red, green, blue, norm);
        if let Some(exponent) = self.exponent {
            raise(exponent, norm);
        }
        if let Some([contrast, m, b]) = self.shoulder {
            shoulder(contrast, m, b, norm);
        }
        scale_to_norm(norm, red, green, blue);
    }
}

row_kernel! {
    /// (brightest channel - black) · per_range, not below 0.
    fn norm_between(
        black: f32,
        per_range: f32,
        red: &[f32],
        green: &[f32],
        blue: &[f32],
        norm: &mut [f32],
    ) {
        let length = norm.len();
        let (red, green, blue) = (&red[..length], &green[..length], &blue[..length]);
        for x in 0..length {
            norm[x] = ((red[x].max(green[x]).max(blue[x]) - black) * per_range).max(0.0);
        }
    }
}

row_kernel! {
    /// Each value to a power.
    fn raise(exponent: f32, norm: &mut [f32]) {
        for value in norm.iter_mut() {
            *value = power(*value, exponent);
        }
    }
}

row_kernel! {
    /// m xᵃ / (xᵃ + b) for each value.
    fn shoulder(contrast: f32, m: f32, b: f32, norm: &mut [f32]) {
        for value in norm.iter_mut() {
            let p = power(*value, contrast);
            *value = m * p / (p + b);
        }
    }
}

row_kernel! {
    /// Scales each pixel so that its brightest channel becomes `norm`, at most 1.
    fn scale_to_norm(norm: &[f32], red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        let length = norm.len();
        let (red, green, blue) =
            (&mut red[..length], &mut green[..length], &mut blue[..length]);
        for x in 0..length {
            let brightest = red[x].max(green[x]).max(blue[x]);
            let factor = norm[x].min(1.0) / brightest.max(LEAST_NORM);
            red[x] *= factor;
            green[x] *= factor;
            blue[x] *= factor;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&norm_between::levels(), |kernel, length| {
            let [red, green, blue] = [1, 2, 3].map(|seed| unordered_row(seed, length));
            let mut norm = vec![0.0; length];
            kernel(0.01, 1.1, &red, &green, &blue, &mut norm);
            norm
        });
        hold_together(&raise::levels(), |kernel, length| {
            let mut norm = unordered_row(1, length);
            kernel(0.8, &mut norm);
            norm
        });
        hold_together(&shoulder::levels(), |kernel, length| {
            let mut norm = unordered_row(1, length);
            kernel(1.3, 1.03, 0.51, &mut norm);
            norm
        });
        hold_together(&scale_to_norm::levels(), |kernel, length| {
            let [mut red, mut green, mut blue] = [1, 2, 3].map(|seed| unordered_row(seed, length));
            kernel(&unordered_row(4, length), &mut red, &mut green, &mut blue);
            [red, green, blue].concat()
        });
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
            ready.run(red, green, blue, &mut [0.0]);
            let level = ((light - 0.01) / 0.89).max(0.0).powf(1.0 / 1.2);
            let expected = plain.at(level).min(1.0);
            // Two powers in single precision: 2e-6 of the value, and what rounding of the black point leaves.
            let error = (f64::from(colour[0][0]) - expected).abs();
            assert!(error < 3e-6 * expected + 1e-7, "{light}: {error}");
            assert!((colour[1][0] - 0.5 * colour[0][0]).abs() < 1e-6);
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
        ready.run(red, green, blue, &mut vec![0.0; 1009]);
        assert_eq!(planes, rows);
    }
}
