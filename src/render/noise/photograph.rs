//! What noise reduction gains on photographs with white noise and no demosaic: the case of the literature's figures.

use super::{Denoiser, reduction};
use crate::base::bands::Threads;
use crate::base::chance::Normal;
use crate::base::geometry::Rect;
use crate::base::plane::Plane;
use crate::colour::transfer::srgb_decode;
use crate::look::correction::NoiseReduction;
use crate::raw::frame::{BlackLevels, Layout, Mosaic};
use crate::raw::noise::{NoiseModel, SensorNoise, measure};
use crate::render::demosaic::Method;
use crate::render::develop::Strip;
use crate::render::row::RgbRow;
use crate::render::sensor::{Sensor, SensorStep};

/// That of the comparison with outside libraries (tests/external/noise.py).
const MODEL: NoiseModel = NoiseModel {
    slope: 0.004,
    floor: 2e-5,
};
const BLACK: f64 = 4096.0;
const RANGE: f64 = 61_439.0;

/// Linear light of a photograph, three values a pixel, and its size.
fn photograph(png: &[u8]) -> (Vec<f64>, usize, usize) {
    let codes = image::load_from_memory(png).expect("a PNG").to_rgb8();
    let light = codes
        .as_raw()
        .iter()
        .map(|code| srgb_decode(f64::from(*code) / 255.0))
        .collect();
    (light, codes.width() as usize, codes.height() as usize)
}

/// With noise, held between 0 and 1.
fn noisy(clean: &[f64]) -> Vec<f64> {
    let mut normal = Normal::new(5);
    clean
        .iter()
        .map(|level| (level + normal.draw() * MODEL.variance(*level).sqrt()).clamp(0.0, 1.0))
        .collect()
}

/// Through the noise stage, by the noise that is measured in the picture itself.
fn quiet(light: &[f64], width: usize, height: usize) -> Vec<f64> {
    let counts = light
        .iter()
        .map(|level| (BLACK + RANGE * level).round() as u16)
        .collect();
    let mosaic = Mosaic {
        counts: Plane::from_values(width * 3, height, counts).expect("sizes fit"),
        layout: Layout::Linear,
        black: BlackLevels::flat(BLACK as f32, 3),
        white: [(BLACK + RANGE) as f32; 3],
        crop: Rect {
            left: 0,
            top: 0,
            width,
            height,
        },
    };
    let sensor = SensorStep {
        black: mosaic.black.clone(),
        white: mosaic.white,
        neutral: [1.0; 3],
        noise: None,
    };
    let noise = SensorNoise {
        channels: [measure(&mosaic); 3],
    };
    // The stage's own scale: about half of the luminance is the least mean square error.
    let amounts = NoiseReduction {
        luminance: 0.5,
        colour: 1.0,
        grain: 0.0,
    };
    let method = Method::Linear;
    let step = reduction(&noise, &sensor, &mosaic.layout, method, amounts);
    let sensor = Sensor::new(&sensor, &mosaic, &Threads::one());
    let mut strip = Strip::new(&sensor, method, 0..width, 0);
    let mut denoiser = Denoiser::new(&step, (width, height), 0..width, 0);
    let mut row = RgbRow::new(width);
    let mut all = Vec::new();
    for y in 0..height {
        denoiser.row(y, &mut row, |y, row| strip.row(y, row, |_, _| ()));
        for x in 0..width {
            all.extend((0..3).map(|channel| f64::from(row.planes[channel][x]).clamp(0.0, 1.0)));
        }
    }
    all
}

/// Peak signal-to-noise ratio in linear light; the peak is 1.
fn decibels(found: &[f64], clean: &[f64]) -> f64 {
    let squares: f64 = found.iter().zip(clean).map(|(a, b)| (a - b).powi(2)).sum();
    -10.0 * (squares / clean.len() as f64).log10()
}

#[test]
fn photographs_with_white_noise_gain_decibels() {
    // Measured: 6.09, 3.41 and 5.58 dB, from 30.84, 30.68 and 35.30.
    for (name, png, gain) in [
        (
            "chelsea",
            &include_bytes!("../../../tests/data/photographs/chelsea.png")[..],
            5.9,
        ),
        (
            "coffee",
            &include_bytes!("../../../tests/data/photographs/coffee.png")[..],
            3.3,
        ),
        (
            "rocket",
            &include_bytes!("../../../tests/data/photographs/rocket.png")[..],
            5.4,
        ),
    ] {
        let (clean, width, height) = photograph(png);
        let noisy = noisy(&clean);
        let gained = decibels(&quiet(&noisy, width, height), &clean) - decibels(&noisy, &clean);
        assert!(gained > gain, "{name}: {gained:.2} dB");
    }
}
