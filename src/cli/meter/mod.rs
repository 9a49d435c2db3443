//! `houselights meter`: what light a show was taken in, as a cue sheet, a table, lines of JSON or a page.

pub(super) mod columns;
mod cues;
mod eye;
mod json;
pub(super) mod messages;
mod overrule_template;
mod report;
pub(super) mod sheet;
pub(super) mod table;

use super::exit::Exit;
use super::output::{Results, say};
use super::page;
use super::progress::Bar;
use super::show_question::ShowQuestion;
use super::signals::raise_on_signal;
use crate::base::files;
use crate::base::progress::{Progress, StopWish};
use crate::crew::supervisor::Crew;
use crate::crew::task::Cause;
use crate::crew::{Hiring, Workforce};
use crate::show::meter::{
    EyeReason, MeterError, MeteredShow, for_a_persons_eye, meter, small_pictures,
};
use crate::show::outcome::Tally;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Say what light a show was taken in: its cue sheet
///
/// Every frame is read once, on all cores, and its reading is kept, so that a second run is quick. Frames in time are cut
/// into runs under one lighting state, and states that come back are one cue. For each run the sheet has times, frames of
/// each body, the key's white and level, and the washes. Without --reference a frame is proposed.
#[derive(Debug, clap::Args)]
#[command(after_long_help = messages::EXAMPLES)]
pub(super) struct Arguments {
    /// Raw files, or folders of them
    #[arg(required = true, value_name = "FRAMES")]
    frames: Vec<PathBuf>,

    /// A line for each frame instead of the cue sheet
    #[arg(long = "frames", help_heading = "Results", conflicts_with = "json")]
    by_frame: bool,

    /// Lines of JSON: one a frame, and one for the show
    #[arg(long, help_heading = "Results", long_help = messages::JSON_HELP)]
    json: bool,

    /// A page to look at, in one file that needs no network: small pictures before and after, timelines, what needs an eye
    #[arg(long, value_name = "FILE", help_heading = "Results")]
    report: Option<PathBuf>,

    /// A file of every cue that was found, to be changed and given with --overrule; it must not be there already
    #[arg(long, value_name = "FILE", help_heading = "Results")]
    overrule_template: Option<PathBuf>,

    #[command(flatten)]
    question: ShowQuestion,
}

/// Runs the command.
pub(super) fn run(arguments: Arguments) -> Exit {
    let begun = Instant::now();
    let refuse = |error: &dyn std::fmt::Display, exit: Exit| {
        say(&format!("houselights: {error}"));
        exit
    };
    let resolved = arguments.question.clone().resolve(arguments.frames.clone());
    let (job, crew) = match resolved {
        Ok(resolved) => resolved,
        Err(error) if error.is_wrong_usage() => {
            return refuse(&error, Exit::WrongUsage);
        }
        Err(error) => return refuse(&error, Exit::NotStarted),
    };
    let refused = [
        arguments.report.as_deref().and_then(page::refused_place),
        arguments
            .overrule_template
            .as_deref()
            .and_then(overrule_template::refused_place),
    ];
    if let Some(error) = refused.into_iter().flatten().next() {
        return refuse(&error, Exit::WrongUsage);
    }
    let stop = StopWish::default();
    raise_on_signal(&stop);
    let bar = Bar::default();
    let mut hiring = Hiring::by(|| Ok(Box::new(Crew::start(&crew)?) as Box<dyn Workforce>));
    let show = match meter(&job, &mut hiring, &stop, &bar) {
        Ok(show) => show,
        Err(error @ MeterError::Stopped) => return refuse(&error, Exit::Interrupted),
        Err(error @ MeterError::Solve(_)) => return refuse(&error, Exit::WrongUsage),
        Err(error) => return refuse(&error, Exit::NotStarted),
    };
    let tally = tell_failures(&show);
    let mut results = Results::default();
    let eye = for_a_persons_eye(&show);
    tell(&arguments, &show, &eye, &mut results);
    let mut lost = usize::from(results.is_lost());
    if let Some(path) = arguments
        .report
        .as_deref()
        .filter(|_| show.solved.is_some())
    {
        let written = write_report(&show, &eye, path, &mut hiring, &stop, &bar);
        lost += usize::from(written.is_err());
        say(&written.unwrap_or_else(|error| format!("houselights: {error}")));
    }
    if let Some(path) = arguments
        .overrule_template
        .as_deref()
        .filter(|_| show.solved.is_some())
    {
        let written = write_template(&show, path);
        lost += usize::from(written.is_err());
        say(&written.unwrap_or_else(|error| format!("houselights: {error}")));
    }
    tell_warnings(&show);
    if let Some(words) = messages::reference(&show) {
        say(&words);
    }
    let seconds = begun.elapsed().as_secs_f64();
    say(&messages::summary(&tally, &show, eye.len(), seconds));
    Exit::of_batch(&tally, show.unreadable.len() + lost, stop.is_raised())
}

fn tell(arguments: &Arguments, show: &MeteredShow, eye: &eye::Eye, results: &mut Results) {
    if arguments.json {
        let eye: BTreeMap<usize, &[EyeReason]> = eye
            .iter()
            .map(|(index, reasons)| (*index, &reasons[..]))
            .collect();
        for (index, frame) in show.frames.iter().enumerate() {
            let eye = eye.get(&index).copied().unwrap_or_default();
            results.json(&json::frame_line(show, frame, eye));
        }
        if let Some(line) = json::show_line(show) {
            results.json(&line);
        }
    } else if show.lights.is_empty() {
        // There is nothing to print.
    } else if arguments.by_frame {
        results.text(&table::table(show));
    } else {
        results.text(&(cues::cue_sheet(show) + &eye::short_list(show, eye)));
    }
}

/// What a person should know of the show and can do about it, as `carry` says it.
pub(super) fn tell_warnings(show: &MeteredShow) {
    for warning in show.solved.iter().flat_map(|solved| &solved.warnings) {
        say(&format!("warning: {warning}"));
    }
}

fn tell_failures(show: &MeteredShow) -> Tally {
    let mut tally = Tally::default();
    for frame in &show.frames {
        match &frame.outcome {
            Ok(read) if read.was_kept => tally.already_made += 1,
            Ok(_) => tally.made += 1,
            Err(error) if error.cause == Cause::Interrupted => tally.not_reached += 1,
            Err(error) => {
                tally.failed += 1;
                say(&error.to_string());
            }
        }
    }
    if show.passed_over > 0 {
        say(&messages::passed_over(show.passed_over));
    }
    for (folder, reason) in &show.unreadable {
        say(&messages::unreadable(folder, reason));
    }
    tally
}

fn write_report(
    show: &MeteredShow,
    eye: &eye::Eye,
    path: &Path,
    hiring: &mut Hiring<'_>,
    stop: &StopWish,
    progress: &dyn Progress,
) -> Result<String, String> {
    let workforce = hiring
        .workforce()
        .map_err(|error| MeterError::Workers(error).to_string())?;
    let pictures = small_pictures(show, workforce, stop, progress);
    let page = report::page(show, eye, &pictures);
    files::write_whole(path, page.as_bytes())
        .map_err(|error| format!("{error}; choose another place for the report"))?;
    Ok(messages::report_written(path, page.len()))
}

fn write_template(show: &MeteredShow, path: &Path) -> Result<String, String> {
    files::write_whole(path, overrule_template::text(show).as_bytes())
        .map_err(|error| format!("{error}; choose another place for the template"))?;
    Ok(messages::template_written(path))
}
