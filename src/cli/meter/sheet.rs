//! The cue sheet as rows: what a run of frames under one lighting state tells, for paper, page and programs alike.

use crate::base::units::Chromaticity;
use crate::colour::temperature::{self, Temperature};
use crate::light::reading::WashName;
use crate::light::sheet::{BodyKey, CueSheet, Run, RunKind};
use crate::look::overrule::Overruling;
use crate::raw::facts::Body;
use crate::show::meter::MeteredShow;
use crate::show::solving::SolvedShow;
use jiff::civil::DateTime;
use jiff::{SignedDuration, Span, Unit};
use std::collections::BTreeMap;

/// One run.
#[derive(Clone, Debug)]
pub(in crate::cli) struct RunRow {
    /// The cue's number, from 1.
    pub(in crate::cli) cue: usize,
    /// Time of its first and of its last frame.
    pub(in crate::cli) from: Option<DateTime>,
    /// See `from`.
    pub(in crate::cli) to: Option<DateTime>,
    /// Its frames, as indices of lights, in order of time.
    pub(in crate::cli) frames: Vec<usize>,
    /// How many of them each body took.
    pub(in crate::cli) by_body: Vec<usize>,
    /// How many of them lie in a cross-fade.
    pub(in crate::cli) fading: usize,
    /// What kind of light it has.
    pub(in crate::cli) kind: RunKind,
    /// The key's white, as the body sees it that is surest.
    pub(in crate::cli) white: Option<RowWhite>,
    /// The key's level against the reference's in stops, likewise.
    pub(in crate::cli) level: Option<f64>,
    /// Washes, most of the picture first.
    pub(in crate::cli) washes: Vec<RowWash>,
    /// What a person's words changed of it, in words; empty where nothing.
    pub(in crate::cli) overruled: String,
}

/// The white of a run.
#[derive(Clone, Copy, Debug)]
pub(in crate::cli) struct RowWhite {
    pub(in crate::cli) white: Chromaticity,
    pub(in crate::cli) temperature: Option<Temperature>,
    pub(in crate::cli) confidence: f64,
}

/// A wash of a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::cli) struct RowWash {
    pub(in crate::cli) name: WashName,
    /// Degrees: 0 red, 120 green, 240 blue.
    pub(in crate::cli) hue: f64,
    /// Mean share of the picture, 0 to 1.
    pub(in crate::cli) share: f64,
}

/// A wash that colours less of the picture, on average, is not told.
const LEAST_SHARE: f64 = 0.02;
/// Washes that are told of a run.
const MOST_WASHES: usize = 4;

/// The rows of a show in order of time.
pub(in crate::cli) fn rows(show: &MeteredShow) -> Vec<RunRow> {
    let Some(solved) = &show.solved else {
        return Vec::new();
    };
    let clock = ShowClock::of(show);
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
                temperature: temperature::ohno(white.white),
                confidence: white.confidence,
            }),
            level: level.map(|level| level.stops.0),
            washes: washes(show, &run.frames),
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
fn washes(show: &MeteredShow, frames: &[usize]) -> Vec<RowWash> {
    let mut sums: BTreeMap<WashName, [f64; 3]> = BTreeMap::new();
    let readings = frames
        .iter()
        .filter_map(|&at| show.lights.get(at)?.reading.as_ref());
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

/// The first body's clock.
#[derive(Clone, Copy, Debug)]
pub(in crate::cli) struct ShowClock {
    /// When the show's first frame was taken; `None` where no frame has a time.
    start: Option<DateTime>,
}

impl ShowClock {
    /// Of a show that was solved.
    pub(in crate::cli) fn of(show: &MeteredShow) -> Self {
        let places = show
            .solved
            .as_ref()
            .map(|solved| &solved.light.sheet.places);
        let known = places
            .into_iter()
            .flatten()
            .zip(&show.lights)
            .find_map(|(place, light)| {
                let time = light.facts.captured.as_ref()?.civil;
                let seconds = place.seconds.filter(|_| place.body == 0)?;
                later(time, -seconds)
            });
        Self { start: known }
    }

    /// The time that many seconds after the show's first frame.
    pub(in crate::cli) fn at(&self, seconds: f64) -> Option<DateTime> {
        later(self.start?, seconds)
    }
}

fn later(time: DateTime, seconds: f64) -> Option<DateTime> {
    let duration = SignedDuration::try_from_secs_f64(seconds).ok()?;
    let later = time.checked_add(Span::try_from(duration).ok()?).ok()?;
    later.round(Unit::Millisecond).ok()
}

/// Stops with their sign; what rounds to nothing is `+0.00`.
pub(in crate::cli) fn stops_in_words(stops: f64) -> String {
    format!("{:+.2}", (stops * 100.0).round() / 100.0 + 0.0)
}

/// What kind of light a run has, in words.
pub(in crate::cli) fn kind_in_words(row: &RunRow) -> String {
    let kind = match row.kind {
        RunKind::Key if row.white.is_none() => "no key to be seen",
        RunKind::Key => "steady",
        RunKind::Wash => "wash only",
        RunKind::Dark => "dark",
        RunKind::Strobe => "strobe",
    };
    match row.fading {
        0 => kind.to_owned(),
        fading if fading == row.frames.len() => "cross-fade".to_owned(),
        fading => format!("{kind}, {fading} in a cross-fade"),
    }
}

/// `A`, `B`, … `Z`, `AA`: what a body is called on a cue sheet.
pub(in crate::cli) fn letter(body: usize) -> String {
    let last = char::from(b'A' + u8::try_from(body % 26).unwrap_or(0));
    match body / 26 {
        0 => last.to_string(),
        more => format!("{}{last}", letter(more - 1)),
    }
}

/// `A 8, B 3`.
pub(in crate::cli) fn counts_in_words(by_body: &[usize]) -> String {
    let counts = by_body.iter().enumerate().filter(|(_, count)| **count > 0);
    counts
        .map(|(body, count)| format!("{} {count}", letter(body)))
        .collect::<Vec<_>>()
        .join(", ")
}

/// `blue 238°, magenta 301°`.
pub(in crate::cli) fn washes_in_words(washes: &[RowWash]) -> String {
    let words = washes
        .iter()
        .map(|wash| format!("{} {:.0}°", wash.name, wash.hue));
    words.collect::<Vec<_>>().join(", ")
}

/// Make, model and serial number, as far as the file says. Many models begin with their make.
pub(in crate::cli) fn body_in_words(body: &Body) -> String {
    let make = Some(body.make.as_str()).filter(|make| !body.model.starts_with(make));
    let parts = [make, Some(body.model.as_str()), body.serial.as_deref()];
    let words: Vec<&str> = parts
        .into_iter()
        .flatten()
        .filter(|part| !part.is_empty())
        .collect();
    if words.is_empty() {
        "unknown body".to_owned()
    } else {
        words.join(" ")
    }
}

/// How a clock's offset is known, in words.
pub(in crate::cli) fn clocks_in_words(sheet: &CueSheet) -> Vec<[String; 4]> {
    use crate::light::sheet::ClockSource;
    let source = |source: ClockSource| match source {
        ClockSource::First => "the clock that the others are held against".to_owned(),
        ClockSource::Given => "as it was given".to_owned(),
        ClockSource::LightChanges { matched } => {
            format!("by {matched} changes of light that both bodies saw")
        }
        ClockSource::UniversalTime => "by universal time, as the files state it".to_owned(),
        ClockSource::FrameOrder => "by the order of its own frames".to_owned(),
        ClockSource::Unknown => "taken as equal: nothing tells".to_owned(),
    };
    let offset = |seconds: f64| {
        if seconds.abs() < 0.05 {
            "even".to_owned()
        } else if seconds > 0.0 {
            format!("{seconds:.1} s ahead")
        } else {
            format!("{:.1} s behind", -seconds)
        }
    };
    let words = sheet.clocks.iter().enumerate().map(|(at, clock)| {
        let mut how = format!("{}, {}", offset(clock.ahead_seconds), source(clock.source));
        if at == 0 {
            how = source(ClockSource::First);
        }
        for jump in &clock.jumps {
            how += &format!(
                "; set anew once: from there on {}, {}",
                offset(jump.ahead_seconds),
                source(jump.source)
            );
        }
        let frames = super::super::frames::counted(clock.frames);
        [letter(at), body_in_words(&clock.body), frames, how]
    });
    words.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_has_no_minus() {
        assert_eq!(stops_in_words(-0.001), "+0.00");
        assert_eq!(stops_in_words(-1.239), "-1.24");
    }

    #[test]
    fn bodies_have_letters_however_many_there_are() {
        assert_eq!(
            [0, 1, 25, 26, 27, 51, 52].map(letter),
            ["A", "B", "Z", "AA", "AB", "AZ", "BA"]
        );
        assert_eq!(counts_in_words(&[8, 0, 3]), "A 8, C 3");
    }
}
