//! Metered frames as a table whose columns stand in line.

use super::super::output::printable;
use crate::base::units::Stops;
use crate::colour::temperature;
use crate::crew::task::Metered;
use crate::light::reading::TRUSTED_CONFIDENCE;
use crate::raw::facts::Facts;
use std::path::{Path, PathBuf};

const HEADS: [&str; 11] = [
    "frame", "time", "settings", "EV", "white x", "white y", "CCT", "Duv", "conf", "lit", "lit %",
];
const LAST_HEAD: &str = "clip %";

/// Between columns.
const GAP: &str = "  ";

/// What stands where nothing is known.
const UNKNOWN: &str = "-";

/// The table, in order of time and then of paths. Frames without a time come last.
pub(super) fn table(mut rows: Vec<(PathBuf, Box<Metered>)>) -> String {
    rows.sort_by(|(path_a, a), (path_b, b)| {
        let time = |metered: &Metered| metered.facts.captured.as_ref().map(|time| time.civil);
        let key = |metered: &Metered| (time(metered).is_none(), time(metered));
        key(a).cmp(&key(b)).then_with(|| path_a.cmp(path_b))
    });
    let mut lines = vec![
        HEADS
            .iter()
            .chain([&LAST_HEAD])
            .map(|head| (*head).to_owned())
            .collect(),
    ];
    lines.extend(rows.iter().map(|(path, metered)| row(path, metered)));
    aligned(&lines)
}

fn row(path: &Path, metered: &Metered) -> Vec<String> {
    let (facts, reading) = (&metered.facts, &metered.reading);
    let estimate = reading.estimate.as_ref();
    let white = estimate.map(|estimate| estimate.white).or(reading.as_shot);
    let bracketed = |text: String| {
        if estimate.is_some_and(|estimate| estimate.confidence >= TRUSTED_CONFIDENCE) {
            text
        } else {
            format!("({text})")
        }
    };
    let kelvin = white.and_then(temperature::ohno);
    let or_unknown = |text: Option<String>| text.unwrap_or_else(|| UNKNOWN.to_owned());
    let name = path.file_name().unwrap_or(path.as_os_str());
    vec![
        printable(&name.to_string_lossy().replace('\n', "\\n")),
        or_unknown(facts.captured.as_ref().map(|time| time.civil.to_string())),
        settings(facts),
        or_unknown(
            facts
                .exposure_value()
                .map(|value| format!("{:.1}", value.0)),
        ),
        or_unknown(white.map(|white| bracketed(format!("{:.4}", white.x)))),
        or_unknown(white.map(|white| bracketed(format!("{:.4}", white.y)))),
        or_unknown(kelvin.map(|found| bracketed(found.kelvin.to_string()))),
        or_unknown(kelvin.map(|found| bracketed(format!("{:+.4}", found.duv)))),
        or_unknown(estimate.map(|estimate| format!("{:.2}", estimate.confidence))),
        or_unknown(
            reading
                .lit
                .and_then(|lit| Stops::from_factor(lit.median))
                .map(|level| format!("{:+.1}", level.0)),
        ),
        or_unknown(reading.lit.map(|lit| format!("{:.1}", 100.0 * lit.share))),
        format!("{:.2}", 100.0 * reading.clipped_share),
    ]
}

/// `1/640 s f/2.8 ISO 3200`, as far as it is known.
fn settings(facts: &Facts) -> String {
    let time = facts
        .exposure_seconds
        .filter(|seconds| *seconds > 0.0)
        .map(|seconds| {
            if seconds < 0.3 {
                format!("1/{:.0} s", 1.0 / seconds)
            } else {
                format!("{} s", (seconds * 10.0).round() / 10.0)
            }
        });
    let parts = [
        time,
        facts.f_number.map(|number| format!("f/{number}")),
        facts.iso.map(|iso| format!("ISO {iso}")),
    ];
    let text = parts.into_iter().flatten().collect::<Vec<_>>().join(" ");
    if text.is_empty() {
        UNKNOWN.to_owned()
    } else {
        text
    }
}

/// Text columns (the first three) to the left, numbers to the right.
fn aligned(lines: &[Vec<String>]) -> String {
    const TEXT_COLUMNS: usize = 3;
    let columns = lines.first().map_or(0, Vec::len);
    let width = |column: usize| lines.iter().map(|line| line[column].chars().count()).max();
    let widths: Vec<usize> = (0..columns)
        .map(|column| width(column).unwrap_or(0))
        .collect();
    let mut text = String::new();
    for line in lines {
        let cells: Vec<String> = line
            .iter()
            .zip(&widths)
            .enumerate()
            .map(|(column, (cell, &width))| {
                if column < TEXT_COLUMNS {
                    format!("{cell:<width$}")
                } else {
                    format!("{cell:>width$}")
                }
            })
            .collect();
        text += cells.join(GAP).trim_end();
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_read_as_photographers_write_them() {
        let facts = Facts {
            exposure_seconds: Some(1.0 / 640.0),
            f_number: Some(2.8),
            iso: Some(3200.0),
            ..Facts::default()
        };
        assert_eq!(settings(&facts), "1/640 s f/2.8 ISO 3200");
        assert_eq!(settings(&Facts::default()), "-");
    }

    #[test]
    fn columns_stand_in_line() {
        let line = |texts: [&str; 5]| texts.map(str::to_owned).to_vec();
        let text = aligned(&[
            line(["frame", "time", "settings", "EV", "x"]),
            line(["é.nef", "1", "-", "-1.0", "0.3"]),
        ]);
        let ends: Vec<usize> = text.lines().map(|line| line.chars().count()).collect();
        assert_eq!(ends[0], ends[1]);
        assert!(
            text.lines()
                .nth(1)
                .is_some_and(|line| line.ends_with(" -1.0  0.3"))
        );
    }
}
