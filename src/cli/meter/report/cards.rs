//! A card a cue: its numbers, its washes, and small pictures before and after.

use super::super::super::page::cue;
use super::super::super::page::markup::{element, name, section as whole, text};
use super::super::sheet::letter;
use super::Material;
use crate::show::meter::SmallPictures;
use crate::show::runs::RunRow;
use std::fmt::Write as _;

/// Small pictures on one card, whatever number of runs its cue has.
const MOST_PICTURES: usize = 12;

/// The section with all cards, in order of the cues' first frames.
pub(super) fn section(material: &Material<'_>) -> String {
    let cards: String = cue::cues(&material.rows)
        .iter()
        .map(|(number, rows)| card(material, *number, rows))
        .collect();
    let key = "<p class=\"soft\">Of each pair the upper picture has the body's own white balance and its own exposure (before), the \
               lower one is as it is carried (after); curve and colour are the same look's in both.</p>";
    whole("cues", "The cues", &format!("{key}\n{cards}"))
}

fn card(material: &Material<'_>, number: usize, rows: &[&RunRow]) -> String {
    let Some(first) = rows.first() else {
        return String::new();
    };
    format!(
        "<article class=\"cue\" aria-labelledby=\"cue-{number}\"><h3 id=\"cue-{number}\">Cue {number}</h3>\n<div>{}</div>\
         <div class=\"soft\">{}</div>{}{}</article>\n",
        cue::facts(first, rows),
        cue::times(rows),
        cue::washes(&first.washes),
        strip(material, rows)
    )
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
