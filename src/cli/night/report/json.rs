//! The report for programs: one JSON object.

use super::words;
use crate::cli::frames::{ErrorLine, FramePath};
use crate::cli::night::fields::{counted, of_run};
use crate::cli::night::remarks::in_words;
use crate::night::queue::FrameReport;
use crate::night::report::{Report, ShowReport};
use serde_json::{Value, json};

/// The whole report.
pub(super) fn report(report: &Report) -> Value {
    let shows: Vec<Value> = report.shows.iter().map(show).collect();
    let runs: Vec<Value> = (report.runs.iter())
        .map(|run| {
            let more = json!({"ended": run.ended, "how": run.how});
            of_run(run.run, &run.host, run.process, run.began, more)
        })
        .collect();
    let remarks: Vec<Value> = (report.remarks.iter())
        .map(|dated| {
            json!({
                "at": dated.at,
                "run": dated.run.map(|run| run.0),
                "show": dated.show.map(|show| show.0),
                "remark": dated.remark,
                "words": in_words(&dated.remark),
            })
        })
        .collect();
    let folders: Vec<Value> = (report.folders.iter())
        .map(|folder| {
            json!({
                "folder": folder.folder.to_string_lossy(),
                "pictures": folder.pictures,
                "bytes": folder.bytes,
                "free": folder.free,
            })
        })
        .collect();
    let more = json!({
        "shows": shows,
        "runs": runs,
        "remarks": remarks,
        "folders": folders,
    });
    counted(&report.counts(), more)
}

fn show(show: &ShowReport) -> Value {
    let wishes: Vec<Value> = (show.wishes.iter())
        .map(|(id, wish)| {
            json!({
                "wish": id.0,
                "folder": wish.folder.to_string_lossy(),
                "words": words::wish(wish),
                "delivery": wish.delivery,
            })
        })
        .collect();
    let (metering, making) = show.seconds();
    json!({
        "show": show.status.show.0,
        "name": show.status.name,
        "state": show.status.state,
        "trouble": show.status.trouble,
        "frames_in_all": show.counts.frames,
        "metered": show.counts.metered,
        "made": show.counts.made,
        "set_aside": show.counts.set_aside,
        "metering_seconds": metering,
        "making_seconds": making,
        "wishes": wishes,
        "light": show.account,
        "frames": show.frames.iter().map(frame).collect::<Vec<Value>>(),
    })
}

fn frame(frame: &FrameReport) -> Value {
    let pictures: Vec<Value> = (frame.outputs.iter())
        .map(|output| {
            json!({
                "wish": output.wish.0,
                "folder": output.folder.to_string_lossy(),
                "picture": output.picture.to_string_lossy(),
                "state": output.state,
                "bytes": output.bytes,
                "outside": output.outside,
                "made": output.made,
                "error": output.error.as_ref().map(ErrorLine::of),
            })
        })
        .collect();
    let mut line = json!({
        "job": frame.job.0,
        "state": frame.state,
        "bytes": frame.bytes,
        "hash": frame.input.as_ref().map(|input| &input.hash),
        "is_first": frame.is_first,
        "losses": frame.losses,
        "metering_seconds": frame.metering_seconds,
        "making_seconds": frame.making_seconds,
        "notes": frame.notes,
        "error": frame.error.as_ref().map(ErrorLine::of),
        "pictures": pictures,
    });
    if let (Value::Object(line), Ok(Value::Object(path))) =
        (&mut line, serde_json::to_value(FramePath::of(&frame.shown)))
    {
        line.extend(path);
    }
    line
}
