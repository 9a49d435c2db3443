//! Highlights: what to make of pixels with clipped channels.
//!
//! White balance multiplies a full red photosite by, say, two and a full green one by one, so a lamp that fills all
//! three would come out pink. Holding every channel at the lowest full level everywhere cures that and wrecks red and
//! blue washes, whose own channel may well run to its end while the others hold little. So only pixels that are clipped
//! and else near neutral are held at the common level; and where all channels near their end, the pixel goes to the
//! highest level in white and, where the curve keeps room above that, to the light that it makes display white: nobody
//! knows how much more there was, and a lamp's core should not come out grey.
//!
//! This is the place of a reconstruction that rebuilds clipped channels from their neighbourhood; it would take the
//! pixel's neighbours as well, and leave less for this function to do.

use crate::render::arithmetic::smooth_step;
use crate::render::kernel::row_kernel;

/// Share of the full level at which a channel begins to count as clipped, and at which it wholly does: photosites of one
/// channel do not all fill at the same count, and a demosaic mixes them. Common practice, no source.
pub(crate) const CLIPPED: (f32, f32) = (0.90, 0.985);
/// Lowest channel over the common level at which a clipped pixel begins to count as neutral, and wholly does: a grey
/// that just fills one channel has 1. Common practice, no source.
pub(crate) const NEUTRAL: (f32, f32) = (0.5, 0.9);
/// Share of its full level that the least filled channel must reach for a clipped pixel to begin to go white, and to be
/// white. Common practice, no source.
pub(crate) const WHITE: (f32, f32) = (0.70, 0.97);

/// Pixels that are looked at together: where none is near its end, nothing is computed.
const BLOCK: usize = 64;

row_kernel! {
    /// Holds clipped near-neutral pixels at the common level and brings wholly clipped ones to white. Channels are
    /// white-balanced and full at `full`; `white` is the light that becomes display white. Pixels below nine tenths of
    /// full are left as they are, and so is the order of greys: a brighter grey never comes out darker.
    fn hold_near_neutral(
        full: [f32; 3],
        white: f32,
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        let common = full[0].min(full[1]).min(full[2]);
        let whole = full[0].max(full[1]).max(full[2]).max(white);
        let inverse = [1.0 / full[0], 1.0 / full[1], 1.0 / full[2]];
        for start in (0..length).step_by(BLOCK) {
            let block = start..(start + BLOCK).min(length);
            let mut any = 0u32;
            for x in block.clone() {
                any |= u32::from(red[x] * inverse[0] > CLIPPED.0);
                any |= u32::from(green[x] * inverse[1] > CLIPPED.0);
                any |= u32::from(blue[x] * inverse[2] > CLIPPED.0);
            }
            if any == 0 {
                continue;
            }
            for x in block {
                let (r, g, b) = (red[x].min(full[0]), green[x].min(full[1]), blue[x].min(full[2]));
                let (tr, tg, tb) = (r * inverse[0], g * inverse[1], b * inverse[2]);
                let clipped = smooth_step(tr.max(tg).max(tb), CLIPPED.0, CLIPPED.1);
                let least = r.min(g).min(b);
                let hold = clipped * smooth_step(least, NEUTRAL.0 * common, NEUTRAL.1 * common);
                let core = clipped * smooth_step(tr.min(tg).min(tb), WHITE.0, WHITE.1);
                let held = |c: f32| {
                    let c = c - hold * (c - c.min(common));
                    c + core * (whole - c).max(0.0)
                };
                red[x] = held(r);
                green[x] = held(g);
                blue[x] = held(b);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::kernel::{hold_together, unordered_row};

    /// Full levels of a usual body under daylight.
    const FULL: [f32; 3] = [2.0, 1.0, 1.5];

    fn held(colour: [f32; 3]) -> [f32; 3] {
        let mut planes = colour.map(|value| [value.min(3.0)]);
        let [red, green, blue] = &mut planes;
        hold_near_neutral(FULL, 0.0, red, green, blue);
        planes.map(|[value]| value)
    }

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&hold_near_neutral::levels(), |kernel, length| {
            let [mut red, mut green, mut blue] = [1, 2, 3].map(|seed| {
                unordered_row(seed, length)
                    .iter()
                    .map(|v| v * 2.0)
                    .collect()
            });
            let _: &Vec<f32> = &red;
            kernel(FULL, 3.0, &mut red, &mut green, &mut blue);
            [red, green, blue].concat()
        });
    }

    #[test]
    fn a_grey_ramp_never_turns_pink_and_never_darker() {
        let mut before = 0.0;
        for step in 0..=4000 {
            let light = step as f32 / 1000.0;
            let [r, g, b] = held([light.min(2.0), light.min(1.0), light.min(1.5)]);
            let largest = r.max(g).max(b);
            assert!(
                largest - r.min(g).min(b) < 0.02 * largest.max(0.01),
                "{light}: {r} {g} {b}"
            );
            assert!(g >= before - 1e-6, "{light} is darker");
            before = g;
        }
        assert_eq!(held([2.0, 1.0, 1.5]), [2.0, 2.0, 2.0]);
    }

    #[test]
    fn a_wash_that_fills_its_own_channel_keeps_its_colour() {
        for wash in [
            [2.0, 0.2, 0.1],
            [0.1, 0.2, 1.5],
            [1.9, 0.1, 1.4],
            [0.1, 1.0, 0.2],
        ] {
            assert_eq!(held(wash), wash);
        }
    }

    #[test]
    fn what_is_not_clipped_is_left_alone() {
        for colour in [
            [0.3, 0.6, 0.2],
            [1.7, 0.88, 1.3],
            [0.0, 0.0, 0.0],
            [-0.01, 0.5, 0.2],
        ] {
            assert_eq!(held(colour), colour);
        }
    }
}
