//! Notes against scenes whose exposure is known.

use super::*;
use crate::base::chance::Normal;
use crate::colour::camera::CameraColour;
use crate::light::sheet::{BodyClock, ClockSource, FramePlace, Run, RunKind};
use crate::raw::facts::{Body, Facts};

/// Standard deviation of a scene's levels in stops: a plain front light, and one with deep shade.
const PLAIN: f64 = 1.2;
const SHADED: f64 = 1.9;

/// What a reading says of a scene that got `over` stops more than its bright end bears: levels whose logarithms are normal,
/// drawn one by one, cut at the sensor's end and counted.
fn scene(over: f64, width: f64) -> LitRegion {
    let mut chance = Normal::new(41);
    // So that the 98th percentile (2.05375 standard deviations above) lies at the sensor's end for 0 stops.
    let middle = over - 2.053_75 * width;
    let mut levels: Vec<f64> = (0..40_000)
        .map(|_| (middle + width * chance.draw()).exp2())
        .collect();
    let blown = levels.iter().filter(|level| **level >= 1.0).count();
    for level in &mut levels {
        *level = level.min(1.0);
    }
    LitRegion {
        share: 0.2,
        median: robust::median(&mut levels).unwrap_or(0.0),
        bright: robust::percentile(&mut levels, 98.0).unwrap_or(0.0),
        key_level: None,
        washed_share: 0.0,
        blown_share: blown as f64 / 40_000.0,
        blocked_share: 0.0,
    }
}

fn region(over: f64) -> LitRegion {
    scene(over, PLAIN)
}

fn off_of(lit: &LitRegion) -> f64 {
    off(lit).map_or(f64::NAN, |stops| stops.0)
}

#[test]
fn a_hot_frame_is_told_by_the_stops_that_it_was_given_too_many() {
    for width in [PLAIN, SHADED] {
        for over in [0.5, 1.0, 1.5, 2.0] {
            let found = off_of(&scene(over, width));
            assert!(
                (found - over).abs() < 0.15,
                "{over} stops too many, {width} wide: {found:.2}"
            );
        }
    }
}

#[test]
fn a_dark_frame_is_told_by_the_stops_that_it_could_have_had() {
    for under in [1.0, 2.0, 3.0] {
        // Deep shade: the bright end may go to a sixth of a stop below the sensor's.
        let found = off_of(&scene(-under, SHADED));
        assert!(
            (found + under - 1.0 / 6.0).abs() < 0.1,
            "{under} stops too few: {found:.2}"
        );
        // Plain light: nobody needs more than the body's meter asks, log2(78 / 10) below the end.
        let median = -under - 2.053_75 * PLAIN;
        let metered = median + (78.0_f64 / 10.0).log2();
        let found = off_of(&region(-under));
        assert!(
            (found - metered).abs() < 0.1,
            "{under} stops too few: {found:.2} against {metered:.2}"
        );
    }
}

#[test]
fn a_frame_that_fills_the_sensor_is_right() {
    assert!(off_of(&region(-0.1)).abs() < 0.1);
    // An even light, all of it where a body's meter puts it: more would fit, and nobody needs it.
    let even = LitRegion {
        median: METERED_MEDIAN,
        bright: 0.3,
        blown_share: 0.0,
        ..region(0.0)
    };
    assert_eq!(off_of(&even), 0.0);
}

#[test]
fn more_light_never_looks_darker() {
    let found: Vec<f64> = (-16..=16)
        .map(|quarter| off_of(&region(f64::from(quarter) / 4.0)))
        .collect();
    for pair in found.windows(2) {
        assert!(pair[1] >= pair[0] - 0.1, "{found:?}");
    }
    assert!(found.iter().all(|stops| stops.abs() <= MOST));
    assert_eq!(off_of(&region(8.0)), MOST);
    assert_eq!(off_of(&region(-9.0)), -MOST);
}

#[test]
fn what_a_wash_lights_is_not_judged() {
    let washed = LitRegion {
        washed_share: 0.6,
        ..region(2.0)
    };
    assert_eq!(off(&washed), None);
    let nothing = LitRegion {
        median: 0.0,
        ..region(0.0)
    };
    assert_eq!(off(&nothing), None);
}

fn light(over: f64, seconds: f64) -> FrameLight {
    FrameLight {
        facts: Facts {
            exposure_seconds: Some(seconds),
            f_number: Some(2.8),
            iso: Some(3200.0),
            ..Facts::default()
        },
        reading: Some(reading(region(over))),
        colour: CameraColour {
            calibrations: Vec::new(),
            analog_balance: [1.0; 3],
            as_shot_neutral: None,
        },
        is_reference: false,
    }
}

fn reading(lit: LitRegion) -> crate::light::reading::Reading {
    use crate::base::units::Chromaticity;
    use crate::light::reading::{DarkClass, Reading};
    Reading {
        white: Chromaticity::D65,
        neutral: [1.0; 3],
        as_shot: None,
        estimate: None,
        lit: Some(lit),
        dark: DarkClass {
            median: 0.001,
            floor: 0.0,
        },
        clipped_share: 0.0,
        noise_floor: 0.001,
        neutrals: Vec::new(),
        skin: None,
        washes: Vec::new(),
        sharpness: None,
        traces: crate::light::traces::Traces::default(),
    }
}

#[test]
fn notes_are_told_by_cue_and_body() {
    let lights = [
        light(1.0, 0.004),
        light(1.0, 0.004),
        light(1.5, 0.008),
        light(-2.0, 0.002),
        light(-0.1, 0.002),
    ];
    let place = |body: usize, run: usize| FramePlace {
        body,
        seconds: None,
        run,
        fade: None,
    };
    let run = |cue: usize, frames: Vec<usize>| Run {
        cue,
        kind: RunKind::Key,
        frames,
    };
    let sheet = CueSheet {
        clocks: vec![
            BodyClock {
                body: Body::default(),
                frames: 4,
                ahead_seconds: 0.0,
                source: ClockSource::First,
                confidence: 1.0,
                jumps: Vec::new(),
            };
            2
        ],
        places: vec![
            place(0, 0),
            place(0, 0),
            place(0, 0),
            place(1, 0),
            place(0, 1),
        ],
        runs: vec![run(0, vec![0, 1, 2, 3]), run(1, vec![4])],
        cues: 2,
    };
    let notes = exposure_notes(&lights, &sheet);
    let told: Vec<(usize, usize, bool)> = notes
        .iter()
        .map(|note| (note.cue, note.body, note.is_told()))
        .collect();
    assert_eq!(told, [(0, 0, true), (0, 1, true), (1, 0, false)]);
    assert_eq!((notes[0].frames, notes[0].hot, notes[0].dark), (3, 3, 0));
    assert!((notes[0].off - 1.0).abs() < 0.15, "{}", notes[0].off);
    assert!(notes[0].between[1] > notes[0].between[0]);
    let settings = notes[0]
        .settings
        .map(|settings| (settings.seconds, settings.frames));
    assert_eq!(settings, Some((0.004, 2)));
    assert!((notes[1].off + 1.5).abs() < 0.1, "{}", notes[1].off);
    assert_eq!((notes[1].hot, notes[1].dark), (0, 1));
}
