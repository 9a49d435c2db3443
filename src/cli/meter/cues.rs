//! The cue sheet on a terminal.

use super::super::output::printable;
use super::columns::aligned;
use super::sheet::{
    clocks_in_words, counts_in_words, kind_in_words, rows, stops_in_words, washes_in_words,
};
use crate::colour::temperature::ohno;
use crate::light::reading::TRUSTED_CONFIDENCE;
use crate::show::meter::MeteredShow;
use crate::show::runs::RunRow;

const HEADS: [&str; 12] = [
    "cue", "from", "to", "frames", "white x", "white y", "CCT", "Duv", "conf", "level", "light",
    "washes",
];
/// The last column, where a person overruled anything.
const OVERRULED: &str = "overruled";
/// Columns of text before and after the numbers.
const TEXT_BEFORE: usize = 4;
const TEXT_AFTER: usize = 10;

/// What stands where nothing is known.
const UNKNOWN: &str = "-";

/// The cue sheet: bodies with their clocks, then a line a run.
pub(super) fn cue_sheet(show: &MeteredShow) -> String {
    let Some(solved) = &show.solved else {
        return String::new();
    };
    let bodies: Vec<Vec<String>> = clocks_in_words(&solved.light.sheet)
        .into_iter()
        .map(|[letter, body, frames, how]| {
            vec![letter, printable(&body).replace('\n', " "), frames, how]
        })
        .collect();
    let mut lines = vec![HEADS.map(str::to_owned).to_vec()];
    let rows = rows(show);
    lines.extend(rows.iter().map(line));
    if rows.iter().any(|row| !row.overruled.is_empty()) {
        let last = rows.iter().map(|row| match &row.overruled {
            nothing if nothing.is_empty() => UNKNOWN.to_owned(),
            words => printable(words).replace('\n', " "),
        });
        for (line, cell) in lines
            .iter_mut()
            .zip(std::iter::once(OVERRULED.to_owned()).chain(last))
        {
            line.push(cell);
        }
    }
    format!(
        "{}\n{}",
        aligned(&bodies, 4, 4),
        aligned(&lines, TEXT_BEFORE, TEXT_AFTER)
    )
}

fn line(row: &RunRow) -> Vec<String> {
    let or_unknown = |text: Option<String>| text.unwrap_or_else(|| UNKNOWN.to_owned());
    let time = |time: Option<jiff::civil::DateTime>| {
        or_unknown(time.map(|time| time.strftime("%H:%M:%S").to_string()))
    };
    let bracketed = |text: String| match row.white {
        Some(white) if white.confidence < TRUSTED_CONFIDENCE => format!("({text})"),
        _ => text,
    };
    let white = row.white;
    let found = white.and_then(|white| ohno(white.white));
    vec![
        row.cue.to_string(),
        time(row.from),
        time(row.to),
        counts_in_words(&row.by_body),
        or_unknown(white.map(|white| bracketed(format!("{:.4}", white.white.x)))),
        or_unknown(white.map(|white| bracketed(format!("{:.4}", white.white.y)))),
        or_unknown(found.map(|found| bracketed(found.kelvin.to_string()))),
        or_unknown(found.map(|found| bracketed(format!("{:+.4}", found.duv)))),
        or_unknown(white.map(|white| format!("{:.2}", white.confidence))),
        or_unknown(row.level.map(stops_in_words)),
        kind_in_words(row),
        match &row.washes[..] {
            [] => UNKNOWN.to_owned(),
            washes => washes_in_words(washes),
        },
    ]
}
