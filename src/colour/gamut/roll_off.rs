//! Bright colours go to white: slowly, mostly at constant Oklab hue, never before diffuse white.
//!
//! A wash that is far overexposed has no colour left to show: every channel is at its end. Taking it to white over several stops
//! keeps the shape of a face under it. A mix with white in linear light alone turns blue lavender, Oklab alone turns it azure:
//! the mix of both holds.

use super::chroma::{oklab, srgb_from};

/// Share of the straight mix with white in linear light; the rest keeps Oklab's hue. 0 leaves azure highlights in blue, 1
/// lavender ones (judged on pictures; no source).
const STRAIGHT_SHARE: f32 = 0.3;

/// How far a colour has gone to white: 0 up to `start`, 1 from `end` on, smoothly in stops between. `level` is the brightest
/// channel in multiples of diffuse white, scene-linear; `start` and `end` in the same unit.
#[must_use]
pub fn white_share(level: f32, start: f32, end: f32) -> f32 {
    if !(level > start) {
        return 0.0;
    }
    if level >= end {
        return 1.0;
    }
    let t = (level / start).log2() / (end / start).log2();
    t * t * (3.0 - 2.0 * t)
}

/// A colour of linear sRGB without negative channels, taken by a share (0 to 1) to white, its brightest channel kept. Black stays black.
#[must_use]
pub fn toward_white(srgb: [f32; 3], share: f32) -> [f32; 3] {
    let brightest = srgb[0].max(srgb[1]).max(srgb[2]);
    let neutral = srgb[0] == srgb[1] && srgb[1] == srgb[2];
    if !(brightest > 0.0) || !(share > 0.0) || neutral {
        return srgb;
    }
    let share = share.min(1.0);
    let ratio = srgb.map(|value| value / brightest);
    let [lightness, a, b] = oklab(ratio);
    let paler =
        srgb_from([lightness, (1.0 - share) * a, (1.0 - share) * b]).map(|value| value.max(0.0));
    let palest = paler[0].max(paler[1]).max(paler[2]);
    let mut mixed = [0.0; 3];
    for channel in 0..3 {
        let straight = ratio[channel] + share * (1.0 - ratio[channel]);
        mixed[channel] =
            (1.0 - STRAIGHT_SHARE) * paler[channel] / palest + STRAIGHT_SHARE * straight;
    }
    let top = mixed[0].max(mixed[1]).max(mixed[2]);
    mixed.map(|value| brightest * (value / top))
}

/// A row of linear sRGB without negative channels: each pixel taken to white by its own brightest channel between `start` and `end`
/// and `amount` (0 none to 1 all the way); the brightest channel is kept.
pub fn roll_off_row(
    red: &mut [f32],
    green: &mut [f32],
    blue: &mut [f32],
    amount: f32,
    start: f32,
    end: f32,
) {
    for ((red, green), blue) in red.iter_mut().zip(green).zip(blue) {
        let level = red.max(*green).max(*blue);
        if level > start {
            let share = amount * white_share(level, start, end);
            [*red, *green, *blue] = toward_white([*red, *green, *blue], share);
        }
    }
}
