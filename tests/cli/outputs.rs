//! Kinds of files, spaces and profiles: what lands in the folder, what the next run finds, what is refused before the start.

use crate::printer_support;
use crate::scratch::Scratch;
use std::fs;

#[test]
fn both_kinds_stand_in_one_folder_and_each_is_found_again() {
    let scratch = Scratch::with_frames(3);
    scratch.carry(&["show"], &[]).expect_code(0);
    let jpegs = scratch.hashes("out");
    let tiff = ["--as", "tiff", "--space", "rec2020"];
    let run = scratch.carry(&["show"], &tiff).expect_code(0);
    assert_eq!(run.summary("made"), 3);
    assert_eq!(
        scratch.names("out"),
        [
            "000.jpg", "000.tif", "001.jpg", "001.tif", "002.jpg", "002.tif"
        ]
    );
    assert!(
        jpegs
            .iter()
            .all(|(name, hash)| scratch.hashes("out")[name] == *hash)
    );
    let other_quality = [&tiff[..], &["--quality", "80"]].concat();
    for more in [&tiff[..], &other_quality, &[]] {
        let run = scratch.carry(&["show"], more).expect_code(0);
        assert_eq!(run.summary("already_made"), 3, "{more:?}");
    }
    // Another space is another picture in the same place.
    let run = scratch.carry(&["show"], &["--as", "tiff"]).expect_code(0);
    assert_eq!(run.summary("made"), 3);
    assert_eq!(scratch.names("out").len(), 6);
}

#[test]
fn names_that_tell_bodies_apart_are_the_same_for_both_kinds() {
    let scratch = Scratch::with_frames(1);
    scratch.frame("show/left/1.dng", &crate::dng::Shot::number(1));
    scratch.carry(&["show/left"], &[]).expect_code(0);
    scratch.frame("show/right/1.dng", &crate::dng::Shot::number(2));
    scratch.carry(&["show"], &["--as", "tiff"]).expect_code(0);
    // The first keeps the stem that its JPEG has.
    assert_eq!(
        scratch.names("out"),
        ["000.tif", "1.jpg", "1.tif", "1_right.tif"]
    );
}

#[test]
fn a_profile_is_embedded_and_the_share_outside_is_told() {
    let scratch = Scratch::with_frames(2);
    scratch.write("paper.icc", &printer_support::profile());
    let profile = ["--profile", "paper.icc"];
    for format in ["jpeg", "tiff"] {
        let more = [&profile[..], &["--as", format]].concat();
        let run = scratch.carry(&["show"], &more).expect_code(0);
        assert_eq!(run.summary("made"), 2);
        let lines = run.lines();
        let outside = lines[0]["outside"].as_f64().expect("a share");
        assert!((0.0..=1.0).contains(&outside));
        assert!(lines.last().expect("a line")["summary"]["outside"].is_f64());
        let again = scratch.carry(&["show"], &more).expect_code(0);
        assert_eq!(again.summary("already_made"), 2);
        // The share of a picture that stands is remembered.
        let lines = again.lines();
        assert!(lines[..2].iter().all(|line| line["outside"].is_f64()));
    }
    // The same profile elsewhere is the same wish, another conversion is not.
    fs::rename(scratch.path("paper.icc"), scratch.path("moved.icm")).expect("moved");
    let moved = ["--profile", "moved.icm", "--as", "tiff"];
    let run = scratch.carry(&["show"], &moved).expect_code(0);
    assert_eq!(run.summary("already_made"), 2);
    let other = [&moved[..], &["--black-point-compensation", "off"]].concat();
    let run = scratch.carry(&["show"], &other).expect_code(0);
    assert_eq!(run.summary("made"), 2);
}

#[test]
fn a_look_holds_the_output_too() {
    let scratch = Scratch::with_frames(1);
    scratch.write("looks/paper.icc", &printer_support::profile());
    scratch.write(
        "looks/print.toml",
        b"version = 1\n[output]\nformat = \"tiff\"\nprofile = \"paper.icc\"\nintent = \"perceptual\"\n",
    );
    let look = ["--look", "looks/print.toml"];
    scratch.carry(&["show"], &look).expect_code(0);
    assert_eq!(scratch.names("out"), ["000.tif"]);
    let flags = [&look[..], &["--as", "jpeg", "--space", "srgb"]].concat();
    scratch.carry(&["show"], &flags).expect_code(0);
    assert_eq!(scratch.names("out"), ["000.jpg", "000.tif"]);
}

#[test]
fn a_resolution_that_the_look_states_is_the_files_density() {
    let scratch = Scratch::with_frames(1);
    scratch.write(
        "print.toml",
        b"version = 1\n[sharpening]\nmedium = \"matte\"\nresolution = \"240 px/inch\"\n",
    );
    for (look, density) in [("print.toml", "240"), ("stage", "300")] {
        for (format, name) in [("jpeg", "out/000.jpg"), ("tiff", "out/000.tif")] {
            let run = scratch.carry(&["show"], &["--look", look, "--as", format]);
            run.expect_code(0);
            let file = fs::read(scratch.path(name)).expect("made");
            let exif = exif::Reader::new()
                .read_from_container(&mut std::io::Cursor::new(file))
                .expect("kamadak-exif reads it");
            let field = exif.get_field(exif::Tag::XResolution, exif::In::PRIMARY);
            let shown = field.expect("the field").display_value().to_string();
            assert_eq!(shown, density, "{name}");
        }
    }
}

#[test]
fn bad_profiles_are_refused_before_the_first_frame() {
    let scratch = Scratch::with_frames(1);
    let good = printer_support::profile();
    let with = |at: usize, word: &[u8; 4]| {
        let mut bytes = good.clone();
        bytes[at..at + 4].copy_from_slice(word);
        bytes
    };
    let mut damaged = good.clone();
    damaged[132..].fill(0x7f);
    for (name, bytes, words) in [
        ("cut.icc", good[..good.len() / 2].to_vec(), "copy it again"),
        (
            "photo.icc",
            b"\xff\xd8\xff\xe0 a JPEG".to_vec(),
            "not an ICC profile",
        ),
        ("empty.icc", Vec::new(), "not an ICC profile"),
        (
            "scanner.icc",
            with(12, b"scnr"),
            "ask for the printer's profile",
        ),
        ("press.icc", with(16, b"CMYK"), "ask for an RGB profile"),
        ("damaged.icc", damaged, "cannot be used"),
    ] {
        scratch.write(name, &bytes);
        let run = scratch.carry(&["show"], &["--profile", name]);
        run.expect_code(3).expect_words(words);
    }
    let run = scratch.carry(&["show"], &["--profile", "absent.icc"]);
    run.expect_code(3).expect_words("absent.icc");
    scratch.write("good.icc", &good);
    let run = scratch.carry(
        &["show"],
        &["--profile", "good.icc", "--intent", "saturation"],
    );
    run.expect_code(3).expect_words("choose another --intent");
    assert!(scratch.names("out").is_empty());
    // Words that contradict each other.
    for more in [
        &["--profile", "good.icc", "--space", "srgb"][..],
        &["--intent", "relative"],
        &["--black-point-compensation", "on"],
        &["--as", "png"],
        &["--space", "wide"],
    ] {
        scratch.carry(&["show"], more).expect_code(2);
    }
}

#[test]
fn a_look_is_not_kept_over_what_is_no_look() {
    let scratch = Scratch::with_frames(1);
    scratch.write("notes.toml", b"my = \"notes\"\n");
    let keep = ["--save-look", "notes.toml"];
    scratch
        .carry(&["show"], &keep)
        .expect_code(2)
        .expect_words("choose another name");
    assert_eq!(
        fs::read(scratch.path("notes.toml")).expect("there"),
        b"my = \"notes\"\n"
    );
    // Over a look it is.
    for _ in 0..2 {
        scratch
            .carry(&["show"], &["--save-look", "look.toml"])
            .expect_code(0);
    }
}

#[test]
fn an_unreadable_raw_is_told_in_two_parts() {
    let scratch = Scratch::with_frames(1);
    scratch.write("show/001.dng", b"not a raw at all");
    let run = scratch.carry(&["show"], &[]).expect_code(1);
    let lines = run.lines();
    let failed = lines
        .iter()
        .find(|line| line["outcome"] == "failed")
        .expect("one");
    let (reason, step) = (&failed["error"]["reason"], &failed["error"]["next_step"]);
    let (reason, step) = (reason.as_str().expect("text"), step.as_str().expect("text"));
    assert!(!reason.contains(step) && !step.is_empty());
    assert!(reason.contains("001.dng"));
}

#[cfg(unix)]
#[test]
fn the_longest_of_names_is_made_too() {
    let scratch = Scratch::with_frames(1);
    let stem = "n".repeat(251);
    scratch.frame(format!("show/{stem}.dng"), &crate::dng::Shot::number(5));
    scratch.carry(&["show"], &[]).expect_code(0);
    assert!(scratch.names("out").contains(&format!("{stem}.jpg")));
}
