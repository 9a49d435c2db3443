//! Shows drawn by lot: the same from the same seed, others from others, and true to what they say of themselves.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use stage_simulator::{KeyLamp, Show, ShowPlan, SimulatedFrame, SurfaceKind, Wishes};

fn small(seed: u64, wishes: Wishes) -> Show {
    Show::new(ShowPlan::drawn(seed, &wishes)).unwrap()
}

fn one_frame_a_cue() -> Wishes {
    Wishes {
        size: [96, 64],
        cues: 3,
        frames: [1, 1],
        ..Wishes::default()
    }
}

#[test]
fn equal_seeds_make_equal_bytes_and_others_do_not() {
    let first = |seed| small(seed, one_frame_a_cue()).frame(0).unwrap().dng();
    assert_eq!(first(1), first(1));
    assert_ne!(first(1), first(2));
}

#[test]
fn frames_do_not_depend_on_the_order_in_which_they_are_made() {
    let show = small(3, one_frame_a_cue());
    let forwards: Vec<Vec<u8>> = (0..3)
        .map(|index| show.frame(index).unwrap().dng())
        .collect();
    for index in [2, 0, 1] {
        assert_eq!(show.frame(index).unwrap().dng(), forwards[index]);
    }
}

#[test]
fn cues_have_as_many_frames_as_were_asked_for() {
    let wishes = Wishes {
        cues: 12,
        frames: [1, 40],
        ..Wishes::default()
    };
    let plan = ShowPlan::drawn(9, &wishes);
    assert_eq!(plan.cues.len(), 12);
    assert!(
        plan.cues
            .iter()
            .all(|cue| (1..=40).contains(&cue.frames.len()))
    );
    let show = Show::new(plan.clone()).unwrap();
    assert_eq!(
        show.len(),
        plan.cues.iter().map(|cue| cue.frames.len()).sum::<usize>()
    );
}

#[test]
fn impossible_plans_are_refused() {
    let mut plan = ShowPlan::drawn(1, &one_frame_a_cue());
    plan.size = [33, 32];
    assert!(Show::new(plan.clone()).is_err());
    plan.size = [32, 30];
    assert!(Show::new(plan.clone()).is_err());
    plan.size = [32, 32];
    plan.cues[0].frames[0].body = 2;
    assert!(Show::new(plan).is_err());
    assert!(small(1, one_frame_a_cue()).frame(99).is_err());
}

/// Mean camera RGB of a patch of the upright picture's noise-free light.
fn patch_mean(frame: &SimulatedFrame, at: [f64; 2], radius: f64) -> [f64; 3] {
    let (width, height) = (frame.width as f64, frame.height as f64);
    let (mut sum, mut count) = ([0.0; 3], 0.0);
    for y in 0..frame.height {
        for x in 0..frame.width {
            let (dx, dy) = (
                x as f64 + 0.5 - at[0] * width,
                y as f64 + 0.5 - at[1] * height,
            );
            // Half the radius: the lens softens a patch's rim.
            if (dx * dx + dy * dy).sqrt() <= radius * width / 2.0 {
                for (total, value) in sum.iter_mut().zip(frame.light[y * frame.width + x]) {
                    *total += value;
                }
                count += 1.0;
            }
        }
    }
    sum.map(|total| total / count)
}

#[test]
fn the_grey_card_has_the_neutral_that_the_truth_states() {
    for (seed, lamp) in [
        (1, KeyLamp::Daylight),
        (2, KeyLamp::Tungsten(3200.0)),
        (3, KeyLamp::LedThreeBand),
    ] {
        let show = small(
            seed,
            Wishes {
                size: [240, 160],
                cues: 1,
                frames: [1, 1],
                keys: vec![lamp],
                washes: Vec::new(),
                ..Wishes::default()
            },
        );
        let frame = show.frame(0).unwrap();
        let key = frame.truth.key.clone().unwrap();
        let card = frame
            .truth
            .patches
            .iter()
            .find(|patch| patch.surface == "grey card")
            .unwrap();
        let rgb = patch_mean(&frame, card.at, card.radius);
        for k in [0, 2] {
            let found = rgb[k] / rgb[1] / key.camera_neutral[k];
            // 3 %: the published card is not quite grey, and its surroundings' light is blurred into it.
            assert!((found - 1.0).abs() < 0.03, "{lamp:?}: {found}");
        }
        // Without wash all green light is the key's, but for what the air scatters.
        assert!(card.wash_share < 0.05, "{}", card.wash_share);
    }
}

#[test]
fn the_truth_of_a_chart_is_where_it_says() {
    let show = small(
        4,
        Wishes {
            size: [360, 240],
            cues: 1,
            frames: [1, 1],
            ..Wishes::default()
        },
    );
    let frame = show.frame(0).unwrap();
    let chart: Vec<_> = frame
        .truth
        .patches
        .iter()
        .filter(|patch| patch.kind == SurfaceKind::Chart)
        .collect();
    assert!(chart.len() >= 20, "{} patches", chart.len());
    let at = |name: &str| chart.iter().find(|patch| patch.surface == name).unwrap();
    // The chart hangs upright: its greys lie under its primaries, its white left of its black.
    assert!(at("white_95_05_D").at[1] > at("blue").at[1]);
    assert!(at("white_95_05_D").at[0] < at("black_2_15_D").at[0]);
    // Lightness of the white patch: 95 to 97 (Pascale 2006: L* 96.5 under D50).
    assert!((94.0..98.0).contains(&at("white_95_05_D").lab[0]));
    for patch in &frame.truth.patches {
        assert!(patch.at.iter().all(|value| (0.0..=1.0).contains(value)));
        assert!(patch.shading > 0.0 && patch.lab.iter().all(|value| value.is_finite()));
    }
}

#[test]
fn one_body_more_exposure_more_light() {
    let mut plan = ShowPlan::drawn(
        6,
        &Wishes {
            size: [64, 48],
            cues: 1,
            frames: [1, 1],
            ..Wishes::default()
        },
    );
    let mean = |plan: &ShowPlan| {
        let frame = Show::new(plan.clone()).unwrap().frame(0).unwrap();
        frame.light.iter().map(|pixel| pixel[1]).sum::<f64>()
    };
    let before = mean(&plan);
    plan.cues[0].frames[0].exposure.iso *= 4;
    // Two stops are two stops: light is linear.
    assert!((mean(&plan) / before - 4.0).abs() < 1e-9);
}
