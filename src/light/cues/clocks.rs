//! How far each body's clock is ahead, from the light that all of them saw change.
//!
//! Coarse: every change of one series is tried on every change of the other, whatever the distance (a minute, a time zone, a
//! forgotten date), and the offset with the best correlation wins; large offsets must be better than small ones. Fine:
//! among offsets near the winner the one under which both series together are cut most cheaply, because then no frame of
//! either stands on the wrong side of a change.

use super::correlation::{Pair, Series};
use super::cutting::{Timed, cost_without_pauses};
use crate::light::sheet::ClockSource;

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Offset {
    /// Seconds ahead.
    pub ahead: f64,
    /// Changes that fit.
    pub matched: usize,
    /// 0 to 1.
    pub confidence: f64,
}

impl Offset {
    /// Where it is from.
    #[must_use]
    pub(super) fn source(&self) -> ClockSource {
        ClockSource::LightChanges {
            matched: self.matched,
        }
    }
}

/// What clocks are held against: frames in order of time, cut where their light changes.
pub(super) struct Held<'a> {
    pub(super) frames: Vec<Timed<'a>>,
    series: Series,
    bodies: usize,
}

impl<'a> Held<'a> {
    #[must_use]
    pub(super) fn new(frames: Vec<Timed<'a>>, bodies: usize) -> Self {
        let series = Series::new(&frames, bodies);
        Self {
            frames,
            series,
            bodies,
        }
    }
}

/// Offsets nearer than this are tried once in the coarse search. Seconds.
const COARSE: f64 = 2.0;
/// The fine search: its reach to either side and its step. Seconds.
const REACH: f64 = 6.0;
const STEP: f64 = 0.4;
/// Correlation that an offset loses for each e-fold of its distance from what was expected, counted from this many seconds:
/// 0.13 for an hour. Clocks are mostly wrong by little.
const DOUBT: f64 = 0.02;
const NEAR: f64 = 5.0;
/// An offset must correlate at least so well, and fit this many changes.
const LEAST_CORRELATION: f64 = 0.3;
const LEAST_MATCHED: usize = 2;
/// An offset this far from the winner is another answer. Seconds.
pub(super) const RIVAL: f64 = 15.0;
/// Lead over the best rival that makes sure.
const SURE_LEAD: f64 = 0.3;
/// The same for what both series cost together.
const FINE_DOUBT: f64 = 0.2;
/// Distance that a fine offset keeps from those that fit less, where there is room. Seconds.
const MARGIN: f64 = 1.0;
/// Frames of both series that the fine search looks at; more tell no more and cost time.
const FINE_FRAMES: usize = 240;

/// Finds how far the clock of `moved`, in order of time, is ahead of that of `held`; `expected` is what is believed
/// without looking, and `allowed` what can be. `None` when the light does not tell.
#[must_use]
pub(super) fn offset(
    held: &Held,
    moved: &[Timed],
    expected: f64,
    allowed: (f64, f64),
) -> Option<Offset> {
    let Held {
        frames: held,
        series: held_series,
        bodies,
    } = held;
    let moved_series = Series::new(moved, *bodies);
    if held_series.is_even() || moved_series.is_even() {
        return None;
    }
    let pair = Pair::new(held_series, &moved_series);
    let score =
        |ahead: f64| pair.correlation(ahead) - DOUBT * ((ahead - expected).abs() / NEAR).ln_1p();
    let inside = |ahead: &f64| *ahead >= allowed.0 && *ahead <= allowed.1;
    let tried: Vec<(f64, f64)> = candidates(held_series, &moved_series, expected)
        .into_iter()
        .filter(inside)
        .map(|ahead| (ahead, score(ahead)))
        .collect();
    let best = tried
        .iter()
        .copied()
        .reduce(|best, one| if one.1 > best.1 { one } else { best })?;
    let rival = tried
        .iter()
        .filter(|one| (one.0 - best.0).abs() > RIVAL)
        .map(|one| one.1)
        .fold(0.0, f64::max);
    let matched = pair.matched(best.0);
    if pair.correlation(best.0) < LEAST_CORRELATION || matched < LEAST_MATCHED {
        return None;
    }
    let ahead = fine(held, moved, *bodies, (best.0, expected), inside);
    Some(Offset {
        ahead,
        matched: pair.matched(ahead).max(1),
        confidence: ((best.1 - rival) / SURE_LEAD).max(0.0).min(1.0),
    })
}

/// Offsets under which a change of one meets a change of the other, and the neighbourhood of what is expected.
fn candidates(held: &Series, moved: &Series, expected: f64) -> Vec<f64> {
    let held = held.changes();
    let near = (-15..=15).map(|step| expected + f64::from(step) * COARSE);
    let mut all: Vec<f64> = moved
        .changes()
        .iter()
        .flat_map(|moved| held.iter().map(move |held| moved - held))
        .chain(near)
        .collect();
    all.sort_by(f64::total_cmp);
    all.dedup_by(|a, b| *a - *b < COARSE);
    all
}

/// The offset near `coarse` under which the two together are cut most cheaply. Many do alike where nobody took a frame near a
/// change: of those the one nearest to what is expected, but for a margin.
fn fine(
    held: &[Timed],
    moved: &[Timed],
    bodies: usize,
    (coarse, expected): (f64, f64),
    inside: impl Fn(&f64) -> bool,
) -> f64 {
    let (held, moved) = window(held, moved, coarse);
    #[expect(clippy::cast_possible_truncation, reason = "a few dozen steps")]
    let steps = (REACH / STEP).round() as i32;
    let tried: Vec<(f64, f64)> = (-steps..=steps)
        .map(|step| coarse + f64::from(step) * STEP)
        .filter(inside)
        .map(|ahead| (ahead, together(held, moved, bodies, ahead)))
        .collect();
    let doubted = |one: &(f64, f64)| one.1 + FINE_DOUBT * ((one.0 - expected).abs() / NEAR).ln_1p();
    let Some(best) =
        (0..tried.len()).min_by(|&a, &b| doubted(&tried[a]).total_cmp(&doubted(&tried[b])))
    else {
        return coarse;
    };
    let alike = |at: &usize| (tried[*at].1 - tried[best].1).abs() < 1e-9;
    let from = (0..=best).rev().take_while(alike).last().unwrap_or(best);
    let to = (best..tried.len()).take_while(alike).last().unwrap_or(best);
    let (from, to) = (tried[from].0, tried[to].0);
    let margin = MARGIN.min(0.5 * (to - from));
    tried[best].0.max(from + margin).min(to - margin)
}

/// What both series together cost.
fn together(held: &[Timed], moved: &[Timed], bodies: usize, ahead: f64) -> f64 {
    let mut all: Vec<Timed> = held.to_vec();
    all.extend(moved.iter().map(|frame| Timed {
        seconds: frame.seconds.map(|seconds| seconds - ahead),
        ..*frame
    }));
    all.sort_by(|a, b| {
        let key = |frame: &Timed| frame.seconds.unwrap_or(f64::INFINITY);
        key(a).total_cmp(&key(b)).then(a.body.cmp(&b.body))
    });
    cost_without_pauses(&all, bodies)
}

/// The middle of what both series cover, as many frames as the fine search looks at.
fn window<'a, 'b>(
    held: &'a [Timed<'b>],
    moved: &'a [Timed<'b>],
    ahead: f64,
) -> (&'a [Timed<'b>], &'a [Timed<'b>]) {
    let time = |frame: &Timed| frame.seconds.unwrap_or(f64::INFINITY);
    let ends = |frames: &[Timed], shift: f64| {
        let at = |frame: Option<&Timed>| frame.map_or(0.0, time) - shift;
        (at(frames.first()), at(frames.last()))
    };
    let ((a, b), (c, d)) = (ends(held, 0.0), ends(moved, ahead));
    let middle = 0.5 * (a.max(c) + b.min(d));
    fn around<'a, 'b>(frames: &'a [Timed<'b>], middle: f64) -> &'a [Timed<'b>] {
        let half = FINE_FRAMES / 4;
        let at = frames.partition_point(|frame| frame.seconds.unwrap_or(f64::INFINITY) < middle);
        let from = at
            .saturating_sub(half)
            .min(frames.len().saturating_sub(2 * half));
        &frames[from..(from + 2 * half).min(frames.len())]
    }
    (around(held, middle), around(moved, middle + ahead))
}
