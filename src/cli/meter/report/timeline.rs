//! The timelines: one step to the right for each frame, cues as bands with their numbers.

use super::super::super::page::markup::{section as whole, text};
use super::Material;
use super::series::{Series, series};
use std::fmt::Write as _;

/// The drawing's width, and where its scales end and begin, in its own units.
const WIDTH: f64 = 1000.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 8.0;
/// Height of a panel, of its heading above and of the times below.
const PANEL: f64 = 130.0;
const ABOVE: f64 = 34.0;
const BELOW: f64 = 18.0;
/// A band narrower than this has no room for its number or its time.
const ROOM_FOR_NUMBER: f64 = 16.0;
const ROOM_FOR_TIME: f64 = 66.0;

/// One panel: what it is called, and how its scale is written.
struct Panel<'a> {
    heading: &'a str,
    about: &'a str,
    series: &'a Series,
    /// Least height of the scale, so that nothing is blown up out of proportion.
    least: f64,
    /// How a value is written.
    label: fn(f64) -> String,
    /// Kelvins at which the scale has lines; `None`: at round numbers of its own.
    round: Option<&'static [f64]>,
}

/// Temperatures that photographers know.
const KELVINS: [f64; 16] = [
    1500.0, 1800.0, 2000.0, 2400.0, 2800.0, 3200.0, 3600.0, 4000.0, 4500.0, 5000.0, 5600.0, 6500.0,
    8000.0, 10_000.0, 15_000.0, 25_000.0,
];

/// The section with the three drawings.
pub(super) fn section(material: &Material<'_>) -> String {
    let lights: Vec<usize> = material
        .rows
        .iter()
        .flat_map(|row| row.frames.iter().copied())
        .collect();
    let Some(all) = series(material, &lights) else {
        return String::new();
    };
    let panels = [
        Panel {
            heading: "White: colour temperature",
            about: "scale in mired, a million divided by kelvins: equal steps look equal",
            series: &all.mired,
            least: 60.0,
            label: |mired| format!("{:.0} K", 1e6 / mired),
            round: Some(&KELVINS),
        },
        Panel {
            heading: "White: Duv",
            about: "distance from the black body; above 0 greenish, below pinkish",
            series: &all.duv,
            least: 0.01,
            label: |duv| format!("{duv:+.3}"),
            round: None,
        },
        Panel {
            heading: "Level of the key in the picture",
            about: "stops against the reference frame, of what can be grey or skin",
            series: &all.level,
            least: 2.0,
            label: |stops| format!("{stops:+.1}"),
            round: None,
        },
    ];
    let key = "<p class=\"soft\">Crosses: before, as the body had it (its own white balance, its own exposure). Line: after, as it is \
               carried. One step to the right is one frame, so that songs with many frames have room; bands are cues with their \
               numbers, and below stands the time at which they begin.</p>";
    let drawings: String = panels
        .iter()
        .map(|panel| drawing(material, panel))
        .collect();
    whole(
        "timelines",
        "White and level, before and after",
        &format!("{key}\n{drawings}"),
    )
}

fn drawing(material: &Material<'_>, panel: &Panel<'_>) -> String {
    let height = ABOVE + PANEL + BELOW;
    let count = panel.series.after.len().max(1) as f64;
    let x = |step: f64| LEFT + (WIDTH - LEFT - RIGHT) * step / count;
    let (low, high) = scale(panel);
    let y = |value: f64| ABOVE + PANEL * (high - value.max(low).min(high)) / (high - low);
    let mut drawn = String::new();
    let mut step = 0;
    for (number, row) in material.rows.iter().enumerate() {
        let (from, to) = (x(step as f64), x((step + row.frames.len()) as f64));
        step += row.frames.len();
        if number % 2 == 0 {
            let _ = write!(
                drawn,
                "<rect class=\"band\" x=\"{from:.1}\" y=\"{ABOVE}\" width=\"{:.1}\" height=\"{PANEL}\"/>",
                to - from
            );
        }
        if to - from > ROOM_FOR_NUMBER {
            let _ = write!(
                drawn,
                "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
                (from + to) / 2.0,
                ABOVE - 4.0,
                row.cue
            );
        }
        if let Some(time) = row.from.filter(|_| to - from > ROOM_FOR_TIME) {
            let _ = write!(
                drawn,
                "<text class=\"soft\" x=\"{from:.1}\" y=\"{:.1}\">{}</text>",
                height - 5.0,
                time.strftime("%H:%M:%S")
            );
        }
    }
    for value in ticks(panel, low, high) {
        let _ = write!(
            drawn,
            "<line class=\"grid\" x1=\"{LEFT}\" x2=\"{:.1}\" y1=\"{at:.1}\" y2=\"{at:.1}\"/>\
             <text class=\"soft\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>",
            WIDTH - RIGHT,
            LEFT - 5.0,
            y(value) + 4.0,
            (panel.label)(value),
            at = y(value),
        );
    }
    let middle = |at: usize| x(at as f64 + 0.5);
    let mut crosses = String::new();
    for (at, value) in panel.series.before.iter().enumerate() {
        if let Some(value) = value {
            let (x, y) = (middle(at), y(*value));
            let _ = write!(crosses, "M{:.1} {:.1}l5 5m-5 0l5-5", x - 2.5, y - 2.5);
        }
    }
    let line = line_of(material, &panel.series.after, &middle, &y);
    format!(
        "<h3>{heading}</h3><p class=\"soft\">{about}</p>\n<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"{heading}\">\
         <svg viewBox=\"0 0 {WIDTH} {height}\" role=\"img\" aria-label=\"{words}\"><title>{words}</title>{drawn}\
         <path class=\"before\" d=\"{crosses}\"/><path class=\"after\" d=\"{line}\"/></svg></div>\n",
        heading = text(panel.heading),
        about = text(panel.about),
        words = text(&in_words(panel)),
    )
}

/// The line, begun anew with each run: between two cues there is no value.
fn line_of(
    material: &Material<'_>,
    values: &[Option<f64>],
    x: &dyn Fn(usize) -> f64,
    y: &dyn Fn(f64) -> f64,
) -> String {
    let mut line = String::new();
    let half = (x(1) - x(0)).min(3.0) / 2.0;
    let mut at = 0;
    for row in &material.rows {
        let mut is_on = false;
        for _ in &row.frames {
            let value = values.get(at).copied().flatten();
            if let Some(value) = value {
                let command = if is_on { 'L' } else { 'M' };
                // A frame by itself is a short line.
                let _ = write!(
                    line,
                    "{command}{:.1} {:.1}h{:.1}",
                    x(at) - half,
                    y(value),
                    2.0 * half
                );
            }
            is_on = value.is_some();
            at += 1;
        }
    }
    line
}

/// Where the scale has its lines: at round numbers, three to six of them.
fn ticks(panel: &Panel<'_>, low: f64, high: f64) -> Vec<f64> {
    if let Some(round) = panel.round {
        let least_apart = (high - low) / 7.0;
        let mut ticks: Vec<f64> = Vec::new();
        for value in round.iter().map(|kelvin| 1e6 / kelvin) {
            let is_free = ticks
                .last()
                .is_none_or(|last| (last - value).abs() >= least_apart);
            if (low..=high).contains(&value) && is_free {
                ticks.push(value);
            }
        }
        return ticks;
    }
    let asked = (high - low) / 5.0;
    let decade = 10.0_f64.powf(asked.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|factor| factor * decade)
        .find(|step| *step >= asked)
        .unwrap_or(asked);
    let first = (low / step).ceil();
    (0..8)
        .map(|number| (first + f64::from(number)) * step)
        .filter(|value| *value <= high)
        // So that zero has no sign.
        .map(|value| value + 0.0)
        .collect()
}

/// What the drawing shows, for who cannot see it.
fn in_words(panel: &Panel<'_>) -> String {
    let ends = |values: &[Option<f64>]| {
        let known = || values.iter().flatten().copied();
        let (least, most) = known().reduce(f64::min).zip(known().reduce(f64::max))?;
        Some(format!(
            "{} to {}",
            (panel.label)(least),
            (panel.label)(most)
        ))
    };
    let or_nothing = |words: Option<String>| words.unwrap_or_else(|| "unknown".to_owned());
    format!(
        "{}: before {}, after {}",
        panel.heading,
        or_nothing(ends(&panel.series.before)),
        or_nothing(ends(&panel.series.after))
    )
}

/// The ends of the scale: all of the line, and all crosses but the farthest hundredths.
fn scale(panel: &Panel<'_>) -> (f64, f64) {
    let mut values: Vec<f64> = panel.series.before.iter().flatten().copied().collect();
    let percentile = |values: &mut [f64], percent| crate::base::robust::percentile(values, percent);
    let before = percentile(&mut values, 1.0).zip(percentile(&mut values, 99.0));
    let after = panel.series.after.iter().flatten().copied();
    let ends = before.into_iter().flat_map(|(low, high)| [low, high]);
    let known: Vec<f64> = after.chain(ends).collect();
    let low = known.iter().copied().fold(f64::INFINITY, f64::min);
    let high = known.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !(low.is_finite() && high.is_finite()) {
        return (0.0, panel.least);
    }
    let half = (0.55 * (high - low)).max(panel.least / 2.0);
    ((low + high) / 2.0 - half, (low + high) / 2.0 + half)
}
