//! Shows that were written down: good ones, and those that must not break the sheet.

use super::*;
use crate::colour::camera::CameraColour;
use crate::light::reading::{DarkClass, LitRegion, Reading};
use crate::light::traces::{SurfaceTrace, Traces};
use crate::raw::facts::{CaptureTime, Facts};

/// A state's main colour, and its key's level.
pub(super) type State = ([f64; 2], f64);

pub(super) const AMBER: State = ([0.5, -0.9], 0.2);
pub(super) const BLUE: State = ([-0.6, 1.1], 0.3);
pub(super) const GREEN: State = ([-1.2, -0.8], 0.1);

fn reading(state: Option<State>, variety: usize) -> Reading {
    // Framing changes what there is of grey and skin beside the light's own colour.
    let share = 0.1 + 0.01 * (variety % 7) as f64;
    let colours = state.map_or(Vec::new(), |(chroma, _)| {
        [(chroma, 0.5), ([0.0, 0.0], share), ([0.4, -0.2], 0.05)]
            .map(|(chroma, share)| ColourTrace { chroma, share })
            .to_vec()
    });
    let surfaces = state.map_or(Vec::new(), |(chroma, level)| {
        vec![SurfaceTrace {
            chroma: chroma.map(|value| value * 0.1),
            level: level.ln(),
            share: 0.2,
        }]
    });
    Reading {
        white: Chromaticity::D65,
        neutral: [1.0; 3],
        as_shot: None,
        estimate: None,
        lit: state.map(|(_, level)| LitRegion {
            share: 0.3,
            median: level * 0.7,
            bright: level,
            key_level: Some(level),
            washed_share: 0.1,
            blown_share: 0.0,
            blocked_share: 0.0,
        }),
        dark: DarkClass {
            median: 0.0001,
            floor: 0.0,
        },
        clipped_share: 0.0,
        noise_floor: 0.001,
        neutrals: Vec::new(),
        skin: None,
        washes: Vec::new(),
        sharpness: None,
        traces: Traces {
            surfaces,
            colours,
            ..Traces::default()
        },
    }
}

pub(super) fn frame(
    body: usize,
    seconds: Option<f64>,
    state: Option<State>,
    variety: usize,
) -> FrameLight {
    let evening = jiff::civil::date(2026, 5, 9).at(20, 0, 0, 0);
    FrameLight {
        facts: Facts {
            body: Body {
                model: format!("Body {body}"),
                ..Body::default()
            },
            captured: seconds.map(|seconds| CaptureTime {
                civil: evening + jiff::SignedDuration::from_millis((seconds * 1000.0) as i64),
                offset_minutes: None,
            }),
            exposure_seconds: Some(0.004),
            f_number: Some(2.8),
            iso: Some(800.0),
            ..Facts::default()
        },
        reading: Some(reading(state, variety)),
        colour: CameraColour::default(),
        is_reference: false,
    }
}

/// `each` frames of a body in every state, a frame every 4 seconds, not quite evenly.
pub(super) fn played(body: usize, states: &[State], each: usize, ahead: f64) -> Vec<FrameLight> {
    (0..states.len() * each)
        .map(|at| {
            let uneven = (at * 7 + body * 3) % 5;
            let seconds = 4.0 * at as f64 + 0.5 * uneven as f64 + ahead;
            frame(body, Some(seconds), Some(states[at / each]), at)
        })
        .collect()
}

pub(super) fn frames_of_runs(sheet: &CueSheet) -> Vec<usize> {
    sheet.runs.iter().map(|run| run.frames.len()).collect()
}

/// Every frame is in one run, and says so.
pub(super) fn is_whole(sheet: &CueSheet, frames: usize) {
    assert_eq!(sheet.places.len(), frames);
    let mut seen = vec![false; frames];
    for (number, run) in sheet.runs.iter().enumerate() {
        assert!(run.cue < sheet.cues);
        for &at in &run.frames {
            assert!(!std::mem::replace(&mut seen[at], true), "frame {at} twice");
            assert_eq!(sheet.places[at].run, number);
        }
    }
    assert!(seen.into_iter().all(|seen| seen));
    let bodies: usize = sheet.clocks.iter().map(|clock| clock.frames).sum();
    assert_eq!(bodies, frames);
}

#[test]
fn no_frame_and_one_frame() {
    assert_eq!(read_cues(&[], &[]), CueSheet::default());
    for state in [None, Some(BLUE)] {
        for seconds in [None, Some(5.0)] {
            let sheet = read_cues(&[frame(0, seconds, state, 0)], &[]);
            is_whole(&sheet, 1);
            assert_eq!((sheet.cues, frames_of_runs(&sheet)), (1, vec![1]));
        }
    }
    let mut unread = frame(0, Some(1.0), None, 0);
    unread.reading = None;
    is_whole(&read_cues(&[unread.clone(), unread], &[]), 2);
}

#[test]
fn a_state_come_back_is_one_cue() {
    let frames = played(0, &[AMBER, BLUE, AMBER, GREEN], 6, 0.0);
    let sheet = read_cues(&frames, &[]);
    is_whole(&sheet, frames.len());
    assert_eq!(frames_of_runs(&sheet), [6, 6, 6, 6]);
    let cues: Vec<usize> = sheet.runs.iter().map(|run| run.cue).collect();
    assert_eq!(cues, [0, 1, 0, 2]);
    assert_eq!(sheet, read_cues(&frames, &[]), "the same again");
}

#[test]
fn all_black_is_one_dark_run() {
    let frames: Vec<_> = (0..30)
        .map(|at| frame(at % 2, Some(at as f64 * 3.0), None, at))
        .collect();
    let sheet = read_cues(&frames, &[]);
    is_whole(&sheet, 30);
    assert_eq!(sheet.runs.len(), 1);
    assert_eq!(sheet.runs[0].kind, RunKind::Dark);
    assert_eq!(sheet.clocks[1].source, ClockSource::Unknown);
}

#[test]
fn one_wash_all_night_is_one_run() {
    let mut frames = played(0, &[BLUE], 1500, 0.0);
    for frame in &mut frames {
        if let Some(lit) = frame
            .reading
            .as_mut()
            .and_then(|reading| reading.lit.as_mut())
        {
            (lit.key_level, lit.washed_share) = (None, 1.0);
        }
    }
    let sheet = read_cues(&frames, &[]);
    is_whole(&sheet, 1500);
    assert_eq!(frames_of_runs(&sheet), [1500]);
    assert_eq!(sheet.runs[0].kind, RunKind::Wash);
}

#[test]
fn all_strobe_is_one_run() {
    let frames: Vec<_> = (0..60)
        .map(|at| {
            let state = (at % 2 == 0).then_some(AMBER);
            frame(0, Some(at as f64 * 0.2), state, at)
        })
        .collect();
    let sheet = read_cues(&frames, &[]);
    is_whole(&sheet, 60);
    assert_eq!(frames_of_runs(&sheet), [60]);
    assert_eq!(sheet.runs[0].kind, RunKind::Strobe);
}

#[test]
fn a_clock_an_hour_ahead_is_found() {
    let states = [AMBER, BLUE, GREEN, AMBER, GREEN, BLUE];
    let mut frames = played(0, &states, 7, 0.0);
    frames.extend(played(1, &states, 7, 3600.0));
    let sheet = read_cues(&frames, &[]);
    is_whole(&sheet, frames.len());
    let clock = &sheet.clocks[1];
    assert!((clock.ahead_seconds - 3600.0).abs() < 3.0, "{clock:?}");
    assert!(matches!(clock.source, ClockSource::LightChanges { matched } if matched >= 4));
    assert_eq!(frames_of_runs(&sheet), [14; 6]);
    // What a person gives is not doubted.
    let given = GivenClock {
        body: frames[42].facts.body.clone(),
        ahead_seconds: 3601.0,
    };
    let sheet = read_cues(&frames, &[given]);
    assert_eq!(sheet.clocks[1].ahead_seconds, 3601.0);
    assert_eq!(sheet.clocks[1].source, ClockSource::Given);
}

#[test]
fn zones_that_files_state_are_used_where_the_light_tells_nothing() {
    let mut frames = played(0, &[AMBER], 5, 0.0);
    frames.extend(played(1, &[AMBER], 5, 3600.0));
    for (at, frame) in frames.iter_mut().enumerate() {
        if let Some(time) = &mut frame.facts.captured {
            time.offset_minutes = Some(if at < 5 { 60 } else { 120 });
        }
    }
    let clock = &read_cues(&frames, &[]).clocks[1];
    assert_eq!(clock.ahead_seconds, 3600.0);
    assert_eq!(clock.source, ClockSource::UniversalTime);
}

#[test]
fn a_clock_that_jumps_is_brought_back_by_the_order_of_names() {
    let years = 26.0 * 365.25 * 86_400.0;
    let mut frames = played(0, &[AMBER, BLUE, GREEN], 8, 0.0);
    // A flat battery in the last state: the clock begins with its first year.
    for (at, one) in frames.iter_mut().enumerate().skip(18) {
        *one = frame(0, Some(4.0 * at as f64 - years), Some(GREEN), at);
    }
    let sheet = read_cues(&frames, &[]);
    is_whole(&sheet, 24);
    assert_eq!(frames_of_runs(&sheet), [8; 3]);
    assert_eq!(sheet.runs[2].frames, (16..24).collect::<Vec<_>>());
    let jumps = &sheet.clocks[0].jumps;
    assert_eq!((jumps.len(), jumps[0].frame), (1, 18));
    assert_eq!(jumps[0].source, ClockSource::FrameOrder);
    let seconds: Vec<f64> = sheet
        .places
        .iter()
        .filter_map(|place| place.seconds)
        .collect();
    assert!(
        seconds.iter().all(|seconds| (0.0..200.0).contains(seconds)),
        "{seconds:?}"
    );
}

#[test]
fn names_out_of_order_leave_times_alone() {
    let mut frames = played(0, &[AMBER, BLUE], 10, 0.0);
    frames.reverse();
    let sheet = read_cues(&frames, &[]);
    is_whole(&sheet, 20);
    assert_eq!(frames_of_runs(&sheet), [10, 10]);
    assert_eq!(sheet.runs[0].frames[0], 19);
    assert!(sheet.clocks[0].jumps.is_empty());
    // Counting begins anew after 9999: the later half comes first in the list.
    let mut frames = played(0, &[AMBER, BLUE], 10, 0.0);
    frames.rotate_left(10);
    let sheet = read_cues(&frames, &[]);
    assert_eq!(sheet.runs[0].frames, (10..20).collect::<Vec<_>>());
}

#[test]
fn without_times_the_order_of_names_counts() {
    let mut frames = played(0, &[AMBER, BLUE, GREEN], 5, 0.0);
    for frame in &mut frames {
        frame.facts.captured = None;
    }
    let sheet = read_cues(&frames, &[]);
    is_whole(&sheet, 15);
    assert_eq!(frames_of_runs(&sheet), [5, 5, 5]);
    assert!(sheet.places.iter().all(|place| place.seconds.is_none()));
    // Some without: they stay with their neighbours.
    let mut frames = played(0, &[AMBER, BLUE], 5, 0.0);
    frames[2].facts.captured = None;
    frames[7].facts.captured = None;
    let sheet = read_cues(&frames, &[]);
    assert_eq!(frames_of_runs(&sheet), [5, 5]);
}

#[test]
fn forty_bodies() {
    let frames: Vec<_> = (0..40)
        .flat_map(|body| played(body, &[AMBER, BLUE, GREEN, BLUE], 4, 0.0))
        .collect();
    let sheet = read_cues(&frames, &[]);
    is_whole(&sheet, 640);
    assert_eq!(sheet.clocks.len(), 40);
    assert_eq!(frames_of_runs(&sheet), [160; 4]);
    assert!(
        sheet
            .clocks
            .iter()
            .all(|clock| clock.ahead_seconds.abs() < 4.0)
    );
}

/// Lighting states that differ from each other as far as those of a show do.
const STATES: [State; 7] = [
    AMBER,
    BLUE,
    GREEN,
    ([1.3, 0.4], 0.2),
    ([-0.2, 2.0], 0.2),
    ([1.4, -1.4], 0.3),
    ([-1.6, 0.6], 0.2),
];

#[test]
fn a_body_whose_every_frame_is_another_state_is_not_restless() {
    let frames = played(0, &STATES, 1, 0.0);
    let sheet = read_cues(&frames, &[]);
    is_whole(&sheet, 7);
    assert_eq!(frames_of_runs(&sheet), [1; 7]);
}

#[test]
fn frames_spread_over_many_bodies_are_cut_alike() {
    for bodies in [1, 2, 4, 6, 10, 20, 40] {
        let mut frames = played(0, &STATES, 6, 0.0);
        for (at, frame) in frames.iter_mut().enumerate() {
            // 11 has no factor in common with these numbers: bodies alternate.
            frame.facts.body.model = format!("Body {}", at * 11 % bodies);
        }
        let sheet = read_cues(&frames, &[]);
        is_whole(&sheet, 42);
        assert_eq!(frames_of_runs(&sheet), [6; 7], "{bodies} bodies");
    }
}

#[test]
fn a_cap_on_the_lens_parts_nothing() {
    let mut frames = played(0, &STATES, 3, 0.0);
    let whole = read_cues(&frames, &[]);
    for at in [1, 4, 10] {
        frames[at].reading = Some(reading(None, at));
    }
    let sheet = read_cues(&frames, &[]);
    assert_eq!(sheet.runs, whole.runs);
    // A blackout is a run of its own.
    let mut frames = played(0, &STATES, 5, 0.0);
    for frame in &mut frames[5..10] {
        frame.reading = Some(reading(None, 0));
    }
    let sheet = read_cues(&frames, &[]);
    assert_eq!(frames_of_runs(&sheet), [5; 7]);
    assert_eq!(sheet.runs[1].kind, RunKind::Dark);
}

#[test]
fn one_second_for_all_is_as_no_time() {
    let mut frames = played(0, &STATES, 2, 0.0);
    // Bright and dim in turn: not a strobe, for nothing says that the frames are near each other.
    for (at, frame) in frames.iter_mut().enumerate() {
        frame.facts.captured = None;
        let lit = frame.reading.as_mut().and_then(|one| one.lit.as_mut());
        if let Some(lit) = lit {
            lit.bright = if at % 2 == 0 { 0.5 } else { 0.05 };
        }
    }
    let untimed = read_cues(&frames, &[]);
    assert_eq!(frames_of_runs(&untimed), [2; 7]);
    let evening = frame(0, Some(0.0), None, 0).facts.captured;
    for frame in &mut frames {
        frame.facts.captured = evening.clone();
    }
    assert_eq!(read_cues(&frames, &[]).runs, untimed.runs);
}

#[test]
fn copies_in_another_folder_are_no_jump() {
    let frames = played(0, &STATES, 4, 0.0);
    let once = read_cues(&frames, &[]);
    let mut twice = frames.clone();
    twice.extend(frames);
    let sheet = read_cues(&twice, &[]);
    is_whole(&sheet, 56);
    assert!(sheet.clocks[0].jumps.is_empty(), "{:?}", sheet.clocks);
    assert_eq!(frames_of_runs(&sheet), [8; 7]);
    assert_eq!(sheet.cues, once.cues);
    for at in 0..28 {
        assert_eq!(sheet.places[at], sheet.places[at + 28]);
    }
}
