//! The folder for pictures, and the folders of originals.

use crate::dng::Shot;
use crate::scratch::Scratch;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

#[test]
fn the_folder_may_lie_inside_the_show() {
    let scratch = Scratch::with_frames(3);
    for made in [3, 0] {
        let run = scratch
            .carry(&["show"], &["--to", "show/pictures"])
            .expect_code(0);
        assert_eq!((run.summary("frames"), run.summary("made")), (3, made));
    }
    // The show's own folder too: pictures beside their frames.
    let run = scratch.carry(&["show"], &["--to", "show"]).expect_code(0);
    assert_eq!((run.summary("frames"), run.summary("made")), (3, 3));
    let run = scratch.carry(&["show"], &["--to", "show"]).expect_code(0);
    assert_eq!(run.summary("already_made"), 3);
}

#[test]
fn a_file_that_is_not_ours_is_never_replaced() {
    let scratch = Scratch::with_frames(2);
    scratch.write("show/001.jpg", b"the body's own JPEG");
    let run = scratch
        .carry(&["show"], &["--to", "show"])
        .expect_code(1)
        .expect_words("001.jpg is taken by a file that this program did not make");
    assert_eq!(run.cause("001.dng"), "place-taken");
    assert_eq!(run.outcomes()["000.dng"], "made");
    assert_eq!(
        fs::read(scratch.path("show/001.jpg")).expect("there"),
        b"the body's own JPEG"
    );
}

#[test]
fn a_file_in_the_folders_place_starts_nothing() {
    let scratch = Scratch::with_frames(1);
    scratch.write("out", b"a file");
    scratch
        .carry(&["show"], &[])
        .expect_code(3)
        .expect_words("cannot make the folder out");
    scratch
        .carry(&["show"], &["--to", "out/deeper"])
        .expect_code(3)
        .expect_words("choose another with --to");
}

#[test]
fn a_folder_in_a_pictures_place_costs_that_picture() {
    let scratch = Scratch::with_frames(2);
    scratch.write("out/001.jpg/inner", b"x");
    let run = scratch.carry(&["show"], &[]).expect_code(1);
    assert_eq!(run.outcomes()["000.dng"], "made");
    assert_eq!(run.outcomes()["001.dng"], "failed");
}

#[test]
fn a_second_run_into_the_same_folder_is_refused() {
    let scratch = Scratch::with_frames(1);
    fs::create_dir(scratch.path("out")).expect("made");
    let lock = fs::File::create(scratch.path("out/.houselights-lock")).expect("a lock");
    lock.try_lock().expect("free");
    scratch
        .carry(&["show"], &[])
        .expect_code(3)
        .expect_words("another run is making pictures");
    drop(lock);
    scratch.carry(&["show"], &[]).expect_code(0);
}

#[test]
fn originals_are_never_written_to() {
    let scratch = Scratch::with_frames(2);
    let seen = |path: &Path| {
        let metadata = fs::metadata(path).expect("there");
        (
            metadata.len(),
            metadata.modified().expect("a time"),
            fs::read(path).ok(),
        )
    };
    let paths = ["show", "show/000.dng", "show/001.dng"].map(|name| scratch.path(name));
    let mode = |path: &Path, read_only: bool| {
        let mut permissions = fs::metadata(path).expect("there").permissions();
        #[cfg(unix)]
        std::os::unix::fs::PermissionsExt::set_mode(
            &mut permissions,
            if read_only { 0o555 } else { 0o755 },
        );
        #[cfg(not(unix))]
        permissions.set_readonly(read_only);
        fs::set_permissions(path, permissions).expect("set");
    };
    for path in &paths {
        mode(path, true);
    }
    let before = paths.each_ref().map(|path| seen(path));
    scratch.carry(&["show"], &[]).expect_code(0);
    scratch.run(&["meter", "show"]).expect_code(0);
    assert_eq!(paths.each_ref().map(|path| seen(path)), before);
    assert_eq!(
        fs::read_dir(&paths[0]).expect("listed").count(),
        2,
        "nothing was added"
    );
    for path in &paths {
        mode(path, false);
    }
}

/// A small drive in memory, where mounting is permitted; unmounted when dropped.
struct SmallDrive(PathBuf);

impl SmallDrive {
    fn mounted(at: PathBuf, options: &str) -> Option<Self> {
        fs::create_dir_all(&at).expect("made");
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o", options, "tmpfs"])
            .arg(&at)
            .output();
        if mounted.is_ok_and(|output| output.status.success()) {
            return Some(Self(at));
        }
        eprintln!("SKIPPED: mounting a small drive is not permitted here");
        None
    }

    fn remounted(&self, options: &str) {
        let status = Command::new("mount")
            .args(["-o", options])
            .arg(&self.0)
            .status();
        assert!(
            status.is_ok_and(|status| status.success()),
            "remounted {options}"
        );
    }
}

impl Drop for SmallDrive {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).status();
    }
}

#[test]
fn a_full_disk_is_one_reason_for_all_and_room_is_enough_to_go_on() {
    let scratch = Scratch::with_frames(12);
    let sizes = {
        scratch
            .carry(&["show"], &["--to", "elsewhere"])
            .expect_code(0);
        scratch
            .pictures("elsewhere")
            .values()
            .map(Vec::len)
            .sum::<usize>()
    };
    // Room for about half of the pictures, whatever the ledger takes.
    let options = format!("size={}k", sizes / 2 / 1024 + 16);
    let Some(drive) = SmallDrive::mounted(scratch.path("out"), &options) else {
        return;
    };
    let run = scratch
        .carry(&["show"], &["--follow", "none"])
        .expect_code(1);
    assert!(
        run.stderr.contains("make room") || run.stderr.contains("No space left"),
        "{}",
        run.stderr
    );
    assert!(
        run.summary("made") > 0 && run.summary("not_reached") > 0,
        "{}",
        run.stdout
    );
    let there = scratch.pictures("out");
    assert!(
        there
            .keys()
            .all(|name| name.to_string_lossy().ends_with(".jpg")),
        "no half file stays"
    );
    let good = there
        .values()
        .all(|picture| picture.ends_with(&[0xff, 0xd9]));
    assert!(good, "what is there is whole");
    drive.remounted("remount,size=64m");
    let run = scratch
        .carry(&["show"], &["--follow", "none"])
        .expect_code(0);
    assert_eq!(run.summary("made") + run.summary("already_made"), 12);
    assert!(run.summary("already_made") > 0);
}

#[test]
fn a_folder_that_cannot_be_written_starts_nothing() {
    let scratch = Scratch::with_frames(1);
    let Some(drive) = SmallDrive::mounted(scratch.path("out"), "size=1m") else {
        return;
    };
    drive.remounted("remount,ro");
    scratch
        .carry(&["show"], &[])
        .expect_code(3)
        .expect_words("cannot write into")
        .expect_words("make it writable");
}

#[cfg(unix)]
#[test]
fn a_folder_that_is_not_permitted_starts_nothing() {
    use std::os::unix::fs::PermissionsExt;
    let scratch = Scratch::with_frames(1);
    fs::create_dir(scratch.path("out")).expect("made");
    fs::set_permissions(scratch.path("out"), fs::Permissions::from_mode(0o555)).expect("set");
    if fs::write(scratch.path("out/probe"), b"x").is_ok() {
        eprintln!("SKIPPED: this user may write anywhere");
        return;
    }
    scratch
        .carry(&["show"], &[])
        .expect_code(3)
        .expect_words("cannot write into");
}

#[test]
fn a_folder_removed_in_the_middle_ends_the_run_with_one_reason() {
    let scratch = Scratch::with_frames(60);
    let arguments = Scratch::carry_arguments(&["show"], &["--follow", "none", "--workers", "1"]);
    let child = scratch
        .command(&arguments)
        .spawn()
        .expect("the program starts");
    let out = scratch.path("out");
    crate::scratch::wait_until(|| out.join("002.jpg").exists());
    fs::rename(&out, scratch.path("gone")).expect("moved away");
    let run = crate::scratch::Ran::of(child.wait_with_output().expect("it ends")).expect_code(1);
    assert!(run.summary("not_reached") > 0, "{}", run.stderr);
    assert!(
        run.stderr.contains("The rest was not tried"),
        "{}",
        run.stderr
    );
    assert!(
        !out.exists(),
        "the folder is not made again behind the person's back"
    );
}

#[test]
fn what_dead_runs_left_unfinished_is_removed() {
    let scratch = Scratch::with_frames(1);
    let left = format!("out/000.jpg.{}-3.houselights-unfinished", i32::MAX);
    scratch.write(&left, b"half");
    scratch.frame("show/001.dng", &Shot::number(1));
    scratch.carry(&["show"], &[]).expect_code(0);
    assert!(!scratch.path(&left).exists());
}
