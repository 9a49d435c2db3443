//! Deaths: of workers, of the supervisor, by signals a person sends, and by limits.

use crate::dng::Shot;
use crate::scratch::{Ran, Scratch, wait_until};
use std::time::{Duration, Instant};

#[cfg(target_os = "linux")]
mod on_linux {
    use super::*;
    use crate::processes::{children, signal};
    use std::fs;
    use std::process::Child;

    fn start(scratch: &Scratch, more: &[&str]) -> Child {
        let arguments = Scratch::carry_arguments(&["show"], more);
        scratch
            .command(&arguments)
            .spawn()
            .expect("the program starts")
    }

    fn end(child: Child) -> Ran {
        Ran::of(child.wait_with_output().expect("it ends"))
    }

    #[test]
    fn killed_workers_cost_one_frame_each_and_are_replaced() {
        let scratch = Scratch::with_frames(60);
        scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
        let child = start(&scratch, &["--workers", "2"]);
        let mut killed = 0;
        wait_until(|| scratch.path("out").join("000.jpg").exists());
        while killed < 5 {
            let Some(&worker) = children(child.id()).first() else {
                break;
            };
            signal(worker, "KILL");
            killed += 1;
            std::thread::sleep(Duration::from_millis(30));
        }
        let run = end(child);
        assert!(killed > 0);
        let failed = run.summary("failed");
        assert!(failed <= killed, "{failed} failed, {killed} killed");
        assert_eq!(run.summary("made") + failed, 60);
        for line in run.lines() {
            if line["outcome"] == "failed" {
                assert_eq!(line["error"]["cause"], "killed", "{line}");
                assert!(
                    line["error"]["reason"]
                        .as_str()
                        .is_some_and(|text| text.ends_with("signal 9")),
                    "{line}"
                );
            }
        }
        scratch.carry(&["show"], &[]).expect_code(0);
        assert_eq!(
            scratch.hashes("out"),
            scratch.hashes("whole"),
            "and nothing unfinished stays"
        );
    }

    #[test]
    fn after_the_supervisors_death_its_workers_die_and_a_second_run_goes_on() {
        let scratch = Scratch::with_frames(40);
        scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
        for wait in [0, 3, 20, 37] {
            let mut child = start(&scratch, &["--workers", "2"]);
            wait_until(|| wait == 0 || scratch.path("out").join(format!("{wait:03}.jpg")).exists());
            let workers = children(child.id());
            child.kill().expect("killed");
            child.wait().expect("dead");
            wait_until(|| {
                workers.iter().all(|worker| {
                    let stat =
                        fs::read_to_string(format!("/proc/{worker}/stat")).unwrap_or_default();
                    stat.is_empty() || stat.contains(") Z ")
                })
            });
        }
        let run = scratch.carry(&["show"], &[]).expect_code(0);
        assert!(run.summary("already_made") > 0);
        assert_eq!(scratch.hashes("out"), scratch.hashes("whole"));
    }

    #[test]
    fn a_wish_to_end_finishes_the_frames_in_hand() {
        let scratch = Scratch::with_frames(80);
        scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
        for name in ["INT", "TERM"] {
            let child = start(&scratch, &["--workers", "2", "--to", name]);
            wait_until(|| scratch.path(name).join("004.jpg").exists());
            let begun = Instant::now();
            signal(child.id(), name);
            let run = end(child)
                .expect_code(130)
                .expect_words("the same command goes on where it stopped");
            assert!(begun.elapsed() < Duration::from_secs(5));
            assert_eq!(run.summary("frames"), 80);
            assert!(
                run.summary("not_reached") > 0 && run.summary("failed") == 0,
                "{}",
                run.stderr
            );
            let run = scratch.carry(&["show"], &["--to", name]).expect_code(0);
            assert!(run.summary("already_made") >= 5);
            assert_eq!(scratch.hashes(name), scratch.hashes("whole"));
        }
    }

    #[test]
    fn a_frame_that_wants_too_much_memory_is_told_and_the_others_are_made() {
        let scratch = Scratch::with_frames(2);
        // 96 MB of counts, held at least twice while it is decoded and rendered, against 128 MiB.
        let large = Shot {
            width: 8000,
            height: 6000,
            ..Shot::number(9)
        };
        scratch.frame("show/large.dng", &large);
        let run = scratch
            .carry(&["show"], &["--worker-memory", "0.125"])
            .expect_code(1)
            .expect_words("large.dng")
            .expect_words("more than 128 MiB of memory");
        assert_eq!(run.cause("large.dng"), "memory");
        assert_eq!(run.summary("made"), 2);
        // The time limit, on the same frame with memory enough.
        let run = scratch.carry(&["show"], &["--worker-seconds", "1", "--follow", "none"]);
        if run.code == 1 {
            assert_eq!(run.cause("large.dng"), "time", "{}", run.stderr);
            assert!(
                run.stderr.contains("took longer than 1 s"),
                "{}",
                run.stderr
            );
        }
    }
}
