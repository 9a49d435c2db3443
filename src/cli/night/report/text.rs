//! The short of it, on the terminal.

use super::failures::{AFTERWARDS, failures, waiting};
use super::words;
use crate::cli::meter::columns::aligned;
use crate::cli::meter::sheet::letter;
use crate::cli::night::remarks::together;
use crate::cli::night::times::{moment, size, span};
use crate::cli::output::printable;
use crate::night::report::{Report, ShowReport};

/// Failures that are listed here; the page and JSON have all.
const MOST_FAILURES: usize = 40;

/// The report as text.
pub(super) fn text(report: &Report) -> String {
    let counts = report.counts();
    let mut text = format!("{} of {} frames made\n", counts.made, counts.frames);
    for show in &report.shows {
        text += &of_show(show);
    }
    let failures = failures(report);
    if !failures.is_empty() || waiting(report).is_some() {
        text += "\nNot made\n";
    }
    if let Some(words) = waiting(report) {
        text += &format!("  {words}\n");
    }
    for failure in failures.iter().take(MOST_FAILURES) {
        let what = match &failure.what[..] {
            [] => format!("show {}", failure.show),
            paths => {
                let names: Vec<String> = paths
                    .iter()
                    .map(|path| path.display().to_string())
                    .collect();
                names.join(", ")
            }
        };
        text += &format!("  {what}\n    {}: {}\n", failure.cause, failure.reason);
        if let Some(step) = &failure.next_step {
            text += &format!("    {step}\n");
        }
    }
    if let more @ 1.. = failures.len().saturating_sub(MOST_FAILURES) {
        text += &format!("  and {more} more: --page FILE and --json have them all\n");
    }
    if !failures.is_empty() {
        text += &format!("  {AFTERWARDS}\n");
    }
    if !report.remarks.is_empty() {
        text += "\nIn the night\n";
        for (dated, words) in together(&report.remarks) {
            text += &format!("  {}  {words}\n", moment(dated.at, "%a %H:%M"));
        }
    }
    if !report.folders.is_empty() {
        text += "\nSpace\n";
        for folder in &report.folders {
            let free = match folder.free {
                Some(free) => format!("{} free", size(free)),
                None => words::without_free(&folder.folder).to_owned(),
            };
            text += &format!(
                "  {}: {} pictures, {}; {free}\n",
                folder.folder.display(),
                folder.pictures,
                size(folder.bytes)
            );
        }
    }
    printable(&text)
}

fn of_show(show: &ShowReport) -> String {
    let (metering, making) = show.seconds();
    let mut text = format!(
        "\n{}: {} of {} frames made",
        show.status.name, show.counts.made, show.counts.frames
    );
    if let Some(account) = &show.account {
        let look = match account.look.as_str() {
            "" => "a look without a name",
            name => name,
        };
        let cues = account.cues();
        let plural = if cues == 1 { "" } else { "s" };
        text += &format!(", look {look}, {cues} cue{plural}");
    }
    text += &format!("; {} of one worker's time\n", span(metering + making));
    if let Some(reason) = &show.unread {
        text += &format!("  mind: {}\n", words::unread(reason));
    }
    let Some(account) = &show.account else {
        return text;
    };
    for warning in &account.warnings {
        text += &format!("  mind: {warning}\n");
    }
    let told: Vec<_> = account
        .exposure
        .iter()
        .filter(|note| note.is_told())
        .collect();
    if !told.is_empty() {
        text += "  Exposure, for the next night\n";
        let lines: Vec<Vec<String>> = told
            .iter()
            .map(|note| {
                vec![
                    format!("    cue {}, {}", note.cue + 1, letter(note.body)),
                    words::finding(note),
                    words::settings(note),
                    words::evidence(note),
                ]
            })
            .collect();
        text += &aligned(&lines, 4, 4);
    }
    text
}
