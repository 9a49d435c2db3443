//! What is said of the reference.

use super::CarryJob;
use crate::base::progress::StopWish;
use crate::base::units::Chromaticity;
use crate::colour::temperature::ohno;
use crate::crew::Workforce;
use crate::crew::task::{Answer, Marking, Task};
use crate::light::reading::Reference;
use crate::look::describe::white_in_words;
use crate::look::file::Look;
use crate::look::solve::correction;
use crate::show::metering::ask_one;
use crate::show::outcome::Watcher;
use crate::show::solving::SolvedShow;
use std::path::Path;

/// File name of the small picture, in the folder of the pictures, that shows which neutral patches were found.
const MARKED_NAME: &str = "neutral-patches-found.jpg";

/// Says how the look came about.
pub(super) fn tell_solved(solved: &SolvedShow, watcher: &dyn Watcher) {
    let Some(remembered) = &solved.look.reference else {
        return;
    };
    let name = &remembered.frame;
    if let Some(proposal) = &solved.proposal {
        watcher.say(&format!(
            "no reference was named: {name} is taken ({proposal}); name another with --reference"
        ));
        if !proposal.is_credible() {
            watcher.say(
                "warning: no frame shows a key that can be believed; name a frame with --reference, and something grey in it \
                 with --neutral",
            );
        }
    }
    for reason in &solved.reasons {
        watcher.say(&format!("reference {name}: {reason}"));
    }
    if let Some(white) = solved.look.white {
        watcher.say(&format!(
            "reference {name}: the white is {}",
            white_in_words(Some(white))
        ));
        if let Some(remark) = implausible(white) {
            watcher.say(&format!("warning: {remark}"));
        }
    }
}

/// Says which neutral patches were found where nobody pointed at any, and has them marked in a small picture.
pub(super) fn tell_found(
    job: &CarryJob,
    folder: &Path,
    look: &Look,
    reference: &Reference,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    watcher: &dyn Watcher,
) {
    let (Some(choice), Some(named)) = (&reference.choice, &job.asked.reference) else {
        return;
    };
    let name = named.frame.file_name().unwrap_or_default();
    let name = name.to_string_lossy();
    if let Some(doubt) = &choice.doubt {
        watcher.say(&format!("warning: {doubt}"));
    }
    for left in &choice.left_out {
        let patch = left.candidate.patch;
        watcher.say(&format!(
            "reference {name}: left out {:.3},{:.3}: {}",
            patch.x, patch.y, left.why
        ));
    }
    let Some(correction) = correction(look).filter(|_| !choice.used.is_empty()) else {
        return;
    };
    let output = folder.join(MARKED_NAME);
    let task = Task::Mark(Box::new(Marking {
        frame: named.frame.clone(),
        correction,
        patches: choice.used.iter().map(|used| used.patch).collect(),
        output: output.clone(),
    }));
    match ask_one(task, "marking the patches", workforce, stop, watcher) {
        Some(Ok(Answer::Marked)) => watcher.say(&format!(
            "reference {name}: the neutral patches that were found are marked in {}",
            output.display()
        )),
        // The pictures do not depend on it.
        Some(Err(error)) => watcher.say(&format!(
            "warning: the neutral patches could not be marked: {error}"
        )),
        _ => {}
    }
}

/// Distance from the black body, in CIE 1960 uv, beyond which a white is hardly a key's: discharge lamps and LEDs lie within
/// 0.006, and a body's matrices may add 0.013 (measured on simulated bodies, no source).
const FAR_FROM_WHITE: f64 = 0.02;

/// Temperatures of keys in kelvin: tungsten dimmed to a glow, and the bluest discharge lamp (common practice, no source).
const KEY_TEMPERATURES: std::ops::RangeInclusive<f64> = 1800.0..=20_000.0;

/// What to say of a white that no key has; `None` when it may be one.
fn implausible(white: Chromaticity) -> Option<String> {
    let is_far = ohno(white).is_none_or(|found| {
        found.duv.abs() > FAR_FROM_WHITE || !KEY_TEMPERATURES.contains(&found.kelvin.0)
    });
    is_far.then(|| {
        "this white is far from any white light: what was pointed at has a colour of its own or stands in a wash; \
         point at something grey that the key lights"
            .to_owned()
    })
}
