//! A card a cue: its numbers, its washes, and small pictures before and after.

use super::super::messages::temperature;
use super::super::sheet::{
    RowWash, RunRow, counts_in_words, kind_in_words, letter, stops_in_words,
};
use super::Material;
use super::markup::{element, name, section as whole, text};
use crate::light::reading::TRUSTED_CONFIDENCE;
use crate::light::sheet::RunKind;
use crate::show::meter::SmallPictures;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Runs that a card lists by their times.
const MOST_TIMES: usize = 12;
/// Small pictures on one card, whatever number of runs its cue has.
const MOST_PICTURES: usize = 12;

/// The section with all cards, in order of the cues' first frames.
pub(super) fn section(material: &Material<'_>) -> String {
    let mut cues: BTreeMap<usize, Vec<&RunRow>> = BTreeMap::new();
    for row in &material.rows {
        cues.entry(row.cue).or_default().push(row);
    }
    let mut order: Vec<(usize, Vec<&RunRow>)> = cues.into_iter().collect();
    order.sort_by_key(|(_, rows)| rows.first().and_then(|row| row.from));
    let cards: String = order
        .iter()
        .map(|(cue, rows)| card(material, *cue, rows))
        .collect();
    let key = "<p class=\"soft\">Of each pair the upper picture has the body's own white balance and its own exposure (before), the \
               lower one is as it is carried (after); curve and colour are the same look's in both.</p>";
    whole("cues", "The cues", &format!("{key}\n{cards}"))
}

fn card(material: &Material<'_>, cue: usize, rows: &[&RunRow]) -> String {
    let Some(first) = rows.first() else {
        return String::new();
    };
    let mut facts = vec![match first.white {
        Some(white) => {
            let words = format!(
                "key {}, x {:.4}, y {:.4}, confidence {:.2}",
                temperature(white.white),
                white.white.x,
                white.white.y,
                white.confidence
            );
            if white.confidence < TRUSTED_CONFIDENCE {
                element(
                    "span",
                    "class=\"unsure\"",
                    &text(&format!("unsure: {words}")),
                )
            } else {
                text(&words)
            }
        }
        None => "no key to be seen: the reference\u{2019}s white is kept".to_owned(),
    }];
    if let Some(level) = first.level {
        facts.push(text(&format!(
            "key {} stops against the reference\u{2019}s",
            stops_in_words(level)
        )));
    }
    // Without a white the first words say it already.
    if first.white.is_some() || first.kind != RunKind::Key || first.fading > 0 {
        facts.push(text(&kind_in_words(first)));
    }
    if let Some(row) = rows.iter().find(|row| !row.overruled.is_empty()) {
        facts.push(text(&format!("overruled: {}", row.overruled)));
    }
    let times: Vec<String> = rows
        .iter()
        .take(MOST_TIMES)
        .map(|row| {
            let time = |time: Option<jiff::civil::DateTime>| {
                time.map_or("no time".to_owned(), |time| {
                    time.strftime("%H:%M:%S").to_string()
                })
            };
            format!(
                "{} to {} ({})",
                time(row.from),
                time(row.to),
                counts_in_words(&row.by_body)
            )
        })
        .collect();
    let more = match rows.len().saturating_sub(MOST_TIMES) {
        0 => String::new(),
        more => format!(", and {more} more"),
    };
    format!(
        "<article class=\"cue\" aria-labelledby=\"cue-{cue}\"><h3 id=\"cue-{cue}\">Cue {cue}</h3>\n<div>{}</div>\
         <div class=\"soft\">{}{more}</div>{}{}</article>\n",
        facts.join("; "),
        text(&times.join("; ")),
        washes(&first.washes),
        strip(material, rows)
    )
}

/// Names and swatches of washes.
pub(super) fn washes(washes: &[RowWash]) -> String {
    if washes.is_empty() {
        return String::new();
    }
    let chips: String = washes
        .iter()
        .map(|wash| {
            format!(
                "<span><i class=\"swatch\" style=\"background:hsl({:.0} 85% 50%)\"></i>{} {:.0}\u{b0}, {:.0} % of the picture</span>",
                wash.hue,
                text(&wash.name.to_string()),
                wash.hue,
                100.0 * wash.share
            )
        })
        .collect();
    format!("<div class=\"washes\">{chips}</div>")
}

fn strip(material: &Material<'_>, rows: &[&RunRow]) -> String {
    let mut pictures = String::new();
    let of_cue = rows.iter().flat_map(|row| row.frames.iter());
    let shown = of_cue.filter_map(|at| Some((*at, material.pictures.get(at)?)));
    for (at, small) in shown.take(MOST_PICTURES) {
        pictures += &figure(material, at, small);
    }
    if pictures.is_empty() {
        return String::new();
    }
    element("div", "class=\"strip\"", &pictures)
}

fn figure(material: &Material<'_>, at: usize, small: &SmallPictures) -> String {
    let file = material.name_of(at);
    let body = material
        .show
        .solved
        .as_ref()
        .and_then(|solved| solved.light.sheet.places.get(at))
        .map(|place| format!(", {}", letter(place.body)))
        .unwrap_or_default();
    let mut pair = String::new();
    for (when, how, picture) in [
        (
            "before",
            "the body\u{2019}s own white and exposure",
            &small.before,
        ),
        ("after", "as it is carried", &small.after),
    ] {
        let words = text(&format!("{file} {when}: {how}"));
        let _ = write!(
            pair,
            "<img alt=\"{words}\" title=\"{words}\" src=\"data:image/jpeg;base64,{picture}\">"
        );
    }
    format!(
        "<figure>{pair}<figcaption>{}{}</figcaption></figure>",
        name(&file),
        text(&body)
    )
}
