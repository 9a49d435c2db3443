//! The mean light of runs.

use super::cutting::Timed;
use super::pooled::ENOUGH;
use super::sketch::{NUMBERS, Sketch};

/// A run's mean light as each body saw it, and as all did.
pub(super) struct RunMeans {
    /// As each body saw it or would have seen it.
    seen: Vec<Sketch>,
    /// With the bodies' offsets taken off.
    common: Sketch,
    /// Frames of each body.
    counts: Vec<f64>,
}

impl RunMeans {
    /// The means of some frames; `offsets` are each body's own look at things.
    #[must_use]
    pub(super) fn of<'a>(frames: impl Iterator<Item = &'a Timed<'a>>, offsets: &[Sketch]) -> Self {
        let mut sums = vec![[0.0; NUMBERS]; offsets.len()];
        let mut counts = vec![0.0; offsets.len()];
        let mut common = [0.0; NUMBERS];
        for frame in frames {
            let Some(sketch) = frame.sketch else { continue };
            counts[frame.body] += 1.0;
            add(&mut sums[frame.body], sketch, 1.0);
            add(&mut common, sketch, 1.0);
            add(&mut common, &offsets[frame.body], -1.0);
        }
        let total: f64 = counts.iter().sum();
        let common = common.map(|value| value / total.max(1.0));
        let seen = sums
            .into_iter()
            .zip(&counts)
            .zip(offsets)
            .map(|((sum, &count), offset)| {
                if count > 0.0 {
                    return sum.map(|value| value / count);
                }
                let mut seen = common;
                add(&mut seen, offset, 1.0);
                seen
            })
            .collect();
        Self {
            seen,
            common,
            counts,
        }
    }

    /// As a body saw it, where it took a frame; elsewhere as the others did, with its offset: bodies see much alike.
    #[must_use]
    pub(super) fn seen_by(&self, body: usize) -> &Sketch {
        &self.seen[body]
    }

    /// Squared distance of two runs: the mean over bodies that saw both, each as often as it can tell; over what all saw where no body
    /// saw both. And how many frames tell it.
    #[must_use]
    pub(super) fn distance(&self, other: &Self) -> (f64, f64) {
        let (mut sum, mut frames) = (0.0, 0.0);
        for (at, (one, two)) in self.seen.iter().zip(&other.seen).enumerate() {
            let (own, others) = (self.counts[at], other.counts[at]);
            if own > 0.0 && others > 0.0 {
                let weight = own * others / (own + others);
                sum += weight * square_distance(one, two);
                frames += weight;
            }
        }
        if frames > 0.0 {
            (sum / frames, frames)
        } else {
            (square_distance(&self.common, &other.common), 0.0)
        }
    }
}

/// How each body's frames of the whole show differ from all bodies'.
#[must_use]
pub(super) fn body_offsets(frames: &[Timed], bodies: usize) -> Vec<Sketch> {
    let mut all = [0.0; NUMBERS];
    let mut sums = vec![([0.0; NUMBERS], 0.0_f64); bodies];
    let mut read = 0.0_f64;
    for frame in frames {
        let Some(sketch) = frame.sketch else { continue };
        add(&mut all, sketch, 1.0);
        read += 1.0;
        let (sum, count) = &mut sums[frame.body];
        add(sum, sketch, 1.0);
        *count += 1.0;
    }
    let all = all.map(|value| value / read.max(1.0));
    sums.into_iter()
        .map(|(sum, count)| {
            let mut offset = sum.map(|value| value / count.max(1.0));
            if count > 0.0 {
                add(&mut offset, &all, -1.0);
            }
            // Few frames show which states a body saw, rather than how it sees them.
            offset.map(|value| value * (count / ENOUGH).min(1.0))
        })
        .collect()
}

fn add(sum: &mut Sketch, values: &Sketch, factor: f64) {
    for (sum, value) in sum.iter_mut().zip(values) {
        *sum += factor * value;
    }
}

/// Squared distance of two sketches.
#[must_use]
pub(super) fn square_distance(a: &Sketch, b: &Sketch) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b) * (a - b)).sum()
}
