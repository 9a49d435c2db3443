//! Solving and carrying, on invented frames: the laws that a show must keep.

#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that meets the unexpected should stop there"
)]

mod light_frame;

use houselights::base::units::{Chromaticity, Kelvin, Stops};
use houselights::colour::temperature;
use houselights::light::patch::Patch;
use houselights::light::read_show;
use houselights::light::reading::{FrameLight, Reading};
use houselights::light::reference::{ChosenWhite, Reference, WhiteSource};
use houselights::light::sheet::{Anchor, AnchorSource};
use houselights::light::{read_light, read_reference};
use houselights::look::carry::{Carried, Follow, NotSolved};
use houselights::look::curve::MIDDLE_GREY;
use houselights::look::file::Look;
use houselights::look::overrule::Overruling;
use houselights::look::presets::preset;
use houselights::look::reason::Reason;
use houselights::look::solve::{correction, solve};
use houselights::raw::facts::CaptureTime;
use houselights::raw::frame::Frame;
use light_frame::{Drawing, neutral, stage};

const NO_WASH: [f64; 3] = [0.0; 3];
/// The grey cloth of the drawn performer.
const CLOTH: Patch = Patch {
    x: 0.5,
    y: 0.55,
    radius: 0.03,
};

fn key() -> Chromaticity {
    temperature::planckian(Kelvin(4200.0))
}

fn drawn(strength: f64, wash: [f64; 3]) -> Frame {
    Drawing::default().frame(stage(neutral(key()), strength, wash))
}

fn solved(look: &Look, frame: &Frame) -> Look {
    let reference = read_reference(frame, &[CLOTH]).expect("a good patch");
    solve(look, "reference.dng", &reference).look
}

fn metered(_look: &Look, frame: &Frame) -> FrameLight {
    FrameLight {
        facts: frame.facts.clone(),
        reading: Some(read_light(frame, None)),
        colour: frame.colour.without_hue_maps(),
        is_reference: false,
    }
}

/// Reads the show of these frames with the reference outside it, and carries the look over it.
fn carry(look: &Look, frames: &[FrameLight], follow: Follow) -> Result<Vec<Carried>, NotSolved> {
    carry_against(&drawn(1.2, NO_WASH), look, frames, follow)
}

fn carry_against(
    reference: &Frame,
    look: &Look,
    frames: &[FrameLight],
    follow: Follow,
) -> Result<Vec<Carried>, NotSolved> {
    let anchor = Anchor {
        name: String::new(),
        white: look.white,
        source: AnchorSource::Outside(Box::new(metered(look, reference))),
    };
    let light = read_show(frames, &[], &[anchor]);
    houselights::look::carry::carry(look, frames, &light, follow, &Overruling::default())
}

fn stage_look() -> Look {
    preset("stage").expect("a preset")
}

fn one(look: &Look, frame: &Frame, follow: Follow) -> Carried {
    carry(look, &[metered(look, frame)], follow)
        .expect("a solved look")
        .remove(0)
}

fn stops(a: f64, b: f64) -> f64 {
    (a / b).log2()
}

#[test]
fn the_lit_region_of_the_reference_goes_to_middle_grey_and_its_dark_stays_dark() {
    let frame = drawn(1.2, NO_WASH);
    let reference = read_reference(&frame, &[CLOTH]).expect("a good patch");
    let look = solve(&stage_look(), "a.dng", &reference).look;
    let remembered = look.reference.expect("solved");
    let lit = reference.reading.lit.expect("a lit region");
    assert!((lit.median * remembered.gain - MIDDLE_GREY).abs() < 1e-9);
    // The performer fills 0.26 x 0.8 of the picture; the beam's edge and the ground beside it blur that.
    assert!((0.12..0.30).contains(&lit.share), "{}", lit.share);
    assert!((0.0..=0.004).contains(&remembered.levels.black));
    assert!(reference.reading.dark.median * remembered.gain < 0.05);
    // Middle grey stays where it is through the levels.
    let levels = remembered.levels;
    let through =
        ((MIDDLE_GREY - levels.black) / (levels.white - levels.black)).powf(1.0 / levels.middle);
    assert!((through - MIDDLE_GREY).abs() < 1e-12);
    let white = look.white.expect("solved");
    assert!(
        (white.x - key().x).abs() < 0.003 && (white.y - key().y).abs() < 0.003,
        "{white:?}"
    );
}

#[test]
fn the_reference_carried_to_itself_keeps_its_numbers() {
    let frame = drawn(1.2, NO_WASH);
    let look = solved(&stage_look(), &frame);
    let remembered = look.reference.clone().expect("solved");
    let light = FrameLight {
        is_reference: true,
        ..metered(&look, &frame)
    };
    for follow in [Follow::None, Follow::Exposure, Follow::Light] {
        let carried = carry(&look, std::slice::from_ref(&light), follow)
            .expect("solved")
            .remove(0);
        assert_eq!(Some(carried.correction), correction(&look), "{follow:?}");
    }
    // Another frame that is its twin to the bit keeps the level too; its white may be its own estimate.
    for follow in [Follow::None, Follow::Exposure, Follow::Light] {
        let carried = one(&look, &frame, follow);
        // With the light followed, the level is told from counts in steps of a seventeenth of a stop.
        let tolerance = if follow == Follow::Light { 0.03 } else { 1e-9 };
        let change = stops(carried.correction.gain, remembered.gain);
        assert!(change.abs() < tolerance, "{follow:?}: {change}");
        let (levels, wanted) = (carried.correction.levels, remembered.levels);
        assert!(
            (levels.white - wanted.white).abs() < 1e-9
                && (levels.middle - wanted.middle).abs() < 1e-9
        );
    }
}

#[test]
fn two_stops_more_exposure_give_the_same_corrected_level() {
    // Noise makes the edge of the darker frame's lit region less sure, which moves the percentile that tells the key's
    // level, and the brightest surfaces of the longer frame are clipped: an eighth of a stop.
    for (noise, tolerance) in [((0.0, 0.0), 0.1), ((2e-4, 1e-6), 0.125)] {
        let drawing = Drawing {
            noise,
            ..Drawing::default()
        };
        let drawn = |strength| drawing.frame(stage(neutral(key()), strength, NO_WASH));
        let mut taste = stage_look();
        taste.exposure.kept_difference = 0.0;
        let reference = drawn(0.4);
        let look = solved(&taste, &reference);
        let mut longer = drawn(1.6);
        longer.facts.exposure_seconds = longer.facts.exposure_seconds.map(|seconds| 4.0 * seconds);
        let gain = look.reference.as_ref().expect("solved").gain;
        let exposure = one(&look, &longer, Follow::Exposure).correction.gain;
        assert!((stops(exposure, gain) + 2.0).abs() < 1e-12);
        let lights = [metered(&look, &longer)];
        let light = carry_against(&reference, &look, &lights, Follow::Light)
            .expect("solved")
            .remove(0)
            .correction
            .gain;
        let change = stops(light, gain);
        assert!((change + 2.0).abs() < tolerance, "{noise:?}: {change}");
        let none = one(&look, &longer, Follow::None);
        assert_eq!(none.correction.gain, gain);
        assert_eq!(none.reasons, [Reason::Copied]);
    }
}

#[test]
fn a_dimmer_cue_is_lifted_less_what_the_look_keeps_and_never_beyond_the_limit() {
    let reference = drawn(1.6, NO_WASH);
    for (kept, strength, wanted) in [
        (0.0, 1.6 / 1.5, 1.5_f64.log2()),
        (0.5, 0.8, 0.5),
        (0.0, 0.4, 1.0),
        (1.0, 0.8, 0.0),
    ] {
        let mut taste = stage_look();
        taste.exposure.kept_difference = kept;
        let look = solved(&taste, &reference);
        let lights = [metered(&look, &drawn(strength, NO_WASH))];
        let carried = carry_against(&reference, &look, &lights, Follow::Light)
            .expect("solved")
            .remove(0);
        let applied = stops(
            carried.correction.gain,
            look.reference.expect("solved").gain,
        );
        assert!(
            (applied - wanted).abs() < 0.05,
            "kept {kept}, strength {strength}: {applied}, {:?}",
            carried.reasons
        );
    }
}

#[test]
fn a_wash_does_not_move_the_white() {
    let reference = drawn(1.2, NO_WASH);
    let look = solved(&stage_look(), &reference);
    let white = look.white.expect("solved");
    // Camera RGB of saturated lamps on a stage without a key.
    for wash in [
        [0.05, 0.3, 6.0],
        [6.0, 0.4, 0.1],
        [4.0, 0.2, 5.0],
        [0.1, 5.0, 0.8],
        [5.0, 2.0, 0.05],
    ] {
        let carried = one(&look, &drawn(0.0, wash), Follow::Light);
        assert_eq!(
            carried.correction.white, white,
            "{wash:?}: {:?}",
            carried.reasons
        );
        assert!(
            carried
                .reasons
                .iter()
                .any(|reason| matches!(reason, Reason::WhiteKept { .. }))
        );
        let level = stops(
            carried.correction.gain,
            look.reference.as_ref().expect("solved").gain,
        );
        assert!(level.abs() < 1e-9, "{wash:?}: its level is the designer's");
    }
}

#[test]
fn a_black_frame_gets_the_exposure_part_only() {
    let reference = drawn(1.2, NO_WASH);
    let look = solved(&stage_look(), &reference);
    let mut black = Drawing::default().frame(|_, _| NO_WASH);
    black.facts.iso = Some(6400.0);
    let reading = read_light(&black, look.white);
    assert_eq!(reading.lit, None);
    assert!(
        reading
            .estimate
            .is_none_or(|estimate| estimate.confidence < 0.1)
    );
    let carried = one(&look, &black, Follow::Light);
    let change = stops(
        carried.correction.gain,
        look.reference.expect("solved").gain,
    );
    assert!((change + 1.0).abs() < 1e-12);
    assert!(carried.reasons.contains(&Reason::LevelWithoutLit));
    assert!(
        carried
            .reasons
            .contains(&Reason::WhiteKept { confidence: None })
    );
}

#[test]
fn a_reference_without_anything_lit_keeps_its_own_exposure() {
    let black = Drawing::default().frame(|_, _| NO_WASH);
    let reference = read_reference(&black, &[]).expect("no patch, no refusal");
    let solved = solve(&stage_look(), "black.dng", &reference);
    assert_eq!(solved.look.reference.expect("solved").gain, 1.0);
    assert!(solved.reasons.contains(&Reason::NoLitRegion));
    assert_eq!(
        solved.warnings.len(),
        1,
        "the white is daylight for want of anything better"
    );
}

#[test]
fn unknown_and_absurd_settings_are_said() {
    let frame = drawn(1.2, NO_WASH);
    let look = solved(&stage_look(), &frame);
    let gain = look.reference.as_ref().expect("solved").gain;
    let mut unknown = frame.clone();
    unknown.facts.iso = None;
    let carried = one(&look, &unknown, Follow::Exposure);
    assert_eq!(
        (carried.correction.gain, carried.reasons),
        (gain, vec![Reason::ExposureUnknown])
    );
    let mut absurd = frame.clone();
    absurd.facts.exposure_seconds = Some(1e9);
    let carried = one(&look, &absurd, Follow::Exposure);
    assert!((stops(carried.correction.gain, gain) + 10.0).abs() < 1e-9);
    assert!(matches!(
        carried.reasons[..],
        [Reason::ExposureLimited { .. }]
    ));
}

#[test]
fn a_frame_without_a_reading_is_carried_by_its_settings() {
    let frame = drawn(1.2, NO_WASH);
    let look = solved(&stage_look(), &frame);
    let light = FrameLight {
        facts: frame.facts.clone(),
        reading: None,
        colour: frame.colour.without_hue_maps(),
        is_reference: false,
    };
    let carried = carry(&look, &[light], Follow::Light)
        .expect("solved")
        .remove(0);
    assert!(carried.reasons.contains(&Reason::NotRead));
}

#[test]
fn the_order_of_the_list_does_not_matter() {
    let look = solved(&stage_look(), &drawn(1.2, NO_WASH));
    // Without a time the order of the list is the order of the show.
    let frames: Vec<FrameLight> = [0.4, 1.0, 2.0]
        .into_iter()
        .zip(10_i8..)
        .map(|(strength, second)| {
            let mut light = metered(&look, &drawn(strength, NO_WASH));
            light.facts.captured = Some(CaptureTime {
                civil: jiff::civil::date(2026, 5, 9).at(21, 0, second, 0),
                offset_minutes: None,
            });
            light
        })
        .collect();
    let forward = carry(&look, &frames, Follow::Light).expect("solved");
    let backward: Vec<FrameLight> = frames.iter().rev().cloned().collect();
    let mut backward = carry(&look, &backward, Follow::Light).expect("solved");
    backward.reverse();
    for (one, other) in forward.iter().zip(&backward) {
        // Sums over frames of one time are in the order of the list: the last digits may differ.
        let (a, b) = (&one.correction, &other.correction);
        assert!((a.white.x - b.white.x).abs() < 1e-9 && (a.white.y - b.white.y).abs() < 1e-9);
        assert!(stops(a.gain, b.gain).abs() < 1e-9);
    }
}

#[test]
fn a_look_without_reference_is_not_carried() {
    let error = carry(&stage_look(), &[], Follow::Light)
        .expect_err("not solved")
        .to_string();
    assert!(error.contains("--reference"), "{error}");
}

#[test]
fn the_faithful_preset_changes_nothing_but_the_white() {
    let frame = drawn(1.2, NO_WASH);
    let look = solved(&preset("faithful").expect("a preset"), &frame);
    let correction = one(&look, &frame, Follow::None).correction;
    assert_eq!(correction.gain, 1.0);
    assert_eq!(
        correction.levels,
        houselights::look::correction::Levels::NEUTRAL
    );
    assert_eq!(
        (
            correction.noise,
            correction.detail,
            correction.sharpening.amount,
            correction.roll_off.amount
        ),
        (
            houselights::look::correction::NoiseReduction::NEUTRAL,
            0.0,
            0.0,
            0.0
        )
    );
}

#[test]
fn a_saved_solved_look_carries_the_next_night_without_its_reference() {
    let frame = drawn(1.2, NO_WASH);
    let look = solved(&stage_look(), &frame);
    let again = Look::from_text(&look.to_text()).expect("a look file");
    assert!(again.is_solved());
    let next = drawn(0.9, NO_WASH);
    assert_eq!(
        one(&again, &next, Follow::Light),
        one(&look, &next, Follow::Light)
    );
}

#[test]
fn another_body_gets_the_same_white_through_its_own_matrices() {
    let look = solved(&stage_look(), &drawn(1.2, NO_WASH));
    let other = Drawing {
        seed: 5,
        ..Drawing::default()
    };
    let theirs = light_frame::other_colour()
        .neutral_of_white(key())
        .expect("a white");
    let mut frame = other.frame(stage(theirs, 1.2, NO_WASH));
    frame.colour = light_frame::other_colour();
    let carried = one(&look, &frame, Follow::Light);
    let neutral = frame
        .colour
        .neutral_of_white(carried.correction.white)
        .expect("a white");
    let off = houselights::colour::angle::reproduction(theirs, neutral);
    assert!(off < 1.0, "{off}");
}

#[test]
fn readings_and_corrections_survive_json() {
    let frame = drawn(1.2, [0.1, 0.3, 2.0]);
    let reference = read_reference(&frame, &[CLOTH]).expect("a good patch");
    let text = serde_json::to_string(&reference).expect("JSON");
    let again: Reference = serde_json::from_str(&text).expect("JSON");
    // Traces are written short; what was written once stays.
    assert_eq!(serde_json::to_string(&again).expect("JSON"), text);
    assert_eq!(again.reading.lit, reference.reading.lit);
    let look = solve(&stage_look(), "a.dng", &again).look;
    let carried = one(&look, &frame, Follow::Light);
    let text = serde_json::to_string(&carried).expect("JSON");
    assert_eq!(
        serde_json::from_str::<Carried>(&text).expect("JSON"),
        carried
    );
}

#[test]
fn without_a_patch_the_white_is_the_estimate_or_the_bodys_with_a_warning() {
    let clear = read_reference(&drawn(1.2, NO_WASH), &[]).expect("no patch");
    assert!(
        matches!(clear.white.source, WhiteSource::Estimate { .. }),
        "{:?}",
        clear.white
    );
    assert!(
        (clear.white.white.x - key().x).abs() < 0.01
            && (clear.white.white.y - key().y).abs() < 0.01
    );
    assert_eq!(clear.white.source.warning(), None);
    let mut washed = drawn(0.0, [0.05, 0.3, 6.0]);
    washed.colour.as_shot_neutral = Some(neutral(temperature::planckian(Kelvin(5000.0))));
    let washed = read_reference(&washed, &[]).expect("no patch");
    assert!(
        matches!(washed.white.source, WhiteSource::AsShot { .. }),
        "{:?}",
        washed.white
    );
    let warning = washed.white.source.warning().expect("a warning");
    assert!(warning.contains("--neutral"), "{warning}");
}

/// A reference as a reading alone makes it, to show that solving needs no pixel.
#[test]
fn solving_is_a_function_of_numbers() {
    let frame = drawn(1.2, NO_WASH);
    let reading: Reading = read_light(&frame, Some(key()));
    let reference = Reference {
        facts: frame.facts.clone(),
        white: ChosenWhite {
            white: key(),
            source: WhiteSource::Estimate { confidence: 0.9 },
        },
        patches: None,
        choice: None,
        reading,
        colour: frame.colour.without_hue_maps(),
    };
    let mut brighter = stage_look();
    brighter.exposure.stops = Stops(0.5);
    let plain = solve(&stage_look(), "a.dng", &reference)
        .look
        .reference
        .expect("solved");
    let lifted = solve(&brighter, "a.dng", &reference)
        .look
        .reference
        .expect("solved");
    assert!((stops(lifted.gain, plain.gain) - 0.5).abs() < 1e-12);
}
