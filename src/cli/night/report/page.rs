//! The morning's page.

use super::failures::{AFTERWARDS, Failure, failures, waiting};
use super::shows;
use super::words;
use crate::cli::night::events::how_in_words;
use crate::cli::night::remarks::together;
use crate::cli::night::times::{moment, size, span};
use crate::cli::page::document;
use crate::cli::page::markup::{element, name, section, table, text};
use crate::night::queue::{HowEnded, JobId};
use crate::night::report::Report;
use std::collections::BTreeMap;

/// Small pictures: JPEG files in base64 (RFC 4648), by job.
pub(super) type Pictures = BTreeMap<JobId, String>;

/// The page.
pub(super) fn page(report: &Report, pictures: &Pictures) -> String {
    let title = title(report);
    let mut body = vec![
        head(report, &title),
        not_made(report),
        shows::overview(report),
    ];
    body.extend(report.shows.iter().map(|show| shows::light(pictures, show)));
    body.push(space(report));
    body.push(events(report));
    let bytes = body.iter().map(String::len).sum();
    body.push(notes(pictures.len(), bytes));
    document(&title, &body.join("\n"))
}

/// The night by the day on which its first run began.
fn title(report: &Report) -> String {
    let began = report.runs.iter().map(|run| run.began).min();
    match began {
        Some(began) => format!("The night of {}", moment(began, "%-d %B %Y")),
        None => "The night".to_owned(),
    }
}

fn head(report: &Report, title: &str) -> String {
    let counts = report.counts();
    let mut words = format!("{} of {} frames are made.", counts.made, counts.frames);
    let not_made = counts.frames.saturating_sub(counts.made);
    if not_made == 0 {
        words += " Nothing is missing.";
    } else {
        words += &format!(
            " {} {} not: {} set aside with a reason, {} in the queue.",
            not_made,
            if not_made == 1 { "is" } else { "are" },
            counts.set_aside,
            not_made.saturating_sub(counts.set_aside)
        );
    }
    let links: String = (report.shows.iter())
        .filter(|show| show.account.is_some() || show.unread.is_some())
        .map(|show| {
            format!(
                "<a href=\"#show-{}\">{}</a> ",
                show.status.show.0,
                name(&show.status.name)
            )
        })
        .collect();
    format!(
        "<header><h1>{}</h1><p>{}</p><nav aria-label=\"Sections\"><a href=\"#missing\">Not made</a> <a href=\"#shows\">Shows</a> \
         {links}<a href=\"#space\">Space</a> <a href=\"#events\">In the night</a> <a href=\"#notes\">Notes</a></nav></header>",
        text(title),
        text(&words)
    )
}

/// Everything that is not made, with cause and next step.
fn not_made(report: &Report) -> String {
    let failures = failures(report);
    let waits = waiting(report)
        .map(|words| element("p", "", &text(&format!("{words}."))))
        .unwrap_or_default();
    if failures.is_empty() {
        let nothing = if waits.is_empty() {
            "<p>Nothing: every frame is made.</p>"
        } else {
            "<p>No frame failed.</p>"
        };
        return section("missing", "Not made", &format!("{waits}{nothing}"));
    }
    let items: String = failures.iter().map(item).collect();
    let list = element("ul", "class=\"list\"", &items);
    let afterwards = element("p", "", &text(&format!("{AFTERWARDS}.")));
    section("missing", "Not made", &format!("{waits}{list}{afterwards}"))
}

fn item(failure: &Failure) -> String {
    let what = match &failure.what[..] {
        [] => "The whole show".to_owned(),
        paths => {
            let names: Vec<String> = (paths.iter())
                .map(|path| name(&path.to_string_lossy()))
                .collect();
            names.join(", ")
        }
    };
    let next = failure.next_step.as_deref().map_or(String::new(), |step| {
        format!("<br><strong>Next:</strong> {}", text(step))
    });
    let inner = format!(
        "<strong>{what}</strong> <span class=\"soft\">of {}</span><br>{}: {}{next}",
        name(&failure.show),
        text(&failure.cause),
        text(&failure.reason)
    );
    element("li", "", &inner) + "\n"
}

fn space(report: &Report) -> String {
    let rows: Vec<Vec<String>> = (report.folders.iter())
        .map(|folder| {
            vec![
                name(&folder.folder.to_string_lossy()),
                folder.pictures.to_string(),
                size(folder.bytes),
                match folder.free {
                    Some(free) => size(free),
                    None => words::without_free(&folder.folder).to_owned(),
                },
            ]
        })
        .collect();
    section(
        "space",
        "Space",
        &table(
            "Output folders, as they are now",
            &["folder", "pictures", "size", "free on its drive"],
            &rows,
        ),
    )
}

/// Runs and remarks.
fn events(report: &Report) -> String {
    let runs: Vec<Vec<String>> = (report.runs.iter())
        .map(|run| {
            // Whoever saw that a run had died wrote down when, perhaps by another machine's clock.
            let ended = run.ended.filter(|_| run.how != Some(HowEnded::Died));
            let took = ended.map_or("-".to_owned(), |ended| {
                span((ended - run.began) as f64 / 1e3)
            });
            vec![
                moment(run.began, "%a %-d %b, %H:%M:%S"),
                run.ended.map_or("still at work".to_owned(), |ended| {
                    moment(ended, "%a %H:%M:%S")
                }),
                took,
                text(run.how.map_or("-", how_in_words)),
                name(&format!("{}, process {}", run.host, run.process)),
            ]
        })
        .collect();
    let remarks: Vec<Vec<String>> = (together(&report.remarks).into_iter())
        .map(|(dated, words)| {
            let of_show = report
                .shows
                .iter()
                .find(|show| Some(show.status.show) == dated.show);
            vec![
                moment(dated.at, "%a %H:%M:%S"),
                of_show.map_or_else(String::new, |show| name(&show.status.name)),
                text(&words),
            ]
        })
        .collect();
    let mut inner = table(
        "Runs that worked on the queue",
        &["from", "to", "took", "how it ended", "where"],
        &runs,
    );
    if !remarks.is_empty() {
        inner += &table("What happened", &["when", "show", "what"], &remarks);
    }
    section("events", "In the night", &inner)
}

/// How the page is to be read, and what to mind before pictures are published or the page is passed on.
fn notes(pictures: usize, bytes: usize) -> String {
    let of_page = match pictures {
        0 => String::new(),
        count => format!(
            " This page itself holds {count} small pictures: keep it to yourself, or have the same consent for it."
        ),
    };
    let inner = format!(
        "<p><strong>Before you publish:</strong> the pictures show people. A performer has rights in their likeness, members of the \
         audience have theirs, and venue, tour or agency may have a say by contract. Have consent and licences, give the credit \
         that was agreed, and mind that names of folders and machines stand on this page.{of_page}</p>\
         <p>Exposure is judged on what the key lights, without lamps and without what a wash colours: too hot where more than 2 % of \
         it is blown, by the stops that would have kept it; too dark by the stops that it could have had before that, up to where a \
         body\u{2019}s own meter puts it. A confidence goes from 0 (a guess) to 1 (as good as a neutral patch). Levels are in stops: \
         +1 is twice the light. Times are those of this machine\u{2019}s clock.</p>\
         <p>The page is one file of {:.1} MB, asks for nothing from a network and runs no script. Made by houselights {}; no raw was \
         changed.</p>",
        bytes as f64 / 1e6,
        env!("CARGO_PKG_VERSION")
    );
    element("footer", "", &section("notes", "Notes", &inner))
}
