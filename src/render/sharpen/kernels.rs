//! The row functions of output sharpening.

use super::{DARK, KEPT_OF_DARK};
use crate::base::arithmetic::{larger, smaller, smooth_step};
use crate::base::kernel::row_kernel;

/// Pixels whose mask and bounds are held at once: some kilobytes, which stay in any first-level cache.
const BLOCK: usize = 256;

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

row_kernel! {
    /// Blurs luminance along a row, and finds the least and the largest square root of each value and its neighbours up to
    /// `near` away; `values` and `roots` (working memory) are longer by the mask's reach on both sides. The blur is the pixel
    /// plus differences: flat stays flat to the last bit.
    fn blur_and_range_along(
        weights: &[f32],
        near: usize,
        values: &[f32],
        roots: &mut [f32],
        soft: &mut [f32],
        low: &mut [f32],
        high: &mut [f32],
    ) {
        let length = soft.len();
        let reach = weights.len() - 1;
        let (values, roots) = (&values[..length + 2 * reach], &mut roots[..length + 2 * reach]);
        for (root, value) in roots.iter_mut().zip(values) {
            *root = value.max(0.0).sqrt();
        }
        for start in (0..length).step_by(BLOCK) {
            let size = BLOCK.min(length - start);
            let at = |place: usize| &values[start + place..][..size];
            let own = at(reach);
            let soft = &mut soft[start..][..size];
            let (low, high) = (&mut low[start..][..size], &mut high[start..][..size]);
            let root_at = |place: usize| &roots[start + place..][..size];
            let (before, after) = (at(reach - 1), at(reach + 1));
            let (own_root, root_before, root_after) = (root_at(reach), root_at(reach - 1), root_at(reach + 1));
            for x in 0..size {
                soft[x] = weights[1].mul_add((before[x] - own[x]) + (after[x] - own[x]), own[x]);
                low[x] = smaller(smaller(own_root[x], root_before[x]), root_after[x]);
                high[x] = larger(larger(own_root[x], root_before[x]), root_after[x]);
            }
            for (distance, &weight) in weights.iter().enumerate().skip(2) {
                let (before, after) = (at(reach - distance), at(reach + distance));
                for x in 0..size {
                    soft[x] = weight.mul_add((before[x] - own[x]) + (after[x] - own[x]), soft[x]);
                }
            }
            for distance in 2..=near {
                let (before, after) = (root_at(reach - distance), root_at(reach + distance));
                for x in 0..size {
                    low[x] = smaller(smaller(low[x], before[x]), after[x]);
                    high[x] = larger(larger(high[x], before[x]), after[x]);
                }
            }
        }
    }
}

/// A pixel's channels, sharpened: the difference of its luminance from the mask added, held to its neighbours' bounds (in square
/// roots of luminance) and the overshoot beyond them. `strength` is the amount and the overshoot.
#[inline(always)]
fn sharpened(
    [amount, overshoot]: [f32; 2],
    here: f32,
    mask: f32,
    [low, high]: [f32; 2],
    colour: [f32; 3],
) -> [f32; 3] {
    /// Below this there is no luminance to take a ratio of.
    const LEAST: f32 = 1e-6;
    let share = amount * smooth_step(mask.max(0.0).sqrt(), DARK[0], DARK[1]);
    let room = overshoot * (high - low);
    let (least, most) = (larger(low - room, low * KEPT_OF_DARK), high + room);
    let wanted = share.mul_add(here - mask, here);
    let held = smaller(larger(wanted, least * least), most * most);
    let brightest = larger(larger(colour[0], colour[1]), colour[2]);
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

/// Takes `size` values from `start` on out of a row, given by its number among others.
#[inline(always)]
fn piece<'rows>(start: usize, size: usize) -> impl Fn(&[&'rows [f32]], usize) -> &'rows [f32] {
    move |rows, number| &rows[number][start..][..size]
}

row_kernel! {
    /// Sharpens one row: blurs down the columns, adds the difference from that mask, holds the overshoot, scales the pixels.
    /// `strength` is the amount and the overshoot; of `soft`, `low` and `high` there are as many rows above the own one as
    /// below it.
    fn sharpen_row(
        strength: [f32; 2],
        weights: &[f32],
        near: usize,
        luminance: &[f32],
        soft: &[&[f32]],
        low: &[&[f32]],
        high: &[&[f32]],
        from: [&[f32]; 3],
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        let length = red.len();
        let reach = weights.len() - 1;
        if let (&[_, first, second], 1) = (weights, near) {
            // The mask of a screen, in one pass.
            let row = piece(0, length);
            let (above_two, above, own) = (row(soft, 0), row(soft, 1), row(soft, 2));
            let (below, below_two) = (row(soft, 3), row(soft, 4));
            let lows = [row(low, 1), row(low, 2), row(low, 3)];
            let highs = [row(high, 1), row(high, 2), row(high, 3)];
            let luminance = &luminance[..length];
            let from = [&from[0][..length], &from[1][..length], &from[2][..length]];
            let (green, blue) = (&mut green[..length], &mut blue[..length]);
            for x in 0..length {
                let near = (above[x] - own[x]) + (below[x] - own[x]);
                let far = (above_two[x] - own[x]) + (below_two[x] - own[x]);
                let mask = second.mul_add(far, first.mul_add(near, own[x]));
                let bounds = [
                    smaller(smaller(lows[1][x], lows[0][x]), lows[2][x]),
                    larger(larger(highs[1][x], highs[0][x]), highs[2][x]),
                ];
                let colour = [from[0][x], from[1][x], from[2][x]];
                [red[x], green[x], blue[x]] = sharpened(strength, luminance[x], mask, bounds, colour);
            }
            return;
        }
        for start in (0..length).step_by(BLOCK) {
            let size = BLOCK.min(length - start);
            let (mut mask, mut lows, mut highs) = ([0.0; BLOCK], [0.0; BLOCK], [0.0; BLOCK]);
            let (mask, lows, highs) = (&mut mask[..size], &mut lows[..size], &mut highs[..size]);
            let own = &soft[reach][start..][..size];
            let block = piece(start, size);
            let (above, below) = (block(soft, reach - 1), block(soft, reach + 1));
            let [low_above, low_own, low_below] = [reach - 1, reach, reach + 1].map(|down| block(low, down));
            let [high_above, high_own, high_below] = [reach - 1, reach, reach + 1].map(|down| block(high, down));
            for x in 0..size {
                mask[x] = weights[1].mul_add((above[x] - own[x]) + (below[x] - own[x]), own[x]);
                lows[x] = smaller(smaller(low_own[x], low_above[x]), low_below[x]);
                highs[x] = larger(larger(high_own[x], high_above[x]), high_below[x]);
            }
            for (distance, &weight) in weights.iter().enumerate().skip(2) {
                let (above, below) = (block(soft, reach - distance), block(soft, reach + distance));
                for x in 0..size {
                    mask[x] = weight.mul_add((above[x] - own[x]) + (below[x] - own[x]), mask[x]);
                }
            }
            for distance in 2..=near {
                let (low_above, low_below) = (block(low, reach - distance), block(low, reach + distance));
                let (high_above, high_below) = (block(high, reach - distance), block(high, reach + distance));
                for x in 0..size {
                    lows[x] = smaller(smaller(lows[x], low_above[x]), low_below[x]);
                    highs[x] = larger(larger(highs[x], high_above[x]), high_below[x]);
                }
            }
            let here = &luminance[start..][..size];
            let from = [&from[0][start..][..size], &from[1][start..][..size], &from[2][start..][..size]];
            let (red, green) = (&mut red[start..][..size], &mut green[start..][..size]);
            let blue = &mut blue[start..][..size];
            for x in 0..size {
                let colour = [from[0][x], from[1][x], from[2][x]];
                let bounds = [lows[x], highs[x]];
                [red[x], green[x], blue[x]] = sharpened(strength, here[x], mask[x], bounds, colour);
            }
        }
    }
}
