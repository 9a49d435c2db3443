//! Neutral patches that nobody pointed at: several candidates of a reference frame that agree when they are measured.
//!
//! Candidates are told from tiles, coarsely; here each is measured at full resolution as if a person had pointed at it, and what
//! disagrees with the others is left out: a cloth that is nearly grey, a card with a wash on its edge. The middle that they are
//! held against is their weighted median, so that one coloured thing among three cannot pull it.

use crate::base::robust;
use crate::colour::angle;
use crate::light::locus;
use crate::light::patch::{MeasuredPatch, PatchMeasure, measure_patches};
use crate::light::reading::{
    LeftOut, NeutralCandidate, NeutralChoice, NeutralDoubt, Reading, WhyLeftOut,
};
use crate::raw::frame::Frame;

/// A patch farther than this from the middle of all is left out, degrees (reproduction error): half of what
/// [`PatchMeasure::DISAGREEMENT_LIMIT`] warns of, since a person may know better and this does not.
const APART: f64 = PatchMeasure::DISAGREEMENT_LIMIT / 2.0;
/// A white farther than this from the estimate of the frame is doubtful, degrees (reproduction error).
const OFF_ESTIMATE: f64 = 2.0;

/// Chooses neutral patches from a frame's candidates and measures the white that they say. `None` for the measure when no candidate can
/// be believed: then the frame's estimate is as good as it gets.
#[must_use]
pub fn choose_patches(frame: &Frame, reading: &Reading) -> (Option<PatchMeasure>, NeutralChoice) {
    let mut left_out = Vec::new();
    let mut leave = |candidate: NeutralCandidate, why: WhyLeftOut| {
        left_out.push(LeftOut { candidate, why });
    };
    let mut measured: Vec<(NeutralCandidate, MeasuredPatch)> = Vec::new();
    for candidate in &reading.neutrals {
        if !candidate.is_credible() {
            leave(*candidate, WhyLeftOut::Doubtful);
            continue;
        }
        match measure_patches(frame, &[candidate.patch]) {
            Ok(mut measure) => {
                measured.extend(measure.patches.pop().map(|patch| (*candidate, patch)))
            }
            Err(error) => leave(*candidate, WhyLeftOut::Unmeasurable(error)),
        }
    }
    if let Some(middle) = middle(&measured) {
        measured.retain(|(candidate, patch)| {
            let degrees = angle::reproduction(patch.mean, middle);
            let agrees = degrees <= APART;
            if !agrees {
                leave(*candidate, WhyLeftOut::Disagrees { degrees });
            }
            agrees
        });
    }
    let patches: Vec<_> = measured
        .iter()
        .map(|(candidate, _)| candidate.patch)
        .collect();
    let measure = measure_patches(frame, &patches).ok();
    let used: Vec<NeutralCandidate> = measured
        .into_iter()
        .map(|(candidate, _)| candidate)
        .collect();
    let off_estimate = measure
        .as_ref()
        .zip(reading.estimate.as_ref())
        .map(|(measure, estimate)| angle::reproduction(measure.neutral, estimate.neutral));
    let doubt = match (used.len(), off_estimate) {
        (0, _) => Some(NeutralDoubt::NoneCredible),
        (_, Some(degrees)) if degrees > OFF_ESTIMATE => Some(NeutralDoubt::OffEstimate { degrees }),
        (1, _) => Some(NeutralDoubt::OnlyOne),
        _ => None,
    };
    let choice = NeutralChoice {
        used,
        left_out,
        off_estimate,
        doubt,
    };
    (measure, choice)
}

/// The neutral that the measured patches agree on: the median of each axis of log-chroma, weighted by confidence.
fn middle(measured: &[(NeutralCandidate, MeasuredPatch)]) -> Option<[f64; 3]> {
    let (mut chromas, mut weights) = (Vec::new(), Vec::new());
    for (candidate, patch) in measured {
        chromas.push(locus::log_chroma(patch.mean)?);
        weights.push(candidate.confidence);
    }
    let median = |axis: usize| {
        let values: Vec<f64> = chromas
            .iter()
            .map(|chroma: &[f64; 2]| chroma[axis])
            .collect();
        robust::weighted_median(&values, &weights)
    };
    Some(locus::neutral_of([median(0)?, median(1)?]))
}
