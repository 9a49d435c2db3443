//! How well two series of light fit when one clock is held to be ahead of the other by so much.
//!
//! Each series is cut into runs of its own and held against its own mean, which takes out what a body sees differently.
//! Where the clocks fit, frames of one fall into runs of the other that are off the mean in the same direction; where
//! they do not, chance lets about as many agree as disagree.

use super::cutting::{Timed, cut};
use super::sketch::{NUMBERS, Sketch, affinity};

/// A series of frames in order of time, cut into runs.
pub(super) struct Series {
    /// Times of the frames in seconds, and the run of each.
    frames: Vec<(f64, usize)>,
    /// Mean of each run against the mean of the whole.
    means: Vec<Sketch>,
    /// Last time before and first time after the start of each run but the first.
    changes: Vec<(f64, f64)>,
}

impl Series {
    /// Cuts frames in order of time, which all have one.
    #[must_use]
    pub(super) fn new(frames: &[Timed], bodies: usize) -> Self {
        let times: Vec<f64> = frames.iter().filter_map(|frame| frame.seconds).collect();
        let (cuts, _) = cut(frames, bodies);
        let whole = body_means(frames, bodies);
        let starts = std::iter::once(0).chain(cuts.iter().copied());
        let ends = cuts.iter().copied().chain([times.len()]);
        let mut runs = Vec::new();
        let mut means = Vec::new();
        for (run, (start, end)) in starts.zip(ends).enumerate() {
            let mut mean = [0.0; NUMBERS];
            for at in start..end {
                let own = &whole[frames[at].body];
                // What was not read is as the body's mean.
                let sketch = frames[at].sketch.unwrap_or(own);
                for (mean, (value, own)) in mean.iter_mut().zip(sketch.iter().zip(own)) {
                    *mean += (value - own) / (end - start) as f64;
                }
                runs.push((times[at], run));
            }
            means.push(mean);
        }
        Self {
            changes: cuts.iter().map(|&at| (times[at - 1], times[at])).collect(),
            frames: runs,
            means,
        }
    }

    /// Whether there is nothing to hold another series against.
    #[must_use]
    pub(super) fn is_even(&self) -> bool {
        self.changes.is_empty()
    }

    /// When its light changes: the middle of each change.
    #[must_use]
    pub(super) fn changes(&self) -> Vec<f64> {
        self.changes.iter().map(|(a, b)| 0.5 * (a + b)).collect()
    }

    /// First and last time.
    #[must_use]
    pub(super) fn span(&self) -> (f64, f64) {
        let at = |frame: Option<&(f64, usize)>| frame.map_or(0.0, |frame| frame.0);
        (at(self.frames.first()), at(self.frames.last()))
    }
}

/// Every body's mean sketch.
fn body_means(frames: &[Timed], bodies: usize) -> Vec<Sketch> {
    let mut sums = vec![[0.0; NUMBERS]; bodies];
    let mut counts = vec![0.0_f64; bodies];
    for frame in frames {
        counts[frame.body] += 1.0;
        for (sum, value) in sums[frame.body]
            .iter_mut()
            .zip(frame.sketch.into_iter().flatten())
        {
            *sum += value;
        }
    }
    for (sum, count) in sums.iter_mut().zip(counts) {
        for value in sum {
            *value /= count.max(1.0);
        }
    }
    sums
}

/// Two series with what each run of one has in common with each of the other.
pub(super) struct Pair<'a> {
    held: &'a Series,
    moved: &'a Series,
    common: Vec<f64>,
    /// What a perfect fit would give.
    most: f64,
}

impl<'a> Pair<'a> {
    /// Holds `moved` against `held`.
    #[must_use]
    pub(super) fn new(held: &'a Series, moved: &'a Series) -> Self {
        let common = moved
            .means
            .iter()
            .flat_map(|one| held.means.iter().map(|other| affinity(one, other)))
            .collect();
        let energy = |series: &Series| {
            let all = series.frames.iter().map(|(_, run)| {
                let mean = &series.means[*run];
                affinity(mean, mean)
            });
            all.sum::<f64>() / series.frames.len().max(1) as f64
        };
        let most = (energy(held) * energy(moved)).sqrt() * moved.frames.len() as f64;
        Self {
            held,
            moved,
            common,
            most,
        }
    }

    /// Correlation, about -1 to 1, when the moved clock is `ahead` by so many seconds.
    #[must_use]
    pub(super) fn correlation(&self, ahead: f64) -> f64 {
        if !(self.most > 0.0) {
            return 0.0;
        }
        let (first, last) = self.held.span();
        let mut run = 0;
        let mut sum = 0.0;
        for &(time, own) in &self.moved.frames {
            let time = time - ahead;
            if time < first || time > last {
                continue;
            }
            while run < self.held.changes.len() {
                let (before, after) = self.held.changes[run];
                if time < 0.5 * (before + after) {
                    break;
                }
                run += 1;
            }
            sum += self.common[own * self.held.means.len() + run];
        }
        sum / self.most
    }

    /// Changes of the moved series that can be one with a change of the held series: their intervals overlap.
    #[must_use]
    pub(super) fn matched(&self, ahead: f64) -> usize {
        self.moved
            .changes
            .iter()
            .filter(|(before, after)| {
                self.held.changes.iter().any(|(held_before, held_after)| {
                    before - ahead <= *held_after && after - ahead >= *held_before
                })
            })
            .count()
    }
}
