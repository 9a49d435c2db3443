//! The row functions of output sharpening.

use super::{DARK, KEPT_OF_DARK};
use crate::base::arithmetic::{larger, largest, smaller, smooth_step};
use crate::base::kernel::row_kernel;

row_kernel! {
    /// Luminance, as green plus differences: grey has its own value.
    fn luminance(of: [f32; 3], red: &[f32], green: &[f32], blue: &[f32], luminance: &mut [f32]) {
        let length = luminance.len();
        let (red, green, blue) = (&red[..length], &green[..length], &blue[..length]);
        for x in 0..length {
            let g = green[x];
            luminance[x] = g + (of[0] * (red[x] - g) + of[2] * (blue[x] - g));
        }
    }
}

/// The least and the most that a pixel among neighbours from `low` to `high` may become: its range widened by the overshoot,
/// a share of it in square roots, but never below [`KEPT_OF_DARK`]. (√low - o (√high - √low))² and its like are sums of low,
/// high and √(low · high), which takes one root for both.
#[inline(always)]
pub(super) fn bounds(overshoot: f32, [low, high]: [f32; 2]) -> [f32; 2] {
    let own = (1.0 + overshoot) * (1.0 + overshoot);
    let other = overshoot * overshoot;
    let both = 2.0 * overshoot * (1.0 + overshoot) * (low * high).sqrt();
    let least = own.mul_add(low, other.mul_add(high, -both));
    let most = own.mul_add(high, other.mul_add(low, -both));
    // Where the least root would be below its share of the low one: both sides are positive, so their squares tell.
    let margin = 1.0 + overshoot - KEPT_OF_DARK;
    let is_dark = margin * margin * low < other * high;
    let kept = KEPT_OF_DARK * KEPT_OF_DARK * low;
    [if is_dark { kept } else { least }, most]
}

/// A pixel's channels, sharpened: the difference of its luminance from the mask added, held to the bounds of its neighbours'
/// range. `strength` is the amount and the overshoot.
#[inline(always)]
fn sharpened(
    [amount, overshoot]: [f32; 2],
    here: f32,
    mask: f32,
    range: [f32; 2],
    colour: [f32; 3],
) -> [f32; 3] {
    /// Below this there is no luminance to take a ratio of.
    const LEAST: f32 = 1e-6;
    let share = amount * smooth_step(mask, DARK[0], DARK[1]);
    let [low, high] = range.map(|luminance| luminance.max(0.0));
    let [least, most] = bounds(overshoot, [low, high]);
    let wanted = share.mul_add(here - mask, here);
    let held = smaller(larger(wanted, least), most);
    let brightest = largest(colour);
    // The ratio to the own luminance, at most that to white where the brightest channel is below it: of both quotients the
    // smaller, in one division.
    let below_white = brightest.max(LEAST).min(1.0);
    let own = here.max(LEAST);
    let ratio = smaller(held.max(0.0) * below_white, own) / (own * below_white);
    // Where nothing is added, not even rounding is.
    let is_sharpened = (here > LEAST) & (high > low);
    let ratio = if is_sharpened { ratio } else { 1.0 };
    // Rounding would take a channel over white otherwise.
    let most = larger(brightest, 1.0);
    colour.map(|value| smaller(value * ratio, most))
}

row_kernel! {
    /// Sharpens pixels: their luminance, the mask, the least and the largest luminance around them, and their channels before
    /// and after. `strength` is the amount and the overshoot.
    fn sharpen(
        strength: [f32; 2],
        luminance: &[f32],
        mask: &[f32],
        low: &[f32],
        high: &[f32],
        from: [&[f32]; 3],
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        let (luminance, mask) = (&luminance[..length], &mask[..length]);
        let (low, high) = (&low[..length], &high[..length]);
        let from = [&from[0][..length], &from[1][..length], &from[2][..length]];
        for x in 0..length {
            let colour = [from[0][x], from[1][x], from[2][x]];
            let range = [low[x], high[x]];
            [red[x], green[x], blue[x]] = sharpened(strength, luminance[x], mask[x], range, colour);
        }
    }
}
