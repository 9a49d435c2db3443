//! Chance from seeds: PCG (O'Neill 2014, "PCG: A family of simple fast space-efficient statistically good algorithms
//! for random number generation"), and a lattice noise for textures.

use rand_pcg::Pcg32;
use rand_pcg::rand_core::Rng;

/// A stream of random numbers; equal seeds and streams give equal numbers on every machine.
#[derive(Clone, Debug)]
pub(crate) struct Chance {
    source: Pcg32,
    spare_normal: Option<f64>,
}

/// Mean above which a Poisson count is drawn as a rounded normal: its skewness is then below 1/6.
const NORMAL_FROM_MEAN: f64 = 40.0;

impl Chance {
    /// The stream of this number in the world of this seed.
    pub(crate) fn new(seed: u64, stream: u64) -> Self {
        Self {
            source: Pcg32::new(seed, stream),
            spare_normal: None,
        }
    }

    /// Uniform in 0 to 1, never 1.
    pub(crate) fn share(&mut self) -> f64 {
        f64::from(self.source.next_u32()) / 4_294_967_296.0
    }

    /// Uniform between two numbers.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// One of `count` (at least 1), evenly.
    pub(crate) fn one_of(&mut self, count: usize) -> usize {
        ((self.share() * count as f64) as usize).min(count.saturating_sub(1))
    }

    /// Normal with mean 0 and deviation 1 (Box and Muller 1958).
    pub(crate) fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare_normal.take() {
            return spare;
        }
        let radius = (-2.0 * libm::log(1.0 - self.share())).sqrt();
        let (sine, cosine) = libm::sincos(std::f64::consts::TAU * self.share());
        self.spare_normal = Some(radius * sine);
        radius * cosine
    }

    /// A Poisson count of this mean (Knuth 1969 for small means).
    pub(crate) fn poisson(&mut self, mean: f64) -> f64 {
        if mean <= 0.0 {
            return 0.0;
        }
        if mean >= NORMAL_FROM_MEAN {
            return (mean + mean.sqrt() * self.normal()).round().max(0.0);
        }
        let limit = libm::exp(-mean);
        let mut product = self.share();
        let mut count = 0.0;
        while product > limit {
            product *= self.share();
            count += 1.0;
        }
        count
    }
}

/// A hash of a lattice point to 0..1 (integer finaliser of MurmurHash3, public domain).
fn lattice(x: i64, y: i64, z: i64, seed: u32) -> f64 {
    let mut h = (x as u32)
        .wrapping_mul(0x9E37_79B1)
        .wrapping_add((y as u32).wrapping_mul(0x85EB_CA77))
        .wrapping_add((z as u32).wrapping_mul(0xC2B2_AE3D))
        .wrapping_add(seed.wrapping_mul(0x27D4_EB2F));
    h = (h ^ (h >> 16)).wrapping_mul(0x85EB_CA6B);
    h = (h ^ (h >> 13)).wrapping_mul(0xC2B2_AE35);
    f64::from((h ^ (h >> 16)) >> 8) / 16_777_216.0
}

/// Smooth noise in 0..1 whose features are about 1 wide: trilinear between lattice values, eased.
pub(crate) fn smooth_noise(x: f64, y: f64, z: f64, seed: u32) -> f64 {
    let (fx, fy, fz) = (x.floor(), y.floor(), z.floor());
    let ease = |t: f64| t * t * (3.0 - 2.0 * t);
    let (tx, ty, tz) = (ease(x - fx), ease(y - fy), ease(z - fz));
    let (ix, iy, iz) = (fx as i64, fy as i64, fz as i64);
    let along_x = |dy: i64, dz: i64| {
        let a = lattice(ix, iy + dy, iz + dz, seed);
        let b = lattice(ix + 1, iy + dy, iz + dz, seed);
        a + (b - a) * tx
    };
    let plane = |dz: i64| {
        let (a, b) = (along_x(0, dz), along_x(1, dz));
        a + (b - a) * ty
    };
    let (a, b) = (plane(0), plane(1));
    a + (b - a) * tz
}

/// Noise of several scales in 0..1: each octave twice as fine and half as strong.
pub(crate) fn rough_noise(x: f64, y: f64, z: f64, seed: u32, octaves: u32) -> f64 {
    let (mut sum, mut weight, mut scale, mut total) = (0.0, 1.0, 1.0, 0.0);
    for octave in 0..octaves {
        sum += weight
            * smooth_noise(
                x * scale,
                y * scale,
                z * scale,
                seed.wrapping_add(octave * 101),
            );
        total += weight;
        weight *= 0.5;
        scale *= 2.03;
    }
    sum / total
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_have_the_mean_and_variance_of_poisson() {
        for mean in [0.5, 8.0, 39.0, 41.0, 900.0] {
            let mut chance = Chance::new(7, 3);
            let counts: Vec<f64> = (0..40_000).map(|_| chance.poisson(mean)).collect();
            let found = counts.iter().sum::<f64>() / counts.len() as f64;
            let variance = counts
                .iter()
                .map(|c| (c - found) * (c - found))
                .sum::<f64>()
                / counts.len() as f64;
            // Four standard errors of 40,000 draws: 0.02 sqrt(mean) and 2.8 % of the variance, more for small means.
            assert!((found - mean).abs() < 0.02 * mean.sqrt(), "{mean}: {found}");
            assert!((variance / mean - 1.0).abs() < 0.04, "{mean}: {variance}");
        }
    }

    #[test]
    fn equal_seeds_give_equal_numbers_and_streams_differ() {
        let draw = |seed, stream| Chance::new(seed, stream).share();
        assert_eq!(draw(1, 2), draw(1, 2));
        assert_ne!(draw(1, 2), draw(1, 3));
        assert_ne!(draw(1, 2), draw(2, 2));
    }
}
