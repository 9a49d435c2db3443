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

/// The median; the mean of the middle two for an even number. `None` of nothing. The values are reordered.
#[must_use]
pub fn median(values: &mut [f64]) -> Option<f64> {
    percentile(values, 50.0)
}

/// The percentile (0 to 100) with linear interpolation between ranks. `None` of nothing. The values are reordered.
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
    let (_, &mut low, above) = values.select_nth_unstable_by(below, f64::total_cmp);
    let high = above.iter().copied().fold(f64::INFINITY, f64::min);
    let share = rank - below as f64;
    Some(if share > 0.0 {
        low + (high - low) * share
    } else {
        low
    })
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
    fn nothing_has_no_median() {
        assert_eq!(weighted_median(&[1.0, f64::NAN], &[0.0, 1.0]), None);
        assert_eq!(huber(&[], &[], 0.1, 5), None);
    }
}
