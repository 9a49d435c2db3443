//! The key of every cue: its white and its level, pooled over the cue's frames.

use crate::base::robust;
use crate::base::units::Chromaticity;
use crate::base::units::Stops;
use crate::light::reading::{FrameLight, TRUSTED_CONFIDENCE};
use crate::light::sheet::{
    Anchor, AnchorSource, BodyKey, CueSheet, KeyLevel, KeyMemory, KeySheet, KeySource, KeyWhite,
    SolvedAnchor,
};

/// Solves the key of every cue against the anchors; the first is the reference's.
#[must_use]
pub fn solve_keys(frames: &[FrameLight], sheet: &CueSheet, anchors: &[Anchor]) -> KeySheet {
    let solved = anchors
        .iter()
        .map(|anchor| SolvedAnchor {
            white: anchor.white.unwrap_or(Chromaticity::D65),
            confidence: 0.0,
            memory: match &anchor.source {
                AnchorSource::Memory(memory) => memory.clone(),
                AnchorSource::Frame(_) | AnchorSource::Outside(_) => KeyMemory::default(),
            },
        })
        .collect();
    let level = |frame: &FrameLight| {
        let lit = frame.reading.as_ref()?.lit?;
        Some((lit.key_level? / frame.facts.relative_exposure()?).log2())
    };
    let reference = anchors.first().and_then(|anchor| match &anchor.source {
        AnchorSource::Frame(at) => level(&frames[*at]),
        AnchorSource::Outside(light) => level(light),
        AnchorSource::Memory(_) => None,
    });
    let body_key = |cue: usize, body: usize| -> Option<BodyKey> {
        let members: Vec<&FrameLight> = sheet
            .places
            .iter()
            .enumerate()
            .filter(|(_, place)| sheet.runs[place.run].cue == cue && place.body == body)
            .map(|(at, _)| &frames[at])
            .collect();
        if members.is_empty() {
            return None;
        }
        let best = members
            .iter()
            .filter_map(|frame| frame.reading.as_ref()?.estimate.as_ref())
            .filter(|estimate| estimate.confidence >= TRUSTED_CONFIDENCE)
            .max_by(|a, b| a.confidence.total_cmp(&b.confidence));
        let mut levels: Vec<f64> = members.iter().filter_map(|frame| level(frame)).collect();
        Some(BodyKey {
            white: best.map(|estimate| KeyWhite {
                white: estimate.white,
                neutral: estimate.neutral,
                source: KeySource::Vote,
                confidence: estimate.confidence,
                voters: estimate.vote.map_or(0, |vote| vote.count as u32),
                anchor: 0,
            }),
            level: robust::median(&mut levels)
                .zip(reference)
                .map(|(level, reference)| KeyLevel {
                    stops: Stops(level - reference),
                    confidence: 0.5,
                }),
        })
    };
    KeySheet {
        anchors: solved,
        cues: (0..sheet.cues)
            .map(|cue| {
                (0..sheet.clocks.len())
                    .map(|body| body_key(cue, body))
                    .collect()
            })
            .collect(),
    }
}
