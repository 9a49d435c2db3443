//! The cue sheet as rows: what a run of frames under one lighting state tells, for paper, page and programs alike. No wording.

use crate::base::units::Chromaticity;
use crate::light::reading::{FrameLight, WashName};
use crate::light::sheet::{BodyKey, Run, RunKind};
use crate::look::overrule::Overruling;
use crate::show::solving::SolvedShow;
use jiff::civil::DateTime;
use jiff::{SignedDuration, Span, Unit};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RunRow {
    /// The cue's number, from 1.
    pub cue: usize,
    /// Time of its first frame.
    pub from: Option<DateTime>,
    /// Time of its last frame.
    pub to: Option<DateTime>,
    /// Its frames, as indices of lights, in order of time.
    pub frames: Vec<usize>,
    /// How many of them each body took.
    pub by_body: Vec<usize>,
    /// How many of them lie in a cross-fade.
    pub fading: usize,
    /// What kind of light it has.
    pub kind: RunKind,
    /// The key's white, as the body sees it that is surest.
    pub white: Option<RowWhite>,
    /// The key's level against the reference's in stops, likewise.
    pub level: Option<f64>,
    /// Washes, most of the picture first.
    pub washes: Vec<RowWash>,
    /// What a person's words changed of it, in words; empty where nothing.
    pub overruled: String,
}

/// The white of a run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RowWhite {
    /// Its chromaticity.
    pub white: Chromaticity,
    /// 0 (a guess) to 1 (as good as a patch).
    pub confidence: f64,
}

/// A wash of a run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RowWash {
    /// Its name in the trade.
    pub name: WashName,
    /// Degrees: 0 red, 120 green, 240 blue.
    pub hue: f64,
    /// Mean share of the picture, 0 to 1.
    pub share: f64,
}

/// A wash that colours less of the picture, on average, is not told.
const LEAST_SHARE: f64 = 0.02;
/// Washes that are told of a run.
const MOST_WASHES: usize = 4;

/// The rows of a solved show in order of time.
#[must_use]
pub fn rows(solved: &SolvedShow, lights: &[FrameLight]) -> Vec<RunRow> {
    let clock = ShowClock::of(solved, lights);
    let sheet = &solved.light.sheet;
    let row = |run: &Run| {
        let times = || {
            let places = run.frames.iter().filter_map(|&at| sheet.places.get(at));
            places.filter_map(|place| place.seconds)
        };
        let mut by_body = vec![0; sheet.clocks.len()];
        let mut fading = 0;
        for place in run.frames.iter().filter_map(|&at| sheet.places.get(at)) {
            by_body[place.body] += 1;
            fading += usize::from(place.fade.is_some());
        }
        let keys = keys_of(solved, run.cue);
        let white = keys
            .iter()
            .filter_map(|key| key.white)
            .max_by(|a, b| a.confidence.total_cmp(&b.confidence));
        let level = keys
            .iter()
            .filter_map(|key| key.level)
            .max_by(|a, b| a.confidence.total_cmp(&b.confidence));
        RunRow {
            cue: run.cue + 1,
            from: times().reduce(f64::min).and_then(|at| clock.at(at)),
            to: times().reduce(f64::max).and_then(|at| clock.at(at)),
            frames: run.frames.clone(),
            by_body,
            fading,
            kind: run.kind,
            white: white.map(|white| RowWhite {
                white: white.white,
                confidence: white.confidence,
            }),
            level: level.map(|level| level.stops.0),
            washes: washes(lights, &run.frames),
            overruled: overruled(&solved.overruling, run),
        }
    };
    sheet.runs.iter().map(row).collect()
}

/// A person's words about a run: about its cue, and about some of its frames.
fn overruled(overruling: &Overruling, run: &Run) -> String {
    let mut words: Vec<String> = overruling
        .cues
        .get(&run.cue)
        .map(ToString::to_string)
        .into_iter()
        .collect();
    let mut of_frames: BTreeMap<String, usize> = BTreeMap::new();
    for wish in run.frames.iter().filter_map(|at| overruling.frames.get(at)) {
        *of_frames.entry(wish.to_string()).or_default() += 1;
    }
    words.extend(of_frames.into_iter().map(|(wish, count)| {
        if count == run.frames.len() {
            wish
        } else {
            format!("{wish} (of {count})")
        }
    }));
    words.join("; ")
}

/// The key of a cue as its bodies see it.
fn keys_of(solved: &SolvedShow, cue: usize) -> Vec<BodyKey> {
    let bodies = solved.light.keys.cues.get(cue);
    bodies.into_iter().flatten().flatten().copied().collect()
}

/// Mean shares over the frames, and mean hues by them.
fn washes(lights: &[FrameLight], frames: &[usize]) -> Vec<RowWash> {
    let mut sums: BTreeMap<WashName, [f64; 3]> = BTreeMap::new();
    let readings = frames
        .iter()
        .filter_map(|&at| lights.get(at)?.reading.as_ref());
    for wash in readings.flat_map(|reading| &reading.washes) {
        let (sine, cosine) = wash.hue.to_radians().sin_cos();
        let sum = sums.entry(wash.name).or_default();
        for (sum, part) in sum.iter_mut().zip([1.0, sine, cosine]) {
            *sum += wash.share * part;
        }
    }
    let count = frames.len().max(1) as f64;
    let mut washes: Vec<RowWash> = sums
        .into_iter()
        .map(|(name, [share, sine, cosine])| RowWash {
            name,
            hue: sine.atan2(cosine).to_degrees().rem_euclid(360.0),
            share: share / count,
        })
        .filter(|wash| wash.share >= LEAST_SHARE)
        .collect();
    washes.sort_by(|a, b| b.share.total_cmp(&a.share));
    washes.truncate(MOST_WASHES);
    washes
}

/// Frames of one run that are shown.
const MOST_OF_A_RUN: usize = 6;

/// Frames that show each run, spread over it, at most about `most`. Where there are very many runs, of the longest ones.
#[must_use]
pub fn spread_over(mut runs: Vec<&[usize]>, most: usize) -> Vec<usize> {
    runs.sort_by_key(|frames| std::cmp::Reverse(frames.len()));
    runs.truncate(most);
    let of_a_run = (most / runs.len().max(1)).clamp(1, MOST_OF_A_RUN);
    let mut chosen: Vec<usize> = runs
        .into_iter()
        .flat_map(|frames| {
            let count = of_a_run.min(frames.len());
            // The middle of each of `count` equal parts.
            (0..count).map(move |part| frames[(2 * part + 1) * frames.len() / (2 * count)])
        })
        .collect();
    chosen.sort_unstable();
    chosen
}

/// The first body's clock.
#[derive(Clone, Copy, Debug)]
struct ShowClock {
    /// When the show's first frame was taken; `None` where no frame has a time.
    start: Option<DateTime>,
}

impl ShowClock {
    /// Of a show that was solved.
    fn of(solved: &SolvedShow, lights: &[FrameLight]) -> Self {
        let places = solved.light.sheet.places.iter();
        let known = places.zip(lights).find_map(|(place, light)| {
            let time = light.facts.captured.as_ref()?.civil;
            let seconds = place.seconds.filter(|_| place.body == 0)?;
            later(time, -seconds)
        });
        Self { start: known }
    }

    /// The time that many seconds after the show's first frame.
    fn at(&self, seconds: f64) -> Option<DateTime> {
        later(self.start?, seconds)
    }
}

fn later(time: DateTime, seconds: f64) -> Option<DateTime> {
    let duration = SignedDuration::try_from_secs_f64(seconds).ok()?;
    let later = time.checked_add(Span::try_from(duration).ok()?).ok()?;
    later.round(Unit::Millisecond).ok()
}
