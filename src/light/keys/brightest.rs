//! The brightest plain things of a cue: white clothes, drum heads, paper, foreheads that face the key.
//!
//! Every stage has some, and whoever points a camera at it has them in most pictures, so their level follows the key better
//! than what all surfaces show. A wash makes one or two channels of them brighter and hardly ever all three; so the middle
//! one under the key's white is looked at, and of the pictures of a cue one of the brighter, because not every picture shows a
//! white thing.

use crate::base::robust;
use crate::light::keys::pool::{Pool, SeenSurface};

/// Share of a picture's lit surfaces that is brighter than what counts as their bright end: sparkle, and a little of a wash's.
const BRIGHTER: f64 = 0.01;
/// A picture of which more of the lit region is blown shows no bright end.
const BLOWN: f64 = 0.02;
/// Percentile of the pictures' bright ends that stands for the cue.
const OF_PICTURES: f64 = 75.0;

/// ln of the level of the brightest plain things per relative exposure, under a white given as log-chroma.
pub(super) fn brightest(pool: &Pool, white: [f64; 2]) -> Option<f64> {
    let mut ends: Vec<f64> = pool
        .pictures()
        .filter(|(_, blown)| *blown < BLOWN)
        .filter_map(|(surfaces, _)| bright_end(surfaces, white))
        .collect();
    robust::percentile(&mut ends, OF_PICTURES)
}

fn bright_end(surfaces: &[SeenSurface], white: [f64; 2]) -> Option<f64> {
    let mut levels: Vec<(f64, f64)> = surfaces
        .iter()
        .map(|(chroma, green, share)| {
            let (red, blue) = (chroma[0] - white[0], chroma[1] - white[1]);
            // The middle one of red, green and blue; green is 0 here.
            let middle = red.max(blue).min(red.min(blue).max(0.0));
            (green + middle, *share)
        })
        .collect();
    levels.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut left = BRIGHTER * levels.iter().map(|(_, share)| share).sum::<f64>();
    levels
        .iter()
        .find(|(_, share)| {
            left -= share;
            left <= 0.0
        })
        .map(|(level, _)| *level)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wash_in_one_channel_leaves_the_bright_end_where_it_was() {
        let surfaces = |red: f64| {
            [
                ([0.2 + red, -0.3], -1.0, 0.02),
                ([0.6 + red, -0.6], -1.5, 0.5),
                ([0.2, -0.3], -3.0, 0.48),
            ]
        };
        let white = [0.2, -0.3];
        assert_eq!(bright_end(&surfaces(0.0), white), Some(-1.0));
        assert_eq!(bright_end(&surfaces(0.7), white), Some(-1.0));
        assert_eq!(bright_end(&[], white), None);
    }

    #[test]
    fn it_follows_the_light() {
        let lit = |level: f64| [([0.0, 0.1], level, 0.5), ([0.4, -0.2], level - 0.7, 0.5)];
        let end = |level: f64| bright_end(&lit(level), [0.0, 0.0]).expect("surfaces");
        assert!((end(-0.5) - end(-1.2) - 0.7).abs() < 1e-12);
    }
}
