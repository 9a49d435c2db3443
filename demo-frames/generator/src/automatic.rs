//! The body's automatic white balance: what it takes for neutral, and how it jitters.
//!
//! Bodies look at the whole frame and at what lights are plausible, so a wash pulls them, half-way. Here the taken
//! neutral is, in logarithms, a mix of the true key, of the frame's mean colour and of daylight, with a jitter from
//! frame to frame (common practice, no source; the shares are invented).

use crate::chance::Chance;

/// Shares of the mean colour and of daylight; the key has the rest.
const SHARE_OF_MEAN: f64 = 0.22;
const SHARE_OF_DAYLIGHT: f64 = 0.15;
/// Deviation of the jitter in natural logarithms of red and blue.
const JITTER: f64 = 0.03;
/// How far the mean colour may pull, natural logarithm.
const LONGEST_PULL: f64 = 0.7;

/// The neutral taken, green 1. `key` is the true neutral of the key when there is one.
pub(crate) fn neutral(
    exposed: &[[f64; 3]],
    key: Option<[f64; 3]>,
    daylight: [f64; 3],
    chance: &mut Chance,
) -> [f64; 3] {
    // A small floor keeps a black frame at daylight.
    let mut mean = daylight.map(|value| value * 2e-3);
    let mut count = 1.0;
    for pixel in exposed
        .iter()
        .filter(|pixel| pixel.iter().all(|&value| value < 1.0))
    {
        for (sum, value) in mean.iter_mut().zip(pixel) {
            *sum += value;
        }
        count += 1.0;
    }
    let mean = mean.map(|value| value / count);
    let log = |rgb: [f64; 3]| [libm::log(rgb[0] / rgb[1]), libm::log(rgb[2] / rgb[1])];
    let (daylight, mean) = (log(daylight), log(mean));
    let key = key.map_or(daylight, log);
    let taken = [0, 1].map(|k| {
        let pull = (mean[k] - key[k]).clamp(-LONGEST_PULL, LONGEST_PULL);
        key[k]
            + SHARE_OF_MEAN * pull
            + SHARE_OF_DAYLIGHT * (daylight[k] - key[k])
            + JITTER * chance.normal()
    });
    [libm::exp(taken[0]), 1.0, libm::exp(taken[1])]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_black_frame_without_key_is_taken_for_daylight_give_or_take() {
        let daylight = [0.5, 1.0, 0.7];
        let found = neutral(&[[0.0; 3]; 10], None, daylight, &mut Chance::new(1, 1));
        for (found, expected) in found.into_iter().zip(daylight) {
            // Four deviations of the jitter.
            assert!((found / expected - 1.0).abs() < 4.0 * JITTER);
        }
    }
}
