//! Histograms and the thresholds between their classes.

/// A histogram over the range of its values.
#[derive(Clone, Debug)]
pub struct Histogram {
    least: f64,
    width: f64,
    counts: Vec<f64>,
}

/// Bins that are compared for a threshold.
pub const BINS: usize = 256;

impl Histogram {
    /// Counts values into [`BINS`] bins between their least and greatest; `None` when there are none, or all are equal.
    #[must_use]
    pub fn of(values: &[f64]) -> Option<Self> {
        let least = values.iter().copied().fold(f64::INFINITY, f64::min);
        let greatest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let width = (greatest - least) / BINS as f64;
        if !(width > 0.0 && width.is_finite()) {
            return None;
        }
        let mut counts = vec![0.0; BINS];
        for value in values {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "clamped to the bins"
            )]
            let bin = (((value - least) / width).max(0.0) as usize).min(BINS - 1);
            counts[bin] += 1.0;
        }
        Some(Self {
            least,
            width,
            counts,
        })
    }

    /// The value in the middle of a bin.
    fn centre(&self, bin: usize) -> f64 {
        self.least + (bin as f64 + 0.5) * self.width
    }

    /// Sums of counts, and of counts times values, of the bins up to and including each.
    fn cumulated(&self) -> Vec<(f64, f64)> {
        let (mut weight, mut moment) = (0.0, 0.0);
        self.counts
            .iter()
            .enumerate()
            .map(|(bin, count)| {
                weight += count;
                moment += count * self.centre(bin);
                (weight, moment)
            })
            .collect()
    }

    /// The threshold that separates two classes best: the greatest variance between them (Otsu, "A threshold selection
    /// method from gray-level histograms", IEEE Trans. SMC 9:62, 1979). The centre of the last bin of the lower class.
    #[must_use]
    pub fn otsu(&self) -> f64 {
        let sums = self.cumulated();
        let (total, moment) = sums[BINS - 1];
        let (best, _) = greatest((0..BINS - 1).map(|bin| {
            let (weight, below) = sums[bin];
            let above = (moment - below) / (total - weight);
            weight * (total - weight) * (below / weight - above).powi(2)
        }));
        self.centre(best)
    }

    /// The two thresholds that separate three classes best (Liao, Chen and Chung, "A fast algorithm for multilevel
    /// thresholding", J. Inf. Sci. Eng. 17:713, 2001), lower one first.
    #[must_use]
    pub fn otsu_three(&self) -> (f64, f64) {
        let sums = self.cumulated();
        // The variance between classes is, up to a constant, the sum of moment² / weight over the classes.
        let part = |from: Option<usize>, to: usize| {
            let (weight, moment) = from.map_or((0.0, 0.0), |from| sums[from]);
            let (weight, moment) = (sums[to].0 - weight, sums[to].1 - moment);
            if weight > 0.0 {
                moment * moment / weight
            } else {
                0.0
            }
        };
        let pairs: Vec<(usize, usize)> = (0..BINS - 2)
            .flat_map(|low| (low + 1..BINS - 1).map(move |high| (low, high)))
            .collect();
        let (best, _) = greatest(pairs.iter().map(|&(low, high)| {
            part(None, low) + part(Some(low), high) + part(Some(high), BINS - 1)
        }));
        let (low, high) = pairs[best];
        (self.centre(low), self.centre(high))
    }
}

/// Index and value of the first greatest number; numbers that are not comparable are passed over.
fn greatest(values: impl Iterator<Item = f64>) -> (usize, f64) {
    values
        .enumerate()
        .fold((0, f64::NEG_INFINITY), |best, (at, value)| {
            if value > best.1 { (at, value) } else { best }
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_and_three_piles_are_parted_between_them() {
        let piles = |centres: &[f64]| -> Vec<f64> {
            centres
                .iter()
                .flat_map(|centre| (0..100).map(move |at| centre + f64::from(at) * 0.001))
                .collect()
        };
        let two = Histogram::of(&piles(&[-8.0, -2.0]))
            .expect("a range")
            .otsu();
        assert!((-7.95..-1.95).contains(&two), "{two}");
        let (low, high) = Histogram::of(&piles(&[-9.0, -5.0, -1.0]))
            .expect("a range")
            .otsu_three();
        assert!((-8.95..-4.95).contains(&low) && (-4.95..-0.95).contains(&high));
    }

    #[test]
    fn equal_values_have_no_threshold() {
        assert!(Histogram::of(&[]).is_none());
        assert!(Histogram::of(&[0.5; 9]).is_none());
        assert!(Histogram::of(&[0.5, f64::NAN, f64::INFINITY]).is_none());
    }
}
