//! The page's other sections: head, reference, frames for the eye, cue sheet, clocks, notes.

use super::super::super::page::markup::{element, name, names, section, table, text};
use super::super::eye::groups;
use super::super::messages::{temperature, why};
use super::super::sheet::{
    clocks_in_words, counts_in_words, kind_in_words, stops_in_words, washes_in_words,
};
use super::Material;
use crate::show::meter::ReferenceChoice;

/// Rows of frames for the eye.
const MOST_FOR_THE_EYE: usize = 300;

/// The page's title.
pub(super) fn title(material: &Material<'_>) -> String {
    let day = material.rows.iter().filter_map(|row| row.from).min();
    match day {
        Some(day) => format!("The light of the show of {}", day.date()),
        None => "The light of the show".to_owned(),
    }
}

/// Heading, figures, and where to go.
pub(super) fn head(material: &Material<'_>, title: &str) -> String {
    let show = material.show;
    let sheet = show.solved.as_ref().map(|solved| &solved.light.sheet);
    let (bodies, cues) = sheet.map_or((0, 0), |sheet| (sheet.clocks.len(), sheet.cues));
    let read = show.lights.len();
    let words = format!(
        "{} frames of {bodies} {}, {read} read; {cues} {} in {} {}; {} for a person\u{2019}s eye.",
        show.frames.len(),
        if bodies == 1 { "body" } else { "bodies" },
        if cues == 1 { "cue" } else { "cues" },
        material.rows.len(),
        if material.rows.len() == 1 {
            "run"
        } else {
            "runs"
        },
        material.eye.len()
    );
    format!(
        "<header><h1>{}</h1><p>{}</p><nav aria-label=\"Sections\"><a href=\"#timelines\">White and level</a> <a href=\"#cues\">Cues</a> \
         <a href=\"#eye\">For the eye</a> <a href=\"#sheet\">Cue sheet</a> <a href=\"#clocks\">Clocks</a> \
         <a href=\"#notes\">Notes</a></nav></header>",
        text(title),
        text(&words)
    )
}

/// What the show was held against.
pub(super) fn held_against(material: &Material<'_>) -> String {
    let show = material.show;
    let (frame, words) = match &show.reference {
        None => return String::new(),
        Some(ReferenceChoice::Named(path)) => {
            (super::name(path), "the frame that was named".to_owned())
        }
        Some(ReferenceChoice::Remembered(frame)) => {
            (frame.clone(), "remembered by the look".to_owned())
        }
        Some(ReferenceChoice::Proposed(proposal)) => {
            let sure = if proposal.is_credible() {
                "proposed"
            } else {
                "for want of a better one: no frame shows a key that can be believed"
            };
            (
                material.name_of(proposal.light),
                format!("{sure}: {}", why(proposal)),
            )
        }
    };
    let white = show.solved.as_ref().and_then(|solved| solved.look.white);
    let white = white.map_or(String::new(), |white| {
        format!(" Its white: {}.", temperature(white))
    });
    let remarks: String = show
        .solved
        .iter()
        .flat_map(|solved| &solved.warnings)
        .map(|warning| element("p", "class=\"unsure\"", &text(&format!("Mind: {warning}."))))
        .collect();
    let inner = format!(
        "<p>{}, {}.{}</p>{remarks}",
        name(&frame),
        text(&words),
        text(&white)
    );
    section("reference", "The reference", &inner)
}

/// Frames that need a person's eye.
pub(super) fn for_the_eye(material: &Material<'_>) -> String {
    if material.eye.is_empty() {
        return section("eye", "For a person\u{2019}s eye", "<p>Nothing.</p>");
    }
    let groups = groups(material.show, material.eye);
    let rows: Vec<Vec<String>> = groups
        .iter()
        .take(MOST_FOR_THE_EYE)
        .map(|((cue, why), frames)| {
            let paths = frames
                .iter()
                .map(|index| &material.show.frames[*index].path);
            vec![
                names(paths.map(|path| super::name(path))),
                cue.map_or("-".to_owned(), |cue| cue.to_string()),
                text(why),
            ]
        })
        .collect();
    let more = match groups.len().saturating_sub(MOST_FOR_THE_EYE) {
        0 => String::new(),
        more => format!(
            "<p>And {more} more rows: <code>houselights explain</code> tells of any frame.</p>"
        ),
    };
    let table = table(
        "Frames to look at, and why",
        &["frame", "cue", "why"],
        &rows,
    );
    section("eye", "For a person\u{2019}s eye", &(table + &more))
}

/// The cue sheet, a row a run.
pub(super) fn cue_sheet(material: &Material<'_>) -> String {
    let unknown = || "-".to_owned();
    let rows: Vec<Vec<String>> = material
        .rows
        .iter()
        .map(|row| {
            let time = |time: Option<jiff::civil::DateTime>| {
                time.map_or_else(unknown, |time| time.strftime("%H:%M:%S").to_string())
            };
            vec![
                format!("<a href=\"#cue-{cue}\">{cue}</a>", cue = row.cue),
                time(row.from),
                time(row.to),
                text(&counts_in_words(&row.by_body)),
                row.white.map_or_else(unknown, |white| {
                    format!("{:.4}, {:.4}", white.white.x, white.white.y)
                }),
                row.white
                    .map_or_else(unknown, |white| text(&temperature(white.white))),
                row.white
                    .map_or_else(unknown, |white| format!("{:.2}", white.confidence)),
                row.level.map_or_else(unknown, stops_in_words),
                text(&kind_in_words(row)),
                text(&washes_in_words(&row.washes)),
                text(&row.overruled),
            ]
        })
        .collect();
    let heads = [
        "cue",
        "from",
        "to",
        "frames",
        "white x, y",
        "CCT, Duv",
        "confidence",
        "level, stops",
        "light",
        "washes",
        "overruled",
    ];
    section(
        "sheet",
        "The cue sheet",
        &table(
            "Runs of frames under one lighting state, in order of time",
            &heads,
            &rows,
        ),
    )
}

/// The bodies and their clocks.
pub(super) fn clocks(material: &Material<'_>) -> String {
    let sheet = material
        .show
        .solved
        .as_ref()
        .map(|solved| &solved.light.sheet);
    let rows: Vec<Vec<String>> = sheet
        .map(clocks_in_words)
        .unwrap_or_default()
        .into_iter()
        .map(|[letter, body, frames, how]| vec![letter, name(&body), text(&frames), text(&how)])
        .collect();
    section(
        "clocks",
        "Bodies and clocks",
        &table(
            "Times on this page are those of the first body\u{2019}s clock",
            &["", "body", "frames", "clock"],
            &rows,
        ),
    )
}

/// How the page is to be read, and what to mind before it is passed on.
pub(super) fn notes(material: &Material<'_>, bytes: usize) -> String {
    let rights = if material.pictures.is_empty() {
        String::new()
    } else {
        format!(
            "<p><strong>Before you pass this page on:</strong> it holds {} small pictures of {} frames. They show people: performers \
             and perhaps an audience have rights in their likeness, and a venue, a tour or an agency may have rights in the \
             pictures. Have their consent, or keep the page to yourself.</p>",
            2 * material.pictures.len(),
            material.pictures.len()
        )
    };
    let inner = format!(
        "{rights}<p>A confidence goes from 0 (a guess) to 1 (as good as a neutral patch that a person pointed at). Levels are in \
         stops: +1 is twice the light. Hues of washes are angles: 0\u{b0} red, 120\u{b0} green, 240\u{b0} blue; their swatches are \
         drawn from the angle and are no measurement.</p><p>The page is one file of {:.1} MB, asks for nothing from a network and runs no \
         script. Made by houselights {} from readings of the raw files; no raw was changed.</p>",
        bytes as f64 / 1e6,
        env!("CARGO_PKG_VERSION")
    );
    element("footer", "", &section("notes", "Notes", &inner))
}
