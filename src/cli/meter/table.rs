//! Metered frames as a table.

use super::super::output::printable;
use super::columns::aligned;
use crate::base::units::Stops;
use crate::colour::temperature;
use crate::light::reading::{FrameLight, Reading, TRUSTED_CONFIDENCE};
use crate::raw::facts::Facts;
use crate::show::meter::MeteredShow;
use std::path::Path;

const HEADS: [&str; 13] = [
    "frame", "time", "settings", "cue", "EV", "white x", "white y", "CCT", "Duv", "conf", "lit",
    "lit %", "clip %",
];
/// Columns of text before the numbers.
const TEXT_COLUMNS: usize = 3;

/// What stands where nothing is known.
const UNKNOWN: &str = "-";

/// The table, in order of time and then of paths. Frames without a time come last.
pub(super) fn table(show: &MeteredShow) -> String {
    let time = |light: &FrameLight| light.facts.captured.as_ref().map(|time| time.civil);
    let mut order: Vec<usize> = (0..show.lights.len()).collect();
    order.sort_by(|&a, &b| {
        let key = |at: usize| (time(&show.lights[at]).is_none(), time(&show.lights[at]));
        key(a)
            .cmp(&key(b))
            .then_with(|| show.path_of(a).cmp(show.path_of(b)))
    });
    let mut lines = vec![HEADS.map(str::to_owned).to_vec()];
    lines.extend(order.into_iter().filter_map(|at| {
        let light = &show.lights[at];
        let cue = show.solved.as_ref().and_then(|solved| {
            let place = solved.light.sheet.places.get(at)?;
            Some(solved.light.sheet.runs.get(place.run)?.cue + 1)
        });
        Some(row(
            show.path_of(at),
            &light.facts,
            light.reading.as_ref()?,
            cue,
        ))
    }));
    aligned(&lines, TEXT_COLUMNS, HEADS.len())
}

fn row(path: &Path, facts: &Facts, reading: &Reading, cue: Option<usize>) -> Vec<String> {
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
        or_unknown(cue.map(|cue| cue.to_string())),
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
    let text = settings_in_words(facts.exposure_seconds, facts.f_number, facts.iso);
    if text.is_empty() {
        UNKNOWN.to_owned()
    } else {
        text
    }
}

/// Exposure settings as photographers write them, as far as they are known.
pub(in crate::cli) fn settings_in_words(
    seconds: Option<f64>,
    f_number: Option<f64>,
    iso: Option<f64>,
) -> String {
    let time = seconds.filter(|seconds| *seconds > 0.0).map(|seconds| {
        if seconds < 0.3 {
            format!("1/{:.0} s", 1.0 / seconds)
        } else {
            format!("{} s", (seconds * 10.0).round() / 10.0)
        }
    });
    let parts = [
        time,
        f_number.map(|number| format!("f/{number}")),
        iso.map(|iso| format!("ISO {iso}")),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
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
}
