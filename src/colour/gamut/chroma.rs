//! The map into the picture's space: only where a channel is negative, and by ratios only.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use super::blocks::{BLOCK, Lane, Pieces, for_each_block};
use super::destination::Destination;
use super::oklab_of_space::OklabOfSpace;
use crate::base::arithmetic::{larger, smaller};

/// Pieces of the circle of hues.
const HUES: usize = 1024;
/// How negative the smallest channel may be, relative to the largest, where the largest saturation lies: an RGB space is
/// slightly concave near blue, and a scan with no tolerance stops in that dent. What is left is clipped.
const TOLERANCE: f64 = 0.004;
/// Oklab hues in degrees between which the blue treatment fades in, and fades out.
const BLUE_BEGINS: [f64; 2] = [222.0, 240.0];
const BLUE_ENDS: [f64; 2] = [335.0, 352.0];
/// Share of clipping in the blue treatment; the rest is mixing with white at a constant brightest channel.
const CLIPPED_SHARE: f32 = 0.5;

/// What a hue needs to know. Hues are counted by the diamond |a| + |b| = 1 instead of the circle, a quarter of the
/// pieces on each side: an angle would cost an arc tangent for each pixel.
pub(super) struct Hues {
    /// Largest C / L inside the space. The ratio does not change with brightness, so that one table serves all.
    pub(super) largest: Pieces<HUES>,
    /// Share of the blue treatment.
    blueness: Pieces<HUES>,
}

impl Hues {
    /// Of a space.
    pub(super) fn of(oklab: &OklabOfSpace) -> Self {
        Self {
            largest: Pieces::new(|node| largest_saturation(oklab, angle_of_node(node))),
            blueness: Pieces::new(|node| blueness(angle_of_node(node))),
        }
    }
}

/// Oklab hue in degrees at a node of the diamond.
fn angle_of_node(node: usize) -> f64 {
    const SIDE: usize = HUES / 4;
    #[expect(clippy::cast_precision_loss, reason = "at most 256")]
    let along = (node % SIDE) as f64 / SIDE as f64;
    let (a, b) = match node / SIDE % 4 {
        0 => (1.0 - along, along),
        1 => (-along, 1.0 - along),
        2 => (along - 1.0, -along),
        _ => (along, along - 1.0),
    };
    f64::atan2(b, a).to_degrees().rem_euclid(360.0)
}

/// The place of a hue on the diamond, in pieces.
#[inline(always)]
pub(super) fn place(a: f32, b: f32) -> f32 {
    #[expect(clippy::cast_precision_loss, reason = "256")]
    const SIDE: f32 = (HUES / 4) as f32;
    let up = b / (a.abs() + b.abs());
    let left = 2.0 - up;
    let right = if b < 0.0 { 4.0 + up } else { up };
    SIDE * if a < 0.0 { left } else { right }
}

/// The first C / L at which the smallest channel is more negative than the tolerance allows.
fn largest_saturation(oklab: &OklabOfSpace, hue: f64) -> f64 {
    /// No colour of a space with real primaries has more (blue of BT.2020, the largest, has 0.904).
    const END: f64 = 1.0;
    const STEP: f64 = 0.002;
    const HALVINGS: usize = 40;
    let (sin, cos) = hue.to_radians().sin_cos();
    let inside = |saturation: f64| {
        let rgb = oklab.exact_rgb([1.0, saturation * cos, saturation * sin]);
        let brightest = rgb[0].max(rgb[1]).max(rgb[2]);
        rgb.iter().all(|value| *value >= -TOLERANCE * brightest)
    };
    let mut low = 0.0;
    while low < END && inside(low + STEP) {
        low += STEP;
    }
    let mut high = low + STEP;
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if inside(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// The share of the blue treatment at a hue in degrees.
fn blueness(hue: f64) -> f64 {
    let smooth_step = |[start, end]: [f64; 2]| {
        let t = ((hue - start) / (end - start)).clamp(0.0, 1.0);
        t * t * (3.0 - 2.0 * t)
    };
    smooth_step(BLUE_BEGINS) * (1.0 - smooth_step(BLUE_ENDS))
}

impl Destination {
    /// One pixel of the space's linear RGB with negative channels to one without. Colours that have none come out as they
    /// went in; a pixel without a positive channel is black. Values above 1 are kept: brightness is the curve's business.
    /// The plain twin of [`Destination::map_row`].
    #[must_use]
    pub fn map(&self, rgb: [f32; 3]) -> [f32; 3] {
        let brightest = rgb[0].max(rgb[1]).max(rgb[2]);
        let least = rgb[0].min(rgb[1]).min(rgb[2]);
        let is_lit = brightest > 0.0;
        if !is_lit {
            return [0.0; 3];
        }
        if rgb.iter().all(|value| *value >= 0.0) {
            return rgb;
        }
        let ratio = rgb.map(|value| value / brightest);
        let [lightness, a, b] = self.oklab.oklab(ratio, f32::cbrt);
        let hue = place(a, b);
        let held = held_share(self.hues.largest.at(hue), lightness, a, b);
        let reduced = self.oklab.rgb([lightness, a * held, b * held]);
        let blueness = self.hues.blueness.at(hue);
        let per_depth = 1.0 / (1.0 - least / brightest);
        [0, 1, 2]
            .map(|channel| brightest * mixed(ratio[channel], per_depth, reduced[channel], blueness))
    }

    /// A row of the space's linear RGB to one without negative channels, in place: each pixel as [`Destination::map`] has
    /// it, within 1e-5 of the brightest channel. The three rows have one length; what is beyond the shortest may stay.
    pub fn map_row(&self, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        map_row(self, red, green, blue);
    }
}

/// The share of chroma that the largest saturation leaves.
#[inline(always)]
fn held_share(largest: f32, lightness: f32, a: f32, b: f32) -> f32 {
    (largest * lightness / (a * a + b * b).sqrt())
        .max(0.0)
        .min(1.0)
}

/// One channel's ratio after both treatments, mixed by the share of the blue one. `per_depth` is 1 / (1 - the lowest ratio).
#[inline(always)]
fn mixed(ratio: f32, per_depth: f32, reduced: f32, blueness: f32) -> f32 {
    let whitened = 1.0 - (1.0 - ratio) * per_depth;
    let blue = CLIPPED_SHARE * ratio.max(0.0) + (1.0 - CLIPPED_SHARE) * whitened;
    let reduced = reduced.max(0.0);
    (reduced + blueness * (blue - reduced)).max(0.0)
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn map_row(destination: &Destination, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
    for_each_block(red, green, blue, |red, green, blue| {
        // As numbers, which a compiler ORs in vectors; of truth values it makes single steps.
        let mut outside = 0_u32;
        for index in 0..BLOCK {
            for value in [red[index], green[index], blue[index]] {
                let is_inside = value >= 0.0;
                outside |= u32::from(!is_inside);
            }
        }
        if outside != 0 {
            map_block(destination, red, green, blue);
        }
    });
}

/// A block, step after step over all its pixels: each loop fills vectors.
#[inline(always)]
fn map_block(destination: &Destination, red: &mut Lane, green: &mut Lane, blue: &mut Lane) {
    let [mut brightest, mut lowest] = [[0.0; BLOCK]; 2];
    let mut ratios = [[0.0; BLOCK]; 3];
    for index in 0..BLOCK {
        let top = larger(larger(red[index], green[index]), blue[index]);
        brightest[index] = top;
        let per_top = 1.0 / top;
        lowest[index] = smaller(smaller(red[index], green[index]), blue[index]) * per_top;
        ratios[0][index] = red[index] * per_top;
        ratios[1][index] = green[index] * per_top;
        ratios[2][index] = blue[index] * per_top;
    }
    let Destination { oklab, hues } = destination;
    let [lightness, mut a, mut b] = oklab.oklab_block(&ratios);
    let mut places = [0.0; BLOCK];
    for index in 0..BLOCK {
        places[index] = place(a[index], b[index]);
    }
    let largest = hues.largest.at_each(&places);
    let blueness = hues.blueness.at_each(&places);
    for index in 0..BLOCK {
        let held = held_share(largest[index], lightness[index], a[index], b[index]);
        a[index] *= held;
        b[index] *= held;
    }
    let reduced = oklab.rgb_block(&lightness, &a, &b);
    for index in 0..BLOCK {
        let colour = [red[index], green[index], blue[index]];
        let is_inside = (colour[0] >= 0.0) & (colour[1] >= 0.0) & (colour[2] >= 0.0);
        let top = brightest[index];
        let per_depth = 1.0 / (1.0 - lowest[index]);
        let new = |channel: usize| {
            let share = mixed(
                ratios[channel][index],
                per_depth,
                reduced[channel][index],
                blueness[index],
            );
            let mapped = if top > 0.0 { top * share } else { 0.0 };
            if is_inside { colour[channel] } else { mapped }
        };
        red[index] = new(0);
        green[index] = new(1);
        blue[index] = new(2);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::spaces::{BT2020, DISPLAY_P3, SRGB};

    #[test]
    fn the_diamond_counts_every_hue_once() {
        for node in 0..HUES {
            let hue = angle_of_node(node).to_radians();
            let found = f64::from(place(hue.cos() as f32, hue.sin() as f32));
            assert!((found - node as f64).abs() < 1e-3, "{node}: {found}");
        }
        for node in 1..HUES {
            assert!(angle_of_node(node) > angle_of_node(node - 1));
        }
    }

    /// Cusps of sRGB every 15 degrees of Oklab hue, found by bisection in double precision (`gamut_mapping.json`;
    /// method of Ottosson 2021, "sRGB gamut clipping"): the largest saturation is C / L there.
    #[test]
    fn largest_saturations_are_those_of_the_cusps() {
        let table: serde_json::Value =
            serde_json::from_str(include_str!("../../../tests/data/gamut_mapping.json"))
                .expect("JSON");
        let (oklab, hues) = (
            OklabOfSpace::new(&SRGB),
            Hues::of(&OklabOfSpace::new(&SRGB)),
        );
        let cusps = table["cusps"].as_array().expect("cusps");
        assert!(cusps.len() >= 24);
        for cusp in cusps {
            let number = |name: &str| cusp[name].as_f64().expect("a number");
            let hue = number("hue");
            // At blue's own hue the table's bisection stopped in the dent; blue itself (Ottosson's 0.4520137,
            // 0.3132145) is the cusp there.
            let wanted = if (hue - 264.052).abs() < 0.01 {
                0.313_214_5 / 0.452_013_7
            } else {
                number("C") / number("L")
            };
            let found = largest_saturation(&oklab, hue);
            // The tolerance lets it lie a little beyond the cusp, nowhere before it.
            assert!(
                found >= wanted - 1e-6 && found < wanted * 1.06,
                "{hue}: {found} {wanted}"
            );
            let radians = hue.to_radians();
            let tabled = hues
                .largest
                .at(place(radians.cos() as f32, radians.sin() as f32));
            assert!(
                (f64::from(tabled) - found).abs() < 2e-3,
                "{hue}: {tabled} {found}"
            );
        }
    }

    /// A law: no corner of a space of real primaries is cut off, and none is far from the boundary.
    #[test]
    fn every_space_reaches_its_corners() {
        for space in [SRGB, DISPLAY_P3, BT2020] {
            let oklab = OklabOfSpace::new(&space);
            for corner in 1..7_u8 {
                let rgb = [0, 1, 2].map(|channel| f32::from(corner >> channel & 1));
                let [lightness, a, b] = oklab.oklab(rgb, f32::cbrt).map(f64::from);
                let own = a.hypot(b) / lightness;
                let found = largest_saturation(&oklab, b.atan2(a).to_degrees());
                assert!(
                    found >= own - 1e-6 && found < own * 1.06,
                    "{} {rgb:?}: {found} {own}",
                    space.name()
                );
            }
        }
    }
}
