//! What a person should know of a solved show, and can do about it.

use super::clocks::in_words;
use super::proposal::{Proposal, propose};
use super::{KnownFrame, SolveWish};
use crate::light::cues::GivenClock;
use crate::light::reading::{FrameLight, Reading, TRUSTED_CONFIDENCE, WhiteSource};
use crate::light::sheet::{RunKind, ShowLight};
use crate::look::overrule::Overruling;
use std::path::PathBuf;

/// A lit region of which more than this share is a wash's shows no key. Chosen by measurement on simulated stage frames: no
/// source.
const MOST_WASHED: f64 = 0.8;

/// All remarks on what a person gave: clocks, reference, pins. `is_guessed` says that the reference's white is a guess.
pub(super) fn remarks(
    frames: &[FrameLight],
    paths: &[PathBuf],
    wish: &SolveWish,
    clocks: &[GivenClock],
    light: &ShowLight,
    is_guessed: bool,
) -> Vec<String> {
    let mut remarks: Vec<String> = without_effect(clocks, light).into_iter().collect();
    if let Some(known) = &wish.reference {
        if shows_no_key(known, light) {
            remarks.push(format!(
                "the reference {} is lit by a wash only, or not at all: it shows no key whose white could be carried; {}",
                known.name,
                next_best(frames, paths, known)
            ));
        } else if is_guessed {
            remarks.push(format!(
                "the reference {} does not show its white; {}",
                known.name,
                next_best(frames, paths, known)
            ));
        }
    }
    remarks.extend(
        (wish.pins.iter().enumerate())
            .filter_map(|(at, pin)| unsure_pin(pin, confidence_of(light, at + 1), light)),
    );
    remarks
}

/// What to say of a reference whose white was read from its picture with little confidence.
pub(super) fn unsure_white(confidence: f64) -> String {
    format!(
        "the white was read from the picture with little confidence ({confidence:.2}, needed {TRUSTED_CONFIDENCE:.2}); point at \
         something grey in the reference frame with --neutral X,Y"
    )
}

/// What to say of cues that an overrule file speaks of twice.
pub(super) fn spoken_of_twice(overruling: &Overruling) -> Option<String> {
    let cues: Vec<String> = (overruling.contested.iter())
        .map(|cue| (cue + 1).to_string())
        .collect();
    (!cues.is_empty()).then(|| {
        format!(
            "the overrule file speaks more than once about the same of cue {}: what stands last in it holds",
            cues.join(", ")
        )
    })
}

/// A clock that was given for the body by whose clock all others are told.
fn without_effect(clocks: &[GivenClock], light: &ShowLight) -> Option<String> {
    let first = &light.sheet.clocks.first()?.body;
    let given = clocks.iter().find(|clock| clock.body == *first)?;
    Some(format!(
        "--clock for {} has no effect: times are those of its clock; say how far the others are ahead of it (here {} seconds \
         less)",
        in_words(first),
        given.ahead_seconds
    ))
}

/// How sure the white of an anchor is; 0 where none could be read.
fn confidence_of(light: &ShowLight, anchor: usize) -> f64 {
    let anchor = light.keys.anchors.get(anchor);
    anchor.map_or(0.0, |anchor| anchor.confidence)
}

fn unsure_pin(pin: &KnownFrame, confidence: f64, light: &ShowLight) -> Option<String> {
    let is_given = matches!(pin.reference.white.source, WhiteSource::Patches { .. });
    let is_sure = confidence >= TRUSTED_CONFIDENCE && !shows_no_key(pin, light);
    (!is_given && !is_sure).then(|| {
        format!(
            "the white of the pinned frame {} could not be read (confidence {confidence:.2}, needed {TRUSTED_CONFIDENCE:.2}): \
             point at something grey in it, --pin FRAME@X,Y",
            pin.name
        )
    })
}

/// Whether a frame that a person names is lit by a wash only, or not at all.
fn shows_no_key(known: &KnownFrame, light: &ShowLight) -> bool {
    let washed = |reading: &Reading| {
        reading
            .lit
            .is_some_and(|lit| lit.washed_share > MOST_WASHED)
    };
    let kind = known
        .place
        .and_then(|at| light.sheet.runs.get(light.sheet.places.get(at)?.run))
        .map(|run| run.kind);
    washed(&known.reference.reading) || matches!(kind, Some(RunKind::Wash | RunKind::Dark))
}

/// What to name in a reference's place.
fn next_best(frames: &[FrameLight], paths: &[PathBuf], known: &KnownFrame) -> String {
    let next_best = propose(frames).filter(|next| Some(next.light) != known.place);
    match next_best.filter(Proposal::is_credible) {
        Some(next) => format!(
            "the next best is {}: {next}; name it with --reference",
            paths
                .get(next.light)
                .map_or_else(String::new, |path| path.display().to_string())
        ),
        None => "no other frame shows a key that can be believed either".to_owned(),
    }
}
