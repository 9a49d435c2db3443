//! Kinds of light that need care: darkness, coloured light alone, strobe.

use super::sketch::{NUMBERS, Sketch, sketch};
use crate::light::reading::FrameLight;
use crate::light::sheet::RunKind;

/// The level jumps by at least this much between frames of a burst. Stops.
const JUMP: f64 = 1.5;
/// Frames of one body nearer than this are a burst: a strobe flashes many times a second. Seconds.
const BURST: f64 = 1.0;
/// Jumps that a strobe has at least, up and down in turn.
const LEAST_JUMPS: usize = 3;
/// Share of a run's frames that must be of a kind, and of a frame's lit region that a wash colours when nothing else is there.
const MOST: f64 = 0.7;
const ALL_WASH: f64 = 0.95;
/// Level that stands for black: darker than anything that is lit. Stops.
const NOTHING: f64 = -16.0;

/// The frames' brightness in stops, settings evened out; `None` where they were not read.
fn brightness(frame: &FrameLight) -> Option<f64> {
    let reading = frame.reading.as_ref()?;
    let settings = frame.facts.relative_exposure().unwrap_or(1.0).log2();
    let level = reading.lit.map_or(reading.dark.median, |lit| lit.bright);
    Some((level.max(0.0).log2() - settings).max(NOTHING))
}

/// Which frames a strobe lights: in a burst of one body the level jumps up and down. `order` is the order of time.
#[must_use]
pub(super) fn in_strobe(
    frames: &[FrameLight],
    order: &[usize],
    bodies: &[usize],
    seconds: &[Option<f64>],
) -> Vec<bool> {
    let mut strobe = vec![false; frames.len()];
    for body in 0..bodies.iter().max().map_or(0, |most| most + 1) {
        let own: Vec<usize> = order
            .iter()
            .copied()
            .filter(|&at| bodies[at] == body)
            .collect();
        // Signs of jumps between neighbours; a burst's end stops a row of them.
        let jumps: Vec<f64> = own
            .windows(2)
            .map(|pair| {
                let near = seconds[pair[0]]
                    .zip(seconds[pair[1]])
                    .is_some_and(|(a, b)| (b - a).abs() < BURST);
                let change = brightness(&frames[pair[0]])
                    .zip(brightness(&frames[pair[1]]))
                    .map_or(0.0, |(a, b)| b - a);
                if near && change.abs() >= JUMP {
                    change.signum()
                } else {
                    0.0
                }
            })
            .collect();
        let mut start = 0;
        while start < jumps.len() {
            let mut end = start + 1;
            while end < jumps.len() && jumps[start] != 0.0 && jumps[end] == -jumps[end - 1] {
                end += 1;
            }
            if jumps[start] != 0.0 && end - start >= LEAST_JUMPS {
                for &at in &own[start..=end] {
                    strobe[at] = true;
                }
            }
            start = end;
        }
    }
    strobe
}

/// One colour for all of a body's frames in a strobe that follow each other, so that its flashes are no changes of state.
pub(super) fn steady(
    sketches: &mut [Option<Sketch>],
    order: &[usize],
    bodies: &[usize],
    strobe: &[bool],
) {
    for body in 0..bodies.iter().max().map_or(0, |most| most + 1) {
        let own: Vec<usize> = order
            .iter()
            .copied()
            .filter(|&at| bodies[at] == body)
            .collect();
        for flashes in own.chunk_by(|&a, &b| strobe[a] == strobe[b]) {
            if !strobe[flashes[0]] {
                continue;
            }
            let heard: Vec<&Sketch> = flashes
                .iter()
                .filter_map(|&at| sketches[at].as_ref())
                .collect();
            if heard.is_empty() {
                continue;
            }
            let mut mean = [0.0; NUMBERS];
            for sketch in &heard {
                for (mean, value) in mean.iter_mut().zip(sketch.iter()) {
                    *mean += value / heard.len() as f64;
                }
            }
            for &at in flashes {
                sketches[at] = Some(mean);
            }
        }
    }
}

/// What kind of light a run has.
#[must_use]
pub(super) fn kind(frames: &[&FrameLight], strobe: impl Iterator<Item = bool>) -> RunKind {
    let read: Vec<_> = frames
        .iter()
        .filter_map(|frame| frame.reading.as_ref())
        .collect();
    let most = |count: usize| count > 0 && count as f64 >= MOST * read.len() as f64;
    if most(strobe.filter(|strobe| *strobe).count()) {
        return RunKind::Strobe;
    }
    let dark = read
        .iter()
        .filter(|reading| reading.lit.is_none() && sketch(&reading.traces.colours).is_none());
    if most(dark.count()) {
        return RunKind::Dark;
    }
    let washed = read.iter().filter(|reading| {
        reading
            .lit
            .is_none_or(|lit| lit.key_level.is_none() || lit.washed_share >= ALL_WASH)
    });
    if most(washed.count()) {
        return RunKind::Wash;
    }
    RunKind::Key
}
