//! What a person sees of the night: the status, the report, the lines of a run.

use crate::scratch::Scratch;
use crate::show::{QUEUE, add, run, say};
use serde_json::Value;

/// A show of three frames, one of them no raw, worked through; the lines that the run told.
fn night() -> (Scratch, Vec<Value>) {
    let scratch = Scratch::with_frames(3);
    scratch.write("show/cut <b>.dng", b"II*\0no picture follows");
    add(&scratch, &["--to", "out", "--to", "small,long=64"]);
    let ran = run(&scratch, &["--json", "--page", "at-once.html"]).expect_code(1);
    (scratch, ran.lines())
}

fn one_json(text: &str) -> Value {
    serde_json::from_str(text).expect("one JSON object")
}

#[test]
fn before_and_after_the_night_status_says_how_far_it_is() {
    let scratch = Scratch::with_frames(3);
    let none = say(&scratch, &["status"]).expect_code(3);
    assert!(!scratch.path(QUEUE).exists(), "looking made a queue");
    assert!(none.stderr.contains(QUEUE), "{}", none.stderr);
    add(&scratch, &["--to", "out"]);
    let before = say(&scratch, &["status"]).expect_code(0);
    assert!(
        before.stdout.starts_with("0 of 3 frames made"),
        "{}",
        before.stdout
    );
    assert!(
        before.stdout.contains("no run is working on it"),
        "{}",
        before.stdout
    );
    run(&scratch, &[]).expect_code(0);
    let after = say(&scratch, &["status"]).expect_code(0);
    assert!(
        after.stdout.starts_with("3 of 3 frames made\n"),
        "{}",
        after.stdout
    );
    let json = one_json(&say(&scratch, &["status", "--json"]).expect_code(0).stdout);
    assert_eq!(json["made"], 3);
    assert_eq!(json["share"], 1.0);
    assert_eq!(json["shows"][0]["pictures"]["made"], 3);
    assert_eq!(json["runs"], Value::Array(Vec::new()));
}

#[test]
fn a_run_tells_each_frame_and_how_it_ended() {
    let (_scratch, lines) = night();
    let count = |event: &str| lines.iter().filter(|line| line["event"] == event).count();
    assert_eq!(count("ready"), 1);
    assert_eq!(count("metered"), 3);
    assert_eq!(count("made"), 3);
    assert_eq!(count("set-aside"), 1);
    assert_eq!(count("solved"), 1);
    let made = lines.iter().find(|line| line["event"] == "made");
    assert_eq!(made.map(|line| line["pictures"].clone()), Some(2.into()));
    let last = lines.last().expect("a last line");
    assert_eq!(
        (&last["event"], &last["how"]),
        (&"ended".into(), &"done".into())
    );
}

#[test]
fn the_report_has_every_failure_with_its_next_step() {
    let (scratch, _) = night();
    let text = say(&scratch, &["report"]).expect_code(0).stdout;
    assert!(text.starts_with("3 of 4 frames made"), "{text}");
    let json = one_json(&say(&scratch, &["report", "--json"]).expect_code(0).stdout);
    let frames = json["shows"][0]["frames"].as_array().expect("frames");
    assert_eq!(frames.len(), 4);
    let aside: Vec<&Value> = frames
        .iter()
        .filter(|frame| frame["state"] == "set-aside")
        .collect();
    assert_eq!(aside.len(), 1);
    let error = &aside[0]["error"];
    assert_eq!(error["cause"], "unreadable");
    let step = error["next_step"].as_str().expect("a next step");
    assert!(text.contains(step), "no \"{step}\" in:\n{text}");
    for frame in frames.iter().filter(|frame| frame["state"] == "made") {
        assert_eq!(frame["pictures"].as_array().map(Vec::len), Some(2));
    }
    let light = &json["shows"][0]["light"];
    assert_eq!(light["reference"]["name"], "000.dng");
    // A list, where there is nothing to tell as well.
    assert!(light["exposure"].is_array());
    say(&scratch, &["report", "--show", "none of ours"]).expect_code(2);
}

#[test]
fn the_page_stands_by_itself() {
    let (scratch, _) = night();
    say(&scratch, &["report", "--page", "morning.html"]).expect_code(0);
    let page = std::fs::read_to_string(scratch.path("morning.html")).expect("a page");
    let at_once = std::fs::read_to_string(scratch.path("at-once.html")).expect("a page");
    for page in [&page, &at_once] {
        assert!(page.contains("default-src 'none'") && !page.contains("<script"));
        assert_eq!(page.matches("http").count(), 1, "only http-equiv names it");
        // What came from a file's name stays text.
        assert!(page.contains("cut &lt;b&gt;.dng") && !page.contains("cut <b>"));
        // Each of the three frames has its small picture.
        assert_eq!(page.matches("src=\"data:image/jpeg;base64,").count(), 3);
        assert!(page.contains("Before you publish"));
    }
    say(
        &scratch,
        &["report", "--page", "morning.html", "--no-pictures"],
    )
    .expect_code(0);
    let bare = std::fs::read_to_string(scratch.path("morning.html")).expect("a page");
    assert!(!bare.contains("<img"));
    // A page replaces pages only.
    say(&scratch, &["report", "--page", "show/000.dng"]).expect_code(2);
    run(&scratch, &["--page", "show/000.dng"]).expect_code(2);
}
