//! What is told of a cue on any page: its key, its times, its washes.

use super::super::meter::messages::temperature;
use super::super::meter::sheet::{counts_in_words, kind_in_words, stops_in_words};
use super::markup::{element, text};
use crate::light::reading::TRUSTED_CONFIDENCE;
use crate::light::sheet::RunKind;
use crate::show::runs::{RowWash, RunRow};
use std::collections::BTreeMap;

/// Runs that a card lists by their times.
const MOST_TIMES: usize = 12;

/// The rows of each cue, cues in order of their first frames.
pub(in crate::cli) fn cues(rows: &[RunRow]) -> Vec<(usize, Vec<&RunRow>)> {
    let mut cues: BTreeMap<usize, Vec<&RunRow>> = BTreeMap::new();
    for row in rows {
        cues.entry(row.cue).or_default().push(row);
    }
    let mut order: Vec<(usize, Vec<&RunRow>)> = cues.into_iter().collect();
    order.sort_by_key(|(_, rows)| rows.first().and_then(|row| row.from));
    order
}

/// The key of a cue, what kind of light it is and what a person changed of it, as markup.
pub(in crate::cli) fn facts(first: &RunRow, rows: &[&RunRow]) -> String {
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
    facts.join("; ")
}

/// When the cue was on, and which frames it has of each body, as markup.
pub(in crate::cli) fn times(rows: &[&RunRow]) -> String {
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
    text(&times.join("; ")) + &more
}

/// Names and swatches of washes.
pub(in crate::cli) fn washes(washes: &[RowWash]) -> String {
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
