//! Drift inside a long run: a lamp that warms up, the evening sky behind an open stage.
//!
//! A cue has one white, and within a run of it the light may still move slowly. The frames' own estimates tell, taken
//! together: a straight line through them over time (Theil 1950 and Sen 1968: the median of the slopes between frames, which
//! a few wrong estimates do not move). What is followed is that line, never a single frame's estimate, so neighbours stay
//! neighbours; and only as far as the line stands out of the scatter about it.

use super::Show;
use crate::base::robust;
use crate::light::reading::TRUSTED_CONFIDENCE;

/// Fewer frames with a credible white than this show no drift.
const LEAST_FRAMES: usize = 8;
/// Slopes are taken between frames this many places apart and more, as a share of their number: near ones are all noise.
const LEAST_APART: f64 = 0.25;
/// Frames of a run that pairs are made with, at most about.
const MOST_STARTS: usize = 128;
/// Standard errors of its slope at which a line begins to be followed, and at which it is followed all the way (common
/// practice, no source).
const ERRORS: (f64, f64) = (3.0, 6.0);
/// Most that the white moves from the cue's, in log-chroma: a wash that comes up slowly is no drift of the key.
const MOST: f64 = 0.10;
/// Standard error of a median against that of a mean, of a normal distribution.
const MEDIAN_ERROR: f64 = 1.253;

/// A line of the white over time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Drift {
    /// ln R/G and ln B/G a second.
    slope: [f64; 2],
    /// Where the cue's white holds: seconds.
    middle: f64,
}

impl Drift {
    /// The drift of one body's frames in a run; with the reference among them its own time is where the white holds.
    pub(super) fn of(show: &Show<'_>, frames: &[usize]) -> Option<Self> {
        let reference = frames
            .iter()
            .find(|&&at| show.frames[at].is_reference)
            .and_then(|&at| show.light.sheet.places[at].seconds);
        let mut seen: Vec<(f64, [f64; 2])> = frames
            .iter()
            .filter_map(|&at| {
                let estimate = show.frames[at].reading.as_ref()?.estimate.as_ref()?;
                let [red, green, blue] = estimate.neutral;
                let chroma = [(red / green).ln(), (blue / green).ln()];
                let is_credible = estimate.confidence >= TRUSTED_CONFIDENCE
                    && chroma.iter().all(|value| value.is_finite());
                Some((show.light.sheet.places.get(at)?.seconds?, chroma)).filter(|_| is_credible)
            })
            .collect();
        if seen.len() < LEAST_FRAMES {
            return None;
        }
        seen.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut times: Vec<f64> = seen.iter().map(|(time, _)| *time).collect();
        let middle = reference.or_else(|| robust::median(&mut times))?;
        let slope = [line(&seen, 0), line(&seen, 1)];
        let drift = Self { slope, middle };
        (slope != [0.0; 2]).then_some(drift)
    }

    /// How far the white stands from the cue's at a time, in (ln R/G, ln B/G).
    pub(super) fn at(&self, seconds: f64) -> [f64; 2] {
        let moved = self.slope.map(|slope| slope * (seconds - self.middle));
        let length = moved[0].hypot(moved[1]);
        // Soft at the bound, so that nothing bends sharply.
        let kept = if length > 0.0 {
            MOST * (length / MOST).tanh() / length
        } else {
            1.0
        };
        moved.map(|value| value * kept)
    }
}

/// The slope of one axis over time, less the more it drowns in the scatter about it.
fn line(seen: &[(f64, [f64; 2])], axis: usize) -> f64 {
    let count = seen.len();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a number of frames"
    )]
    let apart = ((count as f64 * LEAST_APART) as usize).max(1);
    // Pairs in strides, so that a run of thousands of frames stays a matter of milliseconds.
    let stride = (count / MOST_STARTS).max(1);
    let mut slopes = Vec::new();
    for first in (0..count.saturating_sub(apart)).step_by(stride) {
        for second in (first + apart..count).step_by(stride) {
            let time = seen[second].0 - seen[first].0;
            if time > 0.0 {
                slopes.push((seen[second].1[axis] - seen[first].1[axis]) / time);
            }
        }
    }
    let Some(slope) = robust::median(&mut slopes) else {
        return 0.0;
    };
    let mut rest: Vec<f64> = seen
        .iter()
        .map(|(time, chroma)| chroma[axis] - slope * time)
        .collect();
    let centre = robust::median(&mut rest).unwrap_or(0.0);
    let weights = vec![1.0; rest.len()];
    let scatter = robust::spread(&rest, &weights, centre).unwrap_or(f64::INFINITY);
    let mean = seen.iter().map(|(time, _)| time).sum::<f64>() / count as f64;
    let spread_of_time = seen
        .iter()
        .map(|(time, _)| (time - mean).powi(2))
        .sum::<f64>()
        .sqrt();
    let error = MEDIAN_ERROR * scatter / spread_of_time;
    // Written so that a scatter of nothing counts as certain, and nothing that is no number does.
    let errors = if error > 0.0 {
        slope.abs() / error
    } else {
        ERRORS.1
    };
    let x = ((errors - ERRORS.0) / (ERRORS.1 - ERRORS.0))
        .max(0.0)
        .min(1.0);
    slope * x * x * (3.0 - 2.0 * x)
}
