//! `houselights explain`: what was measured in one frame, what was trusted, and what is applied to it.

mod account;
mod words;

use self::account::account;
use super::exit::Exit;
use super::meter::tell_warnings;
use super::output::{Results, say};
use super::progress::Bar;
use super::show_question::ShowQuestion;
use super::signals::raise_on_signal;
use crate::base::progress::StopWish;
use crate::crew::supervisor::Crew;
use crate::crew::{Hiring, Workforce};
use crate::show::meter::{MeterError, MeteredShow, meter};
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  houselights explain night-one/DSC_0815.NEF
  houselights explain night-one/DSC_0815.NEF card-a card-b --reference card-a/DSC_0101.NEF --neutral 0.42,0.61

A cue is read from all its frames together, so the answer depends on the show: name the same frames, reference and look as
for `houselights carry`. Readings are kept, so that frames which were metered or carried before are not opened again.";

const JSON_HELP: &str = "\
One line of JSON: frame, measured (facts, reading), trusted (cue, run, seconds, fade, kind, key of its body, the anchor it was \
found by, degrees_from_cue: between its own white and its cue's), applied (correction, stops_of_gain against the \
reference's, reasons in words) and for_a_persons_eye (reasons in words).";

/// Explain one frame: what was measured, what was trusted, what is applied
///
/// FRAME is the frame in question, FRAMES are the show that it belongs to [default: the folder that it lies in].
#[derive(Debug, clap::Args)]
#[command(after_long_help = EXAMPLES)]
pub(super) struct Arguments {
    /// The frame in question
    #[arg(value_name = "FRAME")]
    frame: PathBuf,

    /// The show: raw files, or folders of them
    #[arg(value_name = "FRAMES")]
    frames: Vec<PathBuf>,

    /// One line of JSON
    #[arg(long, help_heading = "Results", long_help = JSON_HELP)]
    json: bool,

    #[command(flatten)]
    question: ShowQuestion,
}

/// Runs the command.
pub(super) fn run(arguments: Arguments) -> Exit {
    let refuse = |error: &dyn std::fmt::Display, exit: Exit| {
        say(&format!("houselights: {error}"));
        exit
    };
    let Arguments {
        frame,
        frames,
        json,
        question,
    } = arguments;
    let (job, crew) = match question.resolve(show_of(&frame, frames)) {
        Ok(resolved) => resolved,
        Err(error) if error.is_wrong_usage() => {
            return refuse(&error, Exit::WrongUsage);
        }
        Err(error) => return refuse(&error, Exit::NotStarted),
    };
    let stop = StopWish::default();
    raise_on_signal(&stop);
    let mut hiring = Hiring::by(|| Ok(Box::new(Crew::start(&crew)?) as Box<dyn Workforce>));
    let show = match meter(&job, &mut hiring, &stop, &Bar::default()) {
        Ok(show) => show,
        Err(error @ MeterError::Stopped) => return refuse(&error, Exit::Interrupted),
        Err(error @ MeterError::Solve(_)) => return refuse(&error, Exit::WrongUsage),
        Err(error) => return refuse(&error, Exit::NotStarted),
    };
    let Some(account) = show.light_at(&frame).and_then(|at| account(&show, at)) else {
        return unknown(&show, &frame, stop.is_raised());
    };
    tell_warnings(&show);
    let mut results = Results::default();
    if json {
        results.json(&account);
    } else {
        results.text(&words::in_words(&account));
    }
    if results.is_lost() {
        Exit::SomeFailed
    } else {
        Exit::AllMade
    }
}

/// The show of a frame: what was named with the frame itself, or all that lies beside it.
fn show_of(frame: &Path, mut frames: Vec<PathBuf>) -> Vec<PathBuf> {
    if frames.is_empty() {
        let folder = frame
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty());
        frames.push(folder.unwrap_or(Path::new(".")).to_path_buf());
    }
    frames.push(frame.to_path_buf());
    frames
}

/// The frame has no light: why.
fn unknown(show: &MeteredShow, frame: &Path, was_stopped: bool) -> Exit {
    if was_stopped {
        say(
            "houselights: stopped before the show was read; run the same command again, it goes on from there",
        );
        return Exit::Interrupted;
    }
    let error = show
        .frames
        .iter()
        .filter(|known| known.path.file_name() == frame.file_name())
        .find_map(|known| known.outcome.as_ref().err());
    say(&match error {
        Some(error) => format!("houselights: {error}"),
        None => format!(
            "houselights: {} is no raw file of this show; name a raw file, and the show's frames after it",
            frame.display()
        ),
    });
    Exit::NotStarted
}
