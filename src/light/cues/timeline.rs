//! One time for all frames: every body's clock against the first body's, and what was set anew brought back.

use super::GivenClock;
use super::clocks::{Held, Offset, offset};
use super::cutting::Timed;
use super::jumps;
use super::sketch::Sketch;
use super::stretches::{Stretch, clock_seconds, stretches};
use crate::light::reading::FrameLight;
use crate::light::sheet::{BodyClock, ClockJump, ClockSource};

/// Confidence of what the files state of universal time: the zone is right, minutes and seconds may not be.
const STATED: f64 = 0.3;
/// Most bodies that another is held against.
const HELD: usize = 4;
/// A clock that was set anew went on this long after the frame before, when nothing tells. Seconds.
const AFTER_JUMP: f64 = 2.0;

/// Times of the frames, seconds on the first body's clock since the first frame; clocks are filled in.
#[must_use]
pub(super) fn timeline(
    frames: &[FrameLight],
    bodies: &[usize],
    sketches: &[Option<Sketch>],
    clocks: &mut [BodyClock],
    given: &[GivenClock],
) -> Vec<Option<f64>> {
    let times: Vec<Option<f64>> = frames.iter().map(clock_seconds).collect();
    let mut timeline = Timeline {
        frames,
        bodies,
        sketches,
        seconds: vec![None; frames.len()],
        times: &times,
        count: clocks.len(),
        held: Vec::new(),
    };
    let (mut bases, astray): (Vec<Stretch>, Vec<Stretch>) = stretches(bodies, &times)
        .into_iter()
        .partition(|stretch| stretch.is_base);
    let known = |clocks: &[BodyClock], body: usize| {
        let one = given.iter().find(|one| one.body == clocks[body].body);
        one.filter(|_| body > 0).map(|one| one.ahead_seconds)
    };
    // The first body, then what a person gave, then whoever has most frames.
    bases.sort_by_key(|stretch| {
        let settled = stretch.body == 0 || known(clocks, stretch.body).is_some();
        (
            stretch.body != 0,
            !settled,
            std::cmp::Reverse(stretch.frames.len()),
        )
    });
    for (at, stretch) in bases.iter().enumerate() {
        let (ahead, source, confidence) = match known(clocks, stretch.body) {
            _ if at == 0 => (0.0, ClockSource::First, 1.0),
            Some(ahead) => (ahead, ClockSource::Given, 1.0),
            None => timeline.base(stretch, &bases[0]),
        };
        let jump = (at > 0 && source != ClockSource::Given)
            .then(|| timeline.forward_jump(stretch, ahead))
            .flatten();
        let clock = &mut clocks[stretch.body];
        (clock.ahead_seconds, clock.source, clock.confidence) = (ahead, source, confidence);
        match jump {
            None => timeline.place(&stretch.frames, stretch.body, ahead),
            Some(jump) => {
                clock.ahead_seconds = jump.before.ahead;
                clock.source = jump.before.source();
                clock.confidence = jump.before.confidence;
                clock.jumps.push(ClockJump {
                    frame: jump.frame,
                    ahead_seconds: jump.after.ahead,
                    source: jump.after.source(),
                });
                let (before, after) = jump.parts(stretch, &times);
                timeline.place(&before, stretch.body, jump.before.ahead);
                timeline.place(&after, stretch.body, jump.after.ahead);
            }
        }
    }
    for stretch in &astray {
        let (ahead, source) = timeline.astray(stretch);
        timeline.place(&stretch.frames, stretch.body, ahead);
        if let (Some(&first), Some(&last)) = (stretch.frames.first(), stretch.frames.last()) {
            let clock = &mut clocks[stretch.body];
            let jumps = &mut clock.jumps;
            jumps.push(ClockJump {
                frame: first,
                ahead_seconds: ahead,
                source,
            });
            // And back.
            let after = (last + 1..frames.len())
                .find(|&at| bodies[at] == stretch.body && times[at].is_some());
            if let Some((frame, seconds)) = after.zip(after.and_then(|at| timeline.seconds[at])) {
                jumps.push(ClockJump {
                    frame,
                    ahead_seconds: times[frame].map_or(clock.ahead_seconds, |own| own - seconds),
                    source: ClockSource::FrameOrder,
                });
            }
        }
    }
    for clock in clocks.iter_mut() {
        clock.jumps.sort_by_key(|jump| jump.frame);
    }
    let start = timeline
        .seconds
        .iter()
        .flatten()
        .copied()
        .fold(f64::INFINITY, f64::min);
    let from_start = |seconds: Option<f64>| seconds.map(|seconds| seconds - start);
    timeline.seconds.into_iter().map(from_start).collect()
}

/// A body's clock that was set forward.
struct Jump {
    /// The first frame after it.
    frame: usize,
    /// That frame's own time.
    time: f64,
    before: Offset,
    after: Offset,
}

impl Jump {
    /// The stretch's frames before and after.
    fn parts(&self, stretch: &Stretch, times: &[Option<f64>]) -> (Vec<usize>, Vec<usize>) {
        (stretch.frames.iter().copied())
            .partition(|&at| times[at].is_some_and(|time| time < self.time))
    }
}

struct Timeline<'a> {
    frames: &'a [FrameLight],
    bodies: &'a [usize],
    sketches: &'a [Option<Sketch>],
    /// On the first body's clock, of what has been placed.
    seconds: Vec<Option<f64>>,
    /// On each body's own clock.
    times: &'a [Option<f64>],
    count: usize,
    /// Bodies that others are held against.
    held: Vec<usize>,
}

impl Timeline<'_> {
    fn place(&mut self, frames: &[usize], body: usize, ahead: f64) {
        if self.held.len() < HELD && !self.held.contains(&body) {
            self.held.push(body);
        }
        for &at in frames {
            self.seconds[at] = self.times[at].map(|time| time - ahead);
        }
    }

    /// A body's own clock against what has been placed.
    fn base(&self, stretch: &Stretch, first: &Stretch) -> (f64, ClockSource, f64) {
        let stated = self.stated_ahead(stretch, first);
        let found = offset(
            &self.placed(),
            &self.timed(&stretch.frames, self.times),
            stated.unwrap_or(0.0),
            (f64::NEG_INFINITY, f64::INFINITY),
        );
        match (found, stated) {
            (Some(found), _) => (found.ahead, found.source(), found.confidence),
            (None, Some(stated)) => (stated, ClockSource::UniversalTime, STATED),
            (None, None) => (0.0, ClockSource::Unknown, 0.0),
        }
    }

    /// By how much the files say that a clock is ahead of the first: it stands for a zone further east.
    fn stated_ahead(&self, stretch: &Stretch, first: &Stretch) -> Option<f64> {
        let zone = |stretch: &Stretch| {
            let frame = &self.frames[*stretch.frames.first()?];
            frame.facts.captured.as_ref()?.offset_minutes
        };
        Some(f64::from(zone(stretch)? - zone(first)?) * 60.0)
    }

    /// A setting that went forward within a stretch, which looks like a pause.
    fn forward_jump(&self, stretch: &Stretch, expected: f64) -> Option<Jump> {
        let own = self.timed(&stretch.frames, self.times);
        jumps::forward(&self.placed(), &own, expected).map(|(place, before, after)| {
            // `own` stands in the order of time, as does what comes of it.
            let time = own[place].seconds.unwrap_or(0.0);
            let frame = (stretch.frames.iter().copied())
                .find(|&at| self.times[at].is_some_and(|own| own >= time))
                .unwrap_or(0);
            Jump {
                frame,
                time,
                before,
                after,
            }
        })
    }

    /// A setting that went astray: between the body's frames before and after, where the light says, or right after.
    fn astray(&self, stretch: &Stretch) -> (f64, ClockSource) {
        let own = |at: &usize| self.bodies[*at] == stretch.body;
        let start = stretch.frames.first().copied().unwrap_or(0);
        let end = stretch.frames.last().copied().unwrap_or(0);
        let time = |at: usize| self.times[at].unwrap_or(0.0);
        let before = (0..start).rev().filter(own).find_map(|at| self.seconds[at]);
        let after = (end + 1..self.frames.len())
            .filter(own)
            .find_map(|at| self.seconds[at]);
        // Ahead of the first body's clock by at least and at most this much.
        let most = before.map_or(f64::INFINITY, |before| time(start) - before);
        let least = after.map_or(f64::NEG_INFINITY, |after| time(end) - after);
        let expected = match (before, after) {
            (Some(_), _) => most - AFTER_JUMP,
            (None, Some(_)) => least + AFTER_JUMP,
            (None, None) => 0.0,
        };
        let moved = self.timed(&stretch.frames, self.times);
        offset(&self.placed(), &moved, expected, (least, most))
            .map_or((expected, ClockSource::FrameOrder), |found| {
                (found.ahead, found.source())
            })
    }

    /// Placed frames of the bodies that were placed first: they have most frames, and more bodies tell no more.
    fn placed(&self) -> Held<'_> {
        let all: Vec<usize> = (0..self.frames.len())
            .filter(|&at| self.seconds[at].is_some() && self.held.contains(&self.bodies[at]))
            .collect();
        Held::new(self.timed(&all, &self.seconds), self.count)
    }

    /// Frames in the order of given times.
    fn timed(&self, frames: &[usize], times: &[Option<f64>]) -> Vec<Timed<'_>> {
        let mut order = frames.to_vec();
        order.sort_by(|&a, &b| {
            let key = |at: usize| times[at].unwrap_or(f64::INFINITY);
            key(a).total_cmp(&key(b)).then(a.cmp(&b))
        });
        order
            .into_iter()
            .map(|at| Timed {
                body: self.bodies[at],
                seconds: times[at],
                sketch: self.sketches[at].as_ref(),
            })
            .collect()
    }
}
