//! How far something uncertain is followed.

/// At this confidence and below nothing is followed, at this and above all the way. Between them the share rises smoothly,
/// so that two cues with nearly the same evidence get nearly the same.
const NOTHING: f64 = 0.10;
const ALL: f64 = 0.40;

/// The share of the way, 0 to 1, that a confidence from 0 to 1 carries: Hermite's cubic, level at both ends.
pub(super) fn share(confidence: f64) -> f64 {
    let x = ((confidence - NOTHING) / (ALL - NOTHING)).max(0.0).min(1.0);
    x * x * (3.0 - 2.0 * x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_share_rises_without_a_step() {
        assert_eq!((share(0.0), share(1.0)), (0.0, 1.0));
        let steps: Vec<f64> = (0..=1000)
            .map(|step| share(f64::from(step) / 1000.0))
            .collect();
        assert!(steps.windows(2).all(|pair| pair[1] >= pair[0]));
        // The cubic's steepest slope is 1.5 over the width of the ramp.
        let steepest = 1.5 / (ALL - NOTHING) / 1000.0;
        assert!(
            steps
                .windows(2)
                .all(|pair| pair[1] - pair[0] <= steepest + 1e-12)
        );
        assert_eq!(share(f64::NAN), 0.0);
    }
}
