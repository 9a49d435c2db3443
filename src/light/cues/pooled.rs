//! What it costs to take a stretch of frames for one lighting state: how far its frames lie from their mean, every body
//! for itself.
//!
//! Two bodies see one light in colours of their own, and they alternate: held against a common mean, every frame would be
//! a change. Of each body's sketches the sum of squared distances from their mean is counted, which is a kernel's change
//! points (Celisse, Marot, Pierre-Jean and Rigaill, "New efficient algorithms for multiple change-point detection with
//! reproducing kernels", Comput. Stat. Data Anal. 128:200, 2018): a sketch is bounded, so that one odd frame cannot cost more
//! than 2. A frame that was not read says nothing.

use super::change_points::StretchCost;
use super::cutting::Timed;
use super::sketch::{NUMBERS, Sketch};

/// Sums over one body's frames up to each.
struct BodySums {
    /// Sum of the sketches before each of its frames, and of all.
    sums: Vec<Sketch>,
}

/// Costs of stretches of a show in order of time.
pub(super) struct PooledCost {
    bodies: Vec<BodySums>,
    /// Squared lengths of all sketches before each place.
    squares: Vec<f64>,
    /// For each body the number of its frames before each place.
    counts: Vec<Vec<u32>>,
}

impl PooledCost {
    /// `frames` in order of time; their bodies are below `bodies`.
    #[must_use]
    pub(super) fn new(frames: &[Timed], bodies: usize) -> Self {
        let mut sums: Vec<BodySums> = (0..bodies)
            .map(|_| BodySums {
                sums: vec![[0.0; NUMBERS]],
            })
            .collect();
        let mut squares = vec![0.0];
        let mut counts = vec![vec![0_u32]; bodies];
        for (place, frame) in frames.iter().enumerate() {
            let mut square = 0.0;
            if let Some(sketch) = frame.sketch {
                let own = &mut sums[frame.body];
                let mut sum = own.sums[own.sums.len() - 1];
                for (sum, value) in sum.iter_mut().zip(sketch) {
                    *sum += value;
                    square += value * value;
                }
                own.sums.push(sum);
            }
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
                let square: f64 = body.sums[last]
                    .iter()
                    .zip(&body.sums[first])
                    .map(|(last, first)| (last - first) * (last - first))
                    .sum();
                cost -= square / (last - first) as f64;
            }
        }
        cost
    }
}
