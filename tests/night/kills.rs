//! Deaths at random moments, and wishes to end.

use crate::processes::{children, is_gone, signal, signal_all};
use crate::scratch::{Ran, Scratch, wait_until};
use crate::show::{
    add, end, expect_whole_database, jobs, pause, resume, run, run_arguments, say, unfinished,
};
use houselights::night::queue::JobState;
use std::fs;
use std::process::Child;
use std::time::{Duration, Instant};

/// How often somebody dies in the long test.
const KILLS: u32 = 200;
const FRAMES: u32 = 24;

/// Numbers that look like chance and are the same every time: Marsaglia, "Xorshift RNGs" (2003), 13, 17, 5.
struct Chance(u32);

impl Chance {
    fn below(&mut self, end: u32) -> u32 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 17;
        self.0 ^= self.0 << 5;
        self.0 % end
    }
}

fn start(scratch: &Scratch) -> Child {
    scratch
        .command(&run_arguments(&[]))
        .spawn()
        .expect("the program starts")
}

/// Ends a run by killing its supervisor; its workers die with it.
fn kill_supervisor(mut child: Child) {
    let workers = children(child.id());
    child.kill().expect("killed");
    child.wait().expect("dead");
    wait_until(|| workers.iter().all(|worker| is_gone(*worker)));
}

#[test]
fn two_hundred_deaths_cost_no_picture_and_make_none_twice() {
    let scratch = Scratch::with_frames(FRAMES);
    for (folder, more) in [("whole", &[][..]), ("whole-web", &["--long", "100"])] {
        let arguments = [&["--to", folder], more].concat();
        scratch.carry(&["show"], &arguments).expect_code(0);
    }
    fs::remove_dir_all(scratch.path("cache")).expect("readings are read again");
    let wishes = ["--to", "out", "--to", "web,long=100"];
    add(&scratch, &wishes);
    let mut chance = Chance(20_260_509);
    let (mut kills, mut rounds, mut supervisors) = (0, 0, 0);
    let mut recovery: Vec<Duration> = Vec::new();
    let mut died_at: Option<Instant> = None;
    while kills < KILLS {
        let mut child = start(&scratch);
        // Some die at the very beginning, most in the middle of work.
        if chance.below(5) > 0 {
            wait_until(|| {
                let is_over = child.try_wait().expect("asked").is_some();
                is_over || !children(child.id()).is_empty()
            });
        }
        let mut rest = Duration::from_millis(u64::from(chance.below(500)));
        loop {
            let begun = Instant::now();
            while begun.elapsed() < rest && child.try_wait().expect("asked").is_none() {
                std::thread::sleep(Duration::from_millis(1));
                note_recovery(&child, &mut died_at, &mut recovery);
            }
            note_recovery(&child, &mut died_at, &mut recovery);
            if let Some(status) = child.try_wait().expect("asked") {
                assert!(status.code().is_some_and(|code| code < 2), "{status:?}");
                rounds += 1;
                begin_again(&scratch, &wishes, &mut chance, rounds);
                break;
            }
            let workers = children(child.id());
            if chance.below(3) > 0 && !workers.is_empty() {
                signal(workers[chance.below(workers.len() as u32) as usize], "KILL");
                kills += 1;
                rest = Duration::from_millis(u64::from(chance.below(200)));
                continue;
            }
            if chance.below(2) == 0 {
                for worker in workers {
                    signal(worker, "KILL");
                }
            }
            kill_supervisor(child);
            kills += 1;
            supervisors += 1;
            died_at = Some(Instant::now());
            break;
        }
    }
    // A frame whose worker died twice in a row was set aside: a person asks for it again.
    say(&scratch, &["retry"]).expect_code(0);
    // A run clears the folders that it works into: there is something to do in both.
    for folder in ["out", "web"] {
        let _ = fs::remove_file(scratch.path(folder).join("000.jpg"));
    }
    run(&scratch, &[]).expect_code(0);
    assert_eq!(jobs(&scratch, JobState::Made), u64::from(FRAMES));
    for (folder, expected) in [("out", "whole"), ("web", "whole-web")] {
        assert_eq!(scratch.hashes(folder), scratch.hashes(expected));
        assert!(unfinished(&scratch, folder).is_empty(), "{folder}");
    }
    expect_whole_database(&scratch);
    recovery.sort();
    eprintln!(
        "{kills} killed, {supervisors} supervisors among them, the queue worked through {rounds} times meanwhile; workers stood \
         again after {:?} (median), {:?} at most",
        recovery[recovery.len() / 2],
        recovery[recovery.len() - 1]
    );
}

/// Notes how long after a death workers stand again.
fn note_recovery(child: &Child, died_at: &mut Option<Instant>, recovery: &mut Vec<Duration>) {
    if let Some(died) = *died_at
        && !children(child.id()).is_empty()
    {
        recovery.push(died.elapsed());
        *died_at = None;
    }
}

/// The queue was worked through: what there is to do comes about anew.
fn begin_again(scratch: &Scratch, wishes: &[&str], chance: &mut Chance, round: u32) {
    expect_whole_database(scratch);
    say(scratch, &["retry"]).expect_code(0);
    if round.is_multiple_of(2) {
        // Solved and read anew, with what was made known by the ledgers alone.
        for file in ["queue.sqlite", "queue.sqlite-wal", "queue.sqlite-shm"] {
            let _ = fs::remove_file(scratch.path(file));
        }
        let _ = fs::remove_dir_all(scratch.path("cache"));
        add(scratch, wishes);
    }
    for folder in ["out", "web"] {
        for name in scratch.names(folder) {
            if chance.below(3) > 0 {
                fs::remove_file(scratch.path(folder).join(name)).expect("removed");
            }
        }
    }
}

#[test]
fn workers_that_are_killed_all_at_once_cost_no_frame() {
    /// Times that all are killed; twice is what a frame may have for itself.
    const TIMES: usize = 5;
    let scratch = Scratch::with_frames(60);
    scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
    let _ = fs::remove_dir_all(scratch.path("cache"));
    add(&scratch, &["--to", "out"]);
    let child = start(&scratch);
    for _ in 0..TIMES {
        // Not before the show is solved, which asks a worker too; one that has put its picture down meanwhile costs no frame.
        wait_until(|| children(child.id()).len() == 2 && jobs(&scratch, JobState::Making) == 2);
        let workers = children(child.id());
        signal_all(&workers, "KILL");
        wait_until(|| workers.iter().all(|worker| is_gone(*worker)));
    }
    Ran::of(child.wait_with_output().expect("it ends"))
        .expect_code(0)
        .expect_words("signal 9");
    assert_eq!(jobs(&scratch, JobState::SetAside), 0);
    assert_eq!(scratch.hashes("out"), scratch.hashes("whole"));
}

#[test]
fn workers_that_are_killed_while_they_have_nothing_to_do_cost_no_show() {
    let scratch = Scratch::with_frames(4);
    // The readings are kept: the first that a worker is asked for is the reference, from which the show is solved.
    scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
    add(&scratch, &["--to", "out"]);
    pause(&scratch);
    let child = start(&scratch);
    wait_until(|| children(child.id()).len() == 2);
    let workers = children(child.id());
    signal_all(&workers, "KILL");
    wait_until(|| workers.iter().all(|worker| is_gone(*worker)));
    resume(&scratch);
    end(child)
        .expect_code(0)
        .expect_words("solved once more")
        .expect_words("signal 9");
    assert_eq!(jobs(&scratch, JobState::Made), 4);
    assert_eq!(scratch.hashes("out"), scratch.hashes("whole"));
}

#[test]
fn a_wish_to_end_is_heard_within_five_seconds() {
    let scratch = Scratch::with_frames(60);
    scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
    let _ = fs::remove_dir_all(scratch.path("cache"));
    for name in ["INT", "TERM"] {
        let show = ["--show", name, "--to", name];
        add(&scratch, &show);
        let child = start(&scratch);
        wait_until(|| scratch.path(name).join("004.jpg").exists());
        let begun = Instant::now();
        signal(child.id(), name);
        Ran::of(child.wait_with_output().expect("it ends"))
            .expect_code(130)
            .expect_words("goes on where it stopped");
        assert!(begun.elapsed() < Duration::from_secs(5));
        assert!(unfinished(&scratch, name).is_empty());
        assert!(scratch.names(name).len() < 60);
        run(&scratch, &[]).expect_code(0);
        assert_eq!(scratch.hashes(name), scratch.hashes("whole"));
    }
}

#[test]
fn a_gentle_run_and_its_workers_have_the_lowest_class() {
    /// sched(7).
    const SCHED_IDLE: &str = "5";
    // The scheduling policy: field 41 of proc(5), `stat`.
    let policy = |process: u32| {
        let stat = fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
        let fields = stat.rsplit(')').next().unwrap_or_default();
        fields
            .split_whitespace()
            .nth(38)
            .unwrap_or_default()
            .to_owned()
    };
    let scratch = Scratch::with_frames(20);
    add(&scratch, &["--to", "out"]);
    let child = scratch
        .command(&run_arguments(&["--gentle"]))
        .spawn()
        .expect("the program starts");
    wait_until(|| children(child.id()).len() == 2);
    let mut processes = children(child.id());
    processes.push(child.id());
    for process in processes {
        assert_eq!(policy(process), SCHED_IDLE);
    }
    Ran::of(child.wait_with_output().expect("it ends")).expect_code(0);
}
