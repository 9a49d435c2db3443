//! Frames that cannot be read, change while they wait, or ask for too much.

use crate::dng::Shot;
use crate::scratch::Scratch;
use crate::show::{add, jobs, run, say};
use houselights::night::queue::JobState;
use std::fs;
use std::path::Path;

#[test]
fn a_raw_that_was_replaced_is_taken_where_a_person_names_it() {
    let scratch = Scratch::with_frames(4);
    add(&scratch, &["--to", "out"]);
    run(&scratch, &[]).expect_code(0);
    // Replaced, and one picture removed, so that its raw is opened again.
    scratch.frame("show/002.dng", &Shot::number(77));
    fs::remove_file(scratch.path("out/002.jpg")).expect("removed");
    run(&scratch, &[])
        .expect_code(1)
        .expect_words("other frames lie at this path now");
    assert!(!scratch.path("out/002.jpg").exists());
    say(&scratch, &["retry", "show/002.dng"]).expect_code(0);
    run(&scratch, &[]).expect_code(0);
    scratch
        .carry(&["show"], &["--to", "carried"])
        .expect_code(0);
    assert_eq!(scratch.hashes("out"), scratch.hashes("carried"));
    // Where the picture is still there nothing sets the frame aside: naming it is enough, and naming one that is as it was is not.
    scratch.frame("show/003.dng", &Shot::number(78));
    say(&scratch, &["retry", "show/001.dng"]).expect_code(2);
    say(&scratch, &["retry", "show/003.dng"]).expect_code(0);
    run(&scratch, &[]).expect_code(0);
    scratch
        .carry(&["show"], &["--to", "carried-again"])
        .expect_code(0);
    assert_eq!(scratch.hashes("out"), scratch.hashes("carried-again"));
}

#[test]
fn pictures_of_a_show_that_was_dropped_survive_other_frames_of_the_same_names() {
    let scratch = Scratch::with_frames(3);
    add(&scratch, &["--to", "out"]);
    run(&scratch, &[]).expect_code(0);
    let friday = scratch.hashes("out");
    say(&scratch, &["drop", "--show", "show"]).expect_code(0);
    for number in 1..=3 {
        scratch.frame(format!("show/00{number}.dng"), &Shot::number(70 + number));
    }
    add(&scratch, &["--to", "out"]);
    run(&scratch, &[]).expect_code(0);
    // And by `carry`, which keeps the same ledger.
    scratch.carry(&["show"], &["--to", "out"]).expect_code(0);
    let now = scratch.hashes("out");
    assert_eq!(now.len(), 6);
    assert!(
        friday
            .iter()
            .all(|(name, hash)| now.get(name) == Some(hash))
    );
}

#[test]
fn damaged_frames_are_set_aside_and_cost_themselves_only() {
    let Some(raws) = std::env::var_os("HOUSELIGHTS_RAWS") else {
        eprintln!("skipped: HOUSELIGHTS_RAWS names no folder");
        return;
    };
    let scratch = Scratch::with_frames(3);
    let mut bad = 0;
    for entry in fs::read_dir(Path::new(&raws).join("bad")).expect("a folder") {
        let path = entry.expect("an entry").path();
        let name = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        scratch.write(format!("show/{name}"), &fs::read(&path).expect("read"));
        bad += u64::from(houselights::raw::is_raw_name(&path));
    }
    add(&scratch, &["--to", "out"]);
    // One of them hangs a decoder.
    run(&scratch, &["--worker-seconds", "3"]).expect_code(1);
    let (made, aside) = (
        jobs(&scratch, JobState::Made),
        jobs(&scratch, JobState::SetAside),
    );
    assert_eq!(made + aside, 3 + bad);
    assert!(aside > 0 && made >= 3, "{made} made, {aside} set aside");
    assert_eq!(scratch.names("out").len() as u64, made);
}

#[test]
fn a_frame_for_which_the_memory_does_not_suffice_is_set_aside_and_made_with_more() {
    let scratch = Scratch::with_frames(2);
    // 192 MB of counts, held at least twice while they are read, against 256 MiB.
    let large = Shot {
        width: 12_000,
        height: 8000,
        ..Shot::number(9)
    };
    scratch.frame("show/large.dng", &large);
    add(&scratch, &["--to", "out,long=400"]);
    run(&scratch, &["--memory", "0.5"])
        .expect_code(1)
        .expect_words("large.dng")
        .expect_words("of memory");
    assert_eq!(
        (
            jobs(&scratch, JobState::Made),
            jobs(&scratch, JobState::SetAside)
        ),
        (2, 1)
    );
    say(&scratch, &["retry"]).expect_code(0);
    run(&scratch, &["--memory", "4"]).expect_code(0);
    assert_eq!(jobs(&scratch, JobState::Made), 3);
}
