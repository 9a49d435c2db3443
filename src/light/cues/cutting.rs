//! Where a show in order of time is cut.

use super::change_points::change_points;
use super::means::square_distance;
use super::pooled::PooledCost;
use super::sketch::Sketch;
use crate::base::robust;

/// A frame in order of time.
#[derive(Clone, Copy, Debug)]
pub(super) struct Timed<'a> {
    /// Its body.
    pub body: usize,
    /// Seconds on the common clock.
    pub seconds: Option<f64>,
    /// Its colours.
    pub sketch: Option<&'a Sketch>,
}

/// The price of a cut, in squared distances of sketches. Chosen by measurement on simulated shows: a lower one cuts
/// where only the framing changed, a higher one misses cues that differ by one of two lamps.
const PRICE: f64 = 0.35;
/// Price at least, in variances of frames within one state (half the median squared distance of a body's neighbours): every
/// cut saves about one by chance, and the best of many places more.
const UNREST: f64 = 4.0;
/// The most that unrest makes of the price. Above that it is no chance: a body with few frames shows another state in each.
/// Chosen by measurement: sixteen simulated shows of two bodies are cut as without it.
const MOST_UNREST: f64 = 2.0;
/// Share of the price that a long pause takes off: lights change between songs, and so do places of photographers.
/// Evidence, not proof.
const PAUSE_DISCOUNT: f64 = 0.4;
/// A pause this long is long. Seconds.
const LONG_PAUSE: f64 = 10.0;
/// What a cut between two frames of a burst costs more: lights change within a second, but seldom.
const BURST_SURCHARGE: f64 = 0.1;
/// Frames of one body nearer than this are a burst. Seconds.
const BURST: f64 = 1.0;

/// The places before which the show is cut, and what cuts and stretches cost together.
#[must_use]
pub(super) fn cut(frames: &[Timed], bodies: usize) -> (Vec<usize>, f64) {
    let pooled = PooledCost::new(frames, bodies);
    let dearer = unrest(frames, bodies);
    change_points(&pooled, |place| {
        dearer * price(&frames[place - 1], &frames[place])
    })
}

/// Factor on prices where frames differ much from one to the next in any case.
fn unrest(frames: &[Timed], bodies: usize) -> f64 {
    let mut before: Vec<Option<&Sketch>> = vec![None; bodies];
    let mut halves = Vec::new();
    for frame in frames {
        let Some(sketch) = frame.sketch else { continue };
        if let Some(before) = before[frame.body].replace(sketch) {
            halves.push(0.5 * square_distance(before, sketch));
        }
    }
    let variance = robust::median(&mut halves).unwrap_or(0.0);
    (UNREST * variance / PRICE).max(1.0).min(MOST_UNREST)
}

/// What cuts and stretches cost together when pauses say nothing: pauses are what clocks are to be told by.
#[must_use]
pub(super) fn cost_without_pauses(frames: &[Timed], bodies: usize) -> f64 {
    change_points(&PooledCost::new(frames, bodies), |_| PRICE).1
}

fn price(before: &Timed, after: &Timed) -> f64 {
    let Some(pause) = before.seconds.zip(after.seconds).map(|(a, b)| b - a) else {
        return PRICE;
    };
    if before.body == after.body && pause < BURST {
        return PRICE + BURST_SURCHARGE;
    }
    let long = (pause / LONG_PAUSE).max(0.0).min(1.0);
    PRICE * (1.0 - PAUSE_DISCOUNT * long * long)
}
