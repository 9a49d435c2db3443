//! The same command again: nothing is done twice, what is gone or changed is made again, and the bytes are the same.

use crate::dng::Shot;
use crate::scratch::Scratch;
use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;
use std::time::SystemTime;

fn times(scratch: &Scratch) -> BTreeMap<PathBuf, SystemTime> {
    let names = scratch.pictures("out").into_keys();
    names
        .map(|name| {
            let metadata = fs::metadata(scratch.path("out").join(&name)).expect("there");
            (name, metadata.modified().expect("a time"))
        })
        .collect()
}

#[test]
fn a_second_run_redoes_nothing() {
    let scratch = Scratch::with_frames(5);
    for follow in ["none", "exposure", "light"] {
        let first = scratch
            .carry(&["show"], &["--follow", follow])
            .expect_code(0);
        assert_eq!(first.summary("frames"), 5);
        let before = times(&scratch);
        let second = scratch
            .carry(&["show"], &["--follow", follow])
            .expect_code(0);
        assert_eq!(second.summary("already_made"), 5, "{follow}");
        assert_eq!(second.summary("made"), 0, "{follow}");
        assert_eq!(times(&scratch), before, "{follow}");
    }
}

#[test]
fn deleted_changed_and_touched() {
    let scratch = Scratch::with_frames(4);
    scratch.carry(&["show"], &[]).expect_code(0);
    let (whole, hashes) = (scratch.pictures("out"), scratch.hashes("out"));
    fs::remove_file(scratch.path("out/001.jpg")).expect("removed");
    let mut changed = whole[&PathBuf::from("002.jpg")].clone();
    let last = changed.len() - 1;
    changed[last] ^= 1;
    scratch.write("out/002.jpg", &changed);
    // The same bytes with another time, on both sides: nothing to do.
    scratch.write("out/003.jpg", &whole[&PathBuf::from("003.jpg")]);
    let touched = fs::read(scratch.path("show/003.dng")).expect("read");
    scratch.write("show/003.dng", &touched);
    let second = scratch.carry(&["show"], &[]).expect_code(0);
    let outcomes: Vec<String> = second.outcomes().into_values().collect();
    assert_eq!(outcomes, ["already-made", "made", "made", "already-made"]);
    assert_eq!(scratch.hashes("out"), hashes);
}

#[test]
fn another_raw_under_the_same_name_is_made_again() {
    let scratch = Scratch::with_frames(3);
    scratch.carry(&["show"], &[]).expect_code(0);
    scratch.frame("show/002.dng", &Shot::number(77));
    let second = scratch.carry(&["show"], &[]).expect_code(0);
    let outcomes: Vec<String> = second.outcomes().into_values().collect();
    assert_eq!(outcomes, ["already-made", "already-made", "made"]);
}

#[test]
fn another_look_or_another_wish_makes_all_again() {
    let scratch = Scratch::with_frames(3);
    scratch.carry(&["show"], &[]).expect_code(0);
    for more in [
        &["--look", "faithful"][..],
        &["--quality", "80"],
        &["--long", "100"],
        &["--keep-position"],
    ] {
        let run = scratch.carry(&["show"], more).expect_code(0);
        assert_eq!(run.summary("made"), 3, "{more:?}");
        let run = scratch.carry(&["show"], more).expect_code(0);
        assert_eq!(run.summary("already_made"), 3, "{more:?}");
    }
}

#[test]
fn the_same_bytes_with_any_workers_and_any_order() {
    let scratch = Scratch::with_frames(7);
    scratch
        .carry(&["show"], &["--workers", "1", "--to", "one"])
        .expect_code(0);
    scratch
        .carry(&["show"], &["--workers", "3", "--to", "three"])
        .expect_code(0);
    let shuffled: Vec<String> = [3, 0, 6, 2, 5, 1, 4]
        .map(|number| format!("show/{number:03}.dng"))
        .to_vec();
    let shuffled: Vec<&str> = shuffled.iter().map(String::as_str).collect();
    scratch
        .carry(&shuffled, &["--workers", "2", "--to", "shuffled"])
        .expect_code(0);
    let expected = scratch.hashes("one");
    assert_eq!(expected.len(), 7);
    assert_eq!(scratch.hashes("three"), expected);
    assert_eq!(scratch.hashes("shuffled"), expected);
}

#[test]
fn a_show_in_parts_is_the_show() {
    let scratch = Scratch::with_frames(4);
    scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
    scratch
        .carry(&["show/002.dng", "show/000.dng"], &[])
        .expect_code(0);
    let rest = scratch.carry(&["show"], &[]).expect_code(0);
    assert_eq!((rest.summary("made"), rest.summary("already_made")), (2, 2));
    assert_eq!(scratch.hashes("out"), scratch.hashes("whole"));
}

#[test]
fn frames_of_one_stem_keep_their_names() {
    let scratch = Scratch::with_frames(1);
    scratch.frame("show/left/7.dng", &Shot::number(71));
    scratch.frame("show/right/7.dng", &Shot::number(72));
    // Of one size and time, as two bodies' uncompressed raws on cards that keep times to two seconds may be.
    let time = SystemTime::UNIX_EPOCH + std::time::Duration::from_secs(1_778_361_242);
    for side in ["left", "right"] {
        let file = fs::File::options()
            .write(true)
            .open(scratch.path(format!("show/{side}/7.dng")));
        file.expect("there").set_modified(time).expect("set");
    }
    scratch.carry(&["show"], &[]).expect_code(0);
    assert_eq!(
        scratch.names("out"),
        ["000.jpg", "7_left.jpg", "7_right.jpg"]
    );
    // A part of the show later: the same names, and nobody else's picture is touched. (Which light its frames stood in is
    // told by all frames that are carried together, so a part may be made again.)
    let left = scratch.pictures("out")[&PathBuf::from("7_left.jpg")].clone();
    scratch.carry(&["show/right"], &[]).expect_code(0);
    assert_eq!(scratch.pictures("out")[&PathBuf::from("7_left.jpg")], left);
    assert_eq!(scratch.names("out").len(), 3);
    // The other body's card alone first: its picture keeps the plain name, and the later one gets another.
    scratch
        .carry(&["show/left"], &["--to", "later"])
        .expect_code(0);
    scratch
        .carry(&["show/right"], &["--to", "later"])
        .expect_code(0);
    assert_eq!(scratch.names("later"), ["7.jpg", "7_right.jpg"]);
}

#[test]
fn frames_on_a_drive_that_moved_are_known() {
    let scratch = Scratch::with_frames(3);
    scratch.carry(&["show"], &[]).expect_code(0);
    fs::rename(scratch.path("show"), scratch.path("moved")).expect("moved");
    let arguments: Vec<&str> = Scratch::carry_arguments(&["moved"], &[])
        .into_iter()
        .map(|argument| {
            if argument == "show/000.dng" {
                "moved/000.dng"
            } else {
                argument
            }
        })
        .collect();
    let run = scratch.run(&arguments).expect_code(0);
    assert_eq!(run.summary("already_made"), 3);
    assert_eq!(scratch.names("out").len(), 3);
}

/// Mean difference of a picture in `out` and in `next`, in steps of 255.
fn mean_difference(scratch: &Scratch, name: &str) -> f64 {
    let [one, other] = ["out", "next"].map(|folder| {
        let picture = image::open(scratch.path(folder).join(name)).expect("a picture");
        picture.to_rgb8().into_raw()
    });
    assert_eq!(one.len(), other.len());
    let sum: f64 = one
        .iter()
        .zip(&other)
        .map(|(a, b)| f64::from(a.abs_diff(*b)))
        .sum();
    sum / one.len() as f64
}

#[test]
fn a_kept_look_carries_the_next_night() {
    let scratch = Scratch::with_frames(3);
    scratch
        .carry(&["show"], &["--save-look", "venue.toml"])
        .expect_code(0);
    let next = [
        "carry",
        "show",
        "--to",
        "next",
        "--look",
        "venue.toml",
        "--json",
    ];
    scratch.run(&next).expect_code(0);
    // The reference is no frame of the next night's: its key is recognised by what the look remembers, which is rounded and
    // read against all frames. The same show then looks the same to the eye.
    for name in ["000.jpg", "001.jpg", "002.jpg"] {
        let apart = mean_difference(&scratch, name);
        assert!(apart < 3.0, "{name}: {apart} of 255");
    }
    scratch.run(&next).expect_code(0);
    let told = scratch.run(&["look", "venue.toml"]).expect_code(0);
    assert!(told.stdout.contains("000.dng"), "{}", told.stdout);
}

#[test]
fn a_damaged_or_lost_record_costs_no_picture() {
    let scratch = Scratch::with_frames(3);
    scratch.carry(&["show"], &[]).expect_code(0);
    let whole = scratch.hashes("out");
    let ledger = scratch.path("out/.houselights-ledger");
    let mut content = fs::read(&ledger).expect("a ledger");
    let middle = content.len() / 2;
    content[middle] = b'\n';
    fs::write(&ledger, content).expect("damaged");
    scratch
        .carry(&["show"], &[])
        .expect_code(0)
        .expect_words("damaged");
    assert_eq!(scratch.hashes("out"), whole);
    fs::remove_file(&ledger).expect("lost");
    scratch.carry(&["show"], &[]).expect_code(0);
    assert_eq!(scratch.hashes("out"), whole);
    let run = scratch.carry(&["show"], &[]).expect_code(0);
    assert_eq!(run.summary("already_made"), 3);
}
