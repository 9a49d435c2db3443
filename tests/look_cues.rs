//! What cues get: one white and one level for all of a cue's frames, what lies between two of them, and a person's word
//! before all of it. The light of the show is made up, so that each law stands by itself.

#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that meets the unexpected should stop there"
)]

mod light_frame;

use houselights::base::units::{Chromaticity, Kelvin, Stops};
use houselights::colour::temperature::planckian;
use houselights::light::patch::Patch;
use houselights::light::reading::FrameLight;
use houselights::light::sheet::{
    BodyKey, CueSheet, Fade, FramePlace, KeyLevel, KeyMemory, KeySheet, KeySource, KeyWhite, Run,
    RunKind, ShowLight, SolvedAnchor,
};
use houselights::light::{read_light, read_reference};
use houselights::look::carry::{Carried, Follow, carry};
use houselights::look::file::Look;
use houselights::look::overrule::{CueWish, Overruling, WhiteWish};
use houselights::look::presets::preset;
use houselights::look::reason::Reason;
use houselights::look::solve::solve;
use houselights::raw::frame::Frame;
use light_frame::{Drawing, neutral, stage};
use std::collections::BTreeMap;
use std::sync::{LazyLock, Mutex, PoisonError};

const CLOTH: Patch = Patch {
    x: 0.5,
    y: 0.55,
    radius: 0.03,
};

fn key() -> Chromaticity {
    planckian(Kelvin(4200.0))
}

fn draw(strength: f64) -> Frame {
    Drawing::default().frame(stage(neutral(key()), strength, [0.0; 3]))
}

/// The light of a stage under a key of this strength. Each strength is drawn once, since every test asks for some.
fn frame(strength: f64) -> FrameLight {
    static DRAWN: Mutex<BTreeMap<u64, FrameLight>> = Mutex::new(BTreeMap::new());
    let mut drawn = DRAWN.lock().unwrap_or_else(PoisonError::into_inner);
    let light = drawn.entry(strength.to_bits()).or_insert_with(|| {
        let frame = draw(strength);
        FrameLight {
            facts: frame.facts.clone(),
            reading: Some(read_light(&frame, Some(key()))),
            colour: frame.colour.without_hue_maps(),
            is_reference: false,
        }
    });
    light.clone()
}

fn look() -> Look {
    static SOLVED: LazyLock<Look> = LazyLock::new(|| {
        let reference = read_reference(&draw(1.2), &[CLOTH]).expect("a good patch");
        let mut taste = preset("stage").expect("a preset");
        taste.exposure.kept_difference = 0.0;
        taste.exposure.most_correction = Stops(2.0);
        solve(&taste, "reference.dng", &reference).look
    });
    SOLVED.clone()
}

/// A key of this temperature, level and confidence in both.
fn body_key(kelvin: f64, stops: f64, confidence: f64) -> Option<BodyKey> {
    let white = planckian(Kelvin(kelvin));
    Some(BodyKey {
        white: Some(KeyWhite {
            white,
            neutral: neutral(white),
            source: KeySource::Palette,
            confidence,
            voters: 1000,
            anchor: 0,
        }),
        level: Some(KeyLevel {
            stops: Stops(stops),
            confidence,
        }),
    })
}

/// One body's frames in cues of these sizes, each with its key.
fn show(cues: &[(usize, Option<BodyKey>)]) -> ShowLight {
    let mut sheet = CueSheet {
        cues: cues.len(),
        ..CueSheet::default()
    };
    for (cue, (count, _)) in cues.iter().enumerate() {
        let first = sheet.places.len();
        sheet.places.extend((0..*count).map(|at| FramePlace {
            body: 0,
            seconds: Some((first + at) as f64),
            run: cue,
            fade: None,
        }));
        sheet.runs.push(Run {
            cue,
            kind: RunKind::Key,
            frames: (first..first + count).collect(),
        });
    }
    ShowLight {
        sheet,
        keys: KeySheet {
            anchors: Vec::new(),
            cues: cues.iter().map(|(_, key)| vec![*key]).collect(),
        },
    }
}

/// An anchor with surfaces: levels are then told by them, and not by single frames.
fn remembering() -> SolvedAnchor {
    SolvedAnchor {
        white: key(),
        confidence: 1.0,
        memory: KeyMemory {
            surfaces: vec![([0.0, 0.0], -3.0, 0.1)],
            ..KeyMemory::default()
        },
    }
}

fn carried(
    look: &Look,
    frames: &[FrameLight],
    light: &ShowLight,
    overruling: &Overruling,
) -> Vec<Carried> {
    carry(look, frames, light, Follow::Light, overruling).expect("a solved look")
}

fn plainly(frames: &[FrameLight], light: &ShowLight) -> Vec<Carried> {
    carried(&look(), frames, light, &Overruling::default())
}

/// Stops of a frame's gain against the reference's.
fn stops(one: &Carried) -> f64 {
    (one.correction.gain / look().reference.expect("solved").gain).log2()
}

fn apart(a: Chromaticity, b: Chromaticity) -> f64 {
    (a.x - b.x).hypot(a.y - b.y)
}

#[test]
fn all_frames_of_a_cue_get_one_white_one_level_and_one_pair_of_points() {
    // Frames that show different things: their own readings differ by more than a stop.
    let frames = [0.5, 1.2, 1.3, 0.8].map(frame);
    let light = show(&[(4, body_key(3000.0, -0.5, 1.0))]);
    let found = plainly(&frames, &light);
    for one in &found {
        assert_eq!(one.correction, found[0].correction);
    }
    assert_eq!(found[0].correction.white, planckian(Kelvin(3000.0)));
    assert!((stops(&found[0]) - 0.5).abs() < 1e-12);
}

#[test]
fn a_cue_without_a_credible_key_keeps_the_references_white_and_its_own_level() {
    let none = Some(BodyKey {
        white: None,
        level: None,
    });
    let mut light = show(&[(2, none)]);
    light.keys.anchors.push(remembering());
    let found = plainly(&[frame(0.3), frame(0.3)], &light);
    let look = look();
    for one in &found {
        assert_eq!(Some(one.correction.white), look.white);
        assert!(stops(one).abs() < 1e-12);
        assert!(
            one.reasons
                .contains(&Reason::WhiteKept { confidence: None })
        );
    }
}

#[test]
fn what_is_uncertain_goes_part_of_the_way_without_a_step() {
    let frames = [frame(1.0)];
    let at = |confidence: f64| {
        plainly(&frames, &show(&[(1, body_key(2700.0, 1.0, confidence))])).remove(0)
    };
    let (none, all) = (at(0.0), at(1.0));
    assert_eq!(Some(none.correction.white), look().white);
    assert_eq!(all.correction.white, planckian(Kelvin(2700.0)));
    let whole = apart(none.correction.white, all.correction.white);
    let mut last = none;
    for step in 1..=200 {
        let next = at(f64::from(step) / 200.0);
        // A two-hundredth of the range moves a thirtieth of the way at most.
        assert!(
            apart(next.correction.white, last.correction.white) < whole / 30.0,
            "{step}"
        );
        assert!((stops(&next) - stops(&last)).abs() < 1.0 / 30.0, "{step}");
        last = next;
    }
    let part = at(0.25);
    assert!(part.reasons.iter().any(
        |reason| matches!(reason, Reason::WhiteOfCue { share, .. } if (0.2..0.8).contains(share))
    ));
    assert!((0.2..0.8).contains(&(apart(part.correction.white, at(0.0).correction.white) / whole)));
}

#[test]
fn the_level_keeps_its_share_of_the_difference_and_stops_at_the_cap() {
    for (kept, difference, wanted) in [
        (0.0, -0.8, 0.8),
        (0.25, -0.8, 0.6),
        (1.0, -0.8, 0.0),
        (0.0, -3.0, 2.0),
        (0.0, 3.0, -2.0),
    ] {
        let mut look = look();
        look.exposure.kept_difference = kept;
        let light = show(&[(1, body_key(4200.0, difference, 1.0))]);
        let found = carried(&look, &[frame(1.0)], &light, &Overruling::default());
        assert!(
            (stops(&found[0]) - wanted).abs() < 1e-12,
            "{kept} {difference}"
        );
        let was_limited = found[0]
            .reasons
            .iter()
            .any(|reason| matches!(reason, Reason::LevelHeld { limited: true, .. }));
        assert_eq!(was_limited, difference.abs() > 2.0);
    }
}

#[test]
fn settings_are_evened_out_exactly_on_top() {
    let mut longer = frame(1.0);
    longer.facts.exposure_seconds = longer.facts.exposure_seconds.map(|seconds| seconds * 8.0);
    let light = show(&[(2, body_key(4200.0, 0.5, 1.0))]);
    let found = plainly(&[frame(1.0), longer], &light);
    assert!((stops(&found[0]) - stops(&found[1]) - 3.0).abs() < 1e-12);
}

/// Two cues with a fade of one frame between them.
fn fading(arrived: f64) -> (Vec<FrameLight>, ShowLight) {
    let mut light = show(&[
        (1, body_key(2700.0, -1.0, 1.0)),
        (2, body_key(6500.0, 1.0, 1.0)),
    ]);
    light.sheet.places[1].fade = Some(Fade {
        from: 0,
        to: 1,
        arrived,
    });
    ([1.0, 1.0, 1.0].map(frame).to_vec(), light)
}

#[test]
fn a_cross_fade_mixes_the_two_keys_light() {
    for arrived in [0.2, 0.5, 0.8] {
        let (frames, light) = fading(arrived);
        let found = plainly(&frames, &light);
        // By hand: half the light of one with its share, twice that of the other with its.
        let (warm, cold) = (
            neutral(planckian(Kelvin(2700.0))),
            neutral(planckian(Kelvin(6500.0))),
        );
        let (a, b) = (0.5 * (1.0 - arrived), 2.0 * arrived);
        let mixed = [0, 1, 2].map(|c| (a * warm[c] + b * cold[c]) / (a + b));
        let wanted = frames[1].colour.white_of_neutral(mixed).expect("a white");
        assert!(apart(found[1].correction.white, wanted) < 1e-6);
        assert!((stops(&found[1]) + (a + b).log2()).abs() < 1e-12);
        assert!(
            found[1]
                .reasons
                .iter()
                .any(|reason| matches!(reason, Reason::InFade { .. }))
        );
    }
}

#[test]
fn a_cross_fade_begins_and_ends_at_its_cues() {
    for (arrived, cue) in [(0.0, 0), (1.0, 2)] {
        let (frames, light) = fading(arrived);
        let found = plainly(&frames, &light);
        assert_eq!(found[1].correction, found[cue].correction, "{arrived}");
        let (frames, near) = fading(0.5 + (arrived - 0.5) * 0.9998);
        let near = plainly(&frames, &near);
        assert!(apart(near[1].correction.white, found[cue].correction.white) < 1e-3);
        assert!((stops(&near[1]) - stops(&found[cue])).abs() < 1e-2);
        assert!(
            (near[1].correction.levels.white - found[cue].correction.levels.white).abs() < 1e-3
        );
    }
}

#[test]
fn a_key_that_fades_to_black_keeps_its_white_and_becomes_black_without_a_step() {
    let none = Some(BodyKey {
        white: None,
        level: None,
    });
    let at = |arrived: f64| {
        let mut light = show(&[(1, body_key(2700.0, 0.0, 1.0)), (2, none)]);
        light.keys.anchors.push(remembering());
        light.sheet.places[1].fade = Some(Fade {
            from: 0,
            to: 1,
            arrived,
        });
        plainly(&[1.0, 1.0, 1.0].map(frame), &light)
    };
    let (warm, kept) = (planckian(Kelvin(2700.0)), look().white.expect("solved"));
    let whole = apart(warm, kept);
    // A third is gone: what is left is still that key, and most of what is missing is given back.
    let third = at(1.0 / 3.0);
    assert!(apart(third[1].correction.white, warm) < 0.1 * whole);
    let missing = 1.5_f64.log2();
    assert!((0.5..1.0).contains(&(stops(&third[1]) / missing)));
    let mut last = at(0.0).remove(1);
    for step in 1..=100 {
        let next = at(f64::from(step) / 100.0).remove(1);
        assert!(
            apart(next.correction.white, last.correction.white) < 0.1 * whole,
            "{step}"
        );
        assert!((stops(&next) - stops(&last)).abs() < 0.1, "{step}");
        last = next;
    }
    assert!(apart(last.correction.white, kept) < 1e-9 && stops(&last).abs() < 1e-9);
}

#[test]
fn frames_beside_the_reference_have_its_numbers() {
    let mut frames = [1.2, 1.2, 0.9].map(frame);
    frames[0].is_reference = true;
    let light = show(&[(3, body_key(4400.0, 0.2, 0.9))]);
    let found = plainly(&frames, &light);
    for one in &found {
        assert_eq!(one.correction, found[0].correction);
    }
    assert_eq!(found[0].reasons, [Reason::Copied]);
}

#[test]
fn black_and_white_point_follow_the_cue_within_bounds() {
    let reference = look().reference.expect("solved").levels;
    let light = show(&[(6, body_key(4200.0, 0.0, 1.0))]);
    for strength in [0.3, 0.9, 1.2, 4.0] {
        let frames: Vec<FrameLight> = (0..6).map(|_| frame(strength)).collect();
        let found = plainly(&frames, &light);
        let levels = found[0].correction.levels;
        assert!(
            (levels.white / reference.white).log2().abs() <= 0.25 + 1e-12,
            "{strength}"
        );
        assert!((0.0..=0.004).contains(&levels.black), "{strength}");
        // Middle grey is shown where the reference shows it.
        let shown = |levels: houselights::look::correction::Levels| {
            ((0.18 - levels.black) / (levels.white - levels.black)).powf(1.0 / levels.middle)
        };
        assert!((shown(levels) - shown(reference)).abs() < 1e-12);
        assert!(
            found[0]
                .reasons
                .iter()
                .any(|reason| matches!(reason, Reason::LevelsOfCue { .. }))
        );
    }
    let mut fixed = look();
    fixed.levels.policy = houselights::look::file::LevelsPolicy::Fixed;
    let found = carried(
        &fixed,
        &[frame(0.3)],
        &show(&[(1, body_key(4200.0, 0.0, 1.0))]),
        &Overruling::default(),
    );
    assert_eq!(
        found[0].correction.levels, reference,
        "fixed levels are nobody's but the look's"
    );
}

#[test]
fn a_persons_word_goes_before_all() {
    let frames: Vec<FrameLight> = (0..4).map(|_| frame(1.0)).collect();
    let light = show(&[
        (2, body_key(3000.0, -0.5, 1.0)),
        (2, body_key(5000.0, 0.5, 1.0)),
    ]);
    let plain = plainly(&frames, &light);
    let mut overruling = Overruling::default();
    let white = planckian(Kelvin(3500.0));
    overruling.cues.insert(
        0,
        CueWish {
            white: Some(WhiteWish::Light { white }),
            stops: Some(Stops(0.25)),
            as_shot: false,
        },
    );
    overruling.frames.insert(
        1,
        CueWish {
            white: Some(WhiteWish::Reference),
            ..CueWish::default()
        },
    );
    let look = look();
    let found = carried(&look, &frames, &light, &overruling);
    assert_eq!(found[0].correction.white, white);
    assert_eq!(Some(found[1].correction.white), look.white);
    for at in 0..2 {
        assert!((stops(&found[at]) - stops(&plain[at]) - 0.25).abs() < 1e-12);
        assert!(
            found[at]
                .reasons
                .iter()
                .any(|reason| matches!(reason, Reason::WhiteOverruled { .. }))
        );
    }
    assert_eq!(found[2..], plain[2..], "other cues stay");
}

#[test]
fn left_as_shot_is_as_the_body_made_it() {
    let as_shot = planckian(Kelvin(5200.0));
    let mut frames: Vec<FrameLight> = (0..2).map(|_| frame(1.0)).collect();
    frames[0].colour.as_shot_neutral = Some(neutral(as_shot));
    let light = show(&[(2, body_key(3000.0, -0.5, 1.0))]);
    let mut overruling = Overruling::default();
    overruling.cues.insert(
        0,
        CueWish {
            as_shot: true,
            ..CueWish::default()
        },
    );
    let found = carried(&look(), &frames, &light, &overruling);
    assert!(apart(found[0].correction.white, as_shot) < 1e-6);
    assert!((found[0].correction.gain - 1.0).abs() < 1e-12);
    assert_eq!(found[0].reasons.last(), Some(&Reason::LeftAsShot));
}

/// Frames of one run, a second apart, whose own estimates are moved along ln B/G.
fn estimated(moved: &[f64]) -> Vec<FrameLight> {
    let plain = frame(1.0);
    moved
        .iter()
        .map(|moved| {
            let mut frame = plain.clone();
            let reading = frame.reading.as_mut().expect("read");
            let estimate = reading.estimate.as_mut().expect("an estimate");
            estimate.confidence = 0.9;
            estimate.neutral = neutral(key());
            estimate.neutral[2] *= moved.exp();
            frame
        })
        .collect()
}

/// ln B/G of the frames' whites against the first's.
fn blues(found: &[Carried]) -> Vec<f64> {
    let of = |one: &Carried| {
        let neutral = neutral(one.correction.white);
        (neutral[2] / neutral[1]).ln()
    };
    found.iter().map(|one| of(one) - of(&found[0])).collect()
}

#[test]
fn a_drift_inside_a_long_run_is_followed_smoothly() {
    // 0.06 in log-chroma over 30 frames, with a scatter of a tenth of that and one wild estimate.
    let mut moved: Vec<f64> = (0..30)
        .map(|at| 0.002 * f64::from(at) + 0.003 * f64::from((at * 7) % 5 - 2))
        .collect();
    moved[11] = -0.5;
    let light = show(&[(30, body_key(4200.0, 0.0, 1.0))]);
    let found = plainly(&estimated(&moved), &light);
    let blues = blues(&found);
    assert!((blues[29] - 0.058).abs() < 0.012, "{}", blues[29]);
    for pair in blues.windows(2) {
        assert!(
            (0.0..0.004).contains(&(pair[1] - pair[0])),
            "no jumps: {pair:?}"
        );
    }
}

#[test]
fn scatter_is_no_drift_and_short_runs_have_none() {
    let scatter: Vec<f64> = (0..30)
        .map(|at| 0.02 * f64::from((at * 7) % 5 - 2))
        .collect();
    let light = show(&[(30, body_key(4200.0, 0.0, 1.0))]);
    let found = plainly(&estimated(&scatter), &light);
    assert!(
        found
            .iter()
            .all(|one| one.correction == found[0].correction)
    );
    let short: Vec<f64> = (0..5).map(|at| 0.01 * f64::from(at)).collect();
    let light = show(&[(5, body_key(4200.0, 0.0, 1.0))]);
    let found = plainly(&estimated(&short), &light);
    assert!(
        found
            .iter()
            .all(|one| one.correction == found[0].correction)
    );
}
