//! What can happen to the file of the embedded engine: damage, later versions, other programs, other files, no space, and the
//! locks of runs on one machine.

use super::super::*;
use super::arena::*;
use crate::night::engine::this_host;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Everything in a folder, to the byte.
fn content(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let entries = fs::read_dir(folder).expect("listed");
    let entries = entries.map(|entry| {
        let path = entry.expect("an entry").path();
        let bytes = fs::read(&path).expect("read");
        (path, bytes)
    });
    entries.collect()
}

fn file_of(arena: &Arena) -> PathBuf {
    arena.place().file().expect("a place").expect("a file")
}

/// A queue with a show in it, closed.
fn written(arena: &Arena) -> PathBuf {
    let frames: Vec<String> = (0..200).map(|at| format!("/in/{at}.dng")).collect();
    let frames: Vec<&str> = frames.iter().map(String::as_str).collect();
    arena.open().add(&show("one", &frames)).expect("added");
    file_of(arena)
}

#[test]
fn a_later_version_is_refused_and_left_as_it_is() {
    let arena = Arena::embedded();
    let mut queue = arena.open();
    let set = queue.writing(|engine| Ok(engine.execute_all("PRAGMA user_version = 2")?));
    set.expect("set");
    // The newest state stands in the log beside the file, as when a later program was killed.
    let before = content(file_of(&arena).parent().expect("a folder"));
    let copy = tempfile::tempdir().expect("a scratch folder");
    for (path, bytes) in &before {
        let name = path.file_name().expect("a name");
        // Memory that processes share is made anew.
        if !name.to_string_lossy().ends_with("-shm") {
            fs::write(copy.path().join(name), bytes).expect("copied");
        }
    }
    drop(queue);
    let place = Place::File(copy.path().join("queue.sqlite"));
    let without_shared = |folder: &Path| {
        let mut content = content(folder);
        content.retain(|path, _| !path.to_string_lossy().ends_with("-shm"));
        content
    };
    let before = without_shared(copy.path());
    for opened in [
        Queue::open(&place),
        Queue::open_existing(&place),
        Queue::look_into(&place),
    ] {
        let error = opened.expect_err("refused");
        assert!(matches!(error, QueueError::LaterVersion(_)), "{error}");
    }
    assert_eq!(without_shared(copy.path()), before);
}

#[test]
fn another_kind_of_file_is_refused_and_left_as_it_is() {
    let arena = Arena::embedded();
    let file = file_of(&arena);
    let foreign = rows::json(&"some words that are no database")
        .expect("json")
        .repeat(40);
    fs::write(&file, &foreign).expect("written");
    for opened in [Queue::open(arena.place()), Queue::look_into(arena.place())] {
        let error = opened.expect_err("refused");
        assert!(matches!(error, QueueError::Foreign(_)), "{error}");
    }
    assert_eq!(fs::read(&file).expect("read"), foreign.as_bytes());
    // A database of another program.
    fs::remove_file(&file).expect("removed");
    let mut queue = arena.open();
    let set = queue.writing(|engine| Ok(engine.execute_all("PRAGMA application_id = 1")?));
    set.expect("set");
    drop(queue);
    let before = fs::read(&file).expect("read");
    let error = Queue::open(arena.place()).expect_err("refused");
    assert!(matches!(error, QueueError::Foreign(_)), "{error}");
    assert_eq!(fs::read(&file).expect("read"), before);
}

#[test]
fn damage_is_told_with_the_way_out() {
    // SQLite's file format: pages of 4096 bytes unless a program asks for others.
    const PAGE: usize = 4096;
    let arena = Arena::embedded();
    let file = written(&arena);
    let whole = fs::read(&file).expect("read");
    assert!(whole.len() > 10 * PAGE);
    let mut torn = whole.clone();
    torn.truncate(whole.len() / 2);
    let mut scribbled = whole.clone();
    for byte in &mut scribbled[PAGE..] {
        *byte = byte.wrapping_mul(31).wrapping_add(7);
    }
    for damaged in [torn, scribbled] {
        fs::write(&file, &damaged).expect("written");
        let opened = Queue::look_into(arena.place());
        let error = opened.and_then(|mut queue| {
            queue.status()?;
            let shows: Vec<ShowId> = vec![ShowId(1)];
            for show in shows {
                queue.frames(show)?;
            }
            Ok(())
        });
        let error = error.expect_err("damaged");
        assert!(matches!(error, QueueError::Damaged { .. }), "{error}");
        let words = error.to_string();
        assert!(
            words.contains("Move it away") && words.contains("untouched"),
            "{words}"
        );
        assert_eq!(fs::read(&file).expect("read"), damaged);
    }
}

#[test]
fn a_queue_that_another_program_holds_says_so_and_is_whole_afterwards() {
    let arena = Arena::embedded();
    written(&arena);
    let mut other = arena.open();
    let mut queue = arena.open();
    // Not the usual patience, which is long for a test.
    queue
        .engine
        .execute_all("PRAGMA busy_timeout = 20")
        .expect("set");
    other.engine.execute_all("BEGIN IMMEDIATE").expect("begun");
    let error = queue.begin_run(&run_of("host")).expect_err("held");
    assert!(
        matches!(error, QueueError::Held(_)) && error.may_pass(),
        "{error}"
    );
    // Looking is not kept back by a writer.
    assert_eq!(count(&mut queue, JobState::ToMeter), 200);
    other.engine.execute_all("ROLLBACK").expect("let go");
    let run = begin(&mut queue, "host");
    next_to_meter(&mut queue, &run);
}

#[test]
fn no_queue_is_told_from_an_empty_one() {
    let arena = Arena::embedded();
    for opened in [
        Queue::look_into(arena.place()),
        Queue::open_existing(arena.place()),
    ] {
        let error = opened.expect_err("absent");
        assert!(matches!(error, QueueError::Absent(_)), "{error}");
    }
    assert!(!file_of(&arena).exists());
    arena.open();
    let mut queue = Queue::look_into(arena.place()).expect("there");
    assert_eq!(queue.status().expect("asked").shows, []);
}

#[test]
fn a_server_asks_for_a_build_with_its_engine() {
    let place = Place::Server("postgres://nobody@127.0.0.1:1/none".to_owned());
    let error = Queue::open(&place).expect_err("no server there");
    if cfg!(feature = "many-machines") {
        assert!(matches!(error, QueueError::Lost { .. }), "{error}");
    } else {
        assert!(matches!(error, QueueError::NotInThisBuild(_)), "{error}");
    }
}

#[cfg(unix)]
#[test]
fn a_run_that_names_the_queue_by_a_link_finds_the_locks_of_the_others() {
    let arena = Arena::embedded();
    written(&arena);
    let mut queue = arena.open();
    let here = this_host();
    let alive = begin(&mut queue, &here);
    let elsewhere = tempfile::tempdir().expect("a scratch folder");
    let link = elsewhere.path().join("tonight.sqlite");
    std::os::unix::fs::symlink(file_of(&arena), &link).expect("a link");
    let mut by_link = Queue::open(&Place::File(link)).expect("opened");
    let own = begin(&mut by_link, &here);
    for (queue, own) in [(&mut by_link, &own), (&mut queue, &alive)] {
        let returned = queue.return_stale(&mut Watch::default(), Some(own.id()), Instant::now());
        assert_eq!(returned.expect("looked"), []);
    }
}

#[test]
fn on_one_machine_a_dead_run_is_seen_at_once() {
    let arena = Arena::embedded();
    written(&arena);
    let mut queue = arena.open();
    let here = this_host();
    let dead = begin(&mut queue, &here);
    let alive = begin(&mut queue, &here);
    let lock_file = |run: RunId| {
        let mut name = file_of(&arena).into_os_string();
        name.push(format!(".run-{}", run.0));
        PathBuf::from(name)
    };
    assert!(lock_file(dead.id()).exists() && lock_file(alive.id()).exists());
    next_to_meter(&mut queue, &dead);
    next_to_meter(&mut queue, &alive);
    let mut watch = Watch::default();
    let mut look = |queue: &mut Queue| {
        let returned = queue.return_stale(&mut watch, None, Instant::now());
        returned.expect("looked")
    };
    assert_eq!(look(&mut queue), []);
    let id = dead.id();
    drop(dead);
    // As the system leaves it behind a process that was killed: the file, and no lock.
    fs::write(lock_file(id), b"").expect("written");
    let returned = look(&mut queue);
    assert_eq!(returned.len(), 1);
    assert_eq!((returned[0].run, returned[0].jobs), (id, 1));
    assert!(!lock_file(id).exists());
    assert_eq!(look(&mut queue), []);
    assert_eq!(queue.beat(alive.id()).expect("beaten"), Beat::Alive);
    // Of another machine the lock file says nothing: a network drive may not pass locks on.
    let other = begin(&mut queue, "another host");
    drop(other);
    assert_eq!(look(&mut queue), []);
}

#[test]
fn two_runs_that_share_a_queue_never_get_the_same_frame() {
    const RUNS: usize = 4;
    let arena = Arena::embedded();
    written(&arena);
    let claimed = std::thread::scope(|scope| {
        let runs = (0..RUNS).map(|_| {
            scope.spawn(|| {
                let mut queue = arena.open();
                let run = begin(&mut queue, "host");
                let mut mine = Vec::new();
                while let Claimed::Meter(claim) = next(&mut queue, &run) {
                    mine.push(claim.job);
                }
                mine
            })
        });
        let runs: Vec<_> = runs.collect();
        let claimed = runs.into_iter().flat_map(|run| run.join().expect("ran"));
        claimed.collect::<Vec<_>>()
    });
    let mut once = claimed.clone();
    once.sort_unstable();
    once.dedup();
    assert_eq!((claimed.len(), once.len()), (200, 200));
}
