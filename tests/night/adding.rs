//! What is added, and what becomes of what was named afterwards.

use crate::dng::Shot;
use crate::scratch::Scratch;
use crate::show::{QUEUE, add, add_arguments, jobs, queue, run, say, status};
use houselights::night::queue::JobState;
use std::fs;

#[test]
fn what_was_named_may_go_away_afterwards() {
    let scratch = Scratch::with_frames(3);
    scratch
        .carry(&["show"], &["--to", "kept", "--save-look", "venue.toml"])
        .expect_code(0);
    scratch.write(
        "cues.toml",
        b"version = 1\n[[cue]]\nnumber = 1\nstops = \"+0.5 stops\"\n",
    );
    let lights = ["--look", "venue.toml", "--overrule", "cues.toml"];
    let carried = [&["carry", "show", "--to", "carried"], &lights[..]].concat();
    scratch.run(&carried).expect_code(0);
    let added = [
        &["night", "add", "show", "--to", "out", "--queue", QUEUE],
        &lights[..],
    ]
    .concat();
    scratch.run(&added).expect_code(0);
    for file in ["venue.toml", "cues.toml"] {
        fs::remove_file(scratch.path(file)).expect("removed");
    }
    run(&scratch, &[]).expect_code(0);
    assert_eq!(scratch.hashes("out"), scratch.hashes("carried"));
}

#[test]
fn more_frames_and_more_outputs_join_a_show() {
    let scratch = Scratch::with_frames(4);
    scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
    let part = add_arguments(&["show/000.dng", "show/001.dng"], &["--to", "out"]);
    scratch
        .run(&part)
        .expect_code(0)
        .expect_words("2 frames added")
        .expect_words("out: JPEG, quality 92, full size, sRGB; new folder");
    run(&scratch, &[]).expect_code(0);
    let rest = [
        "night",
        "add",
        "show",
        "--show",
        "show",
        "--to",
        "web,long=100",
        "--queue",
        QUEUE,
    ];
    scratch
        .run(&rest)
        .expect_code(0)
        .expect_words("2 frames added to 2, 2 in it already");
    run(&scratch, &[]).expect_code(0);
    assert_eq!(scratch.hashes("out"), scratch.hashes("whole"));
    assert_eq!(scratch.names("web").len(), 4);
}

#[test]
fn a_card_that_was_filled_again_is_no_more_of_its_last_show() {
    let scratch = Scratch::with_frames(2);
    let card = ["night", "add", "show", "--queue", QUEUE, "--to"];
    scratch
        .run(&[&card[..], &["friday"]].concat())
        .expect_code(0);
    run(&scratch, &[]).expect_code(0);
    let friday = scratch.hashes("friday");
    for (name, number) in [("show/000.dng", 70), ("show/001.dng", 71)] {
        scratch.frame(name, &Shot::number(number));
    }
    let refused = scratch.run(&[&card[..], &["saturday"]].concat());
    refused
        .expect_code(3)
        .expect_words("add them as a new show");
    assert!(!scratch.path("saturday").exists());
    // As the refusal says; even into the same folder.
    for (folder, show) in [("saturday", "saturday"), ("friday", "late")] {
        scratch
            .run(&[&card[..], &[folder, "--show", show]].concat())
            .expect_code(0);
    }
    run(&scratch, &[]).expect_code(0);
    assert_eq!(scratch.names("saturday").len(), 2);
    let now = scratch.hashes("friday");
    assert_eq!(now.len(), 4);
    assert!(
        friday
            .iter()
            .all(|(name, hash)| now.get(name) == Some(hash))
    );
}

#[test]
fn folders_of_one_name_are_two_shows() {
    let scratch = Scratch::with_frames(1);
    scratch.frame("n1/DCIM/1.dng", &Shot::number(1));
    scratch.frame("n2/DCIM/1.dng", &Shot::number(2));
    let add = |frames: &str, more: &[&str]| {
        let arguments = ["night", "add", frames, "--queue", QUEUE, "--to", "out"];
        scratch.run(&[&arguments[..], more].concat())
    };
    add("n1/DCIM", &[]).expect_code(0);
    add("n2/DCIM", &[])
        .expect_code(2)
        .expect_words("n1/DCIM is in the queue; --show DCIM adds to it");
    assert_eq!(status(&scratch).jobs.len(), 1);
    add("n2/DCIM", &["--show", ""]).expect_code(2);
    add("n1/DCIM/1.dng", &[]).expect_code(0);
    add("n2/DCIM", &["--show", "DCIM"])
        .expect_code(0)
        .expect_words("1 frame added to 1");
}

#[test]
fn what_cannot_be_queued_is_refused_in_words() {
    let scratch = Scratch::with_frames(1);
    let refused = |more: &[&str], code: i32, words: &str| {
        let arguments = [&["night", "add", "--queue", QUEUE], more].concat();
        scratch
            .run(&arguments)
            .expect_code(code)
            .expect_words(words);
    };
    refused(&["show"], 2, "--to");
    refused(&["absent", "--to", "out"], 3, "absent");
    refused(&["show", "--to", "out,long=8"], 2, "from 16 to 65535");
    refused(
        &["show", "--to", "out", "--look", "no-such-look"],
        2,
        "no-such-look",
    );
    refused(
        &["show", "--to", "out,profile=show/000.dng"],
        3,
        "cannot be used",
    );
    for named in ["--reference", "--pin"] {
        refused(
            &["show", "--to", "out", named, "show/009.dng"],
            3,
            "show/009.dng",
        );
    }
    scratch.write("notes.txt", b"x");
    refused(
        &["show", "--to", "out", "--reference", "notes.txt"],
        3,
        "notes.txt",
    );
    refused(&["show", "--to", "out,foo=1"], 2, "foo");
    scratch.write("file", b"x");
    refused(&["show", "--to", "file"], 3, "file");
    let absent = ["night", "run", "--queue", "absent.sqlite"];
    scratch
        .run(&absent)
        .expect_code(3)
        .expect_words("night add");
    assert!(!scratch.path("absent.sqlite").exists());
}

#[test]
fn two_kinds_of_pictures_with_one_ending_want_two_folders() {
    let scratch = Scratch::with_frames(1);
    let twice = ["--to", "out", "--to", "out,long=100"];
    scratch
        .run(&add_arguments(&["show"], &twice))
        .expect_code(2)
        .expect_words("folder of its own");
    add(&scratch, &["--to", "out"]);
    scratch
        .run(&add_arguments(&["show"], &["--to", "out,long=100"]))
        .expect_code(2)
        .expect_words("folder of its own");
    add(&scratch, &["--to", "out", "--to", "out,as=tiff,long=100"]);
    run(&scratch, &[]).expect_code(0);
    assert_eq!(scratch.names("out").len(), 2);
}

#[test]
fn a_folder_that_was_removed_is_the_same_folder_when_it_is_named_again() {
    let scratch = Scratch::with_frames(2);
    add(&scratch, &["--to", "out"]);
    run(&scratch, &[]).expect_code(0);
    fs::remove_dir_all(scratch.path("out")).expect("removed");
    add(&scratch, &["--to", "out"]);
    run(&scratch, &[]).expect_code(0);
    assert_eq!(scratch.names("out").len(), 2);
    assert_eq!(jobs(&scratch, JobState::Made), 2);
}

#[test]
fn a_show_that_is_named_like_a_frame_is_told_from_one() {
    let scratch = Scratch::with_frames(1);
    add(&scratch, &["--to", "out", "--show", "hall"]);
    for word in ["drop", "retry"] {
        say(&scratch, &[word, "hall"])
            .expect_code(2)
            .expect_words("--show hall");
        say(&scratch, &[word, "absent.dng"])
            .expect_code(2)
            .expect_words("--show NAME");
    }
}

#[test]
fn a_show_that_cannot_be_solved_says_why_and_can_be_asked_again() {
    let scratch = Scratch::with_frames(2);
    // The one body by its whole name and by the beginning of it.
    let clocks = ["--clock", "Invented Test Body=3", "--clock", "Invented=4"];
    add(&scratch, &[&["--to", "out"], &clocks[..]].concat());
    run(&scratch, &[])
        .expect_code(1)
        .expect_words("is set twice; keep one; then `houselights night retry");
    assert!(status(&scratch).trouble.is_some());
    add(&scratch, &[]);
    run(&scratch, &[]).expect_code(0);
    assert!(status(&scratch).trouble.is_none());
    assert_eq!(scratch.names("out").len(), 2);
    assert!(queue(&scratch).status().expect("read").runs.is_empty());
}

#[test]
fn a_clock_of_a_body_that_the_show_does_not_have_costs_no_night() {
    let scratch = Scratch::with_frames(2);
    add(&scratch, &["--to", "out", "--clock", "nobody=3"]);
    run(&scratch, &[])
        .expect_code(0)
        .expect_words("no body of this show is called nobody; there is Invented Test Body");
    assert_eq!(scratch.names("out").len(), 2);
}

#[test]
#[cfg(not(feature = "many-machines"))]
fn an_object_store_asks_for_a_build_that_reaches_it() {
    let scratch = Scratch::with_frames(1);
    for (frames, to) in [("s3://shows/one/", "out"), ("show", "s3://shows/pictures")] {
        scratch
            .run(&["night", "add", frames, "--to", to, "--queue", QUEUE])
            .expect_code(3)
            .expect_words("built without the feature many-machines")
            .expect_words("name files and folders on a drive");
    }
    assert_eq!(
        fs::read_dir(scratch.path("show")).expect("listed").count(),
        1
    );
}

#[test]
fn what_is_refused_begins_no_queue() {
    let scratch = Scratch::with_frames(1);
    scratch.write("taken", b"a file");
    for refused in [
        // No such folder, nowhere to go, and a file where a folder is to be.
        &["no-such-folder", "--to", "out"][..],
        &["show"],
        &["show", "--to", "taken"],
    ] {
        let arguments = [&["night", "add", "--queue", QUEUE], refused].concat();
        let ran = scratch.run(&arguments);
        assert_ne!(ran.code, 0, "{}", ran.stderr);
        assert!(!scratch.path(QUEUE).exists(), "{refused:?}");
    }
    add(&scratch, &["--to", "out"]);
    assert!(scratch.path(QUEUE).exists());
}
