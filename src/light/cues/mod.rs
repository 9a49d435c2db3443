//! Cutting a show into cues.

use crate::light::reading::FrameLight;
use crate::light::sheet::{BodyClock, ClockSource, CueSheet, FramePlace, Run, RunKind};
use crate::raw::facts::Body;

/// Seconds that a person gives: how far a body's clock is ahead of the first body's.
#[derive(Clone, Debug, PartialEq)]
pub struct GivenClock {
    /// The body.
    pub body: Body,
    /// Seconds ahead.
    pub ahead_seconds: f64,
}

/// A pause longer than this ends a run. Seconds.
const PAUSE: f64 = 8.0;

/// Reads the cue sheet of a show.
#[must_use]
pub fn read_cues(frames: &[FrameLight], given: &[GivenClock]) -> CueSheet {
    let mut clocks: Vec<BodyClock> = Vec::new();
    let mut places = Vec::new();
    let start = frames
        .iter()
        .filter_map(|frame| frame.facts.captured.as_ref())
        .map(|time| time.civil)
        .min();
    for frame in frames {
        let body = clocks
            .iter()
            .position(|clock| clock.body == frame.facts.body)
            .unwrap_or_else(|| {
                let ahead = given
                    .iter()
                    .find(|given| given.body == frame.facts.body)
                    .map(|given| given.ahead_seconds);
                clocks.push(BodyClock {
                    body: frame.facts.body.clone(),
                    frames: 0,
                    ahead_seconds: ahead.unwrap_or(0.0),
                    source: ahead.map_or(ClockSource::Unknown, |_| ClockSource::Given),
                    confidence: if ahead.is_some() { 1.0 } else { 0.0 },
                    jumps: Vec::new(),
                });
                clocks.len() - 1
            });
        clocks[body].frames += 1;
        let seconds = frame
            .facts
            .captured
            .as_ref()
            .zip(start)
            .map(|(time, start)| {
                time.civil.duration_since(start).as_secs_f64() - clocks[body].ahead_seconds
            });
        places.push(FramePlace {
            body,
            seconds,
            run: 0,
            fade: None,
        });
    }
    let mut order: Vec<usize> = (0..frames.len()).collect();
    order.sort_by(|&a, &b| {
        let key = |at: usize| places[at].seconds.unwrap_or(f64::INFINITY);
        key(a).total_cmp(&key(b))
    });
    let mut runs: Vec<Run> = Vec::new();
    let mut last = f64::NEG_INFINITY;
    for at in order {
        let seconds = places[at].seconds.unwrap_or(f64::INFINITY);
        if runs.is_empty() || seconds - last > PAUSE {
            runs.push(Run {
                cue: runs.len(),
                kind: RunKind::Key,
                frames: Vec::new(),
            });
        }
        last = seconds;
        let run = runs.len() - 1;
        places[at].run = run;
        runs[run].frames.push(at);
    }
    CueSheet {
        clocks,
        places,
        cues: runs.len(),
        runs,
    }
}
