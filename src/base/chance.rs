//! Chance that is the same on every machine: for noise that is sent through a stage to see what comes out.

/// A fixed pseudo-random sequence (the 64-bit linear congruential generator of Knuth's MMIX), near normal with mean 0 and
/// variance 1 by adding twelve uniform numbers. The same seed gives the same numbers on every machine.
#[derive(Clone, Debug)]
pub struct Normal(u64);

/// Uniform numbers in a sum; each has a variance of one twelfth.
const UNIFORM: usize = 12;

impl Normal {
    /// The sequence of a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next number.
    pub fn draw(&mut self) -> f64 {
        (0..UNIFORM)
            .map(|_| {
                self.0 = self
                    .0
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                (self.0 >> 40) as f64 / (1u64 << 24) as f64
            })
            .sum::<f64>()
            - UNIFORM as f64 / 2.0
    }
}
