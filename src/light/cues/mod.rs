//! Cutting a show into cues.
//!
//! Each frame's colours become a short vector (`sketch`), but for copies and the odd black frame (`silence`). Bodies' clocks are brought together by the light that all of them
//! saw change (`timeline`, `clocks`, `correlation`), and those that were set anew are brought back (`stretches`). Frames in
//! the order of time (`order`) are cut where it pays (`cutting`, `change_points`, `pooled`). Frames between two states are
//! marked as their fade (`fades`, `means`), states come back are joined (`joining`), and light that needs care is named
//! (`kinds`).

mod change_points;
mod clocks;
mod correlation;
mod cutting;
mod fades;
mod joining;
mod jumps;
mod kinds;
mod means;
mod order;
mod pooled;
mod silence;
mod sketch;
mod stretches;
#[cfg(test)]
mod tests;
mod timeline;

use crate::base::robust;
use crate::base::units::Chromaticity;
use crate::light::colours::ColourTrace;
use crate::light::locus::log_chroma;
use crate::light::reading::FrameLight;
use crate::light::sheet::{BodyClock, ClockSource, CueSheet, Fade, FramePlace, Run, RunKind};
use crate::raw::facts::Body;
use cutting::Timed;
use sketch::Sketch;

/// Seconds that a person gives: how far a body's clock is ahead of the first body's.
#[derive(Clone, Debug, PartialEq)]
pub struct GivenClock {
    /// The body.
    pub body: Body,
    /// Seconds ahead.
    pub ahead_seconds: f64,
}

/// How much finer than the whole picture's are the bins that what the key lights is held by.
const FINER: f64 = 2.5;

/// Reads the cue sheet of a show. Within a body the list must be in the order of file names.
#[must_use]
pub fn read_cues(frames: &[FrameLight], given: &[GivenClock]) -> CueSheet {
    if frames.is_empty() {
        return CueSheet::default();
    }
    let (bodies, mut clocks) = bodies(frames);
    let mut sketches: Vec<Option<Sketch>> = frames.iter().map(sketch_of).collect();
    silence::silence(&mut sketches, frames, &bodies);
    let seconds = timeline::timeline(frames, &bodies, &sketches, &mut clocks, given);
    let order = order::in_time(&bodies, &seconds);
    let telling = order::telling(&seconds);
    let strobe = kinds::in_strobe(frames, &order, &bodies, &telling);
    kinds::steady(&mut sketches, &order, &bodies, &strobe);
    let timed: Vec<Timed> = order
        .iter()
        .map(|&at| Timed {
            body: bodies[at],
            seconds: telling[at],
            sketch: sketches[at].as_ref(),
        })
        .collect();
    let (cuts, _) = cutting::cut(&timed, clocks.len());
    let faded = fades::find_fades(&timed, cuts, clocks.len());
    let looks = run_looks(frames, &order, &timed, &faded, clocks.len());
    let (cues, count) = joining::join(&looks);
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
    for (number, range) in faded.ranges().enumerate() {
        let cue = cues[number];
        // Two runs of one cue with nothing between them were never two.
        let before = runs.last().map(|run| run.cue);
        if before != Some(cue) {
            runs.push(Run {
                cue,
                kind: RunKind::Key,
                frames: Vec::new(),
            });
        }
        let run = runs.len() - 1;
        for place in range {
            let at = order[place];
            places[at].run = run;
            let arrived = faded.arrived[place].filter(|_| before != Some(cue));
            places[at].fade = arrived.zip(before).map(|(arrived, from)| Fade {
                from,
                to: cue,
                arrived,
            });
            runs[run].frames.push(at);
        }
    }
    for run in &mut runs {
        let own: Vec<&FrameLight> = run.frames.iter().map(|&at| &frames[at]).collect();
        run.kind = kinds::kind(&own, run.frames.iter().map(|&at| strobe[at]));
    }
    CueSheet {
        clocks,
        places,
        cues: count,
        runs,
    }
}

/// What runs are told by, from their settled frames.
fn run_looks(
    frames: &[FrameLight],
    order: &[usize],
    timed: &[Timed],
    faded: &fades::Faded,
    bodies: usize,
) -> Vec<joining::RunLook> {
    let offsets = means::body_offsets(timed, bodies);
    faded
        .ranges()
        .map(|range| {
            let settled = |place: &usize| faded.arrived[*place].is_none();
            let mut own: Vec<usize> = range.clone().filter(settled).collect();
            if own.is_empty() {
                own = range.collect();
            }
            let levels = (0..bodies)
                .map(|body| {
                    let mut levels: Vec<f64> = own
                        .iter()
                        .filter(|&&place| timed[place].body == body)
                        .filter_map(|&place| key_level(&frames[order[place]]))
                        .collect();
                    let count = levels.len();
                    robust::median(&mut levels).map(|level| (level, count))
                })
                .collect();
            let lit: Vec<Option<Sketch>> = own
                .iter()
                .map(|&place| lit_sketch_of(&frames[order[place]]))
                .collect();
            let lit: Vec<Timed> = own
                .iter()
                .zip(&lit)
                .map(|(&place, sketch)| Timed {
                    sketch: sketch.as_ref(),
                    ..timed[place]
                })
                .collect();
            joining::RunLook {
                lit: means::RunMeans::of(lit.iter(), &vec![[0.0; sketch::NUMBERS]; bodies]),
                means: means::RunMeans::of(own.iter().map(|&place| &timed[place]), &offsets),
                levels,
            }
        })
        .collect()
}

/// Level of a frame's key in stops, settings evened out.
fn key_level(frame: &FrameLight) -> Option<f64> {
    let level = frame.reading.as_ref()?.lit?.key_level?;
    Some((level / frame.facts.relative_exposure()?).log2())
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
    let colours = &frame.reading.as_ref()?.traces.colours;
    Some(sketch::sketch(colours).unwrap_or(silence::BLACK))
}

/// A finer sketch of what the key lights.
fn lit_sketch_of(frame: &FrameLight) -> Option<Sketch> {
    let grey = frame.colour.neutral_of_white(Chromaticity::D65).ok()?;
    let grey = log_chroma(grey)?;
    let surfaces = &frame.reading.as_ref()?.traces.surfaces;
    let lit: Vec<ColourTrace> = surfaces
        .iter()
        .map(|trace| ColourTrace {
            chroma: [0, 1].map(|axis| (trace.chroma[axis] - grey[axis]) * FINER),
            share: trace.share,
        })
        .collect();
    sketch::sketch(&lit)
}
