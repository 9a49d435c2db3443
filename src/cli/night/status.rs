//! `houselights night status`: how far the night is, from any terminal, without disturbing it.

use super::fields::{counted, counted_with_share, of_run};
use super::messages;
use super::queue::QueueArguments;
use super::remarks;
use super::times::{hour_after, moment, size, span};
use crate::cli::exit::Exit;
use crate::cli::meter::columns::aligned;
use crate::cli::output::{Results, printable, say};
use crate::night::outlook::{Counts, in_hand, learned, rest};
use crate::night::queue::{OutputState, Queue, ShowState, ShowStatus, Status};
use serde::Serialize;
use serde_json::json;

/// See how far the night is
///
/// Only looks: it may be asked at any time, from any terminal, while runs work on the queue.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// One JSON object instead: frames by state, pictures, runs, seconds left
    #[arg(long)]
    json: bool,

    #[command(flatten)]
    queue: QueueArguments,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> Exit {
    let status = Queue::look_into(&arguments.queue.place()).and_then(|mut queue| queue.status());
    let status = match status {
        Ok(status) => status,
        Err(error) => {
            say(&format!("houselights: {error}"));
            return Exit::NotStarted;
        }
    };
    let mut results = Results::default();
    if arguments.json {
        results.json(&in_json(&status));
    } else {
        results.text(&in_words(&status));
    }
    if results.is_lost() {
        Exit::SomeFailed
    } else {
        Exit::AllMade
    }
}

/// Seconds until the queue is through, as long as somebody works on it.
fn seconds_left(status: &Status) -> Option<f64> {
    let workers = in_hand(&status.runs);
    let left = learned(status).seconds_left(&rest(status), &[], workers);
    left.filter(|_| workers > 0)
}

fn in_words(status: &Status) -> String {
    if status.shows.is_empty() {
        return "The queue is empty; houselights night add puts a show into it.\n".to_owned();
    }
    let counts = Counts::of_all(status);
    let mut text = format!("{} of {} frames made", counts.made, counts.frames);
    if counts.set_aside > 0 {
        text += &format!(", {} set aside", counts.set_aside);
    }
    let is_through = counts.made + counts.set_aside >= counts.frames;
    if !is_through {
        text += &format!(" ({:.0} % of the work)", 100.0 * counts.share_done());
        if let Some(left) = seconds_left(status) {
            text += &format!("; {} left, until {}", span(left), hour_after(left));
        }
    }
    text.push('\n');
    if status.is_paused {
        text += "paused; houselights night resume lets it go on\n";
    }
    for run in &status.runs {
        let then = if run.has_died {
            "died; the next houselights night run goes on with what it had".to_owned()
        } else {
            format!("{} in hand", run.in_hand)
        };
        text += &printable(&format!(
            "run {} on {}, process {}, since {}: {then}\n",
            run.run.0,
            run.host,
            run.process,
            moment(run.began, "%H:%M"),
        ));
        for wait in run.waits.iter().filter(|_| !run.has_died) {
            text += &printable(&format!("  {}\n", remarks::in_words(wait)));
        }
    }
    if status.runs.iter().all(|run| run.has_died) && !is_through {
        text += "no run is working on it; houselights night run does\n";
    }
    text.push('\n');
    let heads = [
        "show",
        "state",
        "frames",
        "metered",
        "made",
        "set aside",
        "pictures",
        "size",
    ];
    let lines: Vec<Vec<String>> = std::iter::once(heads.map(str::to_owned).to_vec())
        .chain((status.shows.iter()).map(|show| line(show, !status.runs.is_empty())))
        .collect();
    text += &aligned(&lines, 2, heads.len());
    for show in &status.shows {
        if let Some(trouble) = &show.trouble {
            text += &printable(&format!(
                "{}: {}; then retry\n",
                show.name,
                messages::trouble_in_words(trouble)
            ));
        }
    }
    if counts.set_aside > 0 {
        text += "\nhouselights night report says why frames were set aside, and what to do\n";
    }
    text
}

fn line(show: &ShowStatus, is_worked_on: bool) -> Vec<String> {
    let counts = Counts::of(show);
    let pictures = Pictures::of(show);
    vec![
        printable(&show.name).replace('\n', " "),
        state(show, is_worked_on).to_owned(),
        counts.frames.to_string(),
        counts.metered.to_string(),
        counts.made.to_string(),
        counts.set_aside.to_string(),
        format!("{} of {}", pictures.made, pictures.wanted),
        size(pictures.bytes),
    ]
}

/// Where a show is, in words. `is_worked_on`: whether any run works on the queue.
pub(super) fn state(show: &ShowStatus, is_worked_on: bool) -> &'static str {
    let counts = Counts::of(show);
    match show.state {
        _ if show.is_paused => "paused",
        ShowState::Solved if counts.made + counts.set_aside >= counts.frames => "through",
        ShowState::Failed => "cannot be solved",
        ShowState::Dropped => "dropped",
        _ if !is_worked_on => "waiting",
        ShowState::ToMeter => "metering",
        ShowState::ToSolve | ShowState::Solving => "solving",
        ShowState::Solved => "making",
    }
}

/// Pictures of a show.
#[derive(Clone, Copy, Debug, Default, Serialize)]
struct Pictures {
    wanted: u64,
    made: u64,
    failed: u64,
    /// Of those that are made.
    bytes: u64,
}

impl Pictures {
    fn of(show: &ShowStatus) -> Self {
        let mut sum = Self::default();
        for count in &show.outputs {
            sum.wanted += count.outputs;
            match count.state {
                OutputState::Made => {
                    sum.made += count.outputs;
                    sum.bytes += count.bytes;
                }
                OutputState::Failed => sum.failed += count.outputs,
                OutputState::ToMake => {}
            }
        }
        sum
    }
}

fn in_json(status: &Status) -> serde_json::Value {
    let shows: Vec<serde_json::Value> = status
        .shows
        .iter()
        .map(|show| {
            let counts = Counts::of(show);
            let states: serde_json::Map<String, serde_json::Value> = show
                .jobs
                .iter()
                .map(|count| (count.state.word().to_owned(), json!(count.jobs)))
                .collect();
            let more = json!({
                "show": show.show.0,
                "name": show.name,
                "priority": show.priority,
                "state": show.state,
                "is_paused": show.is_paused,
                "frames_by_state": states,
                "pictures": Pictures::of(show),
                "trouble": show.trouble,
            });
            counted(&counts, more)
        })
        .collect();
    let runs: Vec<serde_json::Value> = status
        .runs
        .iter()
        .map(|run| {
            let more = json!({
                "in_hand": run.in_hand,
                "has_died": run.has_died,
                "waits": run.waits,
            });
            of_run(run.run, &run.host, run.process, run.began, more)
        })
        .collect();
    let more = json!({
        "seconds_left": seconds_left(status),
        "is_paused": status.is_paused,
        "runs": runs,
        "shows": shows,
    });
    counted_with_share(&Counts::of_all(status), more)
}
