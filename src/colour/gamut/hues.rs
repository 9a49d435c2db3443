//! What the map needs to know of a hue: tables of the space's boundary.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use super::blocks::Pieces;
use super::oklab_of_space::OklabOfSpace;

/// Pieces of the circle of hues.
const HUES: usize = 1024;
/// How negative the smallest channel may be, relative to the largest, where the largest saturation lies: an RGB space is
/// slightly concave near blue, and a scan with no tolerance stops in that dent. What is left is clipped.
const TOLERANCE: f64 = 0.004;
/// Oklab hues in degrees between which the blue treatment fades in, and fades out.
const BLUE_BEGINS: [f64; 2] = [222.0, 240.0];
const BLUE_ENDS: [f64; 2] = [335.0, 352.0];

/// What a hue needs to know. Hues are counted by the diamond |a| + |b| = 1 instead of the circle, a quarter of the
/// pieces on each side: an angle would cost an arc tangent for each pixel.
pub(super) struct Hues {
    /// Largest C / L inside the space. The ratio does not change with brightness, so that one table serves all.
    pub(super) largest: Pieces<HUES>,
    /// Share of the blue treatment.
    pub(super) blueness: Pieces<HUES>,
    /// The first place of which that share may be above 0, and the last.
    blue: [f32; 2],
}

impl Hues {
    /// Of a space.
    pub(super) fn of(oklab: &OklabOfSpace) -> Self {
        let is_blue = |node: &usize| blueness(angle_of_node(*node)) > 0.0;
        let first = (0..HUES).find(is_blue).unwrap_or(HUES);
        let last = (0..HUES).rfind(is_blue).unwrap_or(0);
        #[expect(clippy::cast_precision_loss, reason = "at most 1024")]
        Self {
            largest: Pieces::new(|node| largest_saturation(oklab, angle_of_node(node))),
            blueness: Pieces::new(|node| blueness(angle_of_node(node))),
            blue: [first as f32 - 1.0, last as f32 + 1.0],
        }
    }

    /// Whether one of these places takes part in the blue treatment.
    #[inline(always)]
    pub(super) fn has_blue(&self, places: &[f32]) -> bool {
        let [first, last] = self.blue;
        // As numbers, which a compiler ORs in vectors; of truth values it makes single steps.
        let mut any = 0_u32;
        for place in places {
            any |= u32::from((*place > first) & (*place < last));
        }
        any != 0
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
