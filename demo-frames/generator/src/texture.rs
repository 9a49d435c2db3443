//! How a material varies over a surface: threads, folds, strands, boards, patches.
//!
//! A texture gives a factor on the reflectance, a share of the material's accent, and a slope that bends the normal.
//! What would be finer than two pixels fades out, so that nothing flickers from aliasing.

use crate::chance::{rough_noise, smooth_noise};
use crate::furniture::chart_patch;
use crate::material::{Material, MaterialId, Pattern, id};
use crate::shape::{Part, Solid};
use crate::vector::{Vector, smooth_step, vector};

/// What a texture says of a point.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Texture {
    pub(crate) material: MaterialId,
    /// Factor on the reflectance.
    pub(crate) factor: f64,
    /// Share of the accent, 0 to 1.
    pub(crate) accent: f64,
    /// What to take from the normal before it is made unit again.
    pub(crate) slope: Vector,
}

/// A wave that is 0 on average and fades when finer than two pixels; `footprint` is a pixel's size on the surface.
fn wave(at: f64, per_metre: f64, footprint: f64) -> f64 {
    let visible = 1.0 - smooth_step(0.2, 0.5, footprint * per_metre);
    if visible <= 0.0 {
        return 0.0;
    }
    visible * libm::sin(at * per_metre * std::f64::consts::TAU)
}

/// The gradient of a height field by differences, times a depth.
fn slope_of(height: impl Fn(Vector) -> f64, point: Vector, step: f64, depth: f64) -> Vector {
    let here = height(point);
    let along = |direction: Vector| (height(point + direction * step) - here) * depth / step;
    vector(
        along(vector(1.0, 0.0, 0.0)),
        along(vector(0.0, 1.0, 0.0)),
        along(vector(0.0, 0.0, 1.0)),
    )
}

/// Folds of cloth: long creases that wander.
fn folds(point: Vector) -> f64 {
    let warp = smooth_noise(point.x * 5.0, point.y * 4.0, point.z * 5.0, 11) * 1.6;
    let crease = smooth_noise(
        point.x * 13.0 + warp * 3.0,
        point.y * 7.0 + warp * 2.0,
        point.z * 9.0,
        12,
    );
    let ridge = 1.0 - (2.0 * crease - 1.0).abs();
    let small = smooth_noise(
        point.x * 31.0 + warp * 4.0,
        point.y * 19.0,
        point.z * 31.0,
        13,
    );
    let fine = 1.0 - (2.0 * small - 1.0).abs();
    0.03 * ridge * ridge + 0.011 * fine * fine
}

/// The texture of a part at a point.
pub(crate) fn of_part(
    materials: &[Material],
    part: &Part,
    point: Vector,
    footprint: f64,
) -> Texture {
    let own = part.place.into_own(point);
    let material = &materials[part.material];
    let mut texture = Texture {
        material: part.material,
        factor: 1.0,
        accent: 0.0,
        slope: vector(0.0, 0.0, 0.0),
    };
    let fine = |scale: f64, seed: u32| {
        smooth_noise(point.x * scale, point.y * scale, point.z * scale, seed) - 0.5
    };
    match material.pattern {
        Pattern::Plain => {
            texture.factor += 0.06 * fine(25.0, 21);
            if part.face {
                // The iris, and the lid above it.
                let off = (own.x * own.x + own.y * own.y).sqrt();
                texture.accent = (1.0 - smooth_step(0.0072, 0.0086, off))
                    .max(smooth_step(0.0035, 0.0062, own.y));
            }
            if part.material == id::DRUM_HEAD {
                let off = (own.x * own.x + own.y * own.y).sqrt();
                texture.accent =
                    0.55 * (1.0 - smooth_step(0.02, 0.13, off)) * (0.6 + fine(30.0, 22));
            }
        }
        Pattern::Cloth | Pattern::Striped => {
            texture.slope = slope_of(folds, point, 0.004, material.relief);
            let threads = wave(own.x + own.z, 210.0, footprint) * wave(own.y, 230.0, footprint);
            texture.factor += 0.1 * threads + 0.09 * fine(14.0, 23) + 0.05 * fine(90.0, 24);
            texture.accent = 0.5 * smooth_step(0.15, 0.3, fine(6.0, 25));
            if material.pattern == Pattern::Striped {
                let phase = (own.y / 0.055).rem_euclid(1.0);
                let edge = (footprint / 0.055).clamp(0.02, 0.25);
                texture.accent = smooth_step(0.5 - edge, 0.5 + edge, phase)
                    * (1.0 - smooth_step(1.0 - edge, 1.0, phase));
            }
        }
        Pattern::Skin => {
            texture.factor += 0.05 * fine(60.0, 26) + 0.04 * fine(11.0, 27);
            texture.accent = (0.25 + 0.7 * fine(17.0, 28)).clamp(0.0, 1.0);
            texture.slope = slope_of(
                |p| 0.002 * smooth_noise(p.x * 70.0, p.y * 70.0, p.z * 70.0, 29),
                point,
                0.004,
                1.0,
            );
        }
        Pattern::Hair => {
            let strands =
                |p: Vector| 0.012 * rough_noise(p.x * 120.0, p.y * 16.0, p.z * 120.0, 31, 2);
            texture.slope = slope_of(strands, point, 0.003, material.relief);
            texture.accent = smooth_noise(point.x * 95.0, point.y * 11.0, point.z * 95.0, 32);
            texture.factor +=
                0.35 * (smooth_noise(point.x * 210.0, point.y * 14.0, point.z * 210.0, 33) - 0.5);
        }
        Pattern::Wood => {
            let grain = smooth_noise(own.x * 70.0, own.y * 6.0, own.z * 70.0, 34) - 0.5;
            texture.factor += 0.16 * grain;
            if let Solid::Ellipsoid(radii) = part.solid {
                let off = vector(own.x / radii.x, own.y / radii.y, 0.0).length();
                texture.accent = smooth_step(0.55, 0.98, off);
            } else {
                // Frets.
                texture.accent = 0.6 * smooth_step(0.86, 0.95, (own.y / 0.034).rem_euclid(1.0));
            }
        }
        Pattern::Mesh => {
            texture.factor += 0.2 * wave(own.x, 95.0, footprint) * wave(own.y, 95.0, footprint)
                + 0.1 * fine(8.0, 35);
            texture.accent = 0.35 + 0.4 * fine(5.0, 36);
        }
        Pattern::Metal => {
            let round = (own.x * own.x + own.y * own.y).sqrt();
            texture.factor += 0.1 * fine(18.0, 37);
            if part.material == id::BRASS {
                let grooves = |p: Vector| {
                    let own = part.place.into_own(p);
                    0.0006 * libm::sin((own.x * own.x + own.y * own.y).sqrt() * 700.0)
                };
                texture.slope = slope_of(grooves, point, 0.0008, 0.4);
                texture.accent = 0.3 + 0.5 * (smooth_noise(round * 60.0, 0.0, 0.0, 38) - 0.3);
            }
            if part.material == id::CASE {
                texture.factor += 0.15 * fine(45.0, 39);
            }
            if part.material == id::SHELL {
                // Sparkle.
                texture.accent = 0.5
                    * smooth_step(0.36, 0.42, fine(160.0, 40))
                    * (1.0 - smooth_step(0.003, 0.01, footprint));
            }
        }
        Pattern::Chart => {
            if let Some(patch) = chart_patch(own) {
                texture.material = id::CHART + patch;
            }
        }
        Pattern::Boards => texture = floor(point, footprint),
    }
    texture
}

/// The stage floor: boards along z, worn.
pub(crate) fn floor(point: Vector, footprint: f64) -> Texture {
    const BOARD: f64 = 0.19;
    let across = point.x / BOARD;
    let board = across.floor();
    let seam = (across - board - 0.5).abs() * 2.0;
    let edge = (footprint / BOARD * 2.0).clamp(0.03, 0.6);
    let grain = rough_noise(point.x * 60.0, board * 7.0, point.z * 3.0, 41, 2) - 0.5;
    let scuffs = rough_noise(point.x * 3.0, 0.0, point.z * 3.0, 42, 3) - 0.5;
    Texture {
        material: id::FLOOR,
        factor: 1.0
            + 0.3 * grain
            + 0.5 * scuffs
            + 0.2 * (smooth_noise(board * 1.7, 0.0, 0.0, 43) - 0.5),
        accent: smooth_step(1.0 - edge, 1.0, seam),
        slope: vector(0.06 * grain, 0.0, 0.05 * scuffs),
    }
}

/// Depth of a drape's pleats at a place on it.
fn pleats(x: f64, y: f64) -> f64 {
    let sway = smooth_noise(x * 0.8, y * 0.25, 0.0, 44) * 1.4;
    let wide = libm::sin((x + sway * 0.16) * 15.0 + sway);
    let narrow = libm::sin((x + sway * 0.05) * 37.0 + y * 0.3);
    0.055 * wide + 0.016 * narrow
}

/// A drape of this material.
pub(crate) fn drape(material: MaterialId, point: Vector) -> Texture {
    let depth = pleats(point.x, point.y);
    let slope_x = (pleats(point.x + 0.004, point.y) - depth) / 0.004;
    let slope_y = (pleats(point.x, point.y + 0.01) - depth) / 0.01;
    let nap = rough_noise(point.x * 9.0, point.y * 5.0, 0.0, 45, 2) - 0.5;
    Texture {
        material,
        // Deep pleats see less of the room.
        factor: (0.85 + 5.5 * depth + 0.25 * nap).clamp(0.25, 1.25),
        accent: 0.3 * (nap + 0.5),
        slope: vector(slope_x, slope_y, 0.0),
    }
}
