//! All wording of `carry`: help, lines of JSON, the summary.

use super::super::exit::Exit;
use super::super::frames::{ErrorLine, FramePath, counted};
use crate::crew::task::TaskError;
use crate::show::carry::{CarryJob, CarryReport, Found};
use crate::show::outcome::{Fate, FrameOutcome};
use serde::Serialize;
use std::fmt::{Display, Write};

pub(super) const EXAMPLES: &str = "\
Examples:
  A whole show in the look of one frame, with a grey road case 42 % from the left, 61 % from the top:
    houselights carry night-one/ --to pictures \\
        --reference night-one/DSC_0815.NEF --neutral 0.42,0.61

  The same, and keep the look for the next night:
    houselights carry night-one/ --to pictures \\
        --reference night-one/DSC_0815.NEF --neutral 0.42,0.61 --save-look arena.toml

  The next night in the same venue, for the web:
    houselights carry night-two/ --to web --look arena.toml --long 2048 --quality 85

  A venue with a follow spot and a front wash, kept by name, so that another night's cues are recognised:
    houselights carry night-one/ --to pictures \\
        --reference night-one/DSC_0815.NEF --neutral 0.42,0.61 \\
        --pin 'night-one/DSC_0931.NEF=front wash@0.55,0.7' --save-look arena.toml

  Another night, whose light is solved anew, with the taste of the look:
    houselights carry night-three/ --to pictures --look arena.toml \\
        --reference night-three/DSC_0044.NEF --neutral auto

  Single cues by your own word, and a second body whose clock is 3.5 seconds late:
    houselights carry night-one/ --to pictures --look arena.toml \\
        --overrule night-one.toml --clock 2077=-3.5

  A few frames for retouching elsewhere, in 16 bits and a wide space:
    houselights carry DSC_0815.NEF DSC_0931.NEF --to retouch --look arena.toml --as tiff --space rec2020

  For a laboratory that gave the profile of its paper:
    houselights carry selects/ --to prints --look arena.toml --profile lustre-paper.icc --intent perceptual

  Only even out the exposure settings, with the scene's colour as measured:
    houselights carry card-one card-two --to check --look faithful \\
        --reference card-one/0001.CR3 --follow exposure";

pub(super) const JSON_HELP: &str = "\
One line of JSON a frame on standard output, as soon as its outcome is known, and one for the whole at the end.

A frame's line has: frame, picture (paths; frame_bytes, picture_bytes in hexadecimal where a path is no text), outcome \
(made, already-made, failed, not-reached), bytes (of a picture made now), outside (share of the picture's pixels, 0 to 1, \
whose colours its space or profile does not have and that were brought in), error (cause, reason, next_step), notes (what \
was measured and applied). The last line has: summary (frames, made, already_made, failed, not_reached, \
unreadable_folders, cues, kept_white (frames with the reference's white because their own key could not be read), need_an_eye \
(frames that a person should look at), outside (mean over the pictures), seconds, exit_code).";

/// How many failures of one kind are listed one by one before the rest is counted.
const LISTED: usize = 200;

/// What is said when nothing is made at all.
pub(super) fn refused(error: &dyn Display) -> String {
    format!("houselights: {error}")
}

#[derive(Debug, Serialize)]
pub(super) struct FrameLine<'a> {
    #[serde(flatten)]
    frame: FramePath,
    picture: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    picture_bytes: Option<String>,
    outcome: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    bytes: Option<u64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    outside: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<ErrorLine>,
    notes: &'a [String],
}

/// A frame's line of JSON.
pub(super) fn frame_line(outcome: &FrameOutcome) -> FrameLine<'_> {
    let (word, bytes, error) = match &outcome.fate {
        Fate::Made { bytes } => ("made", Some(*bytes), None),
        Fate::AlreadyMade => ("already-made", None, None),
        Fate::Failed(error) => ("failed", None, Some(error)),
        Fate::NotReached(error) => ("not-reached", None, Some(error)),
    };
    let picture = FramePath::of(&outcome.picture);
    FrameLine {
        frame: FramePath::of(&outcome.frame),
        picture: picture.frame,
        picture_bytes: picture.frame_bytes,
        outcome: word,
        bytes,
        outside: outcome.outside,
        error: error.map(ErrorLine::of),
        notes: &outcome.notes,
    }
}

#[derive(Debug, Serialize)]
pub(super) struct SummaryLine {
    summary: Summary,
}

#[derive(Debug, Serialize)]
struct Summary {
    frames: usize,
    made: usize,
    already_made: usize,
    failed: usize,
    not_reached: usize,
    unreadable_folders: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    cues: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    kept_white: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    need_an_eye: Option<usize>,
    #[serde(skip_serializing_if = "Option::is_none")]
    outside: Option<f64>,
    seconds: f64,
    exit_code: u8,
}

/// The last line of JSON.
pub(super) fn summary_line(report: &CarryReport, seconds: f64, exit: Exit) -> SummaryLine {
    let tally = report.tally;
    let found = report.found.as_ref();
    SummaryLine {
        summary: Summary {
            frames: tally.frames(),
            made: tally.made,
            already_made: tally.already_made,
            failed: tally.failed,
            not_reached: tally.not_reached,
            unreadable_folders: report.unreadable.len(),
            cues: found.map(|found| found.cues),
            kept_white: found.map(|found| found.kept_white),
            need_an_eye: found.map(|found| found.need_an_eye),
            outside: report.outside,
            seconds,
            exit_code: exit.code(),
        },
    }
}

/// Share of pixels outside the space from which the summary tells it: what would not be printed as 0.0 %.
const LEAST_TOLD: f64 = 0.0005;

/// The end of a run in words.
pub(super) fn summary(
    job: &CarryJob,
    report: &CarryReport,
    failures: &[FrameOutcome],
    seconds: f64,
    exit: Exit,
) -> String {
    let tally = report.tally;
    let mut text = format!("{}: {} made", counted(tally.frames()), tally.made);
    for (count, word) in [
        (tally.already_made, "already made"),
        (tally.failed, "failed"),
        (tally.not_reached, "not reached"),
    ] {
        if count > 0 {
            let _ = write!(text, ", {count} {word}");
        }
    }
    let _ = write!(text, "; {seconds:.1} s");
    if tally.made > 0 && seconds > 0.0 {
        let _ = write!(text, ", {:.2} frames/s", tally.made as f64 / seconds);
    }
    let _ = write!(text, "; pictures in {}", job.to.display());
    if let Some(found) = &report.found {
        push_found(&mut text, found);
    }
    // Black and white has nothing outside: no line then.
    if let Some(outside) = report.outside.filter(|share| *share >= LEAST_TOLD) {
        let _ = write!(
            text,
            "\n{:.1} % of their pixels had colours outside {}, and were brought in",
            100.0 * outside,
            match &job.profile {
                Some((profile, _)) => profile.display().to_string(),
                None => job.space.title().to_owned(),
            }
        );
    }
    let failed = failures.iter().filter_map(|outcome| match &outcome.fate {
        Fate::Failed(error) => Some(error),
        _ => None,
    });
    for (index, error) in failed.enumerate() {
        if index == LISTED {
            text.push_str("\n  more failed; --json lists every one");
            break;
        }
        push_failure(&mut text, error);
    }
    for (path, reason) in &report.unreadable {
        let _ = write!(
            text,
            "\n  {}: cannot be searched ({reason}); check the drive and the permissions",
            path.display()
        );
    }
    let rest = failures.iter().find_map(|outcome| match &outcome.fate {
        Fate::NotReached(error) => Some(error),
        _ => None,
    });
    match rest {
        Some(_) if exit == Exit::Interrupted => {
            text.push_str("\nInterrupted; the same command goes on where it stopped.")
        }
        Some(error) => {
            let _ = write!(text, "\nThe rest was not tried: {error}");
        }
        None => {}
    }
    text
}

fn push_found(text: &mut String, found: &Found) {
    let number = |count: usize, one: &str, many: &str| {
        format!("{count} {}", if count == 1 { one } else { many })
    };
    let _ = write!(text, "\n{} found", number(found.cues, "cue", "cues"));
    let keys: Vec<String> = found
        .keys
        .iter()
        .map(|(name, cues)| format!("{cues} under {name}"))
        .collect();
    if !keys.is_empty() {
        let _ = write!(text, ", {}", keys.join(", "));
    }
    if found.kept_white > 0 {
        let _ = write!(
            text,
            "; {} kept the reference's white",
            number(found.kept_white, "frame", "frames")
        );
    }
    if found.need_an_eye > 0 {
        let _ = write!(
            text,
            "; {} a person's eye: `houselights meter` shows which",
            number(found.need_an_eye, "frame needs", "frames need")
        );
    }
}

fn push_failure(text: &mut String, error: &TaskError) {
    let _ = write!(text, "\n  {error}");
}
