//! `houselights meter`: what light each frame was taken in.

mod messages;
mod table;

use super::exit::Exit;
use super::output::{Results, say};
use super::progress::Bar;
use super::signals::raise_on_signal;
use super::workers::WorkerArguments;
use crate::base::progress::{Progress, StopWish};
use crate::crew::supervisor::Crew;
use crate::crew::task::Cause;
use crate::show::gather::gather;
use crate::show::meter::meter;
use crate::show::outcome::Tally;
use std::path::PathBuf;

/// Say what light each frame was taken in
///
/// For each frame: exposure settings, the estimated white (CIE xy, correlated colour temperature, Duv) and how far it can
/// be trusted, the level and share of the lit region, and the share that is clipped. A table in order of time, or one
/// line of JSON a frame in order of paths.
#[derive(Debug, clap::Args)]
#[command(after_long_help = messages::EXAMPLES)]
pub(super) struct Arguments {
    /// Raw files, or folders of them
    #[arg(required = true, value_name = "FRAMES")]
    frames: Vec<PathBuf>,

    #[command(flatten)]
    workers: WorkerArguments,

    /// One line of JSON a frame
    #[arg(long, help_heading = "Work", long_help = messages::JSON_HELP)]
    json: bool,
}

/// Runs the command.
pub(super) fn run(arguments: Arguments) -> Exit {
    let refuse = |error: &dyn std::fmt::Display| {
        say(&format!("houselights: {error}"));
        Exit::NotStarted
    };
    let gathered = match gather(&arguments.frames, None) {
        Ok(gathered) => gathered,
        Err(error) => return refuse(&error),
    };
    let crew = arguments
        .workers
        .resolve()
        .and_then(|crew| Crew::start(&crew));
    let mut crew = match crew {
        Ok(crew) => crew,
        Err(error) => return refuse(&messages::no_workers(&error)),
    };
    let stop = StopWish::default();
    raise_on_signal(&stop);
    let bar = Bar::default();
    let mut results = Results::default();
    let mut rows = Vec::new();
    let mut tally = Tally::default();
    meter(
        &gathered.frames,
        &mut crew,
        &stop,
        &bar,
        &mut |frame, outcome| {
            match &outcome {
                Ok(_) => tally.made += 1,
                Err(error) if error.cause == Cause::Interrupted => tally.not_reached += 1,
                Err(_) => tally.failed += 1,
            }
            if arguments.json {
                results.json(&messages::frame_line(frame, &outcome));
            }
            match outcome {
                Ok(metered) if !arguments.json => rows.push((frame.to_path_buf(), metered)),
                Err(error) if error.cause != Cause::Interrupted => bar.say(&error.to_string()),
                _ => {}
            }
        },
    );
    if gathered.passed_over > 0 {
        say(&messages::passed_over(gathered.passed_over));
    }
    for (folder, reason) in &gathered.unreadable {
        say(&messages::unreadable(folder, reason));
    }
    if !rows.is_empty() {
        results.text(&table::table(rows));
    }
    let lost = usize::from(results.is_lost());
    let exit = Exit::of_batch(&tally, gathered.unreadable.len() + lost, stop.is_raised());
    say(&messages::summary(&tally));
    exit
}
