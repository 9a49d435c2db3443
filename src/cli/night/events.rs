//! The events of a run as lines of JSON.

use super::fields::counted_with_share;
use super::messages;
use super::remarks;
use crate::cli::frames::{ErrorLine, FramePath};
use crate::night::outlook::Counts;
use crate::night::queue::HowEnded;
use crate::night::run::{Event, OfFrame, WaitingFor, Work};
use serde::Serialize;
use serde_json::{Value, json};
use std::path::Path;

/// One event.
#[derive(Debug, Serialize)]
pub(super) struct Line {
    event: &'static str,
    #[serde(flatten)]
    frame: Option<FramePath>,
    #[serde(flatten)]
    more: Value,
}

fn of_frame(event: &'static str, of: &OfFrame, mut more: Value) -> Line {
    more["show"] = json!(of.show.0);
    more["bytes"] = json!(of.bytes);
    if let Some(worker) = of.worker {
        more["worker"] = json!(messages::number(worker));
    }
    Line {
        event,
        frame: Some(FramePath::of(&of.frame)),
        more,
    }
}

fn plain(event: &'static str, more: Value) -> Line {
    Line {
        event,
        frame: None,
        more,
    }
}

fn words(path: &Path) -> String {
    path.to_string_lossy().into_owned()
}

/// The line of an event.
pub(super) fn line(event: &Event) -> Line {
    match event {
        Event::Ready {
            run,
            workers,
            worker_memory,
        } => plain(
            "ready",
            json!({"run": run.0, "workers": workers, "worker_memory": worker_memory}),
        ),
        Event::Took { of, work } => of_frame("took", of, json!({"work": word_of(*work)})),
        Event::Metered { of, seconds } => of_frame("metered", of, json!({"seconds": seconds})),
        Event::Made {
            of,
            pictures,
            picture_bytes,
            seconds,
        } => of_frame(
            "made",
            of,
            json!({"pictures": pictures, "picture_bytes": picture_bytes, "seconds": seconds}),
        ),
        Event::SetAside { of, error } => {
            of_frame("set-aside", of, json!({"error": ErrorLine::of(error)}))
        }
        Event::GivenBack { of } => of_frame("given-back", of, json!({})),
        Event::Solving { show, name } => plain("solving", json!({"show": show.0, "name": name})),
        Event::Solved {
            show,
            name,
            frames,
            warnings,
        } => plain(
            "solved",
            json!({"show": show.0, "name": name, "frames": frames, "warnings": warnings}),
        ),
        Event::NotSolved {
            show,
            name,
            trouble,
        } => plain(
            "not-solved",
            json!({"show": show.0, "name": name, "reason": trouble.reason, "next_step": trouble.next_step}),
        ),
        Event::Waiting(what) => plain("waiting", waiting(what)),
        Event::GoesOn => plain("goes-on", json!({})),
        Event::Remark { show, remark } => plain(
            "remark",
            json!({"show": show.map(|show| show.0), "remark": remark, "words": remarks::in_words(remark)}),
        ),
        Event::Ended(how) => plain("ended", json!({"how": how, "words": how_in_words(*how)})),
    }
}

/// The line that tells how far the night is.
pub(super) fn progress_line(
    counts: &Counts,
    rate: Option<(f64, Work)>,
    seconds_left: Option<f64>,
) -> Line {
    plain(
        "progress",
        counted_with_share(
            counts,
            json!({
                "frames_a_second": rate.map(|(rate, _)| rate),
                "work": rate.map(|(_, work)| word_of(work)),
                "seconds_left": seconds_left,
            }),
        ),
    )
}

fn word_of(work: Work) -> &'static str {
    match work {
        Work::Metering => "metering",
        Work::Making => "making",
    }
}

fn waiting(what: &WaitingFor) -> Value {
    match what {
        WaitingFor::OtherRuns => json!({"for": "other-runs"}),
        WaitingFor::Drives(folders) => {
            let folders: Vec<String> = folders.iter().map(|folder| words(folder)).collect();
            json!({"for": "drives", "folders": folders})
        }
        WaitingFor::Person => json!({"for": "person"}),
        WaitingFor::Power(charge) => json!({"for": "power", "charge": charge}),
        WaitingFor::Queue(reason) => json!({"for": "queue", "reason": reason}),
        WaitingFor::Workers(reason) => json!({"for": "workers", "reason": reason}),
    }
}

/// How a run ended, in words.
pub(super) fn how_in_words(how: HowEnded) -> &'static str {
    match how {
        HowEnded::Done => "everything was through",
        HowEnded::Stopped => "stopped by a person",
        HowEnded::Hour => "the hour came that was given",
        HowEnded::Space => "the output drive ran short of space",
        HowEnded::Died => "it died; what it had in hand went back into the queue",
        HowEnded::Failed => "it could not go on",
    }
}
