//! Neutral patches: the white that comes out, and every reason to refuse.

#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that meets the unexpected should stop there"
)]

mod light_frame;

use houselights::base::geometry::Orientation;
use houselights::base::units::Kelvin;
use houselights::colour::{angle, temperature};
use houselights::light::measure_patches;
use houselights::light::patch::{Patch, PatchError, PatchMeasure};
use houselights::raw::frame::Layout;
use light_frame::{Drawing, XTRANS, neutral};

const fn at(x: f64, y: f64) -> Patch {
    Patch { x, y, radius: 0.02 }
}

/// Noise of a good body at its base ISO.
const CLEAN: (f64, f64) = (2e-5, 1e-7);

/// A grey square of this level in the upper right quarter of the stored picture, black elsewhere.
fn square(
    level: f64,
    light: [f64; 3],
    width: usize,
    height: usize,
) -> impl Fn(usize, usize) -> [f64; 3] {
    move |x, y| {
        let inside = x * 16 / width >= 10
            && x * 16 / width < 14
            && y * 16 / height >= 2
            && y * 16 / height < 6;
        light.map(|value| if inside { level * value } else { 0.0002 })
    }
}

#[test]
fn the_white_of_a_grey_comes_back_in_every_layout_and_orientation() {
    let white = temperature::planckian(Kelvin(3300.0));
    let light = neutral(white);
    for layout in [
        Layout::Bayer([[0, 1], [1, 2]]),
        Layout::Bayer([[1, 2], [0, 1]]),
        Layout::XTrans(XTRANS),
        Layout::Linear,
    ] {
        for tag in 1..=8 {
            let orientation = Orientation::from_tag(tag).expect("1 to 8");
            let drawing = Drawing {
                layout,
                orientation,
                width: 400,
                height: 300,
                noise: CLEAN,
                ..Drawing::default()
            };
            let frame = drawing.frame(square(0.2, light, 400, 300));
            // The square's middle, 0.75 and 0.25 of the stored picture, sought in the upright one.
            let upright = (0..=20)
                .flat_map(|x| (0..=20).map(move |y| (f64::from(x) / 20.0, f64::from(y) / 20.0)));
            let (x, y) = upright
                .min_by_key(|&(x, y)| {
                    let (sx, sy) = orientation.stored_fraction(x, y);
                    (1e6 * ((sx - 0.75).abs() + (sy - 0.25).abs())) as u64
                })
                .expect("a grid");
            let measure = measure_patches(&frame, &[at(x, y)]).expect("a good patch");
            // About 50 cells at a signal-to-noise ratio of 100 each leave 0.1 degrees.
            let off = angle::reproduction(light, measure.neutral);
            assert!(off < 0.3, "{layout:?} {orientation:?}: {off}");
            assert!(
                (measure.white.x - white.x).abs() < 0.002
                    && (measure.white.y - white.y).abs() < 0.002
            );
        }
    }
}

#[test]
fn a_stray_highlight_does_not_tint_the_patch() {
    let light = neutral(temperature::planckian(Kelvin(4500.0)));
    let plain = square(0.2, light, 600, 400);
    let frame = Drawing::default().frame(|x, y| {
        // A twentieth of the patch is lit by something red, and clipped.
        if (450..454).contains(&x) {
            [2.0, 0.3, 0.1]
        } else {
            plain(x, y)
        }
    });
    let measure = measure_patches(&frame, &[at(0.75, 0.25)]).expect("a good patch");
    assert!(angle::reproduction(light, measure.neutral) < 0.3);
    assert!(measure.patches[0].left_out > 0);
}

#[test]
fn patches_that_disagree_are_reported() {
    let light = neutral(temperature::planckian(Kelvin(4500.0)));
    let frame = Drawing::default().frame(|x, _| {
        if x < 300 {
            light.map(|v| 0.2 * v)
        } else {
            [0.26 * light[0], 0.2 * light[1], 0.2 * light[2]]
        }
    });
    let one = measure_patches(&frame, &[at(0.2, 0.5), at(0.3, 0.3)]).expect("good patches");
    assert!(
        one.disagreement < 0.5 && one.odd_one().is_none(),
        "{}",
        one.disagreement
    );
    let two =
        measure_patches(&frame, &[at(0.2, 0.5), at(0.3, 0.3), at(0.8, 0.5)]).expect("good patches");
    assert!(two.disagreement > PatchMeasure::DISAGREEMENT_LIMIT);
    assert_eq!(two.odd_one().expect("one is odd").patch, at(0.8, 0.5));
}

#[test]
fn the_order_of_patches_does_not_matter() {
    let light = neutral(temperature::planckian(Kelvin(3000.0)));
    let frame = Drawing::default().frame(|x, _| light.map(|v| v * (0.05 + x as f64 / 1200.0)));
    let patches = [at(0.2, 0.5), at(0.6, 0.3), at(0.4, 0.9)];
    let turned = [patches[2], patches[0], patches[1]];
    let (one, other) = (
        measure_patches(&frame, &patches),
        measure_patches(&frame, &turned),
    );
    let (one, other) = (one.expect("good patches"), other.expect("good patches"));
    for (a, b) in one.neutral.iter().zip(other.neutral) {
        assert!((a - b).abs() < 1e-12);
    }
}

#[test]
fn what_gives_no_white_is_refused_with_the_reason() {
    let light = neutral(temperature::planckian(Kelvin(4500.0)));
    let frame = Drawing::default().frame(|x, y| match (x < 300, y < 200) {
        (true, true) => [1.5; 3],
        (true, false) => [1e-5; 3],
        (false, true) => [0.5 * light[0], 1.1, 0.5 * light[2]],
        (false, false) => light.map(|v| 0.3 * v),
    });
    let refuse = |patch: Patch| measure_patches(&frame, &[patch]).expect_err("no white");
    assert_eq!(refuse(at(1.2, 0.5)), PatchError::Outside { x: 1.2, y: 0.5 });
    assert!(
        refuse(at(1.2, 0.5))
            .to_string()
            .contains("0 (left, top) to 1")
    );
    assert!(matches!(
        refuse(at(f64::NAN, 0.5)),
        PatchError::Outside { .. }
    ));
    assert!(matches!(
        refuse(at(0.25, 0.25)),
        PatchError::AllClipped { .. }
    ));
    let lamp = refuse(at(0.75, 0.25));
    assert!(
        matches!(
            lamp,
            PatchError::AllClipped { .. } | PatchError::TooBright { .. }
        ),
        "{lamp}"
    );
    let dark = refuse(at(0.25, 0.75));
    assert!(matches!(dark, PatchError::TooDark { .. }), "{dark}");
    let small = Patch {
        x: 0.75,
        y: 0.75,
        radius: 0.001,
    };
    let PatchError::TooSmall { radius, .. } = refuse(small) else {
        panic!("too small")
    };
    let larger = Patch { radius, ..small };
    assert!(
        measure_patches(&frame, &[larger]).is_ok(),
        "the radius that the error proposes will do"
    );
    for radius in [0.0, -0.1, 0.9, f64::NAN] {
        let error = refuse(Patch { radius, ..small });
        assert!(matches!(error, PatchError::Radius { .. }), "{error}");
    }
    assert!(matches!(
        measure_patches(&frame, &[]),
        Err(PatchError::None)
    ));
    // One bad patch among good ones is named, not passed over.
    assert!(measure_patches(&frame, &[at(0.75, 0.75), at(1.2, 0.5)]).is_err());
}

#[test]
fn a_patch_at_the_very_corner_is_read_inside_the_picture() {
    let frame = Drawing {
        noise: CLEAN,
        ..Drawing::default()
    }
    .frame(|_, _| [0.2, 0.3, 0.25]);
    for (x, y) in [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)] {
        let measure =
            measure_patches(&frame, &[at(x, y)]).expect("a quarter of the circle is inside");
        assert!(angle::reproduction([0.2, 0.3, 0.25], measure.neutral) < 0.5);
    }
}
