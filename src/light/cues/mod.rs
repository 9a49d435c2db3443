//! Cutting a show into cues.
//!
//! Frames are put in the order of time ([`order`]), each frame's
//! colours become a short vector ([`sketch`]), and the series is cut where it pays ([`change_points`], [`pooled`], [`cutting`]).

mod change_points;
mod clocks;
mod correlation;
mod cutting;
mod fades;
mod means;
mod order;
mod pooled;
mod sketch;
mod stretches;
mod timeline;

use crate::light::reading::FrameLight;
use crate::light::sheet::{BodyClock, ClockSource, CueSheet, Fade, FramePlace, Run, RunKind};
use crate::raw::facts::Body;
use sketch::Sketch;

/// Seconds that a person gives: how far a body's clock is ahead of the first body's.
#[derive(Clone, Debug, PartialEq)]
pub struct GivenClock {
    /// The body.
    pub body: Body,
    /// Seconds ahead.
    pub ahead_seconds: f64,
}

/// Reads the cue sheet of a show. Within a body the list must be in the order of file names.
#[must_use]
pub fn read_cues(frames: &[FrameLight], given: &[GivenClock]) -> CueSheet {
    let (bodies, mut clocks) = bodies(frames);
    let sketches: Vec<Option<Sketch>> = frames.iter().map(sketch_of).collect();
    let seconds = timeline::timeline(frames, &bodies, &sketches, &mut clocks, given);
    let order = order::in_time(&bodies, &seconds);
    let timed: Vec<cutting::Timed> = order
        .iter()
        .map(|&at| cutting::Timed {
            body: bodies[at],
            seconds: seconds[at],
            sketch: sketches[at].as_ref(),
        })
        .collect();
    let (cuts, _) = cutting::cut(&timed, clocks.len());
    let faded = fades::find_fades(&timed, cuts, clocks.len());
    let mut places: Vec<FramePlace> = bodies
        .iter()
        .zip(&seconds)
        .map(|(&body, &seconds)| FramePlace {
            body,
            seconds,
            run: 0,
            fade: None,
        })
        .collect();
    let mut runs: Vec<Run> = Vec::new();
    for (place, &at) in order.iter().enumerate() {
        if place == 0 || faded.cuts.binary_search(&place).is_ok() {
            runs.push(Run {
                cue: runs.len(),
                kind: RunKind::Key,
                frames: Vec::new(),
            });
        }
        let run = runs.len() - 1;
        places[at].run = run;
        places[at].fade = faded.arrived[place].map(|arrived| Fade {
            from: run.saturating_sub(1),
            to: run,
            arrived,
        });
        runs[run].frames.push(at);
    }
    CueSheet {
        clocks,
        places,
        cues: runs.len(),
        runs,
    }
}

/// Each frame's body, and the bodies in order of their first frames with clocks of which nothing is known.
fn bodies(frames: &[FrameLight]) -> (Vec<usize>, Vec<BodyClock>) {
    let mut clocks: Vec<BodyClock> = Vec::new();
    let bodies = frames
        .iter()
        .map(|frame| {
            let known = clocks
                .iter()
                .position(|clock| clock.body == frame.facts.body);
            let body = known.unwrap_or_else(|| {
                clocks.push(BodyClock {
                    body: frame.facts.body.clone(),
                    frames: 0,
                    ahead_seconds: 0.0,
                    source: ClockSource::Unknown,
                    confidence: 0.0,
                    jumps: Vec::new(),
                });
                clocks.len() - 1
            });
            clocks[body].frames += 1;
            body
        })
        .collect();
    (bodies, clocks)
}

fn sketch_of(frame: &FrameLight) -> Option<Sketch> {
    sketch::sketch(&frame.reading.as_ref()?.traces.colours)
}
