//! Saturation that pushes no wash out of its space.
//!
//! A factor on every difference from grey drives a wash, which stands at the edge of the space already, over it: a
//! channel turns negative, the map cuts it, and a lit face becomes a flat patch of pure colour. Here a factor above 1
//! acts in full on what is nearly grey and less the closer a colour is to the most that its hue can have: the share s of
//! that most becomes s' = k s / (1 + (k - 1) s). It is 0 at 0 with slope k and 1 at 1 with slope 1/k, so that order, and
//! with it modelling, stays, and what is inside stays inside. Beyond 1, outside the space, nothing changes: that is the
//! map's business. A factor below 1 acts on all colours alike. Lightness and hue are Oklab's and are kept; chroma is
//! taken relative to lightness, so that twice the light in is twice the light out. The formula is our own.

use super::blocks::{Lane, Lanes, Marks, TOGETHER, for_rows_of_asking, for_stretches_that_ask};
use super::destination::Destination;
use super::hues::place;
use crate::base::arithmetic::largest;

/// Below this share of the brightest channel, a chroma is rounding.
const LEAST_CHROMA: f32 = 1e-7;

/// What chroma is multiplied with, where `share` is chroma as a share of the most that its hue can have.
#[inline(always)]
fn chroma_factor(factor: f32, share: f32) -> f32 {
    let gain = (factor - 1.0).max(0.0);
    factor.min(1.0) * (1.0 + gain) / (1.0 + gain * share.max(0.0).min(1.0))
}

/// The share of the most chroma that a hue can have.
#[inline(always)]
fn chroma_share(largest: f32, lightness: f32, a: f32, b: f32) -> f32 {
    (a * a + b * b).sqrt() / (largest * lightness).max(LEAST_CHROMA)
}

/// Whether a colour is one that a factor leaves to the map: outside the space already.
#[inline(always)]
fn is_beyond(factor: f32, share: f32) -> bool {
    (factor > 1.0) & (share >= 1.0)
}

/// Whether a colour has any chroma to change.
#[inline(always)]
fn is_coloured([red, green, blue]: [f32; 3], brightest: f32) -> bool {
    (brightest > 0.0) & ((red != green) | (green != blue))
}

impl Destination {
    /// One pixel of the space's linear RGB, negative channels allowed, with its saturation changed by `factor` (0 grey, 1
    /// as it is). Grey stays exactly grey. The plain twin of [`Destination::saturate_row`].
    #[must_use]
    pub fn saturate(&self, rgb: [f32; 3], factor: f32) -> [f32; 3] {
        let brightest = rgb[0].max(rgb[1]).max(rgb[2]);
        if !is_coloured(rgb, brightest) {
            return rgb;
        }
        let ratio = rgb.map(|value| value / brightest);
        let [lightness, a, b] = self.oklab.oklab(ratio, f32::cbrt);
        let share = chroma_share(self.hues.largest.at(place(a, b)), lightness, a, b);
        if is_beyond(factor, share) {
            return rgb;
        }
        let factor = chroma_factor(factor, share);
        let changed = self.oklab.rgb([lightness, factor * a, factor * b]);
        changed.map(|value| value * brightest)
    }

    /// A row of the space's linear RGB with its saturation changed: each pixel as [`Destination::saturate`] has it, within
    /// 1e-5 of the brightest channel. The three rows have one length; what is beyond the shortest may stay.
    pub fn saturate_row(&self, [red, green, blue]: [&mut [f32]; 3], factor: f32) {
        for_stretches_that_ask(
            [red, green, blue],
            |_, _, _, marks| marks.fill(1),
            |marks, stretch| saturate_stretch(self, factor, marks, stretch),
        );
    }
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn saturate_stretch(
    Destination { oklab, hues }: &Destination,
    factor: f32,
    marks: &[Marks],
    stretch: [&mut [Lane]; 3],
) {
    let mut places: Lanes = [0.0; TOGETHER];
    let mut shares: Lanes = [0.0; TOGETHER];
    let mut changed: [Lanes; 3] = [[0.0; TOGETHER]; 3];
    for_rows_of_asking(marks, stretch, |red, green, blue| {
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        let (places, shares) = (&mut places[..length], &mut shares[..length]);
        let [lightness, a, b] = changed.each_mut().map(|lanes| &mut lanes[..length]);
        for x in 0..length {
            let per_top = 1.0 / largest([red[x], green[x], blue[x]]);
            lightness[x] = red[x] * per_top;
            a[x] = green[x] * per_top;
            b[x] = blue[x] * per_top;
        }
        oklab.to_oklab(lightness, a, b);
        for x in 0..length {
            places[x] = place(a[x], b[x]);
        }
        hues.largest.at_each(places, shares);
        for x in 0..length {
            shares[x] = chroma_share(shares[x], lightness[x], a[x], b[x]);
            let scale = chroma_factor(factor, shares[x]);
            a[x] *= scale;
            b[x] *= scale;
        }
        oklab.to_rgb(lightness, a, b);
        for x in 0..length {
            let colour = [red[x], green[x], blue[x]];
            let top = largest(colour);
            let is_changed = is_coloured(colour, top) & !is_beyond(factor, shares[x]);
            let changed = [lightness[x], a[x], b[x]];
            let new = |channel: usize| {
                let value = top * changed[channel];
                if is_changed { value } else { colour[channel] }
            };
            [red[x], green[x], blue[x]] = [new(0), new(1), new(2)];
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::oklab::{hue, oklab_of_srgb, srgb_of_oklab};
    use crate::colour::spaces::SRGB;

    fn saturate(colour: [f32; 3], factor: f32) -> [f32; 3] {
        Destination::of(&SRGB).saturate(colour, factor)
    }

    fn double(colour: [f32; 3]) -> [f64; 3] {
        colour.map(f64::from)
    }

    fn chroma(lab: [f64; 3]) -> f64 {
        lab[1].hypot(lab[2])
    }

    /// Colours of the whole cube up to twice diffuse white, a prime number a side.
    fn inside() -> impl Iterator<Item = [f32; 3]> {
        let step = |index: usize| (index % 17) as f32 / 8.0;
        (0..17 * 17 * 17).map(move |index| [step(index), step(index / 17), step(index / 289)])
    }

    #[test]
    fn what_is_inside_stays_inside_with_its_hue_and_lightness() {
        for factor in [0.0, 0.5, 0.9, 1.1, 1.5, 2.0] {
            for colour in inside() {
                let changed = saturate(colour, factor);
                let brightest = changed.iter().copied().fold(0.0, f32::max);
                // The largest saturation of the table lies at -0.004 of the brightest channel, which the map cuts.
                assert!(
                    changed.iter().all(|value| *value >= -0.005 * brightest),
                    "{colour:?} by {factor}: {changed:?}"
                );
                let (before, after) = (
                    oklab_of_srgb(double(colour)),
                    oklab_of_srgb(double(changed)),
                );
                // Single precision, and the channel that the map would cut.
                assert!(
                    (before[0] - after[0]).abs() < 1e-5,
                    "{colour:?} by {factor}"
                );
                if chroma(after) > 0.02 {
                    let turned = (hue(before) - hue(after) + 540.0).rem_euclid(360.0) - 180.0;
                    assert!(turned.abs() < 0.02, "{colour:?} by {factor}: {turned}");
                }
                if factor >= 1.0 {
                    assert!(chroma(after) >= chroma(before) - 1e-5);
                    assert!(chroma(after) <= f64::from(factor) * chroma(before) + 1e-5);
                }
            }
        }
    }

    #[test]
    fn grey_keeps_every_bit_and_factor_one_keeps_colours() {
        for level in [0.0, 1e-7, 0.18, 1.0, 7.3] {
            for factor in [0.0, 0.5, 1.5, 2.0] {
                assert_eq!(saturate([level; 3], factor), [level; 3]);
                let mut rows = [vec![level; 19], vec![level; 19], vec![level; 19]];
                let [red, green, blue] = &mut rows;
                Destination::of(&SRGB).saturate_row([red, green, blue], factor);
                assert!(rows.iter().flatten().all(|value| *value == level));
            }
        }
        for colour in inside() {
            for (before, after) in colour.iter().zip(saturate(colour, 1.0)) {
                assert!((before - after).abs() < 5e-6, "{colour:?}");
            }
        }
    }

    /// Along one hue, from the edge of the space to grey, every step of chroma stays a step, and no smaller than the
    /// formula's least slope, 1/k.
    #[test]
    fn a_ramp_of_chroma_keeps_its_steps() {
        for lamp in [
            [0.0, 0.03, 0.9],
            [0.9, 0.02, 0.0],
            [0.5, 0.0, 0.8],
            [0.02, 0.8, 0.1],
        ] {
            let [lightness, a, b] = oklab_of_srgb(lamp);
            for factor in [1.25, 1.5, 2.0] {
                let made = |step: i32| {
                    let part = f64::from(step) / 40.0;
                    let colour = srgb_of_oklab([lightness, part * a, part * b]);
                    chroma(oklab_of_srgb(double(saturate(
                        colour.map(|value| value as f32),
                        factor,
                    ))))
                };
                for step in 1..=40 {
                    let slope = 40.0 * (made(step) - made(step - 1)) / a.hypot(b);
                    assert!(
                        slope > 0.95 / f64::from(factor),
                        "{lamp:?} by {factor} at {step}: {slope}"
                    );
                }
            }
        }
    }

    /// A wash over a face: the lamp's own colour, and more and more white light in it. The hue moves, and the edge of the
    /// space with it, but what had less colour still has less.
    #[test]
    fn a_ramp_inside_a_wash_keeps_its_order() {
        for lamp in [
            [0.0, 0.03, 0.9],
            [0.9, 0.02, 0.0],
            [0.5, 0.0, 0.8],
            [0.02, 0.8, 0.1],
        ] {
            for factor in [1.25, 1.5, 2.0] {
                let made = |step: i32| {
                    let white = 0.4 * step as f32 / 40.0;
                    let [lightness, a, b] =
                        oklab_of_srgb(double(saturate(lamp.map(|value| value + white), factor)));
                    a.hypot(b) / lightness
                };
                for step in 1..=40 {
                    assert!(
                        made(step) < made(step - 1),
                        "{lamp:?} by {factor} at {step}"
                    );
                }
            }
        }
    }

    /// Skin of a colour chart (the "light skin" and "dark skin" patches, sRGB values of their maker's data sheet):
    /// bounded below the factor asked for, its hue kept.
    #[test]
    fn skin_gains_less_than_the_factor() {
        let decode = crate::colour::transfer::srgb_decode;
        for codes in [[194.0, 150.0, 130.0], [115.0, 82.0, 68.0]] {
            let skin = codes.map(|code: f64| decode(code / 255.0) as f32);
            let before = oklab_of_srgb(double(skin));
            let after = oklab_of_srgb(double(saturate(skin, 1.5)));
            let gain = chroma(after) / chroma(before);
            assert!((1.2..1.35).contains(&gain), "{codes:?}: {gain}");
        }
    }

    #[test]
    fn a_row_is_its_pixels() {
        for factor in [0.0, 0.6, 1.4, 2.0] {
            let step = |seed: usize| -> Vec<f32> {
                (0..3001)
                    .map(|i| -0.1 + ((i * 7919 + seed * 104_729) % 1009) as f32 / 500.0)
                    .collect()
            };
            let [red, green, blue] = [1, 2, 3].map(step);
            let mut rows = [red.clone(), green.clone(), blue.clone()];
            let [r, g, b] = &mut rows;
            Destination::of(&SRGB).saturate_row([r, g, b], factor);
            for index in 0..red.len() {
                let colour = [red[index], green[index], blue[index]];
                // The guard has left nothing with negative luminance; Oklab means nothing there.
                if 0.2126 * colour[0] + 0.7152 * colour[1] + 0.0722 * colour[2] < 0.02 {
                    continue;
                }
                let pixel = saturate(colour, factor);
                let brightest = colour.iter().copied().fold(0.0, f32::max);
                for channel in 0..3 {
                    let error = (rows[channel][index] - pixel[channel]).abs();
                    assert!(error < 1e-5 * brightest.max(1.0), "{colour:?}: {error}");
                }
            }
        }
    }
}
