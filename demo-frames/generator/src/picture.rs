//! From rays to the light on the sensor: sampling, edges, lens, and the same turned upright for the truth.

use crate::body::Body;
use crate::chance::Chance;
use crate::optics::{Light, defocus, expose_through, soften};
use crate::plan::FramePlan;
use crate::sensor::SensorLayout;
use crate::shade::{Seen, Shader};
use crate::view::{View, upright};

/// Further rays of a photosite on an edge.
const MORE_RAYS: u32 = 5;
/// What one of them may bring at most, share of full at relative exposure 1: a lamp's rim stays a rim.
const BRIGHTEST: f64 = 50.0;

/// Photosites where another thing begins: a neighbour shows another object or material.
fn edges(seen: &[Seen], width: usize) -> Vec<usize> {
    let differs = |a: &Seen, b: &Seen| a.object != b.object || a.material != b.material;
    (0..seen.len())
        .filter(|&index| {
            let (x, here) = (index % width, &seen[index]);
            (x > 0 && differs(here, &seen[index - 1]))
                || (x + 1 < width && differs(here, &seen[index + 1]))
                || (index >= width && differs(here, &seen[index - width]))
                || seen
                    .get(index + width)
                    .is_some_and(|below| differs(here, below))
        })
        .collect()
}

/// One ray a photosite of the active area, more on edges, then the lens. `size` is that of the picture as stored.
pub(crate) fn take(
    shader: &Shader,
    body: &Body,
    frame: &FramePlan,
    view: &View,
    size: [usize; 2],
    mut chance: Chance,
) -> Picture {
    let orientation = if frame.portrait {
        body.portrait_orientation
    } else {
        1
    };
    let layout = SensorLayout::new(body, size[0], size[1]);
    let [_, _, width, height] = layout.active;
    let [crop_left, crop_top, crop_width, crop_height] = layout.crop;
    let upright_width = if frame.portrait {
        crop_height
    } else {
        crop_width
    };
    let pixel = view.pixel(upright_width);
    let mut see = |x: usize, y: usize| {
        let at = |value: usize, start: usize, size: usize, offset: f64| {
            (value as f64 + offset - start as f64) / size as f64
        };
        let [across, down] = upright(
            orientation,
            at(x, crop_left, crop_width, chance.share()),
            at(y, crop_top, crop_height, chance.share()),
        );
        shader.see(&view.ray(across, down), pixel)
    };
    let mut seen = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            seen.push(see(x, y));
        }
    }
    let mut pixels: Vec<[f64; 3]> = seen.iter().map(|seen| seen.light).collect();
    for index in edges(&seen, width) {
        let mut sum = pixels[index].map(|value| value.min(BRIGHTEST));
        for _ in 0..MORE_RAYS {
            let more = see(index % width, index / width).light;
            for (total, value) in sum.iter_mut().zip(more) {
                *total += value.min(BRIGHTEST);
            }
        }
        pixels[index] = sum.map(|value| value / f64::from(MORE_RAYS + 1));
    }
    let light = Light {
        width,
        height,
        pixels,
    };
    let radius: Vec<f64> = seen
        .iter()
        .map(|seen| view.blur(seen.distance) * upright_width as f64)
        .collect();
    let mut light = soften(&defocus(&light, &radius));
    expose_through(&mut light, frame.exposure.relative(), body.lens.vignetting);
    Picture {
        layout,
        orientation,
        seen,
        light,
    }
}

/// A frame between lens and sensor, as stored.
pub(crate) struct Picture {
    pub(crate) layout: SensorLayout,
    pub(crate) orientation: u16,
    seen: Vec<Seen>,
    pub(crate) light: Light,
}

/// The same, cut to the picture and turned upright.
pub(crate) struct Upright {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) seen: Vec<Seen>,
    pub(crate) light: Vec<[f64; 3]>,
}

impl Picture {
    /// Cut and turned.
    pub(crate) fn upright(&self) -> Upright {
        let [left, top, width, height] = self.layout.crop;
        let turned = matches!(self.orientation, 6 | 8);
        let (out_width, out_height) = if turned {
            (height, width)
        } else {
            (width, height)
        };
        let (mut seen, mut light) = (Vec::new(), Vec::new());
        for y in 0..out_height {
            for x in 0..out_width {
                let (sx, sy) = match self.orientation {
                    3 => (width - 1 - x, height - 1 - y),
                    6 => (y, height - 1 - x),
                    8 => (width - 1 - y, x),
                    _ => (x, y),
                };
                let at = (sy + top) * self.layout.active[2] + sx + left;
                seen.push(self.seen[at]);
                light.push(self.light.pixels[at]);
            }
        }
        Upright {
            width: out_width,
            height: out_height,
            seen,
            light,
        }
    }
}
