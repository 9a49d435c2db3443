//! How well the demosaic methods do: on photographs against figures from outside, and on drawn scenes that show a
//! method's faults.

mod faults;
mod photographs;
mod scenes;

use crate::base::bands::Threads;
use crate::base::chance::Normal;
use crate::base::geometry::Rect;
use crate::base::plane::Plane;
use crate::colour::transfer::srgb_encode;
use crate::raw::frame::{BlackLevels, Layout, Mosaic};
use crate::raw::noise::NoiseModel;
use crate::render::demosaic::Method;
use crate::render::demosaic::directional::{Smoothing, Tuning};
use crate::render::demosaic::root::offset_for;
use crate::render::demosaic::xtrans;
use crate::render::develop::Strip;
use crate::render::row::RgbRow;
use crate::render::sensor::{Sensor, SensorStep};

const RGGB: Layout = Layout::Bayer([[0, 1], [1, 2]]);

/// The 6 x 6 pattern.
const SIX_BY_SIX: Layout = Layout::XTrans(xtrans::SIX_BY_SIX);

/// Noise of a clean frame: a base ISO.
const CLEAN: NoiseModel = NoiseModel {
    slope: 2e-5,
    floor: 1e-7,
};

/// A picture as linear light, row by row.
#[derive(Clone)]
struct Picture {
    width: usize,
    height: usize,
    pixels: Vec<[f64; 3]>,
}

impl Picture {
    fn drawn(width: usize, height: usize, at: impl Fn(usize, usize) -> [f64; 3]) -> Self {
        Self {
            width,
            height,
            pixels: (0..width * height)
                .map(|i| at(i % width, i / width))
                .collect(),
        }
    }

    fn at(&self, x: usize, y: usize) -> [f64; 3] {
        self.pixels[y * self.width + x]
    }
}

/// White-balanced light at which red, green and blue photosites are full.
type Full = [f64; 3];

/// Counts from black to full.
const RANGE: f64 = 60_000.0;
const BLACK: f64 = 5_000.0;

/// What a sensor with this layout counts of a picture; `noise(level)` is added to the share of a full photosite.
fn mosaic_of(
    picture: &Picture,
    layout: Layout,
    full: Full,
    mut noise: impl FnMut(f64) -> f64,
) -> (Mosaic, SensorStep) {
    let (width, height) = (picture.width, picture.height);
    let mut mosaic = Mosaic {
        counts: Plane::filled(width, height, 0),
        layout,
        black: BlackLevels::flat(BLACK as f32, 1),
        white: [(BLACK + RANGE) as f32; 3],
        crop: Rect {
            left: 0,
            top: 0,
            width,
            height,
        },
    };
    for y in 0..height {
        for x in 0..width {
            let channel = mosaic.channel_at(x, y);
            let share = (picture.at(x, y)[channel] / full[channel]).min(1.0);
            let share = (share + noise(share)).min(1.0);
            mosaic.counts.row_mut(y)[x] = (share * RANGE + BLACK).round().max(0.0) as u16;
        }
    }
    let step = SensorStep {
        black: mosaic.black.clone(),
        white: mosaic.white,
        neutral: full.map(f64::recip),
        noise: None,
    };
    (mosaic, step)
}

fn developed((mosaic, step): &(Mosaic, SensorStep), method: Method) -> Picture {
    let (width, height) = (mosaic.crop.width, mosaic.crop.height);
    let sensor = Sensor::new(step, mosaic, &Threads::one());
    let mut strip = Strip::new(&sensor, method, 0..width, 0);
    let mut row = RgbRow::new(width);
    let mut pixels = Vec::new();
    for y in 0..height {
        strip.row(y, &mut row, |_, _| ());
        pixels.extend((0..width).map(|x| [0, 1, 2].map(|c| f64::from(row.planes[c][x]))));
    }
    Picture {
        width,
        height,
        pixels,
    }
}

/// The method that a plan takes for light this noisy.
fn method_for(layout: Layout, noise: NoiseModel) -> Method {
    match layout {
        Layout::Bayer(_) => Method::Directional(Tuning::for_noise(noise)),
        _ => Method::XTrans {
            offset: offset_for(noise),
        },
    }
}

fn with_smoothing(noise: NoiseModel, smoothing: Smoothing) -> Method {
    Method::Directional(Tuning {
        smoothing,
        ..Tuning::for_noise(noise)
    })
}

/// Codes of 0 to 1 as sRGB encodes the light.
fn encoded(pixel: [f64; 3]) -> [f64; 3] {
    pixel.map(|light| srgb_encode(light.clamp(0.0, 1.0)))
}

/// Pixels of both pictures at least `border` from the edge, as codes: (found, true).
fn pairs<'p>(
    found: &'p Picture,
    truth: &'p Picture,
    border: usize,
) -> impl Iterator<Item = ([f64; 3], [f64; 3])> + 'p {
    let inner = move |i: &usize| {
        let (x, y) = (i % truth.width, i / truth.width);
        (border..truth.width - border).contains(&x) && (border..truth.height - border).contains(&y)
    };
    (0..truth.pixels.len())
        .filter(inner)
        .map(|i| (encoded(found.pixels[i]), encoded(truth.pixels[i])))
}

/// Colour peak signal-to-noise ratio in decibels: over all three channels of sRGB codes.
fn cpsnr(found: &Picture, truth: &Picture, border: usize) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for (found, truth) in pairs(found, truth, border) {
        for channel in [0, 1, 2] {
            sum += (found[channel] - truth[channel]).powi(2);
            count += 1.0;
        }
    }
    -10.0 * (sum / count).log10()
}
