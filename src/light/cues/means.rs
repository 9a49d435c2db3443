//! The mean light of runs.

use super::cutting::Timed;
use super::sketch::{NUMBERS, Sketch};

/// The sketch that a black frame has.
pub const BLACK: Sketch = {
    let mut black = [0.0; NUMBERS];
    black[0] = 1.0;
    black
};

/// A run's mean light as each body saw it, and as all did.
pub struct RunMeans {
    bodies: Vec<Option<Sketch>>,
    all: Sketch,
    /// Frames of each body.
    counts: Vec<f64>,
}

impl RunMeans {
    /// The means of some frames.
    #[must_use]
    pub fn of<'a>(frames: impl Iterator<Item = &'a Timed<'a>>, bodies: usize) -> Self {
        let mut sums = vec![[0.0; NUMBERS]; bodies];
        let mut counts = vec![0.0; bodies];
        for frame in frames {
            counts[frame.body] += 1.0;
            add(&mut sums[frame.body], frame.sketch.unwrap_or(&BLACK));
        }
        let mut all = [0.0; NUMBERS];
        for sum in &sums {
            add(&mut all, sum);
        }
        let total: f64 = counts.iter().sum();
        Self {
            all: all.map(|value| value / total.max(1.0)),
            bodies: sums
                .into_iter()
                .zip(&counts)
                .map(|(sum, &count)| (count > 0.0).then(|| sum.map(|value| value / count)))
                .collect(),
            counts,
        }
    }

    /// As a body saw it, where it took a frame; as all did, elsewhere: bodies see much alike.
    #[must_use]
    pub fn seen_by(&self, body: usize) -> &Sketch {
        self.bodies[body].as_ref().unwrap_or(&self.all)
    }

    /// Squared distance of two runs: the mean over bodies that saw both, each as often as it can tell; over what all saw where no body
    /// saw both. And how many frames tell it.
    #[must_use]
    pub fn distance(&self, other: &Self) -> (f64, f64) {
        let (mut sum, mut frames) = (0.0, 0.0);
        for (at, pair) in self.bodies.iter().zip(&other.bodies).enumerate() {
            if let (Some(one), Some(two)) = pair {
                let weight =
                    self.counts[at] * other.counts[at] / (self.counts[at] + other.counts[at]);
                sum += weight * square_distance(one, two);
                frames += weight;
            }
        }
        if frames > 0.0 {
            (sum / frames, frames)
        } else {
            (square_distance(&self.all, &other.all), 0.0)
        }
    }
}

fn add(sum: &mut Sketch, values: &Sketch) {
    for (sum, value) in sum.iter_mut().zip(values) {
        *sum += value;
    }
}

/// Squared distance of two sketches.
#[must_use]
pub fn square_distance(a: &Sketch, b: &Sketch) -> f64 {
    a.iter().zip(b).map(|(a, b)| (a - b) * (a - b)).sum()
}
