//! Invented frames for tests of the light and look rooms: camera RGB drawn by a function, with noise, as a mosaic.
#![allow(
    dead_code,
    unreachable_pub,
    missing_docs,
    reason = "each test file uses a part of it"
)]

use houselights::base::geometry::{Orientation, Rect};
use houselights::base::matrix::Matrix3;
use houselights::base::plane::Plane;
use houselights::base::units::{Chromaticity, Kelvin};
use houselights::colour::camera::{Calibration, CameraColour};
use houselights::raw::facts::{Body, Facts};
use houselights::raw::frame::{BlackLevels, Frame, Layout, Mosaic};

/// Black and white level in counts.
pub const BLACK: f32 = 512.0;
pub const WHITE: f32 = 15_872.0;

/// The 6 x 6 pattern in one of its phases.
pub const XTRANS: [[u8; 6]; 6] = [
    [1, 1, 0, 1, 1, 2],
    [1, 1, 2, 1, 1, 0],
    [2, 0, 1, 0, 2, 1],
    [1, 1, 2, 1, 1, 0],
    [1, 1, 0, 1, 1, 2],
    [0, 2, 1, 2, 0, 1],
];

/// A fixed pseudo-random sequence (the 64-bit linear congruential generator of Knuth's MMIX).
pub struct Chance(pub u64);

impl Chance {
    /// Between 0 and 1.
    pub fn uniform(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Near normal, mean 0 and standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// An invented body: plausible matrices for tungsten and daylight.
pub fn colour() -> CameraColour {
    let calibration = |kelvin: f64, rows: [[f64; 3]; 3]| Calibration {
        temperature: Some(Kelvin(kelvin)),
        colour_matrix: Matrix3(rows),
        camera_calibration: Matrix3::IDENTITY,
        forward_matrix: None,
        hue_map: None,
    };
    CameraColour {
        calibrations: vec![
            calibration(
                2856.0,
                [
                    [0.95, -0.42, -0.02],
                    [-0.46, 1.34, 0.13],
                    [-0.06, 0.20, 0.62],
                ],
            ),
            calibration(
                6504.0,
                [
                    [0.85, -0.28, -0.09],
                    [-0.46, 1.28, 0.20],
                    [-0.10, 0.22, 0.60],
                ],
            ),
        ],
        analog_balance: [1.0; 3],
        as_shot_neutral: None,
    }
}

/// Another invented body, with other sensitivities.
pub fn other_colour() -> CameraColour {
    let mut other = colour();
    for (calibration, scale) in other
        .calibrations
        .iter_mut()
        .zip([[0.8, 1.0, 1.2], [0.82, 1.0, 1.15]])
    {
        calibration.colour_matrix = Matrix3::diagonal(scale) * calibration.colour_matrix;
    }
    other
}

/// Camera RGB of grey under a white, green = 1.
pub fn neutral(white: Chromaticity) -> [f64; 3] {
    colour().neutral_of_white(white).expect("a plausible white")
}

/// How a frame is drawn.
pub struct Drawing {
    pub width: usize,
    pub height: usize,
    pub layout: Layout,
    pub orientation: Orientation,
    /// Variance per level and at the black level of the noise.
    pub noise: (f64, f64),
    pub seed: u64,
}

impl Default for Drawing {
    fn default() -> Self {
        Self {
            width: 600,
            height: 400,
            layout: Layout::Bayer([[0, 1], [1, 2]]),
            orientation: Orientation::Upright,
            noise: (2e-4, 1e-6),
            seed: 1,
        }
    }
}

impl Drawing {
    /// Draws `scene`: camera RGB (fractions of range) at stored pixel x, y. Counts clip at the white level.
    pub fn frame(&self, scene: impl Fn(usize, usize) -> [f64; 3]) -> Frame {
        let values = if self.layout == Layout::Linear { 3 } else { 1 };
        let mut chance = Chance(self.seed);
        let mut mosaic = Mosaic {
            counts: Plane::filled(self.width * values, self.height, 0),
            layout: self.layout,
            black: BlackLevels::flat(BLACK, values),
            white: [WHITE; 3],
            crop: Rect {
                left: 0,
                top: 0,
                width: self.width,
                height: self.height,
            },
        };
        for y in 0..self.height {
            for x in 0..self.width * values {
                let light = scene(x / values, y)[mosaic.channel_at(x, y)];
                let noise = chance.normal() * (self.noise.0 * light.max(0.0) + self.noise.1).sqrt();
                let count = f64::from(BLACK) + (light + noise) * f64::from(WHITE - BLACK);
                mosaic.counts.row_mut(y)[x] = count.round().clamp(0.0, f64::from(WHITE)) as u16;
            }
        }
        Frame {
            facts: Facts {
                body: Body {
                    make: "Invented".into(),
                    model: "One".into(),
                    serial: Some("1".into()),
                },
                exposure_seconds: Some(1.0 / 250.0),
                f_number: Some(2.8),
                iso: Some(3200.0),
                orientation: self.orientation,
                ..Facts::default()
            },
            mosaic,
            colour: colour(),
            notes: Vec::new(),
        }
    }
}

/// A stage: a performer (skin, grey and dark cloth, folds) in the beam of a key of this neutral and strength, on a dark
/// ground that a wash (camera RGB) lights a little. The performer's clothes stay the same.
pub fn stage(key: [f64; 3], strength: f64, wash: [f64; 3]) -> impl Fn(usize, usize) -> [f64; 3] {
    move |x, y| {
        let (u, v) = (x as f64 / 600.0, y as f64 / 400.0);
        let performer = (u - 0.5).abs() < 0.13 && v > 0.2;
        // Skin lies from the neutral as the room's constant says; its own reflectance is about a third.
        let reflectance = if performer && v < 0.4 {
            [0.34 * 0.40_f64.exp(), 0.34, 0.34 * (-0.21_f64).exp()]
        } else if performer && v < 0.7 {
            [0.35; 3]
        } else if performer {
            [0.08; 3]
        } else {
            [0.03; 3]
        };
        let beam = (-((u - 0.5) / 0.16).powi(2)).exp();
        let folds = 0.75 + 0.25 * (u * 40.0).sin() * (v * 9.0).cos();
        [0, 1, 2].map(|c| reflectance[c] * (strength * key[c] * beam * folds + 0.15 * wash[c]))
    }
}
