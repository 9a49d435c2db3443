//! The account of one frame in words.

use super::super::meter::sheet::body_in_words;
use super::super::output::printable;
use super::account::{Account, Applied, Measured, Trusted};
use crate::base::units::{Chromaticity, Stops};
use crate::light::reading::{Lightness, Method, Reading};
use crate::light::sheet::{KeySource, RunKind};
use crate::look::describe::white_in_words;
use std::fmt::Write as _;

/// Neutral candidates that are told.
const MOST_NEUTRALS: usize = 5;

/// The account, one thing a line, in four parts.
pub(super) fn in_words(account: &Account<'_>) -> String {
    let mut text = format!("{}\n", printable(&account.frame.frame).replace('\n', "\\n"));
    part(&mut text, "measured", measured(&account.measured));
    part(&mut text, "trusted", trusted(&account.trusted));
    part(&mut text, "applied", applied(&account.applied));
    if !account.for_a_persons_eye.is_empty() {
        part(
            &mut text,
            "for a person's eye",
            account.for_a_persons_eye.clone(),
        );
    }
    text
}

fn part(text: &mut String, heading: &str, lines: Vec<String>) {
    let _ = writeln!(text, "\n{heading}");
    for line in lines {
        let _ = writeln!(text, "  {}", printable(&line));
    }
}

fn measured(measured: &Measured<'_>) -> Vec<String> {
    let (facts, reading) = (measured.facts, measured.reading);
    let mut lines = vec![if measured.was_kept {
        "read by an earlier run; its reading was kept".to_owned()
    } else {
        "read by this run".to_owned()
    }];
    let time = facts
        .captured
        .as_ref()
        .map(|time| format!(", {} by its own clock", time.civil));
    lines.push(format!(
        "taken by {}{}",
        body_in_words(&facts.body),
        time.unwrap_or_default()
    ));
    lines.extend(lit(reading));
    lines.push(format!(
        "clipped: {:.2} % of the picture; noise at black: {:.5} of the range",
        100.0 * reading.clipped_share,
        reading.noise_floor
    ));
    if let Some(sharpness) = reading.sharpness {
        lines.push(format!("sharpness: {sharpness:.3}"));
    }
    match reading.as_shot {
        Some(white) => lines.push(format!(
            "the body took for white: {}",
            white_in_words(Some(white))
        )),
        None => lines.push("the file does not say what the body took for white".to_owned()),
    }
    match &reading.estimate {
        Some(estimate) => {
            lines.push(format!(
                "white of this picture alone: {}, confidence {:.2}",
                white_in_words(Some(estimate.white)),
                estimate.confidence
            ));
            for opinion in &estimate.opinions {
                let [red, _, blue] = opinion.neutral;
                lines.push(format!(
                    "  {}: grey has red {red:.3}, blue {blue:.3} of green; weight {:.2}",
                    method(opinion.method),
                    opinion.weight
                ));
            }
            if let Some(vote) = &estimate.vote {
                lines.push(format!("  the vote rests on {} differences", vote.count));
            }
        }
        None => lines.push("this picture alone shows no white".to_owned()),
    }
    for wash in &reading.washes {
        lines.push(format!(
            "wash: {} at {:.0}°, on {:.0} % of the picture and {:.0} % of what the key lights",
            wash.name,
            wash.hue,
            100.0 * wash.share,
            100.0 * wash.lit_share
        ));
    }
    let credible = reading
        .neutrals
        .iter()
        .filter(|neutral| neutral.is_credible());
    for neutral in credible.take(MOST_NEUTRALS) {
        lines.push(format!(
            "probably {} by itself: --neutral {:.3},{:.3},{:.3} (confidence {:.2})",
            match neutral.lightness {
                Lightness::White => "white",
                Lightness::Grey => "grey",
                Lightness::Black => "black",
            },
            neutral.patch.x,
            neutral.patch.y,
            neutral.patch.radius,
            neutral.confidence
        ));
    }
    if let Some(skin) = reading.skin {
        lines.push(format!(
            "looks like skin: {:.0} % of what the key lights",
            100.0 * skin.share
        ));
    }
    lines.extend(
        measured
            .notes
            .iter()
            .map(|note| format!("the reader settled: {note}")),
    );
    lines
}

fn lit(reading: &Reading) -> Vec<String> {
    let Some(lit) = reading.lit else {
        return vec!["nothing is lit".to_owned()];
    };
    let stops = |level: f64| {
        Stops::from_factor(level).map_or("no level".to_owned(), |stops| {
            format!("{:+.1} stops", stops.0)
        })
    };
    vec![format!(
        "lit region: {:.1} % of the picture, median {} from the sensor's end, bright end {}; {:.0} % of it under a wash, {:.1} % \
         blown, {:.1} % blocked",
        100.0 * lit.share,
        stops(lit.median),
        stops(lit.bright),
        100.0 * lit.washed_share,
        100.0 * lit.blown_share,
        100.0 * lit.blocked_share
    )]
}

fn method(method: Method) -> &'static str {
    match method {
        Method::GreyWorld => "grey world",
        Method::ShadesOfGrey => "shades of grey",
        Method::GreyEdge => "grey edge",
        Method::GraynessIndex => "grayness index",
        Method::Differences => "vote of differences",
        Method::NeutralThings => "agreement of neutral things",
    }
}

fn trusted(trusted: &Trusted<'_>) -> Vec<String> {
    let kind = match trusted.kind {
        RunKind::Key => "a key, with or without washes",
        RunKind::Wash => "coloured light only",
        RunKind::Dark => "nothing lit",
        RunKind::Strobe => "a strobe: the level jumps from frame to frame",
    };
    let mut lines = vec![format!(
        "cue {}: {kind}; read from {} of its frames, {} of them in this run",
        trusted.cue + 1,
        trusted.frames_of_cue,
        trusted.frames_of_run
    )];
    lines.push(match trusted.seconds {
        Some(seconds) => {
            format!("{seconds:.1} s after the show's first frame, on the first body's clock")
        }
        None => "it has no time: its place in the show is a guess".to_owned(),
    });
    if let Some(fade) = trusted.fade {
        lines.push(format!(
            "in a cross-fade from cue {} to cue {}: {:.0} % of the coming light has arrived",
            fade.from + 1,
            fade.to + 1,
            100.0 * fade.arrived
        ));
    }
    if trusted.is_reference {
        lines.push("it is the reference itself: its own white and exposure hold".to_owned());
    }
    match trusted.key.and_then(|key| key.white) {
        Some(white) => {
            lines.push(format!(
                "the cue's white, as this body sees it: {}, {}; {} differences, confidence {:.2}",
                white_in_words(Some(white.white)),
                match white.source {
                    KeySource::Palette => "found by the reference's things",
                    KeySource::OtherBody => "as another body saw it",
                },
                white.voters,
                white.confidence
            ));
            if let Some(anchor) = &trusted.anchor {
                lines.push(format!(
                    "held against the key {}, confidence {:.2}",
                    white_in_words(Some(*anchor.white)),
                    anchor.confidence
                ));
            }
        }
        None => lines.push("the cue shows no key that can be believed".to_owned()),
    }
    if let Some(degrees) = trusted.degrees_from_cue {
        lines.push(format!(
            "this picture's own white is {degrees:.1} degrees from the cue's"
        ));
    }
    match trusted.key.and_then(|key| key.level) {
        Some(level) => lines.push(format!(
            "the cue's key is {} against the reference's, exposure settings evened out; confidence {:.2}",
            level.stops, level.confidence
        )),
        None => lines.push("nothing tells the level of the cue's key".to_owned()),
    }
    lines
}

fn applied(applied: &Applied<'_>) -> Vec<String> {
    let correction = applied.correction;
    let white: Chromaticity = correction.white;
    let mut lines = vec![
        format!("white {}", white_in_words(Some(white))),
        format!(
            "gain {:.3}: {} against the reference {}",
            correction.gain,
            Stops(applied.stops_of_gain),
            applied.reference
        ),
        format!(
            "levels: black {:.4}, middle {:.3}, white {:.3}",
            correction.levels.black, correction.levels.middle, correction.levels.white
        ),
    ];
    lines.extend(
        applied
            .reasons
            .iter()
            .map(|reason| format!("because: {reason}")),
    );
    lines
}
