//! Drives: unplugged, read-only, removed, full.

use crate::scratch::{Scratch, wait_until};
use crate::show::{add, end, expect_whole_database, jobs, run, say, start, unfinished};
#[cfg(target_os = "linux")]
use crate::show::{pause, queue, resume};
use houselights::night::queue::JobState;
use std::fs;

/// A folder goes away in the middle of work, comes back, and nothing is missing or counts as failed.
fn goes_and_comes_back(scratch: &Scratch, folder: &str) {
    let whole = scratch.hashes("whole");
    let working = start(scratch);
    wait_until(|| scratch.path("out/003.jpg").exists());
    fs::rename(scratch.path(folder), scratch.path("pocket")).expect("unplugged");
    wait_until(|| jobs(scratch, JobState::Making) == 0);
    // As some systems leave the mount point behind.
    fs::create_dir(scratch.path(folder)).expect("an empty mount point");
    std::thread::sleep(std::time::Duration::from_millis(800));
    assert_eq!(jobs(scratch, JobState::SetAside), 0);
    assert!(jobs(scratch, JobState::Made) < 30);
    assert_eq!(
        fs::read_dir(scratch.path(folder)).expect("there").count(),
        0,
        "nothing is written into it"
    );
    fs::remove_dir(scratch.path(folder)).expect("removed");
    fs::rename(scratch.path("pocket"), scratch.path(folder)).expect("plugged in");
    end(working)
        .expect_code(0)
        .expect_words("is away")
        .expect_words("came back");
    assert_eq!(jobs(scratch, JobState::Made), 30);
    assert_eq!(scratch.hashes("out"), whole);
    assert!(unfinished(scratch, "out").is_empty());
    expect_whole_database(scratch);
}

#[test]
fn a_run_waits_for_the_drive_of_the_pictures() {
    let scratch = Scratch::with_frames(30);
    scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
    add(&scratch, &["--to", "out"]);
    goes_and_comes_back(&scratch, "out");
}

#[cfg(target_os = "linux")]
#[test]
fn what_is_left_of_a_picture_whose_folder_went_away_is_removed_when_the_run_ends() {
    use crate::processes::children;
    use houselights::base::files::UNFINISHED_ENDING;

    let scratch = Scratch::with_frames(60);
    add(&scratch, &["--to", "out"]);
    let working = start(&scratch);
    wait_until(|| scratch.path("out/003.jpg").exists());
    pause(&scratch);
    wait_until(|| jobs(&scratch, JobState::Making) == 0);
    fs::rename(scratch.path("out"), scratch.path("pocket")).expect("unplugged");
    // A worker cannot remove what it was writing from where its folder is not any more, and lives on.
    let workers = children(working.id());
    assert_eq!(workers.len(), 1);
    let left = format!("pocket/.{}-1000{UNFINISHED_ENDING}", workers[0]);
    scratch.write(left, b"half a picture");
    resume(&scratch);
    wait_until(|| says_that_it_is_away(&scratch));
    fs::rename(scratch.path("pocket"), scratch.path("out")).expect("plugged in");
    assert_eq!(children(working.id()), workers);
    end(working).expect_code(0).expect_words("came back");
    assert_eq!(scratch.names("out").len(), 60);
    assert!(unfinished(&scratch, "out").is_empty());
}

/// Whether a run waits for a folder, and has told so.
#[cfg(target_os = "linux")]
fn says_that_it_is_away(scratch: &Scratch) -> bool {
    use houselights::night::queue::Remark;

    let told = queue(scratch).remarks().expect("read");
    (told.iter()).any(|dated| matches!(dated.remark, Remark::Away { .. }))
}

#[test]
fn a_run_waits_for_the_drive_of_the_frames() {
    let scratch = Scratch::with_frames(30);
    scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
    add(&scratch, &["--to", "out"]);
    goes_and_comes_back(&scratch, "show");
}

#[test]
fn a_folder_that_was_removed_is_made_again_when_a_person_says_so() {
    let scratch = Scratch::with_frames(20);
    scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
    add(&scratch, &["--to", "out"]);
    let working = start(&scratch);
    wait_until(|| scratch.path("out/003.jpg").exists());
    // Out of the way first: a picture that is being written would otherwise come in between.
    fs::rename(scratch.path("out"), scratch.path("removed")).expect("moved");
    fs::remove_dir_all(scratch.path("removed")).expect("removed");
    wait_until(|| jobs(&scratch, JobState::Making) == 0);
    say(&scratch, &["retry"])
        .expect_code(0)
        .expect_words("made again");
    end(working).expect_code(0);
    // What was made into the old folder is seen to be gone by the next run.
    run(&scratch, &[]).expect_code(0);
    assert_eq!(scratch.hashes("out"), scratch.hashes("whole"));
}

#[cfg(target_os = "linux")]
mod mounted {
    use super::*;
    use std::path::{Path, PathBuf};
    use std::process::Command;

    /// Something that is mounted at a folder, unmounted when dropped.
    struct Mounted(PathBuf);

    impl Mounted {
        /// A small file system in memory; `None` where this user may not mount.
        fn small(path: PathBuf, bytes: u64) -> Option<Self> {
            fs::create_dir_all(&path).expect("made");
            let size = format!("size={bytes}");
            Self::by(
                Command::new("mount").args(["-t", "tmpfs", "-o", &size, "tmpfs"]),
                path,
            )
        }

        /// A folder a second time; `None` where this user may not mount.
        fn again(folder: &Path, path: PathBuf) -> Option<Self> {
            fs::create_dir_all(&path).expect("made");
            Self::by(Command::new("mount").arg("--bind").arg(folder), path)
        }

        fn by(mount: &mut Command, path: PathBuf) -> Option<Self> {
            let mounted = mount.arg(&path).output();
            if mounted.is_ok_and(|output| output.status.success()) {
                return Some(Self(path));
            }
            eprintln!("skipped: this user may not mount a file system");
            None
        }

        /// Nothing can be written through this mount any more; what is mounted stays as it is elsewhere.
        fn make_read_only(&self) {
            let status = Command::new("mount")
                .args(["-o", "remount,bind,ro"])
                .arg(&self.0)
                .status();
            assert!(status.expect("mount runs").success());
        }
    }

    impl Drop for Mounted {
        fn drop(&mut self) {
            let _ = Command::new("umount").arg("-l").arg(&self.0).output();
        }
    }

    fn fill(folder: &Path, leave: u64) {
        let about = rustix::fs::statvfs(folder).expect("asked");
        let free = about.f_bavail * about.f_frsize;
        let bytes = vec![1; usize::try_from(free.saturating_sub(leave)).expect("small")];
        match fs::write(folder.join("filler"), bytes) {
            // Who works there meanwhile took some of it.
            Err(error) if error.kind() == std::io::ErrorKind::StorageFull => {}
            filled => filled.expect("filled"),
        }
    }

    #[test]
    fn a_full_output_drive_stops_the_run_and_nothing_is_lost() {
        let scratch = Scratch::with_frames(12);
        scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
        let Some(small) = Mounted::small(scratch.path("out"), 8 << 20) else {
            return;
        };
        add(&scratch, &["--to", "out"]);
        // Room for a picture or so, for less than one, for none, for not even a line of the ledger.
        for leave in [60_000, 8_000, 4_096, 0] {
            let _ = fs::remove_file(scratch.path("out/filler"));
            fill(&small.0, leave);
            let ran = run(&scratch, &[])
                .expect_code(1)
                .expect_words("short of space");
            assert!(
                ran.stderr.contains("goes on where it stopped"),
                "{}",
                ran.stderr
            );
            assert_eq!(jobs(&scratch, JobState::SetAside), 0);
            assert!(unfinished(&scratch, "out").is_empty());
            expect_whole_database(&scratch);
        }
        fs::remove_file(scratch.path("out/filler")).expect("room is made");
        run(&scratch, &[]).expect_code(0);
        assert_eq!(scratch.hashes("out"), scratch.hashes("whole"));
    }

    #[test]
    fn room_that_is_to_stay_free_stays_free() {
        let scratch = Scratch::with_frames(6);
        let Some(small) = Mounted::small(scratch.path("out"), 4 << 20) else {
            return;
        };
        add(&scratch, &["--to", "out"]);
        let arguments = [
            "night",
            "run",
            "--queue",
            "queue.sqlite",
            "--leave-free",
            "1",
            "--workers",
            "1",
        ];
        scratch
            .run(&arguments)
            .expect_code(1)
            .expect_words("will run short");
        assert!(scratch.names("out").is_empty());
        drop(small);
    }

    #[test]
    fn a_full_drive_of_the_queue_is_waited_for() {
        let scratch = Scratch::with_frames(30);
        scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
        let Some(small) = Mounted::small(scratch.path("small"), 4 << 20) else {
            return;
        };
        let place = ["--queue", "small/queue.sqlite"];
        let add = [
            &[
                "night",
                "add",
                "show",
                "--to",
                "out",
                "--reference",
                "show/000.dng",
                "--neutral",
                crate::dng::GREY,
            ],
            &place[..],
        ]
        .concat();
        scratch.run(&add).expect_code(0);
        let arguments = [
            &["night", "run", "--leave-free", "0", "--workers", "1"],
            &place[..],
        ]
        .concat();
        // Not enough to begin with.
        fill(&small.0, 20_000);
        scratch
            .run(&arguments)
            .expect_code(3)
            .expect_words("no space is left on the drive of");
        // To look at it nothing is needed.
        fs::remove_file(scratch.path("small/filler")).expect("room is made");
        fill(&small.0, 0);
        let status = [&["night", "status"], &place[..]].concat();
        scratch.run(&status).expect_code(0);
        fs::remove_file(scratch.path("small/filler")).expect("room is made");
        let working = scratch.command(&arguments).spawn().expect("started");
        wait_until(|| scratch.path("out/002.jpg").exists());
        // Room for a page of the database or so.
        fill(&small.0, 8_192);
        std::thread::sleep(std::time::Duration::from_secs(4));
        // Room while it waits for it.
        fs::remove_file(scratch.path("small/filler")).expect("room is made");
        end(working)
            .expect_code(0)
            .expect_words("no space is left on the drive of");
        assert_eq!(scratch.hashes("out"), scratch.hashes("whole"));
        drop(small);
    }

    #[test]
    fn a_folder_that_becomes_read_only_is_waited_for() {
        let scratch = Scratch::with_frames(60);
        scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
        add(&scratch, &["--to", "out"]);
        let Some(view) = Mounted::again(&scratch.path("out"), scratch.path("view")) else {
            return;
        };
        view.make_read_only();
        let working = start(&scratch);
        wait_until(|| scratch.path("out/003.jpg").exists());
        // What is open for writing keeps a file system from becoming read-only, and a run keeps its lock and its ledger open. So
        // the folder is hidden by one that is read-only already, and is the same for whoever opens anything in it.
        let read_only = Mounted::again(&view.0, scratch.path("out")).expect("mounted");
        fs::write(scratch.path("out/new"), b"x").expect_err("read-only");
        wait_until(|| jobs(&scratch, JobState::Making) == 0);
        let made = jobs(&scratch, JobState::Made);
        assert!(made < 60, "read-only too late");
        std::thread::sleep(std::time::Duration::from_millis(800));
        assert_eq!(jobs(&scratch, JobState::SetAside), 0);
        assert_eq!(jobs(&scratch, JobState::Made), made);
        drop(read_only);
        end(working)
            .expect_code(0)
            .expect_words("is away or cannot be used")
            .expect_words("came back");
        assert_eq!(jobs(&scratch, JobState::Made), 60);
        assert_eq!(scratch.hashes("out"), scratch.hashes("whole"));
        assert!(unfinished(&scratch, "out").is_empty());
    }
}
