//! Levels and tone curve on the brightest channel, with the ratios of channels kept.
//!
//! A curve on each channel by itself drags colours towards the primaries and secondaries: a blue wash turns cyan as it
//! gets brighter. On the brightest channel alone nothing overflows, and a pixel's ratios, hence its hue, stay.

use crate::look::correction::{Curve, Levels};
use crate::render::arithmetic::power;
use crate::render::kernel::row_kernel;

/// Scene light that the shoulder leaves where it is: middle grey.
pub(crate) const MIDDLE_GREY: f64 = 0.18;

/// Below this the brightest channel is black and has no ratios.
const LEAST_NORM: f32 = 1e-6;

/// The shoulder f(x) = m xᵃ / (xᵃ + b).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Shoulder {
    /// The exponent a.
    pub(crate) contrast: f64,
    /// The factor m.
    pub(crate) m: f64,
    /// The constant b.
    pub(crate) b: f64,
}

impl Shoulder {
    /// Solves f([`MIDDLE_GREY`]) = [`MIDDLE_GREY`] and f(ceiling) = 1. `None` when no such curve rises: contrast and
    /// ceiling must leave the shoulder above the straight line's middle.
    #[must_use]
    pub(crate) fn new(contrast: f64, ceiling: f64) -> Option<Self> {
        // From f(ceiling) = 1: m = (cᵃ + b) / cᵃ. Put into f(g) = g: gᵃ (cᵃ + b) = g cᵃ (gᵃ + b), linear in b.
        let grey = MIDDLE_GREY.powf(contrast);
        let top = ceiling.powf(contrast);
        let b = grey * top * (1.0 - MIDDLE_GREY) / (MIDDLE_GREY * top - grey);
        let m = (top + b) / top;
        (b > 0.0 && b.is_finite() && m.is_finite()).then_some(Self { contrast, m, b })
    }

    /// The curve in double precision; x not negative.
    #[must_use]
    pub(crate) fn at(&self, x: f64) -> f64 {
        let p = x.max(0.0).powf(self.contrast);
        self.m * p / (p + self.b)
    }
}

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
        let shoulder = match curve {
            Curve::Straight => None,
            Curve::Shoulder { contrast, ceiling } => Shoulder::new(*contrast, *ceiling),
        };
        Self {
            black: levels.black as f32,
            per_range: (1.0 / (levels.white - levels.black)) as f32,
            exponent: (levels.middle != 1.0).then(|| (1.0 / levels.middle) as f32),
            shoulder: shoulder.map(|s| [s.contrast as f32, s.m as f32, s.b as f32]),
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
