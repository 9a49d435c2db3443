//! Proposing a reference frame where nobody named one.

use crate::base::robust;
use crate::light::reading::{FrameLight, Reading, TRUSTED_CONFIDENCE};
use std::fmt;

/// A proposed reference frame, and what speaks for it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Proposal {
    /// The frame: index among the lights.
    pub light: usize,
    /// How sure the estimate of its white is, 0 to 1; `None` when nothing in it shows a white.
    pub confidence: Option<f64>,
    /// Credible candidates for neutral patches in it.
    pub neutrals: usize,
    /// How many stops its lit region lies above the median of the show's, as exposed; `None` when nothing is lit.
    pub above_median: Option<f64>,
    /// How sharp it is: see [`Reading::sharpness`].
    pub sharpness: Option<f64>,
}

impl Proposal {
    /// Whether its key can be believed without a person's patch.
    #[must_use]
    pub fn is_credible(&self) -> bool {
        self.confidence
            .is_some_and(|confidence| confidence >= TRUSTED_CONFIDENCE)
    }
}

impl fmt::Display for Proposal {
    /// What speaks for it.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.confidence {
            Some(confidence) => {
                write!(
                    formatter,
                    "its white is read with confidence {confidence:.2}"
                )?;
            }
            None => formatter.write_str("its white cannot be read")?,
        }
        match self.neutrals {
            0 => {}
            1 => formatter.write_str("; 1 thing in it is probably grey by itself")?,
            count => write!(
                formatter,
                "; {count} things in it are probably grey by themselves"
            )?,
        }
        match self.above_median {
            Some(stops) => write!(
                formatter,
                "; its lit region lies {stops:+.1} stops from the show's median"
            ),
            None => Ok(()),
        }
    }
}

/// What a stop away from the median level costs, in confidence (a choice of ours: no source).
const COST_OF_A_STOP: f64 = 0.1;
/// What the best neutral candidate and the greatest sharpness of the show are worth, in confidence (likewise).
const WORTH_OF_NEUTRAL: f64 = 0.25;
const WORTH_OF_SHARPNESS: f64 = 0.1;

/// Proposes one of the frames, `None` of none: a credible key first, then good neutral patches, a level near the show's median, and
/// sharpness.
pub(super) fn propose(lights: &[FrameLight]) -> Option<Proposal> {
    let level = |reading: &Reading| {
        reading
            .lit
            .map(|lit| lit.median.max(f64::MIN_POSITIVE).log2())
    };
    let readings = || lights.iter().map(|light| light.reading.as_ref());
    let median = robust::median(&mut readings().flatten().filter_map(level).collect::<Vec<_>>());
    let sharpest = readings()
        .flatten()
        .filter_map(|reading| reading.sharpness)
        .fold(0.0, f64::max);
    let about = |(light, reading): (usize, Option<&Reading>)| {
        let confidence = reading.and_then(|reading| Some(reading.estimate.as_ref()?.confidence));
        let above_median = reading
            .and_then(level)
            .zip(median)
            .map(|(own, all)| own - all);
        let neutral = reading.and_then(|reading| reading.neutrals.first());
        let sharpness = reading.and_then(|reading| reading.sharpness);
        let score = confidence.unwrap_or(0.0)
            + WORTH_OF_NEUTRAL * neutral.map_or(0.0, |neutral| neutral.confidence)
            + WORTH_OF_SHARPNESS * sharpness.filter(|_| sharpest > 0.0).unwrap_or(0.0)
                / sharpest.max(f64::MIN_POSITIVE)
            - COST_OF_A_STOP * above_median.map_or(3.0, f64::abs);
        let proposal = Proposal {
            light,
            confidence,
            neutrals: reading.map_or(0, |reading| {
                let candidates = reading.neutrals.iter();
                candidates
                    .filter(|candidate| candidate.is_credible())
                    .count()
            }),
            above_median,
            sharpness,
        };
        (score, proposal)
    };
    readings()
        .enumerate()
        .map(about)
        .reduce(|best, next| if next.0 > best.0 { next } else { best })
        .map(|(_, proposal)| proposal)
}
