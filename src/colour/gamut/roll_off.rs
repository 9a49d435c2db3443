//! Bright colours go to white: slowly, mostly at constant Oklab hue, never before diffuse white.
//!
//! A wash that is far overexposed has no colour left to show: every channel is at its end. Taking it to white over
//! several stops keeps the shape of a face under it. A mix with white in linear light alone turns blue lavender, Oklab
//! alone turns it azure: the mix of both holds.

use super::blocks::{Lane, Lanes, Marks, TOGETHER, for_rows_of_asking, for_stretches_that_ask};
use super::destination::Destination;
use crate::base::arithmetic::{largest, log2};
use crate::base::kernel::row_kernel;

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
        for_stretches_that_ask(
            [red, green, blue],
            |red, green, blue, marks| mark_above(start, red, green, blue, marks),
            |marks, stretch| roll_off(self, marks, stretch, [amount, start, per_stop]),
        );
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
    let per_palest = (1.0 - STRAIGHT_SHARE) / largest(paler);
    let mix = |channel: usize| {
        let straight = ratio[channel] + share * (1.0 - ratio[channel]);
        per_palest * paler[channel] + STRAIGHT_SHARE * straight
    };
    let mixed = [mix(0), mix(1), mix(2)];
    let scale = brightest / largest(mixed);
    [mixed[0] * scale, mixed[1] * scale, mixed[2] * scale]
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn roll_off(
    destination: &Destination,
    marks: &[Marks],
    stretch: [&mut [Lane]; 3],
    [amount, start, per_stop]: [f32; 3],
) {
    let per_start = 1.0 / start;
    let mut shares: Lanes = [0.0; TOGETHER];
    let mut paler: [Lanes; 3] = [[0.0; TOGETHER]; 3];
    for_rows_of_asking(marks, stretch, |red, green, blue| {
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        let shares = &mut shares[..length];
        let [lightness, a, b] = paler.each_mut().map(|lanes| &mut lanes[..length]);
        for x in 0..length {
            let level = largest([red[x], green[x], blue[x]]);
            let t = (log2(level * per_start) * per_stop).max(0.0).min(1.0);
            shares[x] = amount * smooth(t);
            let per_level = 1.0 / level;
            lightness[x] = red[x] * per_level;
            a[x] = green[x] * per_level;
            b[x] = blue[x] * per_level;
        }
        destination.oklab.to_oklab(lightness, a, b);
        for x in 0..length {
            a[x] *= 1.0 - shares[x];
            b[x] *= 1.0 - shares[x];
        }
        destination.oklab.to_rgb(lightness, a, b);
        for x in 0..length {
            let colour = [red[x], green[x], blue[x]];
            let level = largest(colour);
            let per_level = 1.0 / level;
            let ratio = colour.map(|value| value * per_level);
            let rolled = whitened(ratio, [lightness[x], a[x], b[x]], shares[x], level);
            let is_taken = (level > start) & changes(colour, level);
            red[x] = if is_taken { rolled[0] } else { colour[0] };
            green[x] = if is_taken { rolled[1] } else { colour[1] };
            blue[x] = if is_taken { rolled[2] } else { colour[2] };
        }
    });
}

row_kernel! {
    /// Marks pixels with a channel above a level.
    fn mark_above(level: f32, red: &[f32], green: &[f32], blue: &[f32], marks: &mut [u8]) {
        for (((mark, red), green), blue) in marks.iter_mut().zip(red).zip(green).zip(blue) {
            *mark = u8::from(largest([*red, *green, *blue]) > level);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_marks_the_same() {
        hold_together(&mark_above::levels(), |kernel, length| {
            let [mut red, green, blue] = [1, 2, 3].map(|seed| unordered_row(seed, length));
            if let Some(value) = red.last_mut() {
                *value = f32::NAN;
            }
            let mut marks = vec![0; length];
            kernel(0.9, &red, &green, &blue, &mut marks);
            marks.into_iter().map(f32::from).collect()
        });
    }
}
