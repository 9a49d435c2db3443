//! What one frame's reading knows beside its white, on shows drawn by lot whose truth is known. `--nocapture` prints the
//! figures.

#![allow(
    clippy::expect_used,
    clippy::print_stderr,
    reason = "a test that meets the unexpected should stop there, and says what it found"
)]

use houselights::base::geometry::Rect;
use houselights::base::plane::Plane;
use houselights::colour::angle::reproduction;
use houselights::light::reading::{NeutralDoubt, Reading, TRUSTED_CONFIDENCE};
use houselights::light::sharpness::laplacian_variance;
use houselights::light::washes::{hue_and_saturation, name};
use houselights::light::{locus, read_light, read_reference_by_itself};
use houselights::raw::frame::{BlackLevels, Frame, Layout};
use stage_simulator::{FrameTruth, Show, ShowPlan, Wishes};

/// A frame of a show with its truth and its reading.
struct Known {
    truth: FrameTruth,
    frame: Frame,
    reading: Reading,
    is_reference: bool,
}

/// Every `step`-th frame of a drawn show, from its reference on; the others are not drawn.
fn drawn(seed: u64, width: usize, step: usize) -> Vec<Known> {
    let wishes = Wishes {
        size: [width, width * 2 / 3],
        ..Wishes::default()
    };
    let show = Show::new(ShowPlan::drawn(seed, &wishes)).expect("a show");
    let scratch = tempfile::tempdir().expect("a scratch folder");
    (0..show.len())
        .step_by(step)
        .map(|at| {
            let shot = show.frame(at).expect("a frame");
            let path = scratch.path().join(&shot.truth.file);
            std::fs::write(&path, shot.dng()).expect("written");
            let frame = houselights::raw::read_frame(&path).expect("decodes");
            Known {
                is_reference: at == 0,
                reading: read_light(&frame, None),
                truth: shot.truth,
                frame,
            }
        })
        .collect()
}

/// Angle between a white that was read and the true key, degrees.
fn off_key(truth: &FrameTruth, neutral: [f64; 3]) -> Option<f64> {
    let key = truth.key.as_ref()?;
    Some(reproduction(neutral, key.camera_neutral))
}

/// Candidates are the key's own colour, none stands in a frame without a key, and a reference that shows them well has some.
#[test]
fn candidates_are_neutral_under_the_key() {
    let (mut all, mut good, mut with, mut keyed) = (0_usize, 0_usize, 0_usize, 0_usize);
    let (mut trusted, mut right) = (0_usize, 0_usize);
    for seed in [201, 202, 203, 204] {
        for known in drawn(seed, 288, 2) {
            let Reading {
                neutrals, estimate, ..
            } = &known.reading;
            if known.truth.key.is_none() {
                assert!(
                    neutrals.is_empty(),
                    "{}: {neutrals:?} without a key",
                    known.truth.file
                );
                continue;
            }
            keyed += 1;
            with += usize::from(!neutrals.is_empty());
            for candidate in neutrals {
                let off =
                    off_key(&known.truth, locus::neutral_of(candidate.chroma)).expect("a key");
                all += 1;
                good += usize::from(off < 4.0);
                assert!((0.0..=1.0).contains(&candidate.confidence));
            }
            if let Some(estimate) = estimate
                .as_ref()
                .filter(|estimate| estimate.confidence >= TRUSTED_CONFIDENCE)
            {
                trusted += 1;
                right += usize::from(off_key(&known.truth, estimate.neutral).expect("a key") < 3.0);
            }
            if known.is_reference {
                let reference = read_reference_by_itself(&known.frame);
                let off = reference
                    .patches
                    .as_ref()
                    .and_then(|measure| off_key(&known.truth, measure.neutral));
                let choice = reference.choice.expect("a choice");
                eprintln!(
                    "seed {seed}, reference: {} used, {} left out, {off:?} degrees off, {:?}; estimate {:?}",
                    choice.used.len(),
                    choice.left_out.len(),
                    choice.doubt,
                    estimate
                        .as_ref()
                        .map(|e| (off_key(&known.truth, e.neutral), e.confidence)),
                );
                assert!(off.is_none_or(|off| off < 3.0), "seed {seed}: {off:?}");
                assert_eq!(
                    off.is_none(),
                    choice.doubt == Some(NeutralDoubt::NoneCredible)
                );
            }
        }
    }
    eprintln!(
        "candidates: {good} of {all} within 4 degrees of the key, in {with} of {keyed} keyed frames; \
         trusted whites: {right} of {trusted} within 3 degrees"
    );
    // Chosen by measurement: a weak wash on a thing that is neutral by itself moves it by a degree or two.
    assert!(good as f64 >= 0.65 * all as f64);
    assert!(right as f64 >= 0.7 * trusted as f64);
    assert!(all > 0);
}

/// The washes that light a frame are found and named, those that hardly count may be missed.
#[test]
fn washes_are_named() {
    let (mut frames, mut first) = (0_usize, 0_usize);
    for seed in [205, 206] {
        for known in drawn(seed, 144, 2) {
            if known.truth.washes.is_empty() {
                continue;
            }
            let names: Vec<String> = known
                .truth
                .washes
                .iter()
                .map(|wash| {
                    let name = serde_json::to_value(wash.colour).expect("JSON");
                    name.as_str().expect("a name").to_owned()
                })
                .collect();
            frames += 1;
            let found = known.reading.washes.first();
            first +=
                usize::from(found.is_some_and(|found| names.contains(&found.name.to_string())));
        }
    }
    eprintln!("the first wash is one of the true ones in {first} of {frames} frames");
    // Two washes on one surface make a third colour: magenta of red and blue. Chosen by measurement.
    assert!(first as f64 >= 0.55 * frames as f64);
}

/// Hues of the trade's LED bands through the sensitivities of a Nikon D5100 (Darrodi, Finlayson, Goodman and Mackiewicz, JOSA A
/// 32(3):381, 2015), balanced for CIE D65: bands after Ohno, Optical Engineering 44(11), 111302, 2005.
#[test]
fn hues_have_the_trades_names() {
    let named = [
        (3.0, 0.99, "red"),
        (10.0, 0.99, "amber"),
        (22.0, 0.89, "yellow"),
        (93.0, 0.89, "lime"),
        (131.0, 0.82, "green"),
        (187.0, 0.83, "cyan"),
        (230.0, 0.92, "blue"),
        (239.0, 0.81, "congo"),
        (270.0, 0.78, "violet"),
        (311.0, 0.79, "magenta"),
        (4.0, 0.39, "pink"),
    ];
    for (hue, saturation, wanted) in named {
        assert_eq!(name(hue, saturation).to_string(), wanted);
    }
    // Equal amounts of white leave a hue as it is.
    let (hue, _) = hue_and_saturation([0.1, 0.02, 0.3], [1.0; 3]).expect("a hue");
    let (hazy, _) = hue_and_saturation([0.2, 0.12, 0.4], [1.0; 3]).expect("a hue");
    assert!((hue - hazy).abs() < 1e-9);
    assert_eq!(hue_and_saturation([-0.1, 0.0, 0.0], [1.0; 3]), None);
}

/// Variance of the Laplacian of pictures that a formula makes, computed by scipy (mirrored edges); the table has eight decimals.
#[test]
fn the_laplacian_of_known_pictures() {
    let picture = |value: fn(usize, usize) -> f64| -> Vec<f32> {
        (0..64 * 64)
            .map(|at| (value(at / 64, at % 64).round_ties_even() / 255.0) as f32)
            .collect()
    };
    // Line i, column j of 64 x 64, 0 to 255.
    let ramp = picture(|i, j| (i + 2 * j) as f64 / 189.0 * 255.0);
    let checker = picture(|i, j| ((i + j) / 8 % 2) as f64 * 255.0);
    for (picture, wanted) in [(ramp, 5.63e-5), (checker, 1.015_136_72)] {
        let found = laplacian_variance(&picture, 64);
        // Single precision values.
        assert!((found - wanted).abs() < 1e-6, "{found} {wanted}");
    }
    assert_eq!(laplacian_variance(&[], 0), 0.0);
    assert_eq!(laplacian_variance(&[1.0; 3], 3), 0.0);
}

/// A frame out of focus is less sharp; the same frame darker by a stop is as sharp.
#[test]
fn sharpness_falls_with_blur_and_not_with_exposure() {
    let known = drawn(207, 720, 1000).pop().expect("the reference");
    let own = known.reading.sharpness.expect("a sharpness");
    let changed = |change: &dyn Fn(&Plane<u16>, usize, usize) -> f64| {
        let mut frame = known.frame.clone();
        let counts = &known.frame.mosaic.counts;
        for y in 0..counts.height() {
            for x in 0..counts.width() {
                frame.mosaic.counts.row_mut(y)[x] = change(counts, x, y) as u16;
            }
        }
        read_light(&frame, None).sharpness
    };
    let blurred = changed(&|counts, x, y| {
        // Photosites of one colour stand two apart.
        let near = |at: usize, step: usize, length: usize| {
            (at + 2 * step)
                .saturating_sub(4)
                .min(length - 1 - (length - 1 - at) % 2)
        };
        let mut sum = 0.0;
        for dy in 0..5 {
            for dx in 0..5 {
                let (nx, ny) = (near(x, dx, counts.width()), near(y, dy, counts.height()));
                let (nx, ny) = (nx / 2 * 2 + x % 2, ny / 2 * 2 + y % 2);
                sum +=
                    f64::from(counts.at(nx.min(counts.width() - 1), ny.min(counts.height() - 1)));
            }
        }
        sum / 25.0
    });
    let black = f64::from(known.frame.mosaic.black.at(0, 0, 0));
    let darker =
        changed(&|counts, x, y| (black + (f64::from(counts.at(x, y)) - black) / 2.0).max(0.0));
    eprintln!("sharpness {own:.3}, blurred {blurred:?}, darker {darker:?}");
    assert!(blurred.is_none_or(|blurred| blurred < 0.6 * own));
    let darker = darker.expect("a sharpness");
    // Another lit region and rounding: a fifth.
    assert!((darker / own - 1.0).abs() < 0.2, "{own} {darker}");
}

/// Nothing is made up of nothing.
#[test]
fn pictures_that_show_nothing_have_no_evidence() {
    let known = drawn(207, 144, 1000).pop().expect("the reference");
    for (width, height) in [(1, 1), (2, 2), (4, 4), (144, 96)] {
        for count in [0_u16, 100, 1000] {
            let mut frame = known.frame.clone();
            frame.mosaic.counts = Plane::filled(width, height, count);
            frame.mosaic.layout = Layout::Bayer([[0, 1], [1, 2]]);
            frame.mosaic.black = BlackLevels::flat(100.0, 1);
            frame.mosaic.white = [1000.0; 3];
            frame.mosaic.crop = Rect {
                left: 0,
                top: 0,
                width,
                height,
            };
            let reading = read_light(&frame, None);
            assert!(reading.neutrals.is_empty(), "{width} x {height} at {count}");
            assert!(reading.skin.is_none());
            let shares = reading
                .lit
                .map_or((0.0, 0.0), |lit| (lit.blown_share, lit.blocked_share));
            assert!((0.0..=1.0).contains(&shares.0) && (0.0..=1.0).contains(&shares.1));
            let reference = read_reference_by_itself(&frame);
            assert!(reference.patches.is_none());
        }
    }
}
