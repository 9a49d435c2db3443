//! A tone tint: shadows and highlights lean towards a hue at constant lightness, as a toned or warm-based print does.
//!
//! The lean is an offset in Oklab's a and b. It is proportional to lightness, so that a grey ramp keeps one chromaticity
//! down into black, and fades before white, which has no room for a colour: paper stays paper. From shadows to highlights
//! one tint goes over into the other smoothly; two equal ones make one tint. A pixel is moved about as far as it stays
//! inside its space, and no channel leaves it: a wash that has no room on that side nearly keeps its colour. The formula is
//! our own.

use crate::base::arithmetic::largest;
use crate::colour::gamut::blocks::{
    Lane, Marks, cube_root, for_rows_of_asking, for_stretches_that_ask,
};
use crate::colour::gamut::oklab_of_space::OklabOfSpace;
use crate::colour::spaces::RgbSpace;
use serde::{Deserialize, Serialize};

/// Chroma as a share of lightness at strength 1: the brown of a strongly toned print (common practice, no source).
const FULL_CHROMA: f64 = 0.2;

/// By how much a channel may be cut at the edge of its space, as a share of the brightest one: the way grows over as much room
/// where a channel begins to have some. A choice of ours, no source: less makes the way steeper, more cuts more.
const GIVE: f32 = 0.02;

/// What shadows and highlights lean to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Tint {
    /// The darker tones.
    pub shadows: Lean,
    /// The brighter tones.
    pub highlights: Lean,
}

/// A hue and how much of it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lean {
    /// Oklab hue in degrees.
    pub hue: f64,
    /// 0 none to 1 full.
    pub strength: f64,
}

impl Tint {
    /// A tint that changes nothing; begun, it would lean to the amber of warm paper.
    pub const NEUTRAL: Self = {
        const NONE: Lean = Lean {
            hue: 75.0,
            strength: 0.0,
        };
        Self {
            shadows: NONE,
            highlights: NONE,
        }
    };

    /// Whether it changes nothing.
    #[must_use]
    pub fn is_neutral(&self) -> bool {
        self.shadows.strength == 0.0 && self.highlights.strength == 0.0
    }
}

impl Lean {
    /// Offsets of a and b for each unit of lightness.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "rounding to single precision is meant"
    )]
    fn offsets(self) -> [f32; 2] {
        let (sin, cos) = self.hue.to_radians().sin_cos();
        let chroma = FULL_CHROMA * self.strength;
        [(chroma * cos) as f32, (chroma * sin) as f32]
    }
}

/// A tint made ready for one RGB space.
#[derive(Clone, Debug, PartialEq)]
pub struct SpaceTint {
    shadows: [f32; 2],
    highlights: [f32; 2],
    oklab: OklabOfSpace,
}

impl SpaceTint {
    /// A tint of linear RGB in this space.
    #[must_use]
    pub fn new(tint: &Tint, space: &RgbSpace) -> Self {
        Self {
            shadows: tint.shadows.offsets(),
            highlights: tint.highlights.offsets(),
            oklab: OklabOfSpace::new(space),
        }
    }

    /// One pixel, 0 to 1 in every channel before and after. The plain twin of [`SpaceTint::row`].
    #[must_use]
    pub fn pixel(&self, rgb: [f32; 3]) -> [f32; 3] {
        self.with_root(rgb, f32::cbrt)
    }

    /// A row, each pixel as [`SpaceTint::pixel`] has it, within 1e-5. The three rows have one length; what is beyond the
    /// shortest may stay.
    pub fn row(&self, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        for_stretches_that_ask(
            [red, green, blue],
            |_, _, _, marks| marks.fill(1),
            |marks, stretch| tint_stretch(self, marks, stretch),
        );
    }

    #[inline(always)]
    fn with_root(&self, rgb: [f32; 3], root: impl Fn(f32) -> f32) -> [f32; 3] {
        let [lightness, a, b] = self.oklab.oklab(rgb, root);
        let place = lightness.max(0.0).min(1.0);
        let bright = place * place * (3.0 - 2.0 * place);
        let square = place * place;
        let fourth = square * square;
        let room = place * (1.0 - fourth * fourth);
        let offset = |axis: usize| {
            room * (self.shadows[axis] + bright * (self.highlights[axis] - self.shadows[axis]))
        };
        let leaned = self.oklab.rgb([lightness, a + offset(0), b + offset(1)]);
        // The part of the way on which every channel stays between 0 and 1, with something to give: as the division alone has it,
        // a channel of 0 would take the whole way or none of it, as rounding will.
        let give = (GIVE * largest(rgb)).max(f32::MIN_POSITIVE);
        let mut way = 1.0f32;
        for (from, to) in rgb.iter().zip(leaned) {
            let wanted = to - from;
            let allowed = if wanted < 0.0 { *from } else { 1.0 - from };
            let part = (allowed + give) / (wanted.abs() + give);
            way = if part < way { part } else { way };
        }
        [0, 1, 2].map(|channel| {
            let moved = rgb[channel] + way * (leaned[channel] - rgb[channel]);
            moved.max(0.0).min(1.0)
        })
    }
}

#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn tint_stretch(tint: &SpaceTint, marks: &[Marks], stretch: [&mut [Lane]; 3]) {
    for_rows_of_asking(marks, stretch, |red, green, blue| {
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        for x in 0..length {
            let rgb = [red[x], green[x], blue[x]];
            [red[x], green[x], blue[x]] = tint.with_root(rgb, cube_root);
        }
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::oklab::{hue, oklab_of_srgb};
    use crate::colour::spaces::SRGB;

    const BROWN: Tint = Tint {
        shadows: Lean {
            hue: 55.0,
            strength: 1.0,
        },
        highlights: Lean {
            hue: 85.0,
            strength: 0.6,
        },
    };
    const COLD_BELOW: Tint = Tint {
        shadows: Lean {
            hue: 255.0,
            strength: 0.8,
        },
        highlights: Lean {
            hue: 80.0,
            strength: 0.3,
        },
    };

    fn double(colour: [f32; 3]) -> [f64; 3] {
        colour.map(f64::from)
    }

    #[test]
    fn only_strength_makes_a_tint() {
        assert!(Tint::NEUTRAL.is_neutral());
        assert!(!BROWN.is_neutral());
        let none = SpaceTint::new(&Tint::NEUTRAL, &SRGB);
        for level in [0.0, 0.01, 0.18, 0.7, 1.0] {
            for (before, after) in [level, 0.5 * level, 0.2 * level].iter().zip(none.pixel([
                level,
                0.5 * level,
                0.2 * level,
            ])) {
                assert!((before - after).abs() < 2e-6);
            }
        }
    }

    #[test]
    fn greys_keep_their_lightness_take_the_hue_and_leave_black_and_white_alone() {
        for tint in [BROWN, COLD_BELOW] {
            let ready = SpaceTint::new(&tint, &SRGB);
            let mut before = -1.0;
            for step in 0..=1000 {
                let level = (step as f32 / 1000.0).powi(2);
                let toned = double(ready.pixel([level; 3]));
                let lab = oklab_of_srgb(toned);
                // Where white leaves no room the way is shortened along a straight line of light, which bends a little.
                let wanted = f64::from(level).cbrt();
                assert!((lab[0] - wanted).abs() < 2e-3, "{level}: {lab:?}");
                assert!(
                    lab[0] > before,
                    "{level} is not brighter than what is darker"
                );
                before = lab[0];
            }
            let dark = oklab_of_srgb(double(ready.pixel([0.001; 3])));
            assert!((hue(dark) - tint.shadows.hue).abs() < 4.0, "{}", hue(dark));
            let bright = oklab_of_srgb(double(ready.pixel([0.7; 3])));
            assert!(
                (hue(bright) - tint.highlights.hue).abs() < 10.0,
                "{}",
                hue(bright)
            );
            for end in [0.0, 1.0] {
                for value in ready.pixel([end; 3]) {
                    assert!((value - end).abs() < 2e-6, "{value}");
                }
            }
        }
    }

    #[test]
    fn nothing_leaves_the_space_and_a_row_is_its_pixels() {
        use crate::colour::spaces::DISPLAY_P3;
        let step = |index: usize| (index % 23) as f32 / 22.0;
        let colours: Vec<[f32; 3]> = (0..23 * 23 * 23)
            .map(|index| [step(index), step(index / 23), step(index / 529)])
            .collect();
        for ready in [
            SpaceTint::new(&BROWN, &SRGB),
            SpaceTint::new(&COLD_BELOW, &SRGB),
            SpaceTint::new(&BROWN, &DISPLAY_P3),
        ] {
            let mut rows = [0, 1, 2].map(|c| colours.iter().map(|rgb| rgb[c]).collect::<Vec<_>>());
            let [red, green, blue] = &mut rows;
            ready.row(red, green, blue);
            for (index, colour) in colours.iter().enumerate() {
                let toned = ready.pixel(*colour);
                for channel in 0..3 {
                    assert!((-1e-6..=1.0 + 1e-6).contains(&toned[channel]), "{colour:?}");
                    assert!(
                        (rows[channel][index] - toned[channel]).abs() < 1e-5,
                        "{colour:?}"
                    );
                }
            }
        }
    }

    /// Colours on the faces of the space, in small steps: where a channel begins to have room the way to go does not jump.
    #[test]
    fn near_colours_on_the_edge_become_near_colours() {
        const STEPS: u32 = 4096;
        for tint in [BROWN, COLD_BELOW] {
            let ready = SpaceTint::new(&tint, &SRGB);
            for (face, edge, level) in (0..3).flat_map(|face| {
                [0.0, 1.0].into_iter().flat_map(move |edge| {
                    [0.0f32, 0.02, 0.1, 0.3, 0.6, 1.0].map(|level| (face, edge, level))
                })
            }) {
                let mut before: Option<[f32; 3]> = None;
                for step in 0..=STEPS {
                    let mut colour = [edge; 3];
                    colour[(face + 1) % 3] = level;
                    colour[(face + 2) % 3] = step as f32 / STEPS as f32;
                    let toned = ready.pixel(colour);
                    for (was, is) in before.iter().flatten().zip(toned) {
                        assert!((was - is).abs() < 0.01, "{colour:?}: {before:?}, {toned:?}");
                    }
                    before = Some(toned);
                }
            }
        }
    }

    #[test]
    fn a_wash_at_the_edge_keeps_its_colour() {
        let ready = SpaceTint::new(&BROWN, &SRGB);
        // Amber light on blue: blue at the edge has no room towards amber's other side.
        let blue = ready.pixel([0.0, 0.0, 0.6]);
        let before = oklab_of_srgb([0.0, 0.0, 0.6]);
        let after = oklab_of_srgb(double(blue));
        assert!((hue(before) - hue(after)).abs() < 8.0, "{blue:?}");
    }
}
