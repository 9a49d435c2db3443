//! Bright colours go to white: slowly, mostly at constant Oklab hue, never before diffuse white.
//!
//! A wash that is far overexposed has no colour left to show: every channel is at its end. Taking it to white over
//! several stops keeps the shape of a face under it. A mix with white in linear light alone turns blue lavender, Oklab
//! alone turns it azure: the mix of both holds.

use super::blocks::{BLOCK, for_each_block};
use super::destination::Destination;
use crate::base::arithmetic::{larger, log2};

/// Share of the straight mix with white in linear light; the rest keeps Oklab's hue. 0 leaves azure highlights in blue,
/// 1 lavender ones (judged on pictures; no source).
const STRAIGHT_SHARE: f32 = 0.3;

/// How far a colour has gone to white: 0 up to `start`, 1 from `end` on, smoothly in stops between. `level` is the
/// brightest channel in multiples of diffuse white, scene-linear; `start` and `end` in the same unit, `end` above
/// `start` above 0.
#[must_use]
pub fn white_share(level: f32, start: f32, end: f32) -> f32 {
    if level >= end {
        1.0
    } else if level > start {
        smooth((level / start).log2() / (end / start).log2())
    } else {
        0.0
    }
}

#[inline(always)]
fn smooth(t: f32) -> f32 {
    t * t * (3.0 - 2.0 * t)
}

impl Destination {
    /// A colour of the space's linear RGB without negative channels, taken by a share (0 to 1) to white, its brightest
    /// channel kept. Black stays black, neutral stays as it is.
    #[must_use]
    pub fn toward_white(&self, rgb: [f32; 3], share: f32) -> [f32; 3] {
        let brightest = rgb[0].max(rgb[1]).max(rgb[2]);
        let is_taken = share > 0.0 && changes(rgb, brightest);
        if !is_taken {
            return rgb;
        }
        let share = share.min(1.0);
        let ratio = rgb.map(|value| value / brightest);
        let [lightness, a, b] = self.oklab.oklab(ratio, f32::cbrt);
        let paler = self
            .oklab
            .rgb([lightness, (1.0 - share) * a, (1.0 - share) * b]);
        whitened(ratio, paler, share, brightest)
    }

    /// A row of the space's linear RGB without negative channels: each pixel taken to white by `amount` (0 none to 1 all
    /// the way) times the [`white_share`] of its own brightest channel, which is kept. Each as
    /// [`Destination::toward_white`] has it, within 3e-6 of that channel. The three rows have one length; what is beyond
    /// the shortest may stay.
    pub fn roll_off_row(
        &self,
        [red, green, blue]: [&mut [f32]; 3],
        amount: f32,
        start: f32,
        end: f32,
    ) {
        let per_stop = 1.0 / (end / start).log2();
        roll_off(self, red, green, blue, amount, start, per_stop);
    }
}

/// Whether white is another colour than this one: it is neither black nor neutral already.
#[inline(always)]
fn changes([red, green, blue]: [f32; 3], brightest: f32) -> bool {
    (brightest > 0.0) & ((red != green) | (green != blue))
}

/// The mix of both ways to white, with the brightest channel put back.
#[inline(always)]
fn whitened(ratio: [f32; 3], paler: [f32; 3], share: f32, brightest: f32) -> [f32; 3] {
    let paler = [paler[0].max(0.0), paler[1].max(0.0), paler[2].max(0.0)];
    let per_palest = (1.0 - STRAIGHT_SHARE) / larger(larger(paler[0], paler[1]), paler[2]);
    let mix = |channel: usize| {
        let straight = ratio[channel] + share * (1.0 - ratio[channel]);
        per_palest * paler[channel] + STRAIGHT_SHARE * straight
    };
    let mixed = [mix(0), mix(1), mix(2)];
    let scale = brightest / larger(larger(mixed[0], mixed[1]), mixed[2]);
    [mixed[0] * scale, mixed[1] * scale, mixed[2] * scale]
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn roll_off(
    destination: &Destination,
    red: &mut [f32],
    green: &mut [f32],
    blue: &mut [f32],
    amount: f32,
    start: f32,
    per_stop: f32,
) {
    for_each_block(red, green, blue, |red, green, blue| {
        let mut any_above = false;
        for index in 0..BLOCK {
            any_above |= larger(larger(red[index], green[index]), blue[index]) > start;
        }
        if !any_above {
            return;
        }
        let mut shares = [0.0; BLOCK];
        let mut ratios = [[0.0; BLOCK]; 3];
        for index in 0..BLOCK {
            let level = larger(larger(red[index], green[index]), blue[index]);
            let t = (log2(level / start) * per_stop).max(0.0).min(1.0);
            shares[index] = amount * smooth(t);
            let per_level = 1.0 / level;
            ratios[0][index] = red[index] * per_level;
            ratios[1][index] = green[index] * per_level;
            ratios[2][index] = blue[index] * per_level;
        }
        let [lightness, mut a, mut b] = destination.oklab.oklab_block(&ratios);
        for index in 0..BLOCK {
            a[index] *= 1.0 - shares[index];
            b[index] *= 1.0 - shares[index];
        }
        let paler = destination.oklab.rgb_block(&lightness, &a, &b);
        for index in 0..BLOCK {
            let colour = [red[index], green[index], blue[index]];
            let level = larger(larger(colour[0], colour[1]), colour[2]);
            let rolled = whitened(
                [ratios[0][index], ratios[1][index], ratios[2][index]],
                [paler[0][index], paler[1][index], paler[2][index]],
                shares[index],
                level,
            );
            let is_taken = (level > start) & changes(colour, level);
            red[index] = if is_taken { rolled[0] } else { colour[0] };
            green[index] = if is_taken { rolled[1] } else { colour[1] };
            blue[index] = if is_taken { rolled[2] } else { colour[2] };
        }
    });
}
