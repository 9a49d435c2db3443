//! The same bytes as `carry`, whatever is asked, and nothing twice.

use crate::dng::Shot;
use crate::scratch::Scratch;
use crate::show::{add, expect_whole_database, jobs, queue, run, say, status, unfinished};
use houselights::night::queue::JobState;
use serde_json::Value;
use std::fs;

#[test]
fn several_pictures_of_one_decoding_are_those_that_carry_makes() {
    let scratch = Scratch::with_frames(5);
    // As two bodies make them: names that only their folders tell apart, and one of them cannot be read.
    scratch.frame("show/left/7.dng", &Shot::number(71));
    scratch.write("show/right/7.dng", &Shot::number(72).dng()[..1000]);
    for follow in ["light", "exposure", "none"] {
        let [full, small, tiff] = ["full", "small", "tiff"].map(|kind| format!("{follow}-{kind}"));
        add(
            &scratch,
            &[
                "--show",
                follow,
                "--follow",
                follow,
                "--to",
                &full,
                "--to",
                &format!("{small},long=100,quality=80"),
                "--to",
                &format!("{tiff},as=tiff,space=rec2020"),
            ],
        );
        run(&scratch, &[]).expect_code(1).expect_words("7.dng");
        let more = ["--follow", follow, "--to"];
        for (folder, words) in [
            (&full, &[][..]),
            (&small, &["--long", "100", "--quality", "80"]),
            (&tiff, &["--as", "tiff", "--space", "rec2020"]),
        ] {
            let expected = format!("carried-{folder}");
            let arguments = [&more[..], &[&expected], words].concat();
            scratch.carry(&["show"], &arguments).expect_code(1);
            let hashes = scratch.hashes(folder);
            assert_eq!(hashes.len(), 6, "{folder}");
            assert_eq!(hashes, scratch.hashes(&expected), "{folder}");
            assert!(unfinished(&scratch, folder).is_empty());
        }
    }
    expect_whole_database(&scratch);
}

#[test]
fn a_second_run_redoes_nothing_and_what_is_gone_or_changed_is_made_again() {
    let scratch = Scratch::with_frames(4);
    add(&scratch, &["--to", "out"]);
    run(&scratch, &[])
        .expect_code(0)
        .expect_words("Nothing is left to do");
    let (whole, times) = (scratch.hashes("out"), modified(&scratch));
    run(&scratch, &[]).expect_code(0);
    assert_eq!(modified(&scratch), times);
    fs::remove_file(scratch.path("out/001.jpg")).expect("removed");
    let mut changed = fs::read(scratch.path("out/002.jpg")).expect("read");
    let last = changed.len() - 1;
    changed[last] ^= 1;
    scratch.write("out/002.jpg", &changed);
    // Touched only: nothing to do.
    let touched = fs::read(scratch.path("out/003.jpg")).expect("read");
    scratch.write("out/003.jpg", &touched);
    run(&scratch, &[])
        .expect_code(0)
        .expect_words("2 pictures were removed or changed")
        .expect_words("002.jpg (changed), ")
        .expect_words("001.jpg");
    let report = say(&scratch, &["report", "--json"]).stdout;
    assert!(report.contains("002.jpg (changed), "), "{report}");
    assert_eq!(scratch.hashes("out"), whole);
    assert_eq!(jobs(&scratch, JobState::Made), 4);
}

fn modified(scratch: &Scratch) -> Vec<std::time::SystemTime> {
    let names = scratch.pictures("out").into_keys();
    names
        .map(|name| {
            let about = fs::metadata(scratch.path("out").join(name)).expect("there");
            about.modified().expect("a time")
        })
        .collect()
}

#[test]
fn carry_and_the_night_know_each_others_pictures() {
    let scratch = Scratch::with_frames(3);
    scratch.carry(&["show"], &[]).expect_code(0);
    let times = modified(&scratch);
    add(&scratch, &["--to", "out"]);
    run(&scratch, &[]).expect_code(0);
    assert_eq!(modified(&scratch), times, "what carry made stands");
    assert_eq!(jobs(&scratch, JobState::Made), 3);
    scratch.frame("show/003.dng", &Shot::number(3));
    add(&scratch, &["--to", "out"]);
    run(&scratch, &[]).expect_code(0);
    let again = scratch.carry(&["show"], &[]).expect_code(0);
    assert_eq!(
        (again.summary("made"), again.summary("already_made")),
        (0, 4)
    );
}

#[test]
fn a_person_pauses_drops_and_asks_again() {
    let scratch = Scratch::with_frames(3);
    scratch.write("show/bad.nef", b"a letter");
    add(&scratch, &["--to", "out"]);
    run(&scratch, &[]).expect_code(1).expect_words("bad.nef");
    assert_eq!(jobs(&scratch, JobState::SetAside), 1);
    // Copied again from the card, under the same name.
    scratch.frame("show/bad.nef", &Shot::number(9));
    say(&scratch, &["retry"])
        .expect_code(0)
        .expect_words("1 frame");
    say(&scratch, &["drop", "show/002.dng"]).expect_code(0);
    run(&scratch, &[]).expect_code(0);
    assert_eq!(
        (
            jobs(&scratch, JobState::Made),
            jobs(&scratch, JobState::Dropped)
        ),
        (3, 1)
    );
    assert!(scratch.path("out/bad.jpg").exists());
    say(&scratch, &["drop"]).expect_code(2);
    say(&scratch, &["pause", "nobody"])
        .expect_code(2)
        .expect_words("nobody");
    say(&scratch, &["pause"]).expect_code(0);
    assert!(queue(&scratch).status().expect("read").is_paused);
    say(&scratch, &["resume"]).expect_code(0);
    say(&scratch, &["drop", "--show", "show"]).expect_code(0);
    assert!(queue(&scratch).status().expect("read").shows.is_empty());
    assert_eq!(scratch.names("out").len(), 4, "pictures stay");
}

#[test]
fn the_selection_comes_first() {
    let scratch = Scratch::with_frames(4);
    add(
        &scratch,
        &[
            "--to",
            "out",
            "--first",
            "show/002.dng",
            "--first",
            "show/003.dng",
        ],
    );
    run(&scratch, &["--workers", "1"]).expect_code(0);
    // One worker's pictures are noted one after the other; the times of files may be the same for several.
    let ledger = fs::read_to_string(scratch.path("out/.houselights-ledger")).expect("a ledger");
    let lines = ledger.lines().map(serde_json::from_str);
    let made: Vec<String> = (lines.map(|line| line.expect("a line of JSON")))
        .filter_map(|line: Value| Some(line.get("made")?["picture"].as_str()?.to_owned()))
        .collect();
    assert_eq!(made, ["002.jpg", "003.jpg", "000.jpg", "001.jpg"]);
    assert_eq!(scratch.names("out").len(), 4);
    assert_eq!(status(&scratch).name, "show");
}
