//! What a person says about a show's light: a reference that is proposed, frames that are pinned, clocks, single cues.

use crate::dng::{GREY, Shot};
use crate::scratch::{Ran, Scratch};

/// `carry show --to out --json` and `more`.
fn carry(scratch: &Scratch, more: &[&str]) -> Ran {
    let first = ["carry", "show", "--to", "out", "--json", "--workers", "2"];
    scratch.run(&[&first[..], more].concat())
}

/// The notes of a frame, as one text.
fn notes(ran: &Ran, frame: &str) -> String {
    let lines = ran.lines();
    let line = lines.iter().find(|line| {
        line["frame"]
            .as_str()
            .is_some_and(|name| name.ends_with(frame))
    });
    line.expect("a line")["notes"].to_string()
}

#[test]
fn without_a_reference_one_is_proposed_and_it_says_why() {
    let scratch = Scratch::with_frames(3);
    let ran = carry(&scratch, &[])
        .expect_code(0)
        .expect_words("no reference was named")
        .expect_words("its white is read with confidence");
    assert_eq!(ran.summary("made"), 3);
    assert!(ran.summary("cues") >= 1);
    let again = carry(&scratch, &[]).expect_code(0);
    assert_eq!(again.summary("already_made"), 3);
    // What is only evened out reads no light, and proposes nothing.
    carry(&scratch, &["--follow", "exposure"])
        .expect_code(2)
        .expect_words("--reference FRAME");
}

#[test]
fn neutral_auto_says_which_patches_it_used_and_marks_them() {
    let scratch = Scratch::with_frames(2);
    let ran = carry(
        &scratch,
        &["--reference", "show/000.dng", "--neutral", "auto"],
    )
    .expect_code(0);
    let marked = scratch.path("out/neutral-patches-found.jpg");
    assert_eq!(
        marked.is_file(),
        ran.stderr.contains("are marked in"),
        "{}",
        ran.stderr
    );
    assert!(
        ran.stderr.contains("neutral patch") || ran.stderr.contains("credibly grey"),
        "{}",
        ran.stderr
    );
    carry(
        &scratch,
        &[
            "--reference",
            "show/000.dng",
            "--neutral",
            "auto",
            "--neutral",
            GREY,
        ],
    )
    .expect_code(2)
    .expect_words("one or the other");
    carry(&scratch, &["--neutral", "auto"])
        .expect_code(2)
        .expect_words("--reference");
}

#[test]
fn an_overruled_cue_is_made_again_and_nothing_else() {
    let scratch = Scratch::with_frames(3);
    // Another exposure time tells the frames' corrections apart.
    for number in 0..3 {
        let shot = Shot {
            exposure: 250 << number,
            ..Shot::number(number)
        };
        scratch.frame(format!("show/{number:03}.dng"), &shot);
    }
    scratch.carry(&["show"], &[]).expect_code(0);
    let before = scratch.hashes("out");
    scratch.write(
        "night.toml",
        b"version = 1\n[[cue]]\nframe = \"001.dng\"\nstops = \"+0.5 stops\"\nwhite = \"3200 K\"\n",
    );
    let ran = scratch
        .carry(&["show"], &["--overrule", "night.toml"])
        .expect_code(0);
    assert!(notes(&ran, "001.dng").contains("+0.50 stops by your word"));
    assert!(notes(&ran, "001.dng").contains("white by your word"));
    let after = scratch.hashes("out");
    assert_ne!(
        before[std::path::Path::new("001.jpg")],
        after[std::path::Path::new("001.jpg")]
    );
    let again = scratch
        .carry(&["show"], &["--overrule", "night.toml"])
        .expect_code(0);
    assert_eq!(again.summary("already_made"), 3);
    // Without the word everything is as before.
    scratch.carry(&["show"], &[]).expect_code(0);
    assert_eq!(scratch.hashes("out"), before);
}

#[test]
fn a_cue_left_as_shot_and_one_of_a_time() {
    let scratch = Scratch::with_frames(2);
    scratch.write(
        "night.toml",
        b"version = 1\n[[cue]]\nfrom = \"21:14:00\"\nuntil = \"21:15\"\nleave = \"as shot\"\n",
    );
    let ran = scratch
        .carry(&["show"], &["--overrule", "night.toml"])
        .expect_code(0);
    assert!(notes(&ran, "001.dng").contains("left as shot"));
}

#[test]
fn words_about_what_is_not_there_are_refused_by_name() {
    let scratch = Scratch::with_frames(2);
    for (text, code, words) in [
        (
            "[[cue]]\nnumber = 99\nleave = \"as shot\"",
            2,
            "speaks of cue 99",
        ),
        (
            "[[cue]]\nframe = \"777.dng\"\nleave = \"as shot\"",
            2,
            "the frame 777.dng",
        ),
        (
            "[[cue]]\nnumber = 1\nstops = 0.5",
            3,
            "night.toml cannot be used: cue.stops",
        ),
        ("[[cue]]\nnumber = 1\nglow = 1", 3, "has no field \"glow\""),
        (
            "[[pin]]\nframe = \"show/000.dng\"\nneutral = [\"7,7\"]",
            3,
            "from 0 (left) to 1 (right)",
        ),
    ] {
        scratch.write("night.toml", format!("version = 1\n{text}\n").as_bytes());
        for command in ["carry", "meter"] {
            let mut arguments = vec![command, "show", "--overrule", "night.toml"];
            if command == "carry" {
                arguments.extend(["--to", "out", "--reference", "show/000.dng"]);
            }
            scratch
                .run(&arguments)
                .expect_code(code)
                .expect_words(words);
        }
    }
    scratch
        .carry(&["show"], &["--overrule", "gone.toml"])
        .expect_code(3)
        .expect_words("gone.toml");
    scratch.write("night.toml", b"version = 1\n");
    scratch
        .carry(&["show"], &["--overrule", "night.toml", "--follow", "none"])
        .expect_code(2)
        .expect_words("--overrule speaks of cues");
}

#[test]
fn clocks_name_bodies_that_are_there() {
    let scratch = Scratch::with_frames(2);
    scratch
        .carry(&["show"], &["--clock", "test body=-2.5"])
        .expect_code(0)
        // It is the only one.
        .expect_words("--clock for Invented Test Body has no effect");
    scratch
        .carry(&["show"], &["--clock", "other=1"])
        .expect_code(2)
        .expect_words("no body of this show is called other")
        .expect_words("Invented Test Body");
    scratch
        .carry(&["show"], &["--clock", "other"])
        .expect_code(2)
        .expect_words("BODY=SECONDS");
}

#[test]
fn keys_are_kept_by_name_and_known_the_next_night() {
    let scratch = Scratch::with_frames(3);
    scratch.frame("elsewhere/9.dng", &Shot::number(9));
    let pin = format!("elsewhere/9.dng=front wash@{GREY}");
    scratch
        .carry(&["show"], &["--pin", &pin, "--save-look", "venue.toml"])
        .expect_code(0);
    let told = scratch.run(&["look", "venue.toml"]).expect_code(0).stdout;
    assert!(
        told.contains("key 000.dng") && told.contains("key front wash"),
        "{told}"
    );
    let next = carry(&scratch, &["--look", "venue.toml"]).expect_code(0);
    assert_eq!(next.summary("frames"), 3);
    // A cue can have a key by its name.
    scratch.write(
        "night.toml",
        b"version = 1\n[[cue]]\nnumber = 1\nwhite = \"key front wash\"\n",
    );
    let ran = carry(
        &scratch,
        &["--look", "venue.toml", "--overrule", "night.toml"],
    )
    .expect_code(0);
    assert!(notes(&ran, "001.dng").contains("key front wash"));
    // Another night's reference solves the light anew, and keeps the taste and the other keys.
    let more = [
        "--look",
        "venue.toml",
        "--reference",
        "show/001.dng",
        "--neutral",
        GREY,
        "--save-look",
        "again.toml",
    ];
    carry(&scratch, &more).expect_code(0);
    let told = scratch.run(&["look", "again.toml"]).expect_code(0).stdout;
    assert!(
        told.contains("key 001.dng") && told.contains("key front wash"),
        "{told}"
    );
}

#[test]
fn pins_that_cannot_be_are_refused() {
    let scratch = Scratch::with_frames(2);
    for (pin, code, words) in [
        ("gone.dng=spot", 3, "the pinned frame cannot be used"),
        ("show/001.dng=000.dng", 3, "two keys are called \"000.dng\""),
        ("show/001.dng@2,2", 2, "from 0 (left)"),
    ] {
        scratch
            .carry(&["show"], &["--pin", pin])
            .expect_code(code)
            .expect_words(words);
    }
}
