//! The weight that differences give to a white, counted for hundreds of whites: each number of a difference in a row of its own, so
//! that several are counted at once.

use crate::base::kernel::row_kernel;
use crate::base::logarithm::exp;
use crate::light::traces::Difference;

/// Width of a vote in log-chroma.
const WIDTH: f64 = 0.05;
/// Sums side by side: one for each place in the widest vectors, and the same on every machine, so that the order of the sum is.
const LANES: usize = 8;

/// Differences, ready to be counted.
#[derive(Clone, Debug, Default)]
pub(super) struct Ballots {
    /// (ln R/G), and (ln B/G).
    red: Vec<f64>,
    blue: Vec<f64>,
    /// What a square distance is multiplied with in the exponent.
    steepness: Vec<f64>,
    /// Weight of a difference that votes for just this white.
    weight: Vec<f64>,
}

impl Ballots {
    /// A difference votes for whites around it as a normal distribution, as wide as a vote and its own error are together.
    pub(super) fn of(differences: &[Difference]) -> Self {
        let all = |number: fn(&Difference) -> f64| -> Vec<f64> {
            // Whole vectors: what is added has no weight.
            let filled = differences.len().next_multiple_of(LANES) - differences.len();
            let filling = std::iter::repeat_n(0.0, filled);
            differences.iter().map(number).chain(filling).collect()
        };
        Self {
            red: all(|one| one.chroma[0]),
            blue: all(|one| one.chroma[1]),
            steepness: all(|one| -0.5 / (WIDTH * WIDTH + one.error.powi(2))),
            weight: all(|one| one.weight / (1.0 + one.error.powi(2) / (WIDTH * WIDTH))),
        }
    }

    /// The weight that they give to a white.
    pub(super) fn score(&self, chroma: [f64; 2]) -> f64 {
        let mut sums = [0.0; LANES];
        count(
            &self.red,
            &self.blue,
            &self.steepness,
            &self.weight,
            chroma,
            &mut sums,
        );
        sums.iter().sum()
    }
}

row_kernel! {
    /// Adds up what votes give to a white; rows of whole vectors.
    fn count(
        red: &[f64],
        blue: &[f64],
        steepness: &[f64],
        weight: &[f64],
        white: [f64; 2],
        sums: &mut [f64; LANES],
    ) {
        let chromas = red.as_chunks::<LANES>().0.iter().zip(blue.as_chunks::<LANES>().0);
        let votes = steepness.as_chunks::<LANES>().0.iter().zip(weight.as_chunks::<LANES>().0);
        for ((red, blue), (steepness, weight)) in chromas.zip(votes) {
            for at in 0..LANES {
                let (red, blue) = (red[at] - white[0], blue[at] - white[1]);
                sums[at] += weight[at] * exp((red * red + blue * blue) * steepness[at]);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_score_is_the_sum_over_all_votes_at_every_level() {
        // None, one, around one vector and several.
        for count in [0, 1, 7, 8, 9, 251] {
            let part = |at: usize, factor: usize| (at * factor % 1009) as f64 / 1009.0;
            let differences: Vec<Difference> = (0..count)
                .map(|at| Difference {
                    chroma: [part(at, 7919) - 0.5, part(at, 251) - 0.7],
                    error: 0.12 * part(at, 31),
                    weight: part(at, 613),
                })
                .collect();
            let ballots = Ballots::of(&differences);
            for white in [[0.0, 0.0], [-0.3, 0.2], [5.0, 5.0]] {
                let plain: f64 = differences
                    .iter()
                    .map(|one| {
                        let square =
                            (one.chroma[0] - white[0]).powi(2) + (one.chroma[1] - white[1]).powi(2);
                        let error = one.error.powi(2);
                        one.weight * (-square / (2.0 * (WIDTH * WIDTH + error))).exp()
                            / (1.0 + error / (WIDTH * WIDTH))
                    })
                    .sum();
                let found = ballots.score(white);
                // Another order of the sum, and e to a power by another series.
                assert!(
                    (found - plain).abs() <= 1e-12 * plain + 1e-290,
                    "{found} {plain}"
                );
                let of = |kernel: CountKernel| {
                    let mut sums = [0.0; LANES];
                    let Ballots {
                        red,
                        blue,
                        steepness,
                        weight,
                    } = &ballots;
                    kernel(red, blue, steepness, weight, white, &mut sums);
                    sums.map(f64::to_bits)
                };
                let levels = count::levels();
                for (name, kernel) in &levels {
                    assert_eq!(of(*kernel), of(levels[0].1), "{name}");
                }
            }
        }
    }

    type CountKernel = fn(&[f64], &[f64], &[f64], &[f64], [f64; 2], &mut [f64; LANES]);
}
