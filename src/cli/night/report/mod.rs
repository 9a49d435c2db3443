//! `houselights night report`: what the morning is told, as text, as a page, as JSON.

mod failures;
mod json;
mod page;
mod shows;
mod text;
pub(super) mod words;

use super::queue::QueueArguments;
use crate::base::files;
use crate::base::progress::{Progress, StopWish};
use crate::cli::exit::Exit;
use crate::cli::output::{Results, say};
use crate::cli::page::refused_place;
use crate::cli::progress::Bar;
use crate::cli::signals::raise_on_signal;
use crate::cli::workers::WorkerArguments;
use crate::crew::supervisor::{Crew, CrewSettings};
use crate::night::queue::{Queue, QueueError};
use crate::night::report::{Report, small_pictures};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// See what came of the night
///
/// Without options the short of it on the terminal. The page is one file that opens in any browser, without a network and
/// without a script: what was done with which look, small pictures of each cue, every frame that is not made with its cause
/// and the next step, space, and which cues were metered too hot or too dark. It may be asked while a run is still working.
#[derive(Debug, clap::Args)]
#[command(after_long_help = EXAMPLES)]
pub(super) struct Arguments {
    /// Write the page to this file; a page that is there is replaced
    #[arg(long, value_name = "FILE")]
    page: Option<PathBuf>,

    /// No small pictures on the page: it is there at once, and shows nobody
    #[arg(long, requires = "page")]
    no_pictures: bool,

    /// The whole report as one JSON object on standard output
    #[arg(long)]
    json: bool,

    /// Of this show only
    #[arg(long, value_name = "NAME")]
    show: Option<String>,

    #[command(flatten)]
    queue: QueueArguments,

    #[command(flatten)]
    workers: WorkerArguments,
}

const EXAMPLES: &str = "\
Examples:
  In the morning:
    houselights night report
    houselights night report --page morning.html

  Frames that are not made, for a program:
    houselights night report --json | jq '.shows[].frames[] | select(.state != \"made\")'";

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> Exit {
    if let Some(refused) = arguments.page.as_deref().and_then(refused_place) {
        say(&format!("houselights: {refused}"));
        return Exit::WrongUsage;
    }
    let report = Queue::look_into(&arguments.queue.place())
        .and_then(|mut queue| Report::of(&mut queue, arguments.show.as_deref()));
    let report = match report {
        Ok(report) => report,
        Err(error) => {
            say(&format!("houselights: {error}"));
            return match error {
                QueueError::UnknownShow(_) => Exit::WrongUsage,
                _ => Exit::NotStarted,
            };
        }
    };
    let mut results = Results::default();
    if arguments.json {
        results.json(&json::report(&report));
    } else if arguments.page.is_none() {
        results.text(&text::text(&report));
    }
    let mut is_lost = results.is_lost();
    if let Some(path) = &arguments.page {
        let stop = StopWish::default();
        raise_on_signal(&stop);
        let pictures = if arguments.no_pictures {
            BTreeMap::new()
        } else {
            pictures(arguments.workers.resolve(), &report, &stop, &Bar::default())
        };
        match write(&report, &pictures, path) {
            Ok(words) => say(&words),
            Err(words) => {
                say(&format!("houselights: {words}"));
                is_lost = true;
            }
        }
    }
    if is_lost {
        Exit::SomeFailed
    } else {
        Exit::AllMade
    }
}

/// The page of a queue after a run, for whoever is still asleep. Where the run was stopped nobody waits for small pictures.
pub(super) fn after_run(
    queue: &mut Queue,
    crew: &CrewSettings,
    stop: &StopWish,
    path: &Path,
) -> Result<String, String> {
    let report = Report::of(queue, None).map_err(|error| error.to_string())?;
    let pictures = if stop.is_raised() {
        BTreeMap::new()
    } else {
        pictures(Ok(crew.clone()), &report, stop, &Bar::default())
    };
    write(&report, &pictures, path)
}

/// Small pictures; none where no worker can be started, since the page can do without.
fn pictures(
    crew: std::io::Result<CrewSettings>,
    report: &Report,
    stop: &StopWish,
    progress: &dyn Progress,
) -> page::Pictures {
    match crew.and_then(|settings| Crew::start(&settings)) {
        Ok(mut crew) => small_pictures(report, &mut crew, stop, progress),
        Err(error) => {
            say(&format!(
                "cannot start workers ({error}): the page has no small pictures"
            ));
            BTreeMap::new()
        }
    }
}

fn write(report: &Report, pictures: &page::Pictures, path: &Path) -> Result<String, String> {
    let page = page::page(report, pictures);
    files::write_whole(path, page.as_bytes())
        .map_err(|error| format!("{error}; choose another place for the page"))?;
    Ok(format!(
        "the morning's page is {} ({:.1} MB)",
        path.display(),
        page.len() as f64 / 1e6
    ))
}
