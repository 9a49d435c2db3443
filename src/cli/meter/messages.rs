//! All wording of `meter` but the page's.

use super::super::frames::counted;
use crate::colour::temperature::ohno;
use crate::light::reading::TRUSTED_CONFIDENCE;
use crate::show::meter::{EyeReason, MeteredShow, Proposal, ReferenceChoice};
use crate::show::outcome::Tally;
use std::path::Path;

pub(super) const EXAMPLES: &str = "\
Examples:
  houselights meter night-one/
  houselights meter night-one/ --reference night-one/DSC_0815.NEF --report night-one.html
  houselights meter night-one/ --overrule-template cues.toml
  houselights meter --frames night-one/
  houselights meter --json night-one/ > light.jsonl

Above the cue sheet stand the bodies: their letters, frames, and how far their clocks are apart.

Columns of the cue sheet, a line for each run of frames under one lighting state:
  cue         its number; a lighting state that comes back has its number again
  from, to    the first body's clock
  frames      how many each body took
  white x, y  chromaticity of the key (in brackets: a confidence below 0.50)
  CCT, Duv    its correlated colour temperature and distance from the black body (above: greenish)
  conf        confidence of that white, 0 to 1
  level       the key's level in stops against the reference's, exposure settings evened out
  light       steady, no key to be seen, cross-fade, dark, wash only, strobe
  washes      colours of the washes, most of the picture first, with their hue (0 red, 120 green, 240 blue)
  overruled   what --overrule says of the cue or of some of its frames, instead of what was found; only where it says anything

Under it stand the largest groups of frames that need a person's eye, and why.

Columns of the table of frames (--frames):
  time        the body's clock
  settings    exposure time, f-number, ISO
  cue         the cue that the frame stands in
  EV          exposure value of time and f-number (ISO not counted)
  white x, y  chromaticity of the light, estimated from this picture alone (in brackets: a guess with a confidence below
              0.50, or, without one, what the body's automatic took)
  CCT, Duv    correlated colour temperature and distance from the black body (above: greenish)
  conf        confidence of the estimate, 0 to 1
  lit         level of the lit region in stops below the sensor's end
  lit %       share of the picture that is lit
  clip %      share of the picture in which a channel is at its end";

pub(super) const JSON_HELP: &str = "\
Lines of JSON on standard output: one a frame, in order of paths, then one for the show.

A frame's line has: frame (frame_bytes in hexadecimal where the path is no text), and either input (bytes, modified, \
hash), facts, reading (all levels are fractions of the sensor's range), notes, cue, run, seconds (since the show's first \
frame, on the first body's clock), fade (from, to, arrived), overruled (by a word about its time) and for_a_persons_eye \
(reasons in words), or error (cause, reason, next_step).

The last line has show: reference (frame, and whether it was named, remembered by the look or proposed), clocks (body, \
frames, ahead_seconds, source, jumps), runs (cue, kind, from, to, frames, by_body, washes), and cues, each with its keys \
by body (white with xy, neutral, source, confidence; level in stops against the reference's) and what was overruled \
(white, stops, as_shot), and warnings. Cues and bodies count from 0 here.";

/// A folder that could not be searched.
pub(super) fn unreadable(folder: &Path, reason: &str) -> String {
    format!(
        "{}: cannot be searched ({reason}); check the drive and the permissions",
        folder.display()
    )
}

/// Named files that are no raws.
pub(super) fn passed_over(count: usize) -> String {
    format!(
        "{count} named {} without a raw file's name passed over",
        if count == 1 { "file" } else { "files" }
    )
}

/// What the show was held against, and why.
pub(super) fn reference(show: &MeteredShow) -> Option<String> {
    Some(match show.reference.as_ref()? {
        ReferenceChoice::Named(path) => format!("held against the reference {}", path.display()),
        ReferenceChoice::Remembered(name) => {
            format!("held against {name}, which the look remembers")
        }
        ReferenceChoice::Proposed(proposal) => {
            let name = show.path_of(proposal.light).display();
            if proposal.is_credible() {
                format!("proposed as reference: {name} ({})", why(proposal))
            } else {
                format!(
                    "no frame shows a key that can be believed; held against {name} ({}); name a better one with \
                     --reference, and something grey in it with --neutral",
                    why(proposal)
                )
            }
        }
    })
}

/// What speaks for a proposed frame.
pub(super) fn why(proposal: &Proposal) -> String {
    proposal.to_string()
}

/// A page that was written.
pub(super) fn report_written(path: &Path, bytes: usize) -> String {
    format!("report {} ({:.1} MB)", path.display(), bytes as f64 / 1e6)
}

/// A template of an overrule file that was written.
pub(super) fn template_written(path: &Path) -> String {
    format!(
        "{} lists the cues: change what you like, and give it with --overrule",
        path.display()
    )
}

/// Why a person should look at a frame.
pub(in crate::cli) fn eye_reason(reason: &EyeReason) -> String {
    match reason {
        EyeReason::Unreadable(error) => error.to_string(),
        EyeReason::NoKey => {
            "lit, but nothing tells by what white: the reference's white is kept".to_owned()
        }
        EyeReason::UnsureKey { confidence } => format!(
            "its cue's white is hardly known (confidence {confidence:.2}, {TRUSTED_CONFIDENCE:.2} is trusted)"
        ),
        EyeReason::OtherWhite { degrees } => {
            format!(
                "its own white is {degrees:.1} degrees from its cue's: perhaps another light for a moment"
            )
        }
        EyeReason::LevelLimited => "its level needs more than the look allows".to_owned(),
        EyeReason::Exposure => "its exposure settings are unknown or beyond belief".to_owned(),
        EyeReason::Blown { share } => {
            format!("{:.0} % of what the key lights is blown", 100.0 * share)
        }
        EyeReason::NoTime => "it has no time: its cue is a guess".to_owned(),
    }
}

/// A white's temperature in words; `no temperature` far from all lamps.
pub(in crate::cli) fn temperature(white: crate::base::units::Chromaticity) -> String {
    match ohno(white) {
        Some(found) => format!("{}, Duv {:+.4}", found.kelvin, found.duv),
        None => "no temperature".to_owned(),
    }
}

/// The end of a run in words.
pub(super) fn summary(
    tally: &Tally,
    show: &MeteredShow,
    for_the_eye: usize,
    seconds: f64,
) -> String {
    let mut text = format!(
        "{}: {} metered",
        counted(tally.frames()),
        tally.made + tally.already_made
    );
    if tally.already_made > 0 {
        text += &format!(" ({} of them by an earlier run)", tally.already_made);
    }
    if tally.failed > 0 {
        text += &format!(", {} failed", tally.failed);
    }
    if tally.not_reached > 0 {
        text += &format!(", {} not reached", tally.not_reached);
    }
    if let Some(solved) = &show.solved {
        let sheet = &solved.light.sheet;
        let plural =
            |count: usize, one: &str| format!("{count} {one}{}", if count == 1 { "" } else { "s" });
        text += &format!(
            "; {} in {}",
            plural(sheet.cues, "cue"),
            plural(sheet.runs.len(), "run")
        );
    }
    if for_the_eye > 0 {
        text += &format!("; {for_the_eye} for a person's eye (--report FILE shows them)");
    }
    format!("{text}; {seconds:.1} s")
}
