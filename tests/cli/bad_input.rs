//! Frames, references, patches and looks that cannot be used: a clear word, no crash, and the other frames made.

use crate::dng::{DARK, GREY, LAMP, Shot};
use crate::scratch::Scratch;
use std::fs;
use std::path::{Path, PathBuf};

#[test]
fn bad_frames_cost_themselves_only() {
    let scratch = Scratch::with_frames(3);
    let whole = Shot::number(9).dng();
    scratch.write("show/empty.nef", b"");
    scratch.write(
        "show/text.cr2",
        b"this is a letter, not a picture\n".repeat(40).as_slice(),
    );
    scratch.write("show/header.dng", &whole[..1000]);
    scratch.write("show/cut.dng", &whole[..whole.len() / 2]);
    scratch.write("show/zeros.arw", &[0; 65_536]);
    for follow in ["none", "exposure", "light"] {
        let run = scratch
            .carry(&["show"], &["--follow", follow, "--to", follow])
            .expect_code(1)
            .expect_words("empty.nef")
            .expect_words("copy it again from the card");
        assert_eq!(
            (run.summary("made"), run.summary("failed")),
            (3, 5),
            "{follow}"
        );
        assert_eq!(scratch.names(follow), ["000.jpg", "001.jpg", "002.jpg"]);
        let outcomes = run.outcomes();
        for bad in [
            "empty.nef",
            "text.cr2",
            "header.dng",
            "cut.dng",
            "zeros.arw",
        ] {
            assert_eq!(outcomes[bad], "failed");
            assert_eq!(run.cause(bad), "unreadable", "{bad}");
        }
    }
    let metered = scratch
        .run(&["meter", "show", "--frames"])
        .expect_code(1)
        .expect_words("text.cr2");
    assert_eq!(metered.stdout.lines().count(), 4);
}

#[test]
fn references_that_cannot_be_used_start_nothing() {
    let scratch = Scratch::with_frames(2);
    scratch.write("empty.nef", b"");
    scratch.write("letter.txt", b"not a picture");
    for (reference, words) in [
        ("empty.nef", "is empty"),
        ("letter.txt", "letter.txt"),
        ("absent.nef", "cannot be read"),
        ("show", "show"),
    ] {
        scratch
            .run(&["carry", "show", "--to", "out", "--reference", reference])
            .expect_code(3)
            .expect_words("the reference frame cannot be used")
            .expect_words(words);
    }
    assert_eq!(scratch.names("out").len(), 0);
}

#[test]
fn a_reference_from_elsewhere_serves() {
    let scratch = Scratch::with_frames(2);
    scratch.frame("elsewhere/grey.dng", &Shot::number(50));
    let arguments = [
        "carry",
        "show",
        "--to",
        "out",
        "--reference",
        "elsewhere/grey.dng",
        "--neutral",
        GREY,
    ];
    scratch.run(&arguments).expect_code(0);
    assert_eq!(scratch.names("out"), ["000.jpg", "001.jpg"]);
}

#[test]
fn patches_that_give_no_white_say_why() {
    let scratch = Scratch::with_frames(1);
    for (patch, words) in [
        (DARK, "too dark"),
        (LAMP, "lamp"),
        ("0.5,0.5,0.0001", "too small"),
    ] {
        let arguments = [
            "carry",
            "show",
            "--to",
            "out",
            "--reference",
            "show/000.dng",
            "--neutral",
            patch,
        ];
        scratch.run(&arguments).expect_code(3).expect_words(words);
    }
}

#[test]
fn looks_that_are_no_looks_are_refused_by_name() {
    let scratch = Scratch::with_frames(1);
    scratch
        .carry(&["show"], &["--save-look", "good.toml"])
        .expect_code(0);
    let good = fs::read_to_string(scratch.path("good.toml")).expect("a look");
    let version = good
        .lines()
        .find(|line| line.starts_with("version"))
        .expect("a version")
        .to_owned();
    for (name, content, words) in [
        (
            "unknown.toml",
            format!("{version}\nsaturatoin = 1.0\n"),
            "saturatoin",
        ),
        ("later.toml", good.replace(&version, "version = 99"), "99"),
        (
            "nan.toml",
            format!("{version}\nsaturation = nan\n"),
            "saturation",
        ),
        (
            "kind.toml",
            format!("{version}\nsaturation = \"much\"\n"),
            "saturation",
        ),
        (
            "torn.toml",
            format!(
                "{good}
= = =
"
            ),
            "torn.toml",
        ),
        ("empty.toml", String::new(), "version"),
        ("binary.toml", "\u{0}\u{1}".to_owned(), "binary.toml"),
    ] {
        scratch.write(name, content.as_bytes());
        scratch
            .run(&["look", name])
            .expect_code(3)
            .expect_words(words);
        let arguments = ["carry", "show", "--to", "out2", "--look", name];
        scratch.run(&arguments).expect_code(3).expect_words(words);
        assert!(!scratch.path("out2").exists(), "{name}: nothing was begun");
    }
}

#[test]
fn no_frames_is_told() {
    let scratch = Scratch::with_frames(0);
    scratch.write("show/photo.jpg", b"x");
    scratch.write("show/photo.xmp", b"x");
    let carry =
        |frames: &str| scratch.run(&["carry", frames, "--to", "out", "--reference", "x.nef"]);
    carry("show").expect_code(3).expect_words("no raw files");
    carry("show/photo.jpg")
        .expect_code(3)
        .expect_words("JPEGs and sidecars are passed over");
    carry("absent").expect_code(3).expect_words("absent");
    scratch
        .run(&["meter", "show"])
        .expect_code(3)
        .expect_words("no raw files");
    assert!(!scratch.path("out").exists(), "no folder for nothing");
}

#[cfg(unix)]
#[test]
fn odd_names_and_loops_of_links() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let scratch = Scratch::with_frames(1);
    let names: [&[u8]; 5] = [
        b"show/two  words .dng",
        b"show/it's \"quoted\" $HOME `x`;.dng",
        b"show/-rf.dng",
        b"show/line\nend.dng",
        b"show/latin\xe9\xff.DNG",
    ];
    for (number, name) in names.iter().enumerate() {
        scratch.frame(
            Path::new(OsStr::from_bytes(name)),
            &Shot::number(30 + number as u32),
        );
    }
    for index in 0..10_000 {
        let next = format!("{}.nef", (index + 1) % 10_000);
        std::os::unix::fs::symlink(next, scratch.path(format!("show/{index}.nef")))
            .expect("linked");
    }
    std::os::unix::fs::symlink(".", scratch.path("show/self")).expect("linked");
    let run = scratch.carry(&["show"], &[]).expect_code(0);
    assert_eq!(run.summary("made"), 6);
    let pictures = scratch.pictures("out");
    for name in names {
        let stem = &name[5..name.len() - 4];
        let picture = PathBuf::from(OsStr::from_bytes(&[stem, b".jpg"].concat()));
        assert!(pictures.contains_key(&picture), "{}", picture.display());
    }
    let odd = run
        .lines()
        .into_iter()
        .find(|line| line.get("frame_bytes").is_some())
        .expect("bytes in hexadecimal");
    assert!(
        odd["frame_bytes"]
            .as_str()
            .is_some_and(|bytes| bytes.ends_with("e9ff2e444e47"))
    );
    let again = scratch.carry(&["show"], &[]).expect_code(0);
    assert_eq!(again.summary("already_made"), 6);
}

/// The folder of real raw files for tests, where there is one.
fn real_raws() -> Option<PathBuf> {
    let folder = std::env::var_os("HOUSELIGHTS_RAWS").map(PathBuf::from);
    if folder.is_none() {
        eprintln!("SKIPPED: HOUSELIGHTS_RAWS names no folder of real raw files");
    }
    folder
}

#[test]
fn every_bad_raw_in_one_batch_with_good_ones() {
    let Some(raws) = real_raws() else { return };
    let raws = fs::canonicalize(raws).expect("HOUSELIGHTS_RAWS is there");
    let scratch = Scratch::with_frames(3);
    let bad = raws.join("bad");
    let count = fs::read_dir(&bad).expect("bad raws").count() as u64;
    let bad = bad.to_string_lossy().into_owned();
    for follow in ["none", "light"] {
        // A worker that takes all the time it may shows as one; the machine may be slow, so the limit is not tight.
        let more = ["--follow", follow, "--worker-seconds", "20", "--to", follow];
        let run = scratch.carry(&[&bad, "show"], &more).expect_code(1);
        assert_eq!(run.summary("made"), 3, "{follow}: {}", run.stderr);
        assert_eq!(run.summary("failed"), count, "{follow}: {}", run.stderr);
        for line in run.lines() {
            if line["outcome"] == "failed" {
                let (frame, error) = (&line["frame"], &line["error"]);
                let reason = error["reason"].as_str().unwrap_or_default();
                let file = Path::new(frame.as_str().expect("text"))
                    .file_name()
                    .expect("a name");
                assert!(
                    reason.contains(&*file.to_string_lossy()),
                    "{frame}: {reason}"
                );
                assert_ne!(error["cause"], "defect", "{frame}: {reason}");
            }
        }
    }
}
