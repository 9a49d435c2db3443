use super::*;
use crate::base::geometry::Orientation;
use crate::base::matrix::Matrix3;
use crate::base::plane::Plane;
use crate::base::units::{Chromaticity, Kelvin};
use crate::colour::camera::{Calibration, CameraColour};
use crate::look::correction::{
    Correction, Curve, Levels, Medium, NoiseReduction, RollOff, Sharpening,
};
use crate::raw::facts::Facts;
use crate::raw::frame::{BlackLevels, Frame, Layout};
use crate::render::Target;
use crate::render::demosaic::xtrans::SIX_BY_SIX;

fn frame(layout: Layout) -> Frame {
    let (width, height, values) = (
        61usize,
        300usize,
        if layout == Layout::Linear { 3 } else { 1 },
    );
    // A prime multiplier: counts without order, some below black, some full.
    let counts = (0..width * height * values)
        .map(|i| (i * 7919 % 16_411) as u16)
        .collect();
    let matrix = Matrix3([
        [0.82, -0.22, -0.07],
        [-0.49, 1.24, 0.28],
        [-0.10, 0.21, 0.72],
    ]);
    Frame {
        facts: Facts::default(),
        mosaic: Mosaic {
            counts: Plane::from_values(width * values, height, counts).expect("a full plane"),
            black: BlackLevels::flat(512.0, values),
            white: [16_000.0; 3],
            crop: Rect {
                left: 3,
                top: 5,
                width: 53,
                height: 290,
            },
            layout,
        },
        colour: CameraColour {
            calibrations: vec![Calibration::of_matrix(Some(Kelvin(6504.0)), matrix)],
            analog_balance: [1.0; 3],
            as_shot_neutral: None,
        },
        notes: Vec::new(),
    }
}

#[test]
fn the_height_of_bands_changes_no_byte() {
    let correction = Correction {
        gain: 1.4,
        levels: Levels {
            black: 0.001,
            middle: 1.0,
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
        sharpening: Sharpening {
            amount: 0.8,
            medium: Medium::Matte,
            resolution: Some(500.0),
        },
        ..Correction::neutral(Chromaticity::D65)
    };
    let quiet = NoiseReduction {
        luminance: 0.8,
        colour: 1.0,
        grain: 0.2,
    };
    for layout in [
        Layout::Bayer([[1, 0], [2, 1]]),
        Layout::XTrans(SIX_BY_SIX),
        Layout::Linear,
    ] {
        let mut frame = frame(layout);
        for orientation in [
            Orientation::Upright,
            Orientation::Turn90,
            Orientation::Turn180,
        ] {
            frame.facts.orientation = orientation;
            for (long_edge, noise) in [
                (None, NoiseReduction::NEUTRAL),
                (None, quiet),
                (Some(201), NoiseReduction::NEUTRAL),
                (Some(140), quiet),
                (Some(9), NoiseReduction::NEUTRAL),
            ] {
                let correction = Correction {
                    noise,
                    detail: noise.luminance,
                    ..correction.clone()
                };
                let target = Target {
                    long_edge,
                    ..Target::default()
                };
                let plan = Plan::compile(&frame, &correction, &target).expect("a plan");
                let in_bands = |threads: &Threads, band_rows| {
                    let mut rows: Vec<u8> = Vec::new();
                    let Ok(outside) =
                        run_in_bands(&plan, &frame.mosaic, threads, band_rows, |group| {
                            rows.extend_from_slice(group);
                            Ok::<(), Infallible>(())
                        });
                    (rows, outside)
                };
                let whole = in_bands(&Threads::one(), usize::from(u16::MAX));
                // One row, two, odd, and one more or less than the whole.
                for band_rows in [1, 2, 7, 64, 289, 291] {
                    assert!(
                        in_bands(&Threads::one(), band_rows) == whole,
                        "{layout:?} {orientation:?} {long_edge:?} in bands of {band_rows}"
                    );
                }
                for threads in [Threads::one(), Threads::new(3)] {
                    let made = in_bands(&threads, band_rows(&plan));
                    assert!(made == whole, "{threads:?}");
                    let (width, _) = plan.upright_size();
                    let mut pixels = Vec::new();
                    interleave_rows(width, &whole.0, &mut pixels);
                    assert_eq!(run(&plan, &frame.mosaic, &threads).rgb, pixels);
                    let mut fine: Vec<u16> = Vec::new();
                    let mut take = |rows: &[u16]| {
                        fine.extend_from_slice(rows);
                        Ok::<(), Infallible>(())
                    };
                    let Ok(outside) = run_in_order(&plan, &frame.mosaic, &threads, &mut take);
                    assert_eq!(outside, whole.1, "{threads:?}");
                    let mut banded: Vec<u16> = Vec::new();
                    let Ok(_) =
                        run_in_bands(&plan, &frame.mosaic, &threads, 64, |rows: &[u16]| {
                            banded.extend_from_slice(rows);
                            Ok::<(), Infallible>(())
                        });
                    assert!(fine == banded, "{threads:?} in 16 bits");
                }
            }
        }
    }
}
