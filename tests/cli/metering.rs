//! `meter` and `explain`: the cue sheet, frames, JSON, the page, and readings that are kept.

use crate::dng::{GREY, Shot};
use crate::scratch::{Ran, Scratch};
use serde_json::Value;
use std::fs;

/// The show's line of `meter --json`.
fn show_of(ran: &Ran) -> Value {
    ran.lines().pop().expect("a last line")["show"].clone()
}

fn kept(scratch: &Scratch) -> std::path::PathBuf {
    scratch.path("cache/houselights/readings.sqlite")
}

#[test]
fn the_cue_sheet_has_a_line_a_run_and_each_body_its_clock() {
    let scratch = Scratch::with_frames(3);
    let ran = scratch.run(&["meter", "show"]).expect_code(0);
    let lines: Vec<&str> = ran.stdout.lines().collect();
    assert!(
        lines[0].starts_with("A  ") && lines[0].contains("3 frames"),
        "{}",
        ran.stdout
    );
    let head = lines
        .iter()
        .position(|line| line.starts_with("cue"))
        .expect("a head");
    assert!(lines[head].ends_with("washes"), "{}", ran.stdout);
    assert!(lines.len() > head + 1, "{}", ran.stdout);
    assert!(ran.stderr.contains("reference"), "{}", ran.stderr);
    let runs = show_of(&scratch.run(&["meter", "show", "--json"]).expect_code(0));
    let listed = lines[head + 1..].iter().take_while(|line| !line.is_empty());
    assert_eq!(runs["runs"].as_array().expect("runs").len(), listed.count());
}

#[test]
fn frames_are_a_table_or_lines_of_json() {
    let scratch = Scratch::with_frames(3);
    let table = scratch
        .run(&["meter", "show", "--frames"])
        .expect_code(0)
        .stdout;
    let lines: Vec<&str> = table.lines().collect();
    assert_eq!(lines.len(), 4, "{table}");
    assert!(
        lines[0].starts_with("frame") && lines[0].ends_with("clip %"),
        "{table}"
    );
    assert!(lines[1].contains("1/250 s f/2.8 ISO 3200"), "{table}");
    let json = scratch.run(&["meter", "show", "--json"]).expect_code(0);
    let lines = json.lines();
    let frames: Vec<&str> = lines
        .iter()
        .filter_map(|line| line["frame"].as_str())
        .collect();
    assert_eq!(frames, ["show/000.dng", "show/001.dng", "show/002.dng"]);
    assert!(lines[0]["reading"].is_object() && lines[0]["facts"].is_object());
    assert!(lines[0]["cue"].is_u64());
    let show = show_of(&json);
    let in_runs: u64 = show["runs"]
        .as_array()
        .expect("runs")
        .iter()
        .map(|run| run["frames"].as_u64().expect("a count"))
        .sum();
    assert_eq!(in_runs, 3);
    assert_eq!(show["clocks"].as_array().expect("clocks").len(), 1);
    assert_eq!(show["reference"]["chosen"], "proposed");
}

#[test]
fn a_second_run_reads_no_frame_and_says_the_same() {
    let scratch = Scratch::with_frames(4);
    let first = scratch.run(&["meter", "show", "--json"]).expect_code(0);
    let second = scratch
        .run(&["meter", "show", "--json"])
        .expect_code(0)
        .expect_words("4 of them by an earlier run");
    assert_eq!(first.stdout, second.stdout);
    // Whatever the frames are called now.
    fs::rename(scratch.path("show"), scratch.path("moved")).expect("moved");
    scratch
        .run(&["meter", "moved"])
        .expect_code(0)
        .expect_words("4 of them by an earlier run");
    // A plain copy has another time.
    fs::create_dir(scratch.path("copied")).expect("made");
    for name in ["000.dng", "001.dng", "002.dng", "003.dng"] {
        let copied = scratch.path("copied").join(name);
        fs::copy(scratch.path("moved").join(name), copied).expect("copied");
    }
    scratch
        .run(&["meter", "copied"])
        .expect_code(0)
        .expect_words("4 of them by an earlier run");
    // One that changed is read again.
    scratch.frame("moved/002.dng", &Shot::number(40));
    scratch
        .run(&["meter", "moved"])
        .expect_code(0)
        .expect_words("3 of them by an earlier run");
}

#[test]
fn what_meter_kept_serves_carry_with_any_look_and_folder() {
    let scratch = Scratch::with_frames(3);
    scratch
        .carry(&["show"], &["--to", "plain", "--readings", "none"])
        .expect_code(0);
    assert!(!kept(&scratch).exists());
    scratch.run(&["meter", "show"]).expect_code(0);
    assert!(kept(&scratch).exists());
    scratch.carry(&["show"], &["--to", "kept"]).expect_code(0);
    assert_eq!(
        scratch.hashes("kept"),
        scratch.hashes("plain"),
        "readings change no picture"
    );
    scratch
        .carry(&["show"], &["--to", "named", "--readings", "own"])
        .expect_code(0);
    assert!(scratch.path("own").exists());
    scratch
        .run(&["meter", "show", "--readings", "own"])
        .expect_code(0)
        .expect_words("3 of them by an earlier run");
}

#[test]
fn trouble_with_kept_readings_stops_nothing() {
    let scratch = Scratch::with_frames(2);
    scratch.run(&["meter", "show"]).expect_code(0);
    fs::write(kept(&scratch), b"not a database at all ".repeat(300)).expect("damaged");
    scratch
        .run(&["meter", "show"])
        .expect_code(0)
        .expect_words("readings are not kept in this run")
        .expect_words("2 frames: 2 metered");
    scratch
        .carry(&["show"], &[])
        .expect_code(0)
        .expect_words("readings are not kept in this run");
    // No place at all: a file stands where the folder would be.
    fs::remove_dir_all(scratch.path("cache")).expect("removed");
    scratch.write("cache", b"in the way");
    scratch
        .run(&["meter", "show"])
        .expect_code(0)
        .expect_words("cannot be made");
    // A raw is never taken for a file of readings.
    let raw = fs::read(scratch.path("show/000.dng")).expect("read");
    scratch
        .run(&["meter", "show", "--readings", "show/000.dng"])
        .expect_code(0)
        .expect_words("raw file's name");
    assert_eq!(fs::read(scratch.path("show/000.dng")).expect("read"), raw);
}

#[test]
fn the_page_stands_by_itself_and_shows_nothing_as_markup() {
    let scratch = Scratch::with_frames(2);
    scratch.frame("show/<script>alert(1)<&'\"script>.dng", &Shot::number(7));
    scratch
        .run(&["meter", "show", "--report", "show.html"])
        .expect_code(0)
        .expect_words("report show.html");
    let page = fs::read_to_string(scratch.path("show.html")).expect("a page");
    assert!(page.starts_with("<!doctype html>\n<html lang=\"en\">"));
    assert!(!page.contains("<script"), "a name became markup");
    assert!(page.contains("&lt;script&gt;alert(1)"));
    // Nothing is fetched: every source is in the page.
    for marker in [
        "http://", "https://", "url(", "@import", "src=\"/", "href=\"/",
    ] {
        assert!(!page.contains(marker), "{marker}");
    }
    assert_eq!(
        page.matches("src=\"").count(),
        page.matches("src=\"data:image/jpeg;base64,/9j/").count()
    );
    assert_eq!(
        page.matches("<img ").count(),
        page.matches("<img alt=\"").count()
    );
    assert_eq!(
        page.matches("<img ").count(),
        6,
        "three frames, before and after"
    );
    assert!(page.contains("rights in their likeness"));
    assert!(page.len() < 300_000, "{}", page.len());
}

#[test]
fn a_page_never_replaces_a_frame_or_a_letter() {
    let scratch = Scratch::with_frames(1);
    scratch.write("letter.txt", b"Dear venue");
    for place in ["show/000.dng", "letter.txt", "new.nef"] {
        scratch
            .run(&["meter", "show", "--report", place])
            .expect_code(2);
    }
    assert_eq!(
        fs::read(scratch.path("letter.txt")).expect("read"),
        b"Dear venue"
    );
    scratch
        .run(&["meter", "show", "--report", "no/such/folder.html"])
        .expect_code(2)
        .expect_words("no folder no/such");
}

#[test]
fn a_template_lists_the_cues_and_what_is_changed_in_it_holds() {
    let scratch = Scratch::with_frames(3);
    let question = ["show", "--reference", "show/000.dng", "--neutral", GREY];
    let meter = |more: &[&str]| scratch.run(&[&["meter"], &question[..], more].concat());
    meter(&["--overrule-template", "cues.toml"])
        .expect_code(0)
        .expect_words("--overrule");
    let text = fs::read_to_string(scratch.path("cues.toml")).expect("written");
    let cues = show_of(&meter(&["--json"]).expect_code(0))["cues"]
        .as_array()
        .expect("cues")
        .len();
    assert_eq!(text.matches("# [[cue]]").count(), cues, "{text}");
    // As it stands it overrules nothing.
    scratch.carry(&["show"], &["--to", "plain"]).expect_code(0);
    scratch
        .carry(&["show"], &["--to", "same", "--overrule", "cues.toml"])
        .expect_code(0);
    assert_eq!(scratch.hashes("plain"), scratch.hashes("same"));
    // The # taken off the first cue's lines.
    let mut taken = text.replacen("# [[cue]]", "[[cue]]", 1);
    taken = taken.replacen("# frame = \"000.dng\"", "frame = \"000.dng\"", 1);
    taken = taken.replacen("# stops = \"+0.0 stops\"", "stops = \"+0.5 stops\"", 1);
    scratch.write("mine.toml", taken.as_bytes());
    scratch
        .carry(&["show"], &["--to", "brighter", "--overrule", "mine.toml"])
        .expect_code(0);
    assert_ne!(scratch.hashes("plain"), scratch.hashes("brighter"));
    // What was overruled is told on the sheet, on the page and to programs.
    let overruled = meter(&["--overrule", "mine.toml", "--report", "mine.html"]).expect_code(0);
    let lines: Vec<&str> = overruled.stdout.lines().collect();
    assert!(
        lines.iter().any(|line| line.ends_with("overruled"))
            && lines.iter().any(|line| line.ends_with("+0.50 stops")),
        "{}",
        overruled.stdout
    );
    let page = fs::read_to_string(scratch.path("mine.html")).expect("written");
    assert!(page.contains("overruled: +0.50 stops"));
    let show = show_of(&meter(&["--json", "--overrule", "mine.toml"]).expect_code(0));
    assert_eq!(show["cues"][0]["overruled"]["stops"], 0.5);
    let twice = "version = 1\n[[cue]]\nnumber = 1\nstops = \"+1 stops\"\n\
                 [[cue]]\nframe = \"000.dng\"\nstops = \"+2 stops\"\n";
    scratch.write("twice.toml", twice.as_bytes());
    meter(&["--overrule", "twice.toml"])
        .expect_code(0)
        .expect_words("what stands last in it holds");
    scratch.write("none.toml", b"[[cue]]\nnumber = 1\n");
    meter(&["--overrule", "none.toml"])
        .expect_code(3)
        .expect_words("the file begins with: version = 1");
    // Nobody's words are replaced, and no frame.
    for (place, words) in [
        ("mine.toml", "is there already"),
        ("show/000.dng", "raw file's name"),
    ] {
        let before = fs::read(scratch.path(place)).expect("there");
        meter(&["--overrule-template", place])
            .expect_code(2)
            .expect_words(words);
        assert_eq!(fs::read(scratch.path(place)).expect("there"), before);
    }
}

#[test]
fn carry_and_meter_count_the_same_frames_for_a_persons_eye() {
    let scratch = Scratch::with_frames(3);
    // Exposure times that no body has.
    for number in [10, 11] {
        scratch.frame(
            format!("show/{number:03}.dng"),
            &Shot {
                exposure: 4_000_000,
                ..Shot::number(number)
            },
        );
    }
    let carried = scratch.carry(&["show"], &[]).expect_code(0);
    let metered = scratch
        .run(&[
            "meter",
            "show",
            "--reference",
            "show/000.dng",
            "--neutral",
            GREY,
        ])
        .expect_code(0);
    let count = metered
        .stderr
        .split("; ")
        .find_map(|part| part.strip_suffix(" for a person's eye (--report FILE shows them)"))
        .map_or(0, |count| count.parse().expect("a number"));
    assert!(count > 0, "{}", metered.stderr);
    let (_, list) = metered
        .stdout
        .split_once("\nFor a person's eye\n")
        .expect("a list under the cue sheet");
    assert!(
        list.contains("010.dng") && list.contains("exposure settings"),
        "{list}"
    );
    assert_eq!(carried.summary("need_an_eye"), count, "{}", metered.stderr);
}

#[test]
fn a_frame_is_explained_as_it_is_carried() {
    let scratch = Scratch::with_frames(3);
    let question = [
        "show/002.dng",
        "show",
        "--reference",
        "show/000.dng",
        "--neutral",
        GREY,
    ];
    let words = scratch
        .run(&[&["explain"], &question[..]].concat())
        .expect_code(0)
        .stdout;
    for part in ["measured", "trusted", "applied", "because: "] {
        assert!(words.contains(part), "no {part} in:\n{words}");
    }
    let json = scratch
        .run(&[&["explain", "--json"], &question[..]].concat())
        .expect_code(0);
    let account = json.lines().remove(0);
    assert_eq!(account["frame"], "show/002.dng");
    assert_eq!(account["applied"]["reference"], "000.dng");
    assert!(
        account["applied"]["correction"]["gain"]
            .as_f64()
            .expect("a number")
            > 0.0
    );
    // The frame alone stands for the folder that it lies in.
    let alone = scratch.run(&["explain", "show/001.dng"]).expect_code(0);
    assert!(
        alone.stdout.contains("read from 3 of its frames") || alone.stdout.contains("cue 1"),
        "{}",
        alone.stdout
    );
    scratch
        .run(&["explain", "show/absent.dng"])
        .expect_code(3)
        .expect_words("absent.dng");
    scratch.write("show/broken.dng", b"torn");
    scratch
        .run(&["explain", "show/broken.dng"])
        .expect_code(3)
        .expect_words("broken.dng");
}

#[test]
fn a_black_show_and_a_show_of_one_frame_are_told() {
    let scratch = Scratch::with_frames(0);
    for number in 0..3 {
        scratch.frame(
            format!("show/{number}.dng"),
            &Shot {
                level: 0.0,
                ..Shot::number(number)
            },
        );
    }

    scratch
        .run(&["meter", "show", "--report", "black.html"])
        .expect_code(0)
        .expect_words("no frame shows a key");
    scratch
        .run(
            &"meter show --reference show/0.dng --pin show/1.dng"
                .split(' ')
                .collect::<Vec<_>>(),
        )
        .expect_code(0)
        .expect_words("no other frame shows a key")
        .expect_words("the white of the pinned frame 1.dng could not be read");
    let one = Scratch::with_frames(1);
    let ran = one
        .run(&["meter", "show", "--report", "one.html"])
        .expect_code(0);
    assert!(ran.stdout.contains("A 1"), "{}", ran.stdout);
}
