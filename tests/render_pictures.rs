//! What rendering does to light: order, hue, scale, crops, small pictures.

#![allow(
    clippy::expect_used,
    reason = "a test that meets the unexpected should stop there"
)]

mod render_support;

use houselights::base::bands::Threads;
use houselights::base::geometry::Rect;
use houselights::base::matrix::Matrix3;
use houselights::base::units::{Chromaticity, Kelvin};
use houselights::colour::camera::{Calibration, CameraColour};
use houselights::colour::spaces::{BT2020, SRGB, conversion};
use houselights::colour::transfer::{srgb_code, srgb_decode};
use houselights::look::correction::{Correction, Curve, Levels, NoiseReduction, RollOff};
use houselights::raw::frame::{BlackLevels, Frame, Layout};
use houselights::render::plan::Plan;
use houselights::render::{RenderError, Target, render};
use render_support::*;

/// A linear frame of one row whose pixel x is `colour(x)` of the range.
fn row_of(width: usize, colour: impl Fn(usize) -> [f64; 3]) -> Frame {
    frame(width, 1, Layout::Linear, |x, _| {
        counts_of(colour(x / 3)[x % 3].clamp(0.0, 1.0))
    })
}

fn pixels(rgb: &[u8]) -> impl Iterator<Item = [u8; 3]> {
    rgb.chunks_exact(3).map(|p| [p[0], p[1], p[2]])
}

#[test]
fn neutral_numbers_give_scene_colour_back() {
    // Colours inside sRGB, seen by a body that counts linear BT.2020: the codes are those of sRGB's own formula.
    let to_camera = conversion(&SRGB, &BT2020);
    let colours: Vec<[f64; 3]> = (0..1331)
        .map(|i| [i % 11, i / 11 % 11, i / 121].map(|v| 0.1 + 0.08 * v as f64))
        .collect();
    let frame = row_of(colours.len(), |x| to_camera.apply(colours[x]));
    let picture = full(&frame, &faithful());
    let mut moved = 0;
    for (found, wanted) in pixels(&picture.rgb).zip(&colours) {
        for (code, light) in found.into_iter().zip(wanted) {
            let exact = srgb_code(*light as f32);
            // One code where the counts' rounding (1/15871 of the range) falls across a boundary; no more. The guard's
            // knee touches colours whose channels differ by more than ten to one, hence the margin of the cube.
            assert!(code.abs_diff(exact) <= 1, "{found:?} for {wanted:?}");
            moved += usize::from(code != exact);
        }
    }
    assert!(moved < colours.len() * 3 / 50, "{moved} codes moved");
}

#[test]
fn more_light_is_never_darker_and_ratios_keep_their_order() {
    for colour in [
        [1.0, 1.0, 1.0],
        [1.0, 0.3, 0.1],
        [0.2, 1.0, 0.4],
        [0.05, 0.15, 1.0],
        [1.0, 0.1, 0.9],
    ] {
        for correction in [faithful(), stage()] {
            let frame = row_of(2000, |x| colour.map(|c| c * x as f64 / 1999.0));
            let mut before = [0; 3];
            for (x, pixel) in pixels(&full(&frame, &correction).rgb).enumerate() {
                let top = pixel.into_iter().max().unwrap_or(0);
                assert!(
                    top >= before.into_iter().max().unwrap_or(0),
                    "{colour:?} at {x}: {pixel:?}"
                );
                before = pixel;
            }
            // The map to sRGB may take a little off the brightest channel; a shoulder keeps room above what a clipped wash
            // has; a clipped white is white in every look.
            let least = match (colour, correction.curve) {
                ([1.0, 1.0, 1.0], _) => 255,
                (_, Curve::Straight) => 250,
                _ => 200,
            };
            assert!(
                before.into_iter().max() >= Some(least),
                "{colour:?}: {before:?}"
            );
        }
    }
}

#[test]
fn a_gain_is_a_gain() {
    let frame = row_of(500, |x| [0.0004, 0.0006, 0.0005].map(|c| c * x as f64));
    let twice = row_of(500, |x| [0.0008, 0.0012, 0.0010].map(|c| c * x as f64));
    let correction = Correction {
        gain: 2.0,
        ..stage()
    };
    let one = full(&frame, &correction);
    let other = full(
        &twice,
        &Correction {
            gain: 1.0,
            ..stage()
        },
    );
    for (a, b) in one.rgb.iter().zip(&other.rgb) {
        // Half a count of rounding, doubled.
        assert!(a.abs_diff(*b) <= 1);
    }
}

#[test]
fn a_lamp_of_any_balance_is_white_and_its_surroundings_are_not_pink() {
    // A body with the sensitivities of a usual sensor (invented numbers of that magnitude), under light from tungsten to
    // daylight: red, green and blue fill at different levels.
    let matrix = Matrix3([
        [0.82, -0.22, -0.07],
        [-0.49, 1.24, 0.28],
        [-0.10, 0.21, 0.72],
    ]);
    for white in [
        Chromaticity::D65,
        Chromaticity {
            x: 0.4476,
            y: 0.4074,
        },
    ] {
        for layout in PHASES.map(Layout::Bayer) {
            let mut frame = frame(64, 4, layout, |_, _| 0);
            frame.colour = CameraColour {
                calibrations: vec![Calibration::of_matrix(Some(Kelvin(5000.0)), matrix)],
                analog_balance: [1.0; 3],
                as_shot_neutral: None,
            };
            let neutral = frame.colour.neutral_of_white(white).expect("a neutral");
            // A white ramp to four times what fills green, in fours of columns.
            for y in 0..4 {
                for x in 0..64 {
                    let light = 4.0 * ((x / 4) as f64 / 15.0).powi(2);
                    let channel = frame.mosaic.channel_at(x, y);
                    let counts = counts_of((light * neutral[channel]).min(1.0));
                    frame.mosaic.counts.row_mut(y)[x] = counts;
                }
            }
            let look = Correction {
                white,
                gain: 1.5,
                ..stage()
            };
            let picture = full(&frame, &look);
            for x in (1..64).step_by(4) {
                // The second of four columns: the demosaic's edges are not the matter here.
                let pixel = &picture.rgb[3 * (64 + x)..][..3];
                let spread = pixel.iter().max().unwrap_or(&0) - pixel.iter().min().unwrap_or(&0);
                assert!(spread <= 24, "{layout:?} column {x}: {pixel:?}");
            }
            assert_eq!(picture.rgb[3 * (64 + 62)..][..3], [255; 3]);
        }
    }
}

#[test]
fn a_cropped_frame_is_a_part_of_the_whole_picture() {
    let mut next = unordered(3);
    for layout in [
        Layout::Bayer(PHASES[2]),
        Layout::XTrans(SIX_BY_SIX),
        Layout::Linear,
    ] {
        let whole = frame(61, 47, layout, |_, _| next());
        let mut part = whole.clone();
        part.mosaic.crop = Rect {
            left: 13,
            top: 7,
            width: 30,
            height: 21,
        };
        let (all, some) = (full(&whole, &stage()), full(&part, &stage()));
        assert_eq!((some.width, some.height), (30, 21));
        for y in 0..21 {
            let from = 3 * ((y + 7) * 61 + 13);
            assert_eq!(
                some.rgb[3 * y * 30..][..90],
                all.rgb[from..][..90],
                "{layout:?} row {y}"
            );
        }
    }
}

#[test]
fn single_pixel_checks_become_their_mean_in_linear_light() {
    // Resized by three, so that half size does not come into play; linear layout, so that nothing else filters.
    let frame = frame(240, 240, Layout::Linear, |x, y| {
        counts_of(((x / 3 + y) % 2) as f64)
    });
    let picture = sized(&frame, &faithful(), Some(80));
    for y in 4..76 {
        for pixel in pixels(&picture.rgb[3 * (80 * y + 4)..3 * (80 * y + 76)]) {
            let light = srgb_decode(f64::from(pixel[0]) / 255.0);
            // Rounding to a code is 0.002 here; the filter lets 0.01 of the finest pattern through on each axis.
            assert!((light - 0.5).abs() < 0.005, "{pixel:?}");
        }
    }
}

#[test]
fn small_pictures_show_the_same_light_as_large_ones() {
    // A smooth picture, at full size, at half size and resized: the mean light is one.
    let light =
        |x: usize, y: usize| 0.3 + 0.2 * ((x as f64) / 40.0).sin() * ((y as f64) / 30.0).cos();
    let frame = frame(301, 203, Layout::Bayer(PHASES[3]), |x, y| {
        counts_of(light(x, y))
    });
    let mean = |long_edge| {
        let picture = sized(&frame, &faithful(), long_edge);
        let sum: f64 = picture
            .rgb
            .iter()
            .map(|code| srgb_decode(f64::from(*code) / 255.0))
            .sum();
        sum / picture.rgb.len() as f64
    };
    let whole = mean(None);
    for long_edge in [250, 151, 150, 149, 100, 33] {
        assert!((mean(Some(long_edge)) - whole).abs() < 0.003, "{long_edge}");
    }
}

#[test]
fn black_levels_by_place_are_subtracted_where_they_stand() {
    let mut frame = frame(12, 9, Layout::Bayer(PHASES[0]), |_, _| 0);
    frame.mosaic.black = BlackLevels {
        rows: 2,
        columns: 3,
        pattern: vec![500.0, 510.0, 520.0, 530.0, 540.0, 550.0],
        column_deviation: (0..12).map(|x| x as f32).collect(),
        row_deviation: (0..9).map(|y| 2.0 * y as f32).collect(),
    };
    for y in 0..9 {
        for x in 0..12 {
            frame.mosaic.counts.row_mut(y)[x] = frame.mosaic.black.at(x, y, 0) as u16;
        }
    }
    assert!(full(&frame, &faithful()).rgb.iter().all(|code| *code == 0));
    for y in 0..9 {
        for x in 0..12 {
            frame.mosaic.counts.row_mut(y)[x] += 3000;
        }
    }
    let codes = full(&frame, &faithful()).rgb;
    let (least, largest) = (codes.iter().min(), codes.iter().max());
    // Scales differ by the black levels' share of the range, 50 of 16000: under half a code here.
    assert!(
        largest.zip(least).is_some_and(|(a, b)| a - b <= 1),
        "{least:?} {largest:?}"
    );
}

#[test]
fn a_plan_prints_itself_and_nothing_that_it_does_not_do() {
    let frame = frame(100, 80, Layout::Bayer(PHASES[0]), |_, _| 600);
    let correction = Correction {
        noise: NoiseReduction {
            luminance: 0.5,
            colour: 0.75,
            grain: 0.25,
        },
        sharpening: screen(0.7),
        ..stage()
    };
    let plan = Plan::compile(
        &frame,
        &correction,
        &Target {
            long_edge: Some(30),
            ..Target::default()
        },
    )
    .expect("a plan");
    let text = plan.to_string();
    for part in [
        "sensor:",
        "demosaic: two by two",
        "matrix (",
        "gamut guard",
        "curve: shoulder",
        "resize: to 30 x 24",
        "sharpen:",
        "encode: sRGB",
        "0.50 of it from luminance, 0.75 from colour, 0.25",
    ] {
        assert!(text.contains(part), "{part} is missing in:\n{text}");
    }
    assert!(text.lines().all(|line| line.len() < 240));
    let plain = Plan::compile(&frame, &faithful(), &Target::default())
        .expect("a plan")
        .to_string();
    for part in ["sharpen", "resize", "roll-off", "noise", "gain"] {
        assert!(!plain.contains(part), "{part} in:\n{plain}");
    }
}

#[test]
fn numbers_out_of_range_are_refused_by_name() {
    let frame = frame(8, 8, Layout::Bayer(PHASES[0]), |_, _| 600);
    let target = Target::default();
    let refused =
        |correction: Correction| match render(&frame, &correction, &target, &Threads::one()) {
            Err(RenderError::OutOfRange { field, .. }) => field.to_owned(),
            Err(other) => other.to_string(),
            Ok(_) => "made".to_owned(),
        };
    let levels = |black, middle, white| Levels {
        black,
        middle,
        white,
    };
    assert_eq!(
        refused(Correction {
            gain: 0.0,
            ..stage()
        }),
        "gain"
    );
    assert_eq!(
        refused(Correction {
            gain: f64::NAN,
            ..stage()
        }),
        "gain"
    );
    assert_eq!(
        refused(Correction {
            levels: levels(1.0, 1.0, 1.0),
            ..stage()
        }),
        "white level"
    );
    assert_eq!(
        refused(Correction {
            levels: levels(f64::INFINITY, 1.0, 1.0),
            ..stage()
        }),
        "black level"
    );
    assert_eq!(
        refused(Correction {
            levels: levels(0.0, -1.0, 1.0),
            ..stage()
        }),
        "middle"
    );
    assert_eq!(
        refused(Correction {
            saturation: -0.1,
            ..stage()
        }),
        "saturation"
    );
    assert_eq!(
        refused(Correction {
            sharpening: screen(2.1),
            ..stage()
        }),
        "sharpening"
    );
    assert_eq!(
        refused(Correction {
            noise: NoiseReduction {
                luminance: 1.1,
                ..NoiseReduction::NEUTRAL
            },
            ..stage()
        }),
        "noise reduction"
    );
    let curve = Curve::Shoulder {
        contrast: 1.3,
        ceiling: 1.0,
    };
    assert_eq!(refused(Correction { curve, ..stage() }), "curve's ceiling");
    let roll_off = RollOff {
        amount: 1.0,
        start: 2.0,
        end: 2.0,
    };
    assert_eq!(
        refused(Correction {
            roll_off,
            ..stage()
        }),
        "roll-off end"
    );
    assert!(
        refused(Correction {
            white: Chromaticity { x: 0.9, y: 0.9 },
            ..stage()
        })
        .contains("white")
    );
}

#[test]
fn a_mosaic_that_makes_no_picture_is_refused() {
    let good = frame(8, 8, Layout::Bayer(PHASES[0]), |_, _| 600);
    let refused = |frame: &Frame| {
        matches!(
            render(frame, &stage(), &Target::default(), &Threads::one()),
            Err(RenderError::NoPicture(_))
        )
    };
    assert!(!refused(&good));
    let mut outside = good.clone();
    outside.mosaic.crop.left = 1;
    let mut empty = good.clone();
    empty.mosaic.crop.width = 0;
    let mut dark = good.clone();
    dark.mosaic.white[2] = f32::from(BLACK);
    let mut not_finite = good.clone();
    not_finite.mosaic.black.pattern[0] = f32::NAN;
    let mut pattern = good.clone();
    pattern.mosaic.black.pattern.push(1.0);
    let mut filters = good.clone();
    filters.mosaic.layout = Layout::Bayer([[0, 1], [2, 1]]);
    for (name, frame) in [
        ("outside", outside),
        ("empty", empty),
        ("dark", dark),
        ("not finite", not_finite),
        ("pattern", pattern),
        ("filters", filters),
    ] {
        assert!(refused(&frame), "{name}");
    }
}
