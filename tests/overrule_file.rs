//! Overrule files: what a person may say, what it means for a show, and what is refused by name.

#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that meets the unexpected should stop there"
)]

use houselights::base::units::{Chromaticity, Kelvin, Stops};
use houselights::colour::temperature;
use houselights::light::reading::FrameLight;
use houselights::light::sheet::{
    BodyClock, ClockSource, CueSheet, FramePlace, KeyMemory, Run, RunKind,
};
use houselights::look::keys::Key;
use houselights::look::overrule::{
    Overrules, Overruling, Place, SettleError, TemplateCue, WhiteWish, template,
};
use houselights::raw::facts::{CaptureTime, Facts};
use std::path::{Path, PathBuf};

const FULL: &str = r#"
version = 1
[[cue]]
number = 2
white = "4200 K, Duv +0.003"
stops = "+0.3 stops"
[[cue]]
frame = "b/3.nef"
leave = "as shot"
[[cue]]
from = "23:59:50"
until = "00:00:30"
white = "x 0.38, y 0.377"
[[pin]]
frame = "b/3.nef"
name = "front wash"
neutral = ["0.42,0.61", "0.5,0.5,0.01"]
"#;

/// Four frames of one body around midnight, ten seconds apart; each is a cue, but the last, which is the first's again.
fn show() -> (CueSheet, Vec<FrameLight>, Vec<PathBuf>) {
    let start: jiff::civil::DateTime = "2026-05-09T23:59:40".parse().expect("a time");
    let frames: Vec<FrameLight> = (0..4)
        .map(|at| FrameLight {
            facts: Facts {
                captured: Some(CaptureTime {
                    civil: start
                        .checked_add(jiff::SignedDuration::from_secs(10 * at))
                        .expect("a time"),
                    offset_minutes: None,
                }),
                ..Facts::default()
            },
            reading: None,
            colour: Default::default(),
            is_reference: false,
        })
        .collect();
    let sheet = CueSheet {
        clocks: vec![BodyClock {
            body: Default::default(),
            frames: 4,
            ahead_seconds: 0.0,
            source: ClockSource::First,
            confidence: 1.0,
            jumps: Vec::new(),
        }],
        places: (0..4)
            .map(|at| FramePlace {
                body: 0,
                seconds: Some(10.0 * at as f64),
                run: at,
                fade: None,
            })
            .collect(),
        runs: [0, 1, 2, 0]
            .iter()
            .enumerate()
            .map(|(at, &cue)| Run {
                cue,
                kind: RunKind::Key,
                frames: vec![at],
            })
            .collect(),
        cues: 3,
    };
    let paths = ["a/1.nef", "a/2.nef", "b/3.nef", "b/1.nef"].map(PathBuf::from);
    (sheet, frames, paths.to_vec())
}

fn settled(text: &str, keys: &[Key]) -> Result<Overruling, SettleError> {
    let (sheet, frames, paths) = show();
    Overrules::from_text(&format!("version = 1\n{text}"))
        .expect("an overrule file")
        .settle(&sheet, &frames, &paths, keys)
}

#[test]
fn cues_are_named_by_number_by_frame_and_by_time() {
    let (sheet, frames, paths) = show();
    let overrules = Overrules::from_text(FULL).expect("an overrule file");
    assert_eq!(overrules.cues[0].place, Place::Number(2));
    assert_eq!(overrules.pins[0].neutral[1], (0.5, 0.5, Some(0.01)));
    let found = overrules
        .settle(&sheet, &frames, &paths, &[])
        .expect("all of it is there");
    let white = temperature::with_duv(Kelvin(4200.0), 0.003);
    assert_eq!(found.cues[&1].white, Some(WhiteWish::Light { white }));
    assert_eq!(found.cues[&1].stops, Some(Stops(0.3)));
    assert!(found.cues[&2].as_shot);
    // From ten seconds before midnight to half a minute after it.
    assert_eq!(found.frames.keys().copied().collect::<Vec<_>>(), [1, 2, 3]);
}

#[test]
fn a_white_of_a_temperature_is_that_of_the_locus() {
    let found = settled("[[cue]]\nnumber = 1\nwhite = \"5000 K\"", &[]).expect("settled");
    let planckian = temperature::planckian(Kelvin(5000.0));
    assert_eq!(
        found.cues[&0].white,
        Some(WhiteWish::Light {
            white: temperature::with_duv(Kelvin(5000.0), 0.0)
        })
    );
    let back = temperature::ohno(planckian).expect("a temperature");
    assert!((back.kelvin.0 - 5000.0).abs() < 1.0);
}

#[test]
fn a_later_word_wins_and_words_about_other_things_add_up() {
    let text = "[[cue]]\nnumber = 1\nwhite = \"reference\"\nstops = \"+1.0 stops\"\n\
                [[cue]]\nframe = \"a/1.nef\"\nstops = \"-0.5 stops\"";
    let found = settled(text, &[]).expect("settled");
    assert_eq!(found.cues.len(), 1);
    assert_eq!(found.cues[&0].white, Some(WhiteWish::Reference));
    assert_eq!(found.cues[&0].stops, Some(Stops(-0.5)));
    // That one word took another's place is told.
    assert_eq!(found.contested.into_iter().collect::<Vec<_>>(), [0]);
    let text = "[[cue]]\nnumber = 1\nwhite = \"reference\"\n\
                [[cue]]\nframe = \"a/1.nef\"\nstops = \"-0.5 stops\"";
    assert!(settled(text, &[]).expect("settled").contested.is_empty());
}

#[test]
fn what_the_show_does_not_have_is_refused_with_the_next_step() {
    let said = |text: &str| settled(text, &[]).expect_err(text).to_string();
    let cue = said("[[cue]]\nnumber = 4\nleave = \"as shot\"");
    assert!(
        cue.contains("cue 4") && cue.contains("cues 1 to 3") && cue.contains("houselights meter"),
        "{cue}"
    );
    let frame = said("[[cue]]\nframe = \"9.nef\"\nleave = \"as shot\"");
    assert!(
        frame.contains("9.nef") && frame.contains("correct its name"),
        "{frame}"
    );
    let several = said("[[cue]]\nframe = \"1.nef\"\nleave = \"as shot\"");
    assert!(several.contains("a/1.nef, b/1.nef"), "{several}");
    let time = said("[[cue]]\nfrom = \"20:00\"\nuntil = \"20:01\"\nleave = \"as shot\"");
    assert!(time.contains("2026-05-09T23:59:40"), "{time}");
    let key = said("[[cue]]\nnumber = 1\nwhite = \"key spot\"");
    assert!(key.contains("\"spot\"") && key.contains("--pin"), "{key}");
}

#[test]
fn a_key_is_known_by_its_name() {
    let white = Chromaticity { x: 0.4, y: 0.39 };
    let keys = [Key::new(
        "front wash".to_owned(),
        white,
        None,
        &KeyMemory::default(),
    )];
    let found = settled("[[cue]]\nnumber = 1\nwhite = \"key front wash\"", &keys).expect("settled");
    let wish = found.cues[&0].white.clone().expect("a white");
    assert_eq!(wish.of_cue(Chromaticity::D50, &keys), Some(white));
    let other =
        settled("[[cue]]\nnumber = 1\nwhite = \"key spot\"", &keys).expect_err("no such key");
    assert!(other.to_string().contains("the keys are front wash"));
}

#[test]
fn what_is_not_understood_is_refused_by_name() {
    let said = |text: &str| {
        Overrules::from_text(&format!("version = 1\n{text}"))
            .expect_err(text)
            .to_string()
    };
    for (text, words) in [
        (
            "[[cues]]\nnumber = 1",
            "the overrule file has no field \"cues\"",
        ),
        ("[cue]\nnumber = 1", "[[cue]]"),
        (
            "[[cue]]\nnumber = 1\nwhit = \"5000 K\"\nleave = \"as shot\"",
            "[[cue]] has no field \"whit\"",
        ),
        (
            "[[cue]]\nnumber = 0\nleave = \"as shot\"",
            "a whole number from 1 on",
        ),
        (
            "[[cue]]\nnumber = 1\nstops = 0.3",
            "wanted stops, written as \"+0.3 stops\"",
        ),
        (
            "[[cue]]\nnumber = 1\nstops = \"0.3 EV\"",
            "found the unit \"EV\", wanted stops",
        ),
        (
            "[[cue]]\nnumber = 1\nstops = \"+9 stops\"",
            "allowed is -6 to 6",
        ),
        ("[[cue]]\nnumber = 1\nstops = \"nan stops\"", "cue.stops"),
        (
            "[[cue]]\nnumber = 1\nwhite = \"warm\"",
            "cue.white is \"warm\", wanted \"4200 K\"",
        ),
        (
            "[[cue]]\nnumber = 1\nwhite = \"420 K\"",
            "cue.white is \"420 K\"",
        ),
        (
            "[[cue]]\nnumber = 1\nwhite = \"5000 K, Duv 0.5\"",
            "cue.white",
        ),
        ("[[cue]]\nnumber = 1\nwhite = \"x 0.7, y 0.7\"", "cue.white"),
        ("[[cue]]\nnumber = 1\nwhite = 5000", "wanted \"4200 K\""),
        (
            "[[cue]]\nnumber = 1\nleave = \"alone\"",
            "wanted \"as shot\"",
        ),
        (
            "[[cue]]\nnumber = 1\nleave = \"as shot\"\nstops = \"+1 stops\"",
            "takes no white and no stops",
        ),
        ("[[cue]]\nnumber = 1", "says nothing"),
        ("[[cue]]\nleave = \"as shot\"", "names no cue"),
        (
            "[[cue]]\nnumber = 1\nframe = \"a\"\nleave = \"as shot\"",
            "named in two ways",
        ),
        (
            "[[cue]]\nfrom = \"20:00\"\nleave = \"as shot\"",
            "give both",
        ),
        (
            "[[cue]]\nfrom = \"soon\"\nuntil = \"20:00\"\nleave = \"as shot\"",
            "a time of day such as",
        ),
        ("[[pin]]\nname = \"spot\"", "pin.frame is missing"),
        (
            "[[pin]]\nframe = \"a\"\nneutral = \"0.1,0.2\"",
            "a list of patches",
        ),
        (
            "[[pin]]\nframe = \"a\"\nneutral = [\"left\"]",
            "a list of patches",
        ),
    ] {
        let error = said(text);
        assert!(error.contains(words), "{text}: {error}");
    }
    assert!(
        Overrules::from_text("[[cue]]")
            .expect_err("no version")
            .to_string()
            .contains("version = 1")
    );
}

#[test]
fn an_error_in_a_file_names_the_file() {
    let said = Overrules::load(Path::new("no/such/night.toml"))
        .expect_err("absent")
        .to_string();
    assert!(
        said.contains("no/such/night.toml") && said.contains("Check the path"),
        "{said}"
    );
}

#[test]
fn a_template_overrules_nothing_and_everything_in_it_can_be_taken() {
    let cues = [
        TemplateCue {
            number: 1,
            frame: PathBuf::from("a/1.nef"),
            frames: 2,
            begins: Some("23:59:40".to_owned()),
            white: Some(Chromaticity { x: 0.38, y: 0.377 }),
            level: Some(Stops(-0.4)),
        },
        TemplateCue {
            number: 2,
            frame: PathBuf::from("b \"odd\"/2.nef"),
            frames: 1,
            begins: None,
            white: None,
            level: None,
        },
    ];
    let text = template(&cues);
    assert_eq!(Overrules::from_text(&text), Ok(Overrules::default()));
    // The # taken off the lines of the cues.
    let taken: Vec<&str> = text
        .lines()
        .map(|line| {
            let bare = line.strip_prefix("# ").unwrap_or(line);
            let is_entry = ["[[cue]]", "frame = ", "white = ", "stops = "]
                .iter()
                .any(|begin| bare.starts_with(begin));
            if is_entry { bare } else { line }
        })
        .collect();
    let overrules = Overrules::from_text(&taken.join("\n")).expect("an overrule file");
    assert_eq!(overrules.cues.len(), 2);
    assert_eq!(
        overrules.cues[1].place,
        Place::Frame(PathBuf::from("b \"odd\"/2.nef"))
    );
}
