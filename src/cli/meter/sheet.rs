//! The cue sheet's rows in words, for paper and page alike.

use super::super::frames::counted;
use crate::light::sheet::{ClockSource, CueSheet, RunKind};
use crate::raw::facts::Body;
use crate::show::meter::MeteredShow;
use crate::show::runs::{self, RowWash, RunRow};

/// The rows of a show in order of time; none where it could not be solved.
pub(in crate::cli) fn rows(show: &MeteredShow) -> Vec<RunRow> {
    let solved = show.solved.iter();
    solved
        .flat_map(|solved| runs::rows(solved, &show.lights))
        .collect()
}

/// Stops with their sign; what rounds to nothing is `+0.00`.
pub(in crate::cli) fn stops_in_words(stops: f64) -> String {
    format!("{:+.2}", (stops * 100.0).round() / 100.0 + 0.0)
}

/// What kind of light a run has, in words.
pub(in crate::cli) fn kind_in_words(row: &RunRow) -> String {
    let kind = match row.kind {
        RunKind::Key if row.white.is_none() => "no key to be seen",
        RunKind::Key => "steady",
        RunKind::Wash => "wash only",
        RunKind::Dark => "dark",
        RunKind::Strobe => "strobe",
    };
    match row.fading {
        0 => kind.to_owned(),
        fading if fading == row.frames.len() => "cross-fade".to_owned(),
        fading => format!("{kind}, {fading} in a cross-fade"),
    }
}

/// `A`, `B`, … `Z`, `AA`: what a body is called on a cue sheet.
pub(in crate::cli) fn letter(body: usize) -> String {
    let last = char::from(b'A' + u8::try_from(body % 26).unwrap_or(0));
    match body / 26 {
        0 => last.to_string(),
        more => format!("{}{last}", letter(more - 1)),
    }
}

/// `A 8, B 3`.
pub(in crate::cli) fn counts_in_words(by_body: &[usize]) -> String {
    let counts = by_body.iter().enumerate().filter(|(_, count)| **count > 0);
    counts
        .map(|(body, count)| format!("{} {count}", letter(body)))
        .collect::<Vec<_>>()
        .join(", ")
}

/// `blue 238°, magenta 301°`.
pub(in crate::cli) fn washes_in_words(washes: &[RowWash]) -> String {
    let words = washes
        .iter()
        .map(|wash| format!("{} {:.0}°", wash.name, wash.hue));
    words.collect::<Vec<_>>().join(", ")
}

/// Make, model and serial number, as far as the file says. Many models begin with their make.
pub(in crate::cli) fn body_in_words(body: &Body) -> String {
    let make = Some(body.make.as_str()).filter(|make| !body.model.starts_with(make));
    let parts = [make, Some(body.model.as_str()), body.serial.as_deref()];
    let words: Vec<&str> = parts
        .into_iter()
        .flatten()
        .filter(|part| !part.is_empty())
        .collect();
    if words.is_empty() {
        "unknown body".to_owned()
    } else {
        words.join(" ")
    }
}

/// How a clock's offset is known, in words.
pub(in crate::cli) fn clocks_in_words(sheet: &CueSheet) -> Vec<[String; 4]> {
    let source = |source: ClockSource| match source {
        ClockSource::First => "the clock that the others are held against".to_owned(),
        ClockSource::Given => "as it was given".to_owned(),
        ClockSource::LightChanges { matched } => {
            format!("by {matched} changes of light that both bodies saw")
        }
        ClockSource::UniversalTime => "by universal time, as the files state it".to_owned(),
        ClockSource::FrameOrder => "by the order of its own frames".to_owned(),
        ClockSource::Unknown => "taken as equal: nothing tells".to_owned(),
    };
    let offset = |seconds: f64| {
        if seconds.abs() < 0.05 {
            "even".to_owned()
        } else if seconds > 0.0 {
            format!("{seconds:.1} s ahead")
        } else {
            format!("{:.1} s behind", -seconds)
        }
    };
    let words = sheet.clocks.iter().enumerate().map(|(at, clock)| {
        let mut how = format!("{}, {}", offset(clock.ahead_seconds), source(clock.source));
        if at == 0 {
            how = source(ClockSource::First);
        }
        for jump in &clock.jumps {
            how += &format!(
                "; set anew, or the first body's was: from there on {}, {}",
                offset(jump.ahead_seconds),
                source(jump.source)
            );
        }
        let frames = counted(clock.frames);
        [letter(at), body_in_words(&clock.body), frames, how]
    });
    words.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_has_no_minus() {
        assert_eq!(stops_in_words(-0.001), "+0.00");
        assert_eq!(stops_in_words(-1.239), "-1.24");
    }

    #[test]
    fn bodies_have_letters_however_many_there_are() {
        assert_eq!(
            [0, 1, 25, 26, 27, 51, 52].map(letter),
            ["A", "B", "Z", "AA", "AB", "AZ", "BA"]
        );
        assert_eq!(counts_in_words(&[8, 0, 3]), "A 8, C 3");
    }
}
