//! Black and white, tint and saturation in rendered pictures.

#![allow(
    clippy::expect_used,
    reason = "a test that meets the unexpected should stop there"
)]

mod render_support;

use houselights::colour::output_space::OutputSpace;
use houselights::look::correction::{Correction, Lean, Monochrome, Tint};
use houselights::raw::frame::{Frame, Layout};
use houselights::render::plan::Plan;
use houselights::render::{RenderError, Target};
use render_support::*;

/// A linear frame of one row whose pixel x is `colour(x)` of the range of a body that counts linear BT.2020.
fn row_of(width: usize, colour: impl Fn(usize) -> [f64; 3]) -> Frame {
    frame(width, 1, Layout::Linear, |x, _| {
        counts_of(colour(x / 3)[x % 3].clamp(0.0, 1.0))
    })
}

fn pixels(frame: &Frame, correction: &Correction) -> Vec<[u8; 3]> {
    let picture = full(frame, correction);
    let codes = picture.rgb.chunks_exact(3);
    codes.map(|pixel| [pixel[0], pixel[1], pixel[2]]).collect()
}

const EVEN: Monochrome = Monochrome {
    amount: 1.0,
    ..Monochrome::NEUTRAL
};

/// Colours of lamps and of what they light, one after another, from dark to bright.
fn colourful() -> Frame {
    let lamps = [
        [1.0, 0.3, 0.1],
        [0.02, 0.05, 1.0],
        [0.2, 1.0, 0.4],
        [1.0, 0.0, 0.9],
        [0.9, 0.9, 0.9],
    ];
    row_of(500, |x| lamps[x % 5].map(|value| value * x as f64 / 499.0))
}

#[test]
fn what_has_no_amount_leaves_no_trace_in_the_plan() {
    let frame = colourful();
    let begun = Correction {
        monochrome: Monochrome {
            amount: 0.0,
            red: 0.1,
            green: 0.7,
            blue: 0.0,
        },
        tint: Tint {
            shadows: Lean {
                hue: 200.0,
                strength: 0.0,
            },
            highlights: Lean {
                hue: 20.0,
                strength: 0.0,
            },
        },
        ..stage()
    };
    for space in OutputSpace::ALL {
        let target = Target {
            space,
            ..Target::default()
        };
        let compile = |correction| Plan::compile(&frame, correction, &target).expect("a plan");
        assert_eq!(compile(&begun), compile(&stage()));
    }
    let text = Plan::compile(&frame, &faithful(), &Target::default())
        .expect("a plan")
        .to_string();
    for part in ["saturation", "black and white", "tint"] {
        assert!(!text.contains(part), "{part} in:\n{text}");
    }
}

#[test]
fn black_and_white_is_grey_to_the_code_and_keeps_greys() {
    let frame = colourful();
    let grey = Correction {
        monochrome: EVEN,
        ..stage()
    };
    for ([red, green, blue], x) in pixels(&frame, &grey).into_iter().zip(0..) {
        assert!(
            red == green && green == blue,
            "pixel {x}: {red} {green} {blue}"
        );
    }
    let ramp = row_of(400, |x| [x as f64 / 399.0; 3]);
    let (colour, monochrome) = (pixels(&ramp, &stage()), pixels(&ramp, &grey));
    for (before, after) in colour.iter().zip(&monochrome) {
        assert!(before[0].abs_diff(after[0]) <= 1, "{before:?} {after:?}");
    }
}

/// A performer in nothing but deep blue light (of BT.2020, most of it the blue primary) has hardly any luminance: 0.06 of
/// it. Weights of scene light keep them visible, more so the more blue weighs.
#[test]
fn a_performer_in_a_deep_blue_wash_does_not_go_black() {
    let frame = row_of(101, |x| {
        [0.002, 0.004, 0.5].map(|value| value * x as f64 / 100.0)
    });
    let brightest = |weights: [f64; 3]| {
        let correction = Correction {
            monochrome: Monochrome {
                amount: 1.0,
                red: weights[0],
                green: weights[1],
                blue: weights[2],
            },
            ..faithful()
        };
        pixels(&frame, &correction)[100][0]
    };
    // Shares of luminance in BT.2020 (ITU-R BT.2020-2, table 4).
    let (luminance, even, blue) = (
        brightest([0.2627, 0.678, 0.0593]),
        brightest([1.0; 3]),
        brightest([0.5, 0.5, 1.0]),
    );
    // A third of 0.5 is code 113 of sRGB; the guard gives red and green a little.
    assert!((110..=122).contains(&even), "{even}");
    assert!(
        blue > even + 10 && even > luminance + 40,
        "{luminance} {even} {blue}"
    );
    let codes: Vec<u8> = pixels(
        &frame,
        &Correction {
            monochrome: EVEN,
            ..faithful()
        },
    )
    .iter()
    .map(|pixel| pixel[0])
    .collect();
    assert!(codes.is_sorted(), "more light is never darker");
}

/// Modelling in a wash: a lamp's colour shaded from a fifth to the whole, with a little of another light over it. More
/// saturation may not merge what was apart: at least nine of ten of its codes stay distinct.
#[test]
fn more_saturation_makes_no_flat_patch_of_a_wash() {
    for lamp in [
        [0.02, 0.05, 0.6],
        [0.6, 0.02, 0.01],
        [0.4, 0.02, 0.5],
        [0.03, 0.6, 0.1],
        [0.6, 0.25, 0.02],
    ] {
        let frame = row_of(400, |x| {
            let shade = 0.2 + 0.8 * x as f64 / 399.0;
            let other = 0.03 * ((x * 37 % 101) as f64 / 100.0);
            lamp.map(|value| value * shade + other)
        });
        let distinct = |saturation| {
            let correction = Correction {
                saturation,
                ..stage()
            };
            let mut codes = pixels(&frame, &correction);
            codes.sort_unstable();
            codes.dedup();
            codes.len()
        };
        let plain = distinct(1.0);
        for saturation in [1.25, 1.5, 2.0] {
            let found = distinct(saturation);
            assert!(
                10 * found >= 9 * plain,
                "{lamp:?} by {saturation}: {found} of {plain} colours"
            );
        }
    }
}

#[test]
fn toning_out_of_range_is_refused_by_name() {
    let frame = colourful();
    let refused =
        |correction: Correction| match Plan::compile(&frame, &correction, &Target::default()) {
            Err(RenderError::OutOfRange { field, .. }) => field.to_owned(),
            Err(other) => other.to_string(),
            Ok(_) => "nothing".to_owned(),
        };
    let monochrome = |amount, red| Correction {
        monochrome: Monochrome {
            amount,
            red,
            green: 0.0,
            blue: 0.0,
        },
        ..stage()
    };
    assert_eq!(refused(monochrome(1.1, 1.0)), "black and white");
    for red in [0.0, -1.0, f64::NAN] {
        assert_eq!(
            refused(monochrome(1.0, red)),
            "black and white's red weight"
        );
    }
    let lean = |hue, strength| Correction {
        tint: Tint {
            shadows: Lean { hue, strength },
            highlights: Tint::NEUTRAL.highlights,
        },
        ..stage()
    };
    for (hue, strength) in [(30.0, 1.5), (f64::NAN, 0.5), (30.0, f64::NAN)] {
        assert_eq!(refused(lean(hue, strength)), "tint of shadows");
    }
}
