//! What noise reduction gains and costs, in decibels and in the contrast of a weave, on a simulated sensor at ISO 6400.
//!
//! Cargo's tests need a scene without files: smooth light, soft spots, edges and a woven cloth, as bright as a stage is
//! metered. The noise is that of 500 electrons in a full photosite and 3 electrons of read noise (a body of the APS-C
//! class at ISO 6400; an assumption, no source).

use super::{Denoiser, reduction};
use crate::base::bands::Threads;
use crate::base::chance::Normal;
use crate::base::geometry::Rect;
use crate::base::plane::Plane;
use crate::look::correction::NoiseReduction;
use crate::raw::frame::{BlackLevels, Layout, Mosaic};
use crate::raw::noise::{NoiseModel, SensorNoise};
use crate::render::demosaic::Method;
use crate::render::demosaic::directional::Tuning;
use crate::render::develop::Strip;
use crate::render::row::RgbRow;
use crate::render::sensor::{Sensor, SensorStep};

const SIDE: usize = 256;
const BLACK: f64 = 2048.0;
const RANGE: f64 = 60_000.0;
const NEUTRAL: [f64; 3] = [0.55, 1.0, 0.65];
const MODEL: NoiseModel = NoiseModel {
    slope: 1.0 / 500.0,
    floor: 9.0 / 250_000.0,
};
const BAYER: Layout = Layout::Bayer([[0, 1], [1, 2]]);

/// Mean level of the cloth, and the period of its weave in pixels.
const CLOTH: f64 = 0.12;
const PERIOD: f64 = 6.0;

/// The cloth fills the lower right quarter.
fn is_cloth(x: usize, y: usize) -> bool {
    x >= SIDE / 2 && y >= SIDE / 2
}

/// One thread over, one under, in both directions, from -1 to 1.
fn weave(x: f64, y: f64) -> f64 {
    let wave = |at: f64| (std::f64::consts::TAU * at / PERIOD).sin();
    wave(x) * wave(y)
}

/// White-balanced light of the scene.
fn scene(x: usize, y: usize, contrast: f64) -> [f64; 3] {
    let (u, v) = (x as f64, y as f64);
    if is_cloth(x, y) {
        let value = CLOTH * (1.0 + contrast * weave(u, v));
        return [value * 1.1, value, value * 0.9];
    }
    let spot = |cx: f64, cy: f64, radius: f64| {
        let distance = ((u - cx).powi(2) + (v - cy).powi(2)).sqrt();
        // An edge three pixels wide, as a lens draws it.
        1.0 / (1.0 + ((distance - radius) / 0.8).exp())
    };
    let ground = 0.004 + 0.02 * u / SIDE as f64;
    let skin = spot(60.0, 70.0, 34.0);
    let lamp = spot(190.0, 60.0, 12.0);
    let wash = spot(70.0, 190.0, 45.0);
    [
        ground + 0.22 * skin + 0.5 * lamp + 0.02 * wash,
        ground + 0.15 * skin + 0.5 * lamp + 0.03 * wash,
        ground + 0.11 * skin + 0.5 * lamp + 0.20 * wash,
    ]
}

/// The scene on the sensor, with or without noise.
fn mosaic(contrast: f64, noise: bool) -> Mosaic {
    let mut mosaic = Mosaic {
        counts: Plane::filled(SIDE, SIDE, 0u16),
        layout: BAYER,
        black: BlackLevels::flat(BLACK as f32, 1),
        white: [(BLACK + RANGE) as f32; 3],
        crop: Rect {
            left: 0,
            top: 0,
            width: SIDE,
            height: SIDE,
        },
    };
    let mut normal = Normal::new(11);
    for y in 0..SIDE {
        for x in 0..SIDE {
            let channel = mosaic.channel_at(x, y);
            let level = scene(x, y, contrast)[channel] * NEUTRAL[channel];
            let error = if noise {
                normal.draw() * MODEL.variance(level).sqrt()
            } else {
                0.0
            };
            mosaic.counts.row_mut(y)[x] = (BLACK + RANGE * (level + error)).round() as u16;
        }
    }
    mosaic
}

/// White-balanced light after the demosaic and, when asked for, noise reduction.
fn developed(mosaic: &Mosaic, amounts: Option<NoiseReduction>) -> Vec<[f64; 3]> {
    let sensor = SensorStep {
        black: mosaic.black.clone(),
        white: mosaic.white,
        neutral: NEUTRAL,
        noise: None,
    };
    let noise = SensorNoise {
        channels: [MODEL; 3],
    };
    let method = Method::Directional(Tuning::for_noise(MODEL));
    let step = amounts.map(|amounts| reduction(&noise, &sensor, &BAYER, method, amounts));
    let sensor = Sensor::new(&sensor, mosaic, &Threads::one());
    let mut strip = Strip::new(&sensor, method, 0..SIDE, 0);
    let mut denoiser = step
        .as_ref()
        .map(|step| Denoiser::new(step, (SIDE, SIDE), 0..SIDE, 0));
    let mut row = RgbRow::new(SIDE);
    let mut all = Vec::new();
    for y in 0..SIDE {
        match &mut denoiser {
            Some(denoiser) => {
                denoiser.row(y, &mut row, |y, row| strip.row(y, row, |_, _| ()));
            }
            None => strip.row(y, &mut row, |_, _| ()),
        }
        all.extend((0..SIDE).map(|x| [0, 1, 2].map(|channel| f64::from(row.planes[channel][x]))));
    }
    all
}

/// Peak signal-to-noise ratio of light against the scene, held within 0 to 1; the peak is 1.
fn decibels(picture: &[[f64; 3]], contrast: f64, encode: impl Fn(f64) -> f64) -> f64 {
    let mut sum = 0.0;
    for (at, pixel) in picture.iter().enumerate() {
        let truth = scene(at % SIDE, at / SIDE, contrast);
        for channel in 0..3 {
            let error = encode(pixel[channel].clamp(0.0, 1.0)) - encode(truth[channel]);
            sum += error * error;
        }
    }
    -10.0 * (sum / (3 * picture.len()) as f64).log10()
}

/// How much of the weave's contrast is left in green: the projection on the weave over that of the scene.
fn weave_left(picture: &[[f64; 3]], contrast: f64) -> f64 {
    let (mut sum, mut squares) = (0.0, 0.0);
    for (at, pixel) in picture.iter().enumerate() {
        let (x, y) = (at % SIDE, at / SIDE);
        // Without the quarter's rim, whose surroundings are something else.
        if is_cloth(x, y) && is_cloth(x.saturating_sub(8), y.saturating_sub(8)) {
            let pattern = weave(x as f64, y as f64);
            sum += pixel[1] / CLOTH * pattern;
            squares += pattern * pattern;
        }
    }
    sum / squares / contrast
}

#[test]
fn four_decibels_are_gained_at_iso_6400_and_a_weave_is_kept() {
    // Half of the luminance noise by the step's own scale is the least mean square error of the method.
    let amounts = NoiseReduction {
        luminance: 0.5,
        colour: 1.0,
        grain: 0.0,
    };
    // Threads of three pixels; at a contrast of 0.4 the pattern's standard deviation is 1.4 times the noise of a
    // photosite, at 0.6 twice that noise. Measured here: 0.69 and 0.82 of the contrast are left.
    for (contrast, gain, share) in [(0.4, 4.0, 0.65), (0.6, 3.5, 0.78)] {
        let noisy = mosaic(contrast, true);
        let none = developed(&noisy, None);
        let quiet = developed(&noisy, Some(amounts));
        let gained = |encode: fn(f64) -> f64| {
            decibels(&quiet, contrast, encode) - decibels(&none, contrast, encode)
        };
        let linear = gained(|light| light);
        // The signal of IEC 61966-2-1 weighs the dark, where noise is seen.
        let signal = gained(crate::colour::transfer::srgb_encode);
        assert!(
            linear > gain && signal > 5.0,
            "{contrast}: {linear} {signal}"
        );
        let left = weave_left(&quiet, contrast) / weave_left(&none, contrast);
        assert!(left > share, "{contrast}: {left}");
    }
}
