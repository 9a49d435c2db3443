//! The page's sections about shows: what was made with which look, and what light there was.

use super::page::Pictures;
use super::words;
use crate::cli::frames::counted;
use crate::cli::meter::messages::{eye_reason, temperature};
use crate::cli::meter::sheet::{body_in_words, letter};
use crate::cli::night::status::state;
use crate::cli::night::times::span;
use crate::cli::page::cue;
use crate::cli::page::markup::{element, name, names, section, table, text};
use crate::night::depot::is_stored;
use crate::night::exposure::ExposureNote;
use crate::night::queue::{FrameReport, JobId, OutputState};
use crate::night::report::{Report, ShowAccount, ShowReport, SolvedBy};
use crate::show::runs::RunRow;
use std::collections::BTreeMap;

/// Small pictures on one card.
const MOST_PICTURES: usize = 12;

/// All shows in one table.
pub(super) fn overview(report: &Report) -> String {
    let is_worked_on = report.runs.iter().any(|run| run.ended.is_none());
    let rows: Vec<Vec<String>> = (report.shows.iter())
        .map(|show| overview_row(show, is_worked_on))
        .collect();
    let heads = [
        "show",
        "frames made",
        "set aside",
        "state",
        "look",
        "pictures",
        "worker time",
    ];
    let caption = "What was made, with which look";
    section("shows", "Shows", &table(caption, &heads, &rows))
}

fn overview_row(show: &ShowReport, is_worked_on: bool) -> Vec<String> {
    let wishes: Vec<String> = (show.wishes.iter())
        .map(|(id, wish)| {
            let of_wish = show.frames.iter().flat_map(|frame| &frame.outputs);
            let made =
                of_wish.filter(|output| output.wish == *id && output.state == OutputState::Made);
            format!(
                "{} in {}: {}",
                made.count(),
                name(&wish.folder.to_string_lossy()),
                text(&words::wish(wish))
            )
        })
        .collect();
    let (metering, making) = show.seconds();
    vec![
        name(&show.status.name),
        format!("{} of {}", show.counts.made, show.counts.frames),
        show.counts.set_aside.to_string(),
        state(&show.status, is_worked_on).to_owned(),
        show.account.as_ref().map_or("-".to_owned(), |account| {
            name(match account.look.as_str() {
                "" => "without a name",
                look => look,
            })
        }),
        wishes.join("<br>"),
        format!("{} metering, {} making", span(metering), span(making)),
    ]
}

/// The light of a show: what it was solved by, its warnings, exposure, cues, frames for the eye. Nothing before it is solved.
pub(super) fn light(pictures: &Pictures, show: &ShowReport) -> String {
    let Some(account) = &show.account else {
        return show.unread.as_deref().map_or_else(String::new, |reason| {
            section(
                &format!("show-{}", show.status.show.0),
                &format!("The light of {}", show.status.name),
                &element("p", "", &text(&format!("{}.", words::unread(reason)))),
            )
        });
    };
    let of_job: BTreeMap<JobId, &FrameReport> =
        show.frames.iter().map(|frame| (frame.job, frame)).collect();
    let this = OfShow {
        pictures,
        account,
        of_job,
        number: show.status.show.0,
    };
    let inner = [
        this.solved_by(),
        this.exposure(),
        not_fetched(show),
        this.cues(),
        this.for_the_eye(),
    ];
    section(
        &format!("show-{}", this.number),
        &format!("The light of {}", show.status.name),
        &inner.join("\n"),
    )
}

/// Frames of which the page has no small pictures, because they would have to be fetched.
fn not_fetched(show: &ShowReport) -> String {
    let frames = show.frames.iter();
    let stored = frames.filter(|frame| is_stored(&frame.frame)).count();
    if stored == 0 {
        return String::new();
    }
    let words = format!(
        "{} of its {} lie in an object store: small pictures of those are not on this page.",
        stored,
        counted(show.frames.len())
    );
    element("p", "class=\"soft\"", &text(&words))
}

struct OfShow<'a> {
    pictures: &'a Pictures,
    account: &'a ShowAccount,
    of_job: BTreeMap<JobId, &'a FrameReport>,
    number: i64,
}

impl OfShow<'_> {
    fn job(&self, light: usize) -> Option<JobId> {
        self.account.jobs.get(light).copied().map(JobId)
    }

    fn name_of(&self, light: usize) -> String {
        let frame = self.job(light).and_then(|job| self.of_job.get(&job));
        frame.and_then(|frame| frame.shown.file_name()).map_or_else(
            || "?".to_owned(),
            |name| name.to_string_lossy().into_owned(),
        )
    }

    fn solved_by(&self) -> String {
        let reference = match &self.account.reference {
            None => String::new(),
            Some(SolvedBy::Frame { name: frame }) => {
                format!("Carried from the reference {}. ", name(frame))
            }
            Some(SolvedBy::Proposed {
                light,
                is_credible,
                why,
            }) => format!(
                "Nobody named a reference: {} was taken{} ({}). ",
                name(&self.name_of(*light)),
                if *is_credible {
                    ""
                } else {
                    ", for want of a better one"
                },
                text(why)
            ),
        };
        let white = self.account.white.map_or(String::new(), |white| {
            format!("Its white: {}.", text(&temperature(white)))
        });
        let reasons: String = (self.account.reasons.iter())
            .map(|reason| element("li", "", &text(&reason.to_string())))
            .collect();
        let reasons = if reasons.is_empty() {
            String::new()
        } else {
            element("ul", "class=\"soft\"", &reasons)
        };
        let warnings: String = (self.account.warnings.iter())
            .map(|warning| element("p", "class=\"unsure\"", &text(&format!("Mind: {warning}."))))
            .collect();
        format!("<p>{reference}{white}</p>{reasons}{warnings}")
    }

    fn body(&self, body: usize) -> String {
        match self.account.bodies.get(body) {
            Some(clock) if self.account.bodies.len() > 1 => {
                format!("{} {}", letter(body), body_in_words(&clock.body))
            }
            Some(clock) => body_in_words(&clock.body),
            None => letter(body),
        }
    }

    /// Exposure notes, the farthest off first.
    fn exposure(&self) -> String {
        let mut told: Vec<&ExposureNote> = (self.account.exposure.iter())
            .filter(|note| note.is_told())
            .collect();
        told.sort_by(|a, b| b.off.abs().total_cmp(&a.off.abs()));
        let judged: usize = self.account.exposure.iter().map(|note| note.frames).sum();
        let heading = "<h3>Exposure, for the next night</h3>";
        if told.is_empty() {
            return format!(
                "{heading}<p>Nothing to tell: {judged} frames with a key were judged, and no cue was off by a third of a stop.</p>"
            );
        }
        let rows: Vec<Vec<String>> = (told.iter())
            .map(|note| {
                let number = self.number;
                vec![
                    format!(
                        "<a href=\"#cue-{number}-{cue}\">{cue}</a>",
                        cue = note.cue + 1
                    ),
                    name(&self.body(note.body)),
                    text(&words::finding(note)),
                    text(&words::settings(note)),
                    text(&words::evidence(note)),
                    format!("{} of {}", note.hot.max(note.dark), note.frames),
                ]
            })
            .collect();
        let heads = [
            "cue",
            "body",
            "metered",
            "most frames at",
            "seen by",
            "frames off",
        ];
        heading.to_owned() + &table("Cues that were metered too hot or too dark", &heads, &rows)
    }

    fn cues(&self) -> String {
        let cards: String = cue::cues(&self.account.rows)
            .iter()
            .map(|(number, rows)| self.card(*number, rows))
            .collect();
        format!("<h3>The cues</h3>\n{cards}")
    }

    fn card(&self, cue: usize, rows: &[&RunRow]) -> String {
        let Some(first) = rows.first() else {
            return String::new();
        };
        let notes = self
            .account
            .exposure
            .iter()
            .filter(|note| note.cue + 1 == cue && note.is_told());
        let notes: String = notes
            .map(|note| {
                let words = format!("{}: {}", self.body(note.body), words::finding(note));
                element("div", "class=\"unsure\"", &text(&words))
            })
            .collect();
        let id = format!("cue-{}-{cue}", self.number);
        format!(
            "<article class=\"cue\" aria-labelledby=\"{id}\"><h4 id=\"{id}\">Cue {cue}</h4>\n<div>{}</div>\
             <div class=\"soft\">{}</div>{notes}{}{}</article>\n",
            cue::facts(first, rows),
            cue::times(rows),
            cue::washes(&first.washes),
            self.strip(rows)
        )
    }

    fn strip(&self, rows: &[&RunRow]) -> String {
        let lights = rows.iter().flat_map(|row| row.frames.iter().copied());
        let shown = lights.filter_map(|light| Some((light, self.pictures.get(&self.job(light)?)?)));
        let figures: String = shown
            .take(MOST_PICTURES)
            .map(|(light, picture)| {
                let file = self.name_of(light);
                let words = text(&format!("{file}, as it is carried"));
                format!(
                    "<figure><img alt=\"{words}\" title=\"{words}\" src=\"data:image/jpeg;base64,{picture}\">\
                     <figcaption>{}</figcaption></figure>",
                    name(&file)
                )
            })
            .collect();
        if figures.is_empty() {
            return String::new();
        }
        element("div", "class=\"strip\"", &figures)
    }

    /// Frames that need a person's eye: those of one cue that need it for the same reason are one row.
    fn for_the_eye(&self) -> String {
        let mut cue_of: BTreeMap<usize, usize> = BTreeMap::new();
        for row in &self.account.rows {
            cue_of.extend(row.frames.iter().map(|light| (*light, row.cue)));
        }
        let mut groups: BTreeMap<(Option<usize>, String), Vec<usize>> = BTreeMap::new();
        for (light, reasons) in &self.account.eye {
            let why: Vec<String> = reasons.iter().map(eye_reason).collect();
            let key = (cue_of.get(light).copied(), why.join("; "));
            groups.entry(key).or_default().push(*light);
        }
        if groups.is_empty() {
            return "<h3>For a person\u{2019}s eye</h3><p>Nothing.</p>".to_owned();
        }
        let rows: Vec<Vec<String>> = (groups.iter())
            .map(|((cue, why), lights)| {
                vec![
                    names(lights.iter().map(|light| self.name_of(*light))),
                    cue.map_or("-".to_owned(), |cue| cue.to_string()),
                    text(why),
                ]
            })
            .collect();
        "<h3>For a person\u{2019}s eye</h3>".to_owned()
            + &table(
                "Frames whose light was not read with confidence, and why",
                &["frame", "cue", "why"],
                &rows,
            )
    }
}
