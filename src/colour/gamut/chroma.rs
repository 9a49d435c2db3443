//! The map to sRGB: only where a channel is negative, and by ratios only.

use crate::colour::oklab::{LAB_OF_ROOTS, LMS_OF_SRGB, ROOTS_OF_LAB, SRGB_OF_LMS, srgb_of_oklab};
use crate::colour::spaces::{BT2020, SRGB, WhiteKeepingMatrix, conversion};
use std::sync::OnceLock;

/// Entries of the table of largest saturations, evenly over the circle of hues.
const HUES: usize = 720;
/// How negative the smallest channel may be, relative to the largest, where the table ends: sRGB is slightly concave
/// near blue, and a scan with no tolerance stops in that dent. What is left is clipped.
const TOLERANCE: f64 = 0.004;
/// Oklab hues in degrees between which the blue treatment fades in, and fades out.
const BLUE_BEGINS: [f32; 2] = [222.0, 240.0];
const BLUE_ENDS: [f32; 2] = [335.0, 352.0];
/// Share of clipping in the blue treatment; the rest is mixing with white at a constant brightest channel.
const CLIPPED_SHARE: f32 = 0.5;

/// Largest C / L inside sRGB for every half degree of Oklab hue. The ratio does not change with brightness, so that one table
/// serves all; its last entry repeats the first.
fn largest_saturations() -> &'static [f32; HUES + 1] {
    static TABLE: OnceLock<[f32; HUES + 1]> = OnceLock::new();
    TABLE.get_or_init(|| {
        let mut table = [0.0; HUES + 1];
        for (index, entry) in table.iter_mut().enumerate() {
            #[expect(clippy::cast_precision_loss, reason = "at most 720")]
            let hue = 360.0 * (index % HUES) as f64 / HUES as f64;
            #[expect(
                clippy::cast_possible_truncation,
                reason = "rounding to single precision is meant"
            )]
            let largest = largest_saturation(hue) as f32;
            *entry = largest;
        }
        table
    })
}

/// The first C / L at which the smallest channel is more negative than the tolerance allows.
fn largest_saturation(hue: f64) -> f64 {
    /// No sRGB colour has more (blue, the largest, has 0.693).
    const END: f64 = 1.0;
    const STEP: f64 = 0.002;
    const HALVINGS: usize = 40;
    let (sin, cos) = hue.to_radians().sin_cos();
    let inside = |saturation: f64| {
        let rgb = srgb_of_oklab([1.0, saturation * cos, saturation * sin]);
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

/// One pixel of linear sRGB with negative channels to one without. Colours that have none come out as they went in; a pixel without
/// a positive channel is black. Values above 1 are kept: brightness is the curve's business.
#[must_use]
pub fn map_srgb(srgb: [f32; 3]) -> [f32; 3] {
    let brightest = srgb[0].max(srgb[1]).max(srgb[2]);
    let least = srgb[0].min(srgb[1]).min(srgb[2]);
    if !(brightest > 0.0) {
        return [0.0; 3];
    }
    if least >= 0.0 && srgb.iter().all(|value| !value.is_nan()) {
        return srgb;
    }
    let ratio = srgb.map(|value| value / brightest);
    let [lightness, a, b] = oklab(ratio);
    let chroma = a.hypot(b);
    let hue = b.atan2(a).to_degrees().rem_euclid(360.0);

    let held = (largest(hue) * lightness / chroma).max(0.0).min(1.0);
    let reduced = srgb_from([lightness, a * held, b * held]);
    let blueness = smooth_step(hue, BLUE_BEGINS) * (1.0 - smooth_step(hue, BLUE_ENDS));
    let lowest = least / brightest;

    let mut mapped = [0.0; 3];
    for channel in 0..3 {
        let whitened = 1.0 - (1.0 - ratio[channel]) / (1.0 - lowest);
        let blue = CLIPPED_SHARE * ratio[channel].max(0.0) + (1.0 - CLIPPED_SHARE) * whitened;
        let mixed = blueness * blue + (1.0 - blueness) * reduced[channel].max(0.0);
        mapped[channel] = brightest * mixed.max(0.0);
    }
    mapped
}

fn largest(hue: f32) -> f32 {
    let table = largest_saturations();
    let position = hue * (HUES as f32 / 360.0);
    let index = (position as usize).min(HUES - 1);
    let share = position - index as f32;
    table[index] * (1.0 - share) + table[index + 1] * share
}

fn smooth_step(value: f32, [start, end]: [f32; 2]) -> f32 {
    let t = ((value - start) / (end - start)).max(0.0).min(1.0);
    t * t * (3.0 - 2.0 * t)
}

pub(super) fn oklab(rgb: [f32; 3]) -> [f32; 3] {
    product(
        &LAB_OF_ROOTS.to_f32(),
        product(&LMS_OF_SRGB.to_f32(), rgb).map(f32::cbrt),
    )
}

pub(super) fn srgb_from(lab: [f32; 3]) -> [f32; 3] {
    let roots = product(&ROOTS_OF_LAB.to_f32(), lab);
    product(&SRGB_OF_LMS.to_f32(), roots.map(|root| root * root * root))
}

fn product(matrix: &[[f32; 3]; 3], v: [f32; 3]) -> [f32; 3] {
    matrix.map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2])
}

fn to_srgb() -> &'static WhiteKeepingMatrix {
    static MATRIX: OnceLock<WhiteKeepingMatrix> = OnceLock::new();
    MATRIX.get_or_init(|| WhiteKeepingMatrix::new(&conversion(&BT2020, &SRGB)))
}

/// One guarded pixel of linear BT.2020 to linear sRGB without negative channels; values above 1 are kept.
#[must_use]
pub fn srgb_of_working(working: [f32; 3]) -> [f32; 3] {
    map_srgb(to_srgb().apply(working))
}

/// A row of guarded linear BT.2020 to linear sRGB without negative channels, in place. The three rows have one length;
/// what is beyond the shortest stays.
pub fn srgb_of_working_row(red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
    let matrix = to_srgb();
    for ((red, green), blue) in red.iter_mut().zip(green).zip(blue) {
        [*red, *green, *blue] = map_srgb(matrix.apply([*red, *green, *blue]));
    }
}
