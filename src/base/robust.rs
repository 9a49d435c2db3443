//! Robust statistics: weighted medians and percentiles, Huber's location, the median absolute deviation.

/// Standard deviations of a normal distribution in one median absolute deviation.
pub const MAD_OF_NORMAL: f64 = 0.674_489_750_196_082;

/// The value at which half of the weight lies below; between two values, the lower one. `None` when the weights sum to
/// nothing. Values that are not finite and weights that are not positive do not count.
#[must_use]
pub fn weighted_median(values: &[f64], weights: &[f64]) -> Option<f64> {
    let mut sorted: Vec<(f64, f64)> = values
        .iter()
        .copied()
        .zip(weights.iter().copied())
        .filter(|(value, weight)| value.is_finite() && *weight > 0.0)
        .collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = sorted.iter().map(|(_, weight)| weight).sum::<f64>() / 2.0;
    let mut below = 0.0;
    sorted
        .iter()
        .find(|(_, weight)| {
            below += weight;
            below >= half
        })
        .map(|(value, _)| *value)
}

/// The median; the mean of the middle two for an even number. `None` of nothing. The values may be reordered.
#[must_use]
pub fn median(values: &mut [f64]) -> Option<f64> {
    percentile(values, 50.0)
}

/// The percentile (0 to 100) with linear interpolation between ranks. `None` of nothing. The values may be reordered.
#[must_use]
pub fn percentile(values: &mut [f64], percent: f64) -> Option<f64> {
    let last = values.len().checked_sub(1)?;
    let rank = percent.clamp(0.0, 100.0) / 100.0 * last as f64;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a rank inside the slice"
    )]
    let below = (rank.floor() as usize).min(last);
    let (low, high) = bracketed(values, below).unwrap_or_else(|| select(values, below));
    let share = rank - below as f64;
    Some(if share > 0.0 {
        low + (high - low) * share
    } else {
        low
    })
}

/// The value of a rank and the next greater rank's; infinity beyond the last.
fn select(values: &mut [f64], rank: usize) -> (f64, f64) {
    let (_, &mut low, above) = values.select_nth_unstable_by(rank, f64::total_cmp);
    (low, above.iter().copied().fold(f64::INFINITY, f64::min))
}

/// The same among those few of many values that a sample says it must be (after Floyd and Rivest, "Expected time bounds for
/// selection", Communications of the ACM 18:165, 1975): all others are only counted. `None` where they are few, or the sample misled.
fn bracketed(values: &[f64], rank: usize) -> Option<(f64, f64)> {
    /// Values of the sample, and the least number that is worth one.
    const SAMPLE: usize = 1024;
    const MANY: usize = 8 * SAMPLE;
    /// Standard deviations of the rank in the sample that the bracket spans to each side, and ranks more for the ends.
    const SPAN: f64 = 4.0;
    const ENDS: f64 = 8.0;
    if values.len() < MANY {
        return None;
    }
    let mut sample: Vec<f64> = values
        .iter()
        .step_by(values.len().div_ceil(SAMPLE))
        .copied()
        .collect();
    sample.sort_unstable_by(f64::total_cmp);
    let (count, share) = (sample.len() as f64, rank as f64 / values.len() as f64);
    let margin = SPAN * (count * share * (1.0 - share)).sqrt() + ENDS;
    let end = |place: f64, beyond: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "not negative, and beyond the sample is none of it"
        )]
        let value = (place >= 0.0).then(|| sample.get(place as usize))?;
        Some(*value.unwrap_or(&beyond))
    };
    let low = end(count * share - margin, f64::INFINITY).unwrap_or(f64::NEG_INFINITY);
    let high = end(count * share + margin, f64::INFINITY)?;
    let below = values.iter().filter(|value| **value < low).count();
    let above = values.iter().filter(|value| **value > high).count();
    let mut among: Vec<f64> = values
        .iter()
        .copied()
        .filter(|value| *value >= low && *value <= high)
        .collect();
    // What is not a number is in none of the three.
    let is_whole = below + among.len() + above == values.len();
    let rank = rank.checked_sub(below).filter(|_| is_whole)?;
    (rank + 1 < among.len()).then(|| select(&mut among, rank))
}

/// Huber's location (Huber 1964): from the weighted median, `steps` re-weighted means in which a value farther than `k`
/// counts in proportion to `k / distance`.
#[must_use]
pub fn huber(values: &[f64], weights: &[f64], k: f64, steps: usize) -> Option<f64> {
    let mut location = weighted_median(values, weights)?;
    for _ in 0..steps {
        let (mut sum, mut total) = (0.0, 0.0);
        for (value, weight) in values.iter().zip(weights) {
            let distance = (value - location).abs();
            let weight = weight * if distance > k { k / distance } else { 1.0 };
            if weight > 0.0 && value.is_finite() {
                sum += weight * value;
                total += weight;
            }
        }
        location = sum / total;
    }
    Some(location)
}

/// A robust standard deviation: the weighted median absolute deviation from `centre`, scaled to that of a normal
/// distribution.
#[must_use]
pub fn spread(values: &[f64], weights: &[f64], centre: f64) -> Option<f64> {
    let distances: Vec<f64> = values.iter().map(|value| (value - centre).abs()).collect();
    Some(weighted_median(&distances, weights)? / MAD_OF_NORMAL)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_of_few_values() {
        assert_eq!(percentile(&mut [], 50.0), None);
        assert_eq!(percentile(&mut [3.0], 0.5), Some(3.0));
        assert_eq!(median(&mut [4.0, 1.0]), Some(2.5));
        assert_eq!(percentile(&mut [5.0, 1.0, 3.0], 100.0), Some(5.0));
        assert_eq!(percentile(&mut [5.0, 1.0, 3.0], 25.0), Some(2.0));
    }

    #[test]
    fn percentiles_of_many_values_are_those_of_all_in_order() {
        // Around the least number that a sample is taken of; piles of equal values; an order that the sample's steps follow.
        for count in [8191, 8192, 8193, 122_003] {
            let unordered = |at: usize| (at * 7919 % 1_000_003) as f64 / 1e5 - 2.0;
            let piles: fn(f64) -> f64 = |value| value.floor();
            let rows: fn(f64) -> f64 = |value| value;
            let mut plane: Vec<f64> = (0..count).map(|at| (at % 120) as f64).collect();
            plane[0] = f64::NEG_INFINITY;
            for values in [
                (0..count).map(|at| rows(unordered(at))).collect(),
                (0..count).map(|at| piles(unordered(at))).collect(),
                plane,
            ] {
                let mut sorted: Vec<f64> = values;
                let mut values = sorted.clone();
                sorted.sort_by(f64::total_cmp);
                for percent in [0.0, 0.5, 25.0, 50.0, 90.0, 99.0, 100.0] {
                    let rank = percent / 100.0 * (count - 1) as f64;
                    let (low, high) = (sorted[rank.floor() as usize], sorted[rank.ceil() as usize]);
                    let share = rank - rank.floor();
                    let expected = if share > 0.0 {
                        low + (high - low) * share
                    } else {
                        low
                    };
                    assert_eq!(
                        percentile(&mut values, percent),
                        Some(expected),
                        "{count} {percent}"
                    );
                }
            }
            let mut values: Vec<f64> = (0..count).map(unordered).collect();
            values[7] = f64::NAN;
            assert!(percentile(&mut values, 100.0).is_some_and(f64::is_nan));
        }
    }

    #[test]
    fn nothing_has_no_median() {
        assert_eq!(weighted_median(&[1.0, f64::NAN], &[0.0, 1.0]), None);
        assert_eq!(huber(&[], &[], 0.1, 5), None);
    }
}
