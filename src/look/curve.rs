//! The tone curve: how scene light becomes display light, on the brightest channel.
//!
//! One home for its form, because three rooms must agree on it: reading refuses a look whose numbers make no rising
//! curve, solving asks which scene light arrives at a given display light, rendering runs it.

use serde::{Deserialize, Serialize};

/// Middle grey: scene light that the shoulder leaves where it is, and where the median of the lit region goes. The key
/// value of Reinhard, Stark, Shirley and Ferwerda, "Photographic tone reproduction for digital images" (SIGGRAPH 2002).
pub const MIDDLE_GREY: f64 = 0.18;

/// The tone curve, applied to the brightest channel with the ratios of channels kept.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Curve {
    /// None: what is above 1 clips.
    Straight,
    /// f(x) = m xᵃ / (xᵃ + b) with f(0.18) = 0.18 and f(ceiling) = 1: a straight-ish middle with a long shoulder.
    Shoulder {
        /// The exponent a: 1 is soft, 1.5 is hard.
        contrast: f64,
        /// Scene-linear light that becomes display white, in multiples of diffuse white; above 1.
        ceiling: f64,
    },
}

impl Curve {
    /// The scene light that the curve turns into this display light, which must lie below 1. A shoulder whose numbers
    /// make no rising curve (see [`Shoulder::new`]) counts as straight.
    #[must_use]
    pub fn scene_light(self, display: f64) -> f64 {
        self.shoulder()
            .map_or(display, |shoulder| shoulder.scene_light(display))
    }

    /// The shoulder's numbers, solved; `None` for a straight line, and for numbers that make no rising curve.
    #[must_use]
    pub fn shoulder(self) -> Option<Shoulder> {
        match self {
            Self::Straight => None,
            Self::Shoulder { contrast, ceiling } => Shoulder::new(contrast, ceiling),
        }
    }
}

/// The shoulder f(x) = m xᵃ / (xᵃ + b), solved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shoulder {
    /// The exponent a.
    pub contrast: f64,
    /// The factor m.
    pub m: f64,
    /// The constant b.
    pub b: f64,
}

impl Shoulder {
    /// Solves f([`MIDDLE_GREY`]) = [`MIDDLE_GREY`] and f(ceiling) = 1. `None` when no such curve rises: the ceiling must
    /// be above 1 and above [`Shoulder::least_ceiling`].
    #[must_use]
    pub fn new(contrast: f64, ceiling: f64) -> Option<Self> {
        // From f(ceiling) = 1: m = (cᵃ + b) / cᵃ. Put into f(g) = g: gᵃ (cᵃ + b) = g cᵃ (gᵃ + b), linear in b.
        let grey = MIDDLE_GREY.powf(contrast);
        let top = ceiling.powf(contrast);
        let b = grey * top * (1.0 - MIDDLE_GREY) / (MIDDLE_GREY * top - grey);
        let m = (top + b) / top;
        let rises = contrast > 0.0 && ceiling > 1.0 && b > 0.0;
        (rises && b.is_finite() && m.is_finite()).then_some(Self { contrast, m, b })
    }

    /// The ceiling that a shoulder of this contrast (above 0) must exceed. It is that of the straight line in logarithms
    /// through middle grey and (ceiling, 1): a shoulder bends down from it, so it reaches 1 only later. At a contrast
    /// of 1 or more every ceiling above 1 will do.
    #[must_use]
    pub fn least_ceiling(contrast: f64) -> f64 {
        MIDDLE_GREY.powf(1.0 - contrast.recip()).max(1.0)
    }

    /// Display light of this scene light, which must not be negative.
    #[must_use]
    pub fn at(&self, scene: f64) -> f64 {
        let p = scene.max(0.0).powf(self.contrast);
        self.m * p / (p + self.b)
    }

    /// Scene light of this display light, 0 to 1.
    #[must_use]
    pub fn scene_light(&self, display: f64) -> f64 {
        // y = m p / (p + b) solved for p = xᵃ.
        (display * self.b / (self.m - display)).powf(self.contrast.recip())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shoulder_keeps_middle_grey_rises_and_meets_its_ceiling() {
        for (contrast, ceiling) in [
            (1.0, 8.0),
            (1.3, 8.0),
            (1.5, 4.0),
            (1.15, 12.0),
            (2.0, 1.05),
            (0.8, 1.6),
            (0.8, 64.0),
        ] {
            let shoulder = Shoulder::new(contrast, ceiling).expect("a shoulder");
            assert!((shoulder.at(MIDDLE_GREY) - MIDDLE_GREY).abs() < 1e-12);
            assert!((shoulder.at(ceiling) - 1.0).abs() < 1e-12);
            let mut before = -1.0;
            for step in 0..=1000 {
                let value = shoulder.at(ceiling * f64::from(step) / 1000.0);
                assert!(value > before);
                before = value;
            }
            for display in [0.01, 0.18, 0.5, 0.9] {
                let scene = Curve::Shoulder { contrast, ceiling }.scene_light(display);
                assert!((shoulder.at(scene) - display).abs() < 1e-12);
            }
        }
        // Solved by hand for contrast 1.3 and ceiling 8: b = 0.510676, m = 1.034208.
        let shoulder = Shoulder::new(1.3, 8.0).expect("a shoulder");
        assert!((shoulder.b - 0.510_676).abs() < 1e-6);
        assert!((shoulder.m - 1.034_208).abs() < 1e-6);
        assert_eq!(Curve::Straight.scene_light(0.7), 0.7);
    }

    /// In logarithms the slope of f is a b / (xᵃ + b): the contrast at black, and less the brighter it gets.
    #[test]
    fn the_slope_in_stops_falls_from_the_contrast_to_none() {
        for (contrast, ceiling) in [(0.8, 4.0), (1.0, 8.0), (1.3, 8.0), (2.0, 64.0)] {
            let shoulder = Shoulder::new(contrast, ceiling).expect("a shoulder");
            let mut before = contrast;
            for step in -60..=12 {
                let (low, high) = (f64::from(step) / 4.0, f64::from(step + 1) / 4.0);
                let stops = |x: f64| shoulder.at(x.exp2()).log2();
                let slope = (stops(high) - stops(low)) / (high - low);
                assert!(slope > 0.0 && slope < before + 1e-9, "{contrast} {ceiling}");
                before = slope;
            }
        }
    }

    /// Light and dark skin of a colour chart (sRGB values of its maker's data sheet), a stop over. The straight line has no
    /// contrast left in light skin there; the shoulder keeps two fifths of the scene's and more, in stops for a stop.
    #[test]
    fn a_stop_over_the_shoulder_keeps_the_modelling_of_faces() {
        use crate::colour::transfer::srgb_decode;
        let slope = |curve: &dyn Fn(f64) -> f64, scene: f64| {
            let step = 0.05_f64.exp2();
            (curve(scene * step).log2() - curve(scene / step).log2()) / 0.1
        };
        let [light, dark] = [194.0, 115.0].map(|code: f64| 2.0 * srgb_decode(code / 255.0));
        assert_eq!(slope(&|scene| scene.min(1.0), light), 0.0);
        for (contrast, ceiling) in [(1.2, 10.0), (1.3, 8.0), (1.35, 6.0), (1.4, 8.0)] {
            let shoulder = Shoulder::new(contrast, ceiling).expect("a shoulder");
            let curve = |scene: f64| shoulder.at(scene);
            assert!(slope(&curve, light) > 0.38, "{contrast} {ceiling}");
            assert!(slope(&curve, dark) > 0.78, "{contrast} {ceiling}");
        }
    }

    #[test]
    fn the_least_ceiling_is_where_shoulders_begin_to_rise() {
        for contrast in [0.3, 0.5, 0.8, 0.99, 1.0, 1.5, 2.0] {
            let least = Shoulder::least_ceiling(contrast);
            assert!(
                Shoulder::new(contrast, least * 1.001).is_some(),
                "{contrast}"
            );
            assert_eq!(Shoulder::new(contrast, least * 0.999), None, "{contrast}");
        }
        // 0.18^(1 - 1/0.8) = 1.5353.
        assert!((Shoulder::least_ceiling(0.8) - 1.5353).abs() < 1e-4);
        assert_eq!(Shoulder::new(f64::NAN, 8.0), None);
        assert_eq!(Shoulder::new(1.0, f64::NAN), None);
        assert_eq!(Shoulder::new(-1.0, 8.0), None);
    }
}
