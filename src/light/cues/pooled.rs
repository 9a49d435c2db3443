//! What it costs to take a stretch of frames for one lighting state: how far its frames lie from their mean, every body
//! for itself.
//!
//! Two bodies see one light in colours of their own, and they alternate: held against a common mean, every frame would be
//! a change. Of each body's sketches the sum of squared distances from their mean is counted, which is a kernel's change
//! points (Celisse, Marot, Pierre-Jean and Rigaill, "New efficient algorithms for multiple change-point detection with
//! reproducing kernels", Comput. Stat. Data Anal. 128:200, 2018): a sketch is bounded, so that one odd frame cannot cost more
//! than 2. A frame that was not read says nothing.
//!
//! A body with few frames has no mean to be held against: each of them may show another state. By as much as it is
//! short of frames it is held against the mean of all such bodies, which see alike but for what their sensors differ:
//! colours are counted from each body's own grey.

use super::change_points::StretchCost;
use super::cutting::Timed;
use super::means::square_distance;
use super::sketch::{NUMBERS, Sketch};

/// A body with this many frames is held against nothing but itself: two for each of eight states. Chosen by measurement.
pub(super) const ENOUGH: f64 = 16.0;

/// Sums over one body's frames up to each.
struct BodySums {
    /// Sum of the sketches before each of its frames, and of all.
    sums: Vec<Sketch>,
    /// Share of its costs that is counted against the mean of all bodies with few frames, 0 to 1.
    shared: f64,
}

/// Costs of stretches of a show in order of time.
pub(super) struct PooledCost {
    bodies: Vec<BodySums>,
    /// Squared lengths of all sketches before each place.
    squares: Vec<f64>,
    /// For each body the number of its frames before each place.
    counts: Vec<Vec<u32>>,
    /// Before each place the shares of what was read, and the sum of the sketches with those weights.
    shared: Vec<(f64, Sketch)>,
}

impl PooledCost {
    /// `frames` in order of time; their bodies are below `bodies`.
    #[must_use]
    pub(super) fn new(frames: &[Timed], bodies: usize) -> Self {
        let mut read = vec![0.0; bodies];
        for frame in frames.iter().filter(|frame| frame.sketch.is_some()) {
            read[frame.body] += 1.0;
        }
        let mut sums: Vec<BodySums> = read
            .into_iter()
            .map(|read: f64| BodySums {
                sums: vec![[0.0; NUMBERS]],
                shared: if bodies > 1 {
                    (1.0 - read / ENOUGH).max(0.0)
                } else {
                    0.0
                },
            })
            .collect();
        let mut shared = vec![(0.0, [0.0; NUMBERS])];
        let mut squares = vec![0.0];
        let mut counts = vec![vec![0_u32]; bodies];
        for (place, frame) in frames.iter().enumerate() {
            let mut square = 0.0;
            let (mut weight, mut all) = shared[place];
            if let Some(sketch) = frame.sketch {
                let own = &mut sums[frame.body];
                let mut sum = own.sums[own.sums.len() - 1];
                for (sum, value) in sum.iter_mut().zip(sketch) {
                    *sum += value;
                    square += value * value;
                }
                own.sums.push(sum);
                weight += own.shared;
                for (all, value) in all.iter_mut().zip(sketch) {
                    *all += own.shared * value;
                }
            }
            shared.push((weight, all));
            squares.push(squares[place] + square);
            for (at, counts) in counts.iter_mut().enumerate() {
                let is_own = at == frame.body && frame.sketch.is_some();
                counts.push(counts[place] + u32::from(is_own));
            }
        }
        Self {
            bodies: sums,
            squares,
            counts,
            shared,
        }
    }
}

impl StretchCost for PooledCost {
    fn len(&self) -> usize {
        self.squares.len() - 1
    }

    fn of(&self, from: usize, to: usize) -> f64 {
        let mut cost = self.squares[to] - self.squares[from];
        for (body, counts) in self.bodies.iter().zip(&self.counts) {
            let (first, last) = (counts[from] as usize, counts[to] as usize);
            if last > first {
                let square = square_distance(&body.sums[last], &body.sums[first]);
                cost -= (1.0 - body.shared) * square / (last - first) as f64;
            }
        }
        let ((before, first), (after, last)) = (&self.shared[from], &self.shared[to]);
        let weight = after - before;
        // Less than any body's share is rounding.
        if weight > 1e-9 {
            cost -= square_distance(last, first) / weight;
        }
        cost
    }
}
