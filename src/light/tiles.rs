//! What is asked of every tile of a frame, worked out once: its noise, its logarithms, whether it is coloured.
//!
//! Each step of reading the light asks some of this, and most ask it of most tiles. Here all tiles are done at once, in vectors.

use crate::base::kernel::row_kernel;
use crate::base::logarithm::ln;
use crate::light::locus::{COLOURED, OnLocus};
use crate::light::mask;
use crate::light::reduce::Reduced;
use crate::light::white_map::WhiteMap;
use crate::raw::noise::NoiseModel;

/// Tiles with what is known of each.
#[derive(Clone, Debug)]
pub struct Tiles<'a> {
    /// The picture they make.
    pub reduced: &'a Reduced,
    /// Standard deviation of the noise of each one's mean, per channel.
    pub noise: Vec<[f64; 3]>,
    /// Whether there is no clipped photosite in it or beside it.
    pub unclipped: Vec<bool>,
    /// Natural logarithm of each channel; not a number where the channel is not positive.
    logarithms: Vec<[f64; 3]>,
    /// Natural logarithm of each channel, or of its noise where that is more; not a number where neither is positive.
    floored: Vec<[f64; 3]>,
    /// Whether no white makes grey or skin look like it, each channel being no less than its noise; so too without noise and light.
    coloured: Vec<bool>,
    /// What is coloured.
    whites: WhiteMap<'a>,
}

impl<'a> Tiles<'a> {
    /// What is known of the tiles of a picture under these plausible whites.
    #[must_use]
    pub fn of(reduced: &'a Reduced, whites: &'a OnLocus) -> Self {
        let colours = reduced.colour.values();
        let [mut noise, mut logarithms, mut floored] =
            [0; 3].map(|_| vec![[0.0; 3]; colours.len()]);
        work_out(
            colours.as_flattened(),
            &reduced.noise,
            &reduced.sites,
            noise.as_flattened_mut(),
            logarithms.as_flattened_mut(),
            floored.as_flattened_mut(),
        );
        let whites = WhiteMap::new(whites, COLOURED);
        let clean: Vec<bool> = reduced
            .clipped
            .values()
            .iter()
            .map(|share| *share <= 0.0)
            .collect();
        Self {
            reduced,
            noise,
            unclipped: mask::eroded(&clean, reduced.colour.width(), 1),
            logarithms,
            coloured: whites.are_coloured(&floored),
            floored,
            whites,
        }
    }

    /// Number of tiles.
    #[must_use]
    pub fn len(&self) -> usize {
        self.noise.len()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.noise.is_empty()
    }

    /// Camera RGB of a tile.
    #[must_use]
    pub fn colour(&self, at: usize) -> [f64; 3] {
        self.reduced.colour.values()[at]
    }

    /// (ln R/G, ln B/G) of a tile; `None` unless all its channels are positive.
    #[must_use]
    pub fn chroma(&self, at: usize) -> Option<[f64; 2]> {
        chroma_of(self.logarithms[at])
    }

    /// Whether no plausible white makes grey or skin look like a tile; `None` unless all its channels are positive.
    #[must_use]
    pub fn is_coloured(&self, at: usize) -> Option<bool> {
        if self.logarithms[at] == self.floored[at] {
            return Some(self.coloured[at]);
        }
        Some(self.whites.is_coloured(self.chroma(at)?))
    }

    /// The same of a tile whose channels count as no less than their noise: one that is nothing but noise beside a strong one is
    /// a colour too.
    #[must_use]
    pub fn is_coloured_above_noise(&self, at: usize) -> bool {
        self.coloured[at] && chroma_of(self.floored[at]).is_some()
    }

    /// ln of each channel of a tile, or of its noise where that is more; not a number where neither is positive.
    #[must_use]
    pub fn ln_above_noise(&self, at: usize) -> [f64; 3] {
        self.floored[at]
    }

    /// ln of a tile's green; not a number unless it is positive.
    #[must_use]
    pub fn ln_green(&self, at: usize) -> f64 {
        self.logarithms[at][1]
    }

    /// Whether each channel of a tile is so many standard deviations of its noise above black.
    #[must_use]
    pub fn is_above(&self, at: usize, deviations: [f64; 3]) -> bool {
        let (colour, noise) = (self.colour(at), self.noise[at]);
        (0..3).all(|channel| colour[channel] > deviations[channel] * noise[channel])
    }
}

/// (ln R/G, ln B/G) of logarithms; `None` unless all of them are numbers.
fn chroma_of([red, green, blue]: [f64; 3]) -> Option<[f64; 2]> {
    let chroma = [red - green, blue - green];
    (chroma[0] + chroma[1]).is_finite().then_some(chroma)
}

/// Values whose divisors are laid out side by side: whole colours, and whole vectors.
const DIVISORS: usize = 24;

row_kernel! {
    /// The standard deviation of each channel of the mean of `sites` photosites; its logarithm; and that of the greater of both.
    fn work_out(
        values: &[f64],
        noise: &NoiseModel,
        sites: &[f64; 3],
        deviations: &mut [f64],
        logarithms: &mut [f64],
        floored: &mut [f64],
    ) {
        let mut divisors = [0.0; DIVISORS];
        for (at, divisor) in divisors.iter_mut().enumerate() {
            *divisor = sites[at % 3];
        }
        let found = deviations.chunks_mut(DIVISORS).zip(logarithms.chunks_mut(DIVISORS));
        let found = found.zip(floored.chunks_mut(DIVISORS));
        for (((deviations, logarithms), floored), values) in found.zip(values.chunks(DIVISORS)) {
            let known = values.iter().zip(&divisors);
            let found = deviations.iter_mut().zip(logarithms).zip(floored);
            for (((deviation, logarithm), floored), (value, divisor)) in found.zip(known) {
                *deviation = (noise.variance(*value) / divisor).sqrt();
                *logarithm = ln(*value);
                *floored = ln(value.max(*deviation));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::Plane;
    use crate::light::locus::{is_coloured, log_chroma, on_locus};

    #[test]
    fn what_is_known_of_tiles_is_what_is_asked_of_each() {
        let noise = NoiseModel {
            slope: 1e-3,
            floor: 1e-5,
        };
        // A width that is no whole vector; values around black and up to full.
        let (width, height) = (37, 9);
        let part = |at: usize, factor: usize| ((at * factor) % 1009) as f64 / 1009.0;
        let colours = (0..width * height)
            .map(|at| [7919, 251, 31].map(|factor| part(at, factor).powi(3) - 0.002))
            .collect();
        let reduced = Reduced {
            colour: Plane::from_values(width, height, colours).expect("sizes fit"),
            clipped: Plane::filled(width, height, 0.0),
            noise,
            sites: [28.0, 56.0, 20.0],
        };
        let nothing = on_locus(&[]);
        let tiles = Tiles::of(&reduced, &nothing);
        assert_eq!((tiles.len(), tiles.is_empty()), (width * height, false));
        let mut dark = 0;
        for at in 0..tiles.len() {
            let colour = tiles.colour(at);
            let noise = reduced.noise_variance(colour).map(f64::sqrt);
            assert_eq!(tiles.noise[at], noise);
            match (tiles.chroma(at), log_chroma(colour)) {
                (Some(found), Some(expected)) => {
                    // Differences of logarithms against logarithms of quotients.
                    assert!((0..2).all(|axis| (found[axis] - expected[axis]).abs() < 1e-13));
                    assert!((tiles.ln_green(at) - colour[1].ln()).abs() < 1e-14);
                    assert_eq!(
                        tiles.is_coloured(at),
                        Some(is_coloured(found, &nothing, COLOURED))
                    );
                }
                (found, expected) => {
                    dark += 1;
                    assert_eq!(found, expected);
                    assert_eq!(tiles.is_coloured(at), None);
                }
            }
            for channel in 0..3 {
                let floored = colour[channel].max(noise[channel]).ln();
                assert!((tiles.ln_above_noise(at)[channel] - floored).abs() < 1e-14);
            }
            assert!(tiles.is_coloured_above_noise(at), "no white makes it grey");
            let above = (0..3).all(|channel| colour[channel] > 2.0 * noise[channel]);
            assert_eq!(tiles.is_above(at, [2.0; 3]), above);
        }
        assert!(dark > 5 && dark < tiles.len() / 2);
    }

    #[test]
    fn all_copies_of_the_kernel_are_one() {
        let noise = NoiseModel {
            slope: 1e-3,
            floor: 1e-5,
        };
        for length in [0, 3, 21, 24, 27, 252] {
            let values: Vec<f64> = (0..length)
                .map(|at| ((at * 7919) % 1009) as f64 / 800.0 - 0.05)
                .collect();
            type WorkOut = fn(&[f64], &NoiseModel, &[f64; 3], &mut [f64], &mut [f64], &mut [f64]);
            let of = |kernel: WorkOut| {
                let mut found = [0; 3].map(|_| vec![0.0; length]);
                let [deviations, logarithms, floored] = &mut found;
                kernel(
                    &values,
                    &noise,
                    &[28.0, 56.0, 20.0],
                    deviations,
                    logarithms,
                    floored,
                );
                found.map(|row| row.into_iter().map(f64::to_bits).collect::<Vec<u64>>())
            };
            let levels = work_out::levels();
            for (name, kernel) in &levels {
                assert_eq!(of(*kernel), of(levels[0].1), "{name} at {length}");
            }
        }
    }
}
