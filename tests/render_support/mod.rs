//! Frames made up for the tests of rendering.
#![allow(dead_code, reason = "each test file takes what it needs")]

use houselights::base::bands::Threads;
use houselights::base::geometry::{Orientation, Rect};
use houselights::base::plane::Plane;
use houselights::base::units::{Chromaticity, Kelvin};
use houselights::colour::camera::{Calibration, CameraColour};
use houselights::colour::spaces::BT2020;
use houselights::look::correction::{Correction, Curve, Levels, RollOff, Sharpening};
use houselights::raw::facts::Facts;
use houselights::raw::frame::{BlackLevels, Frame, Layout, Mosaic};
use houselights::render::{Rendered, Target, render};

/// Black and white of the made-up sensor, in counts.
pub(crate) const BLACK: u16 = 512;
pub(crate) const WHITE: u16 = 16_383;

/// Every phase of a Bayer pattern.
pub(crate) const PHASES: [[[u8; 2]; 2]; 4] = [
    [[0, 1], [1, 2]],
    [[1, 0], [2, 1]],
    [[1, 2], [0, 1]],
    [[2, 1], [1, 0]],
];

/// A 6 x 6 pattern: every row and column has all three colours, every 3 x 3 block five greens.
pub(crate) const SIX_BY_SIX: [[u8; 6]; 6] = [
    [1, 2, 1, 1, 0, 1],
    [0, 1, 0, 2, 1, 2],
    [1, 2, 1, 1, 0, 1],
    [1, 0, 1, 1, 2, 1],
    [2, 1, 2, 0, 1, 0],
    [1, 0, 1, 1, 2, 1],
];

/// A body that sees linear BT.2020: grey under D65 has three equal counts.
pub(crate) fn plain_body() -> CameraColour {
    CameraColour {
        calibrations: vec![Calibration::of_matrix(
            Some(Kelvin(6504.0)),
            BT2020.from_xyz(),
        )],
        analog_balance: [1.0; 3],
        as_shot_neutral: Some([1.0; 3]),
    }
}

/// A frame whose counts at column x, row y are `counts(x, y)`, without borders beyond the crop.
pub(crate) fn frame(
    width: usize,
    height: usize,
    layout: Layout,
    mut counts: impl FnMut(usize, usize) -> u16,
) -> Frame {
    let per_pixel = if layout == Layout::Linear { 3 } else { 1 };
    let mut values = Vec::with_capacity(width * height * per_pixel);
    for y in 0..height {
        for x in 0..width * per_pixel {
            values.push(counts(x, y));
        }
    }
    Frame {
        facts: Facts::default(),
        mosaic: Mosaic {
            counts: Plane::from_values(width * per_pixel, height, values).expect("a full plane"),
            black: BlackLevels::flat(f32::from(BLACK), per_pixel),
            white: [f32::from(WHITE); 3],
            crop: Rect {
                left: 0,
                top: 0,
                width,
                height,
            },
            layout,
        },
        colour: plain_body(),
        notes: Vec::new(),
    }
}

/// The neutral correction: scene colour as measured.
pub(crate) fn faithful() -> Correction {
    Correction::neutral(Chromaticity::D65)
}

/// Sharpening for a usual screen.
pub(crate) fn screen(amount: f64) -> Sharpening {
    Sharpening {
        amount,
        ..Sharpening::NEUTRAL
    }
}

/// A correction that uses everything.
pub(crate) fn stage() -> Correction {
    Correction {
        gain: 1.7,
        levels: Levels {
            black: 0.002,
            middle: 1.1,
            white: 1.0,
        },
        curve: Curve::Shoulder {
            contrast: 1.3,
            ceiling: 8.0,
        },
        roll_off: RollOff {
            amount: 1.0,
            start: 1.0,
            end: 16.0,
        },
        saturation: 1.05,
        ..faithful()
    }
}

/// Renders at full size in one thread.
pub(crate) fn full(frame: &Frame, correction: &Correction) -> Rendered {
    sized(frame, correction, None)
}

/// Renders in one thread.
pub(crate) fn sized(frame: &Frame, correction: &Correction, long_edge: Option<u32>) -> Rendered {
    let target = Target {
        long_edge,
        ..Target::default()
    };
    render(frame, correction, &target, &Threads::one()).expect("renders")
}

/// Counts of a share of the range.
pub(crate) fn counts_of(share: f64) -> u16 {
    (f64::from(BLACK) + share * f64::from(WHITE - BLACK)).round() as u16
}

/// Counts without order: a linear congruential generator (Knuth's constants, "The Art of Computer Programming",
/// volume 2, 3.3.4), seeded, top bits taken.
pub(crate) fn unordered(seed: u64) -> impl FnMut() -> u16 {
    let mut state = seed;
    move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 50) as u16
    }
}

/// The same frame, to be turned.
pub(crate) fn turned(mut frame: Frame, tag: u16) -> Frame {
    frame.facts.orientation = Orientation::from_tag(tag).expect("1 to 8");
    frame
}
