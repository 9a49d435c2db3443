//! The same with the program itself: two `night run` on one server, one killed with its workers, and the pictures are those
//! that `carry` makes of the same frames.

use super::{Database, demo_frames, ends_well, made};
use houselights::night::queue::{HowEnded, Place, Queue};
use std::collections::BTreeMap;
use std::fs;
use std::os::unix::process::CommandExt;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// As for the other test; the program also meters, solves and reads the reference.
const NIGHT: Duration = Duration::from_secs(600);
const MADE_BEFORE: u64 = 3;

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_houselights"));
    command.stdout(Stdio::null()).stderr(Stdio::null());
    command
}

/// A run and its workers, killed together when it is dropped: they are a group of processes.
struct Run(Child);

impl Run {
    fn started(address: &str) -> Self {
        let mut command = program();
        command.args(["night", "run", "--queue", address, "--readings", "none"]);
        command.args(["--workers", "1", "--leave-free", "0", "--as-far-as-it-goes"]);
        Self(command.process_group(0).spawn().expect("started"))
    }

    fn kill(&mut self) {
        let group = format!("-{}", self.0.id());
        let killed = Command::new("kill").args(["-KILL", "--", &group]).status();
        assert!(killed.expect("asked").success());
        self.0.wait().expect("gone");
    }
}

impl Drop for Run {
    fn drop(&mut self) {
        if self.0.try_wait().is_ok_and(|ended| ended.is_none()) {
            self.kill();
        }
    }
}

fn pictures(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).expect("listed");
    let pictures = entries.filter_map(|entry| {
        let path = entry.expect("an entry").path();
        let name = path.file_name()?.to_str()?.to_owned();
        (!name.starts_with('.')).then(|| (name, fs::read(&path).expect("read")))
    });
    pictures.collect()
}

#[test]
fn two_runs_of_the_program_of_which_one_is_killed_make_what_carry_makes() {
    let Some(database) = Database::new("program") else {
        eprintln!("SKIPPED: HOUSELIGHTS_POSTGRES does not give the address of a server");
        return;
    };
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let (out, plain) = (scratch.path().join("out"), scratch.path().join("plain"));
    let address = database.address();
    let frames = demo_frames();
    let added = program()
        .args([
            "night", "add", "--queue", &address, "--show", "demo", "--to",
        ])
        .arg(format!("{},long=512", out.display()))
        .args(&frames)
        .status();
    assert!(added.expect("asked").success());
    let begun = Instant::now();
    let in_time = || assert!(begun.elapsed() < NIGHT, "the night takes too long");
    let mut queue = Queue::open(&Place::Server(address.clone())).expect("opened");
    let mut first = Run::started(&address);
    let mut second = Run::started(&address);
    loop {
        let status = queue.status().expect("asked");
        let has_in_hand =
            (status.runs.iter()).any(|run| run.process == first.0.id() && run.in_hand > 0);
        if made(&mut queue) >= MADE_BEFORE && has_in_hand {
            break;
        }
        assert_eq!(first.0.try_wait().expect("asked"), None, "it ended early");
        in_time();
        sleep(Duration::from_millis(2));
    }
    let before = made(&mut queue);
    assert!(before < frames.len() as u64, "killed too late: {before}");
    first.kill();
    let killed = Instant::now();
    ends_well(&mut second.0, in_time);
    assert_eq!(made(&mut queue), frames.len() as u64);
    let runs = queue.runs().expect("asked");
    let how = |process: u32| {
        let run = runs.iter().find(|run| run.process == process);
        run.and_then(|run| run.how)
    };
    assert_eq!(how(first.0.id()), Some(HowEnded::Died));
    assert_eq!(how(second.0.id()), Some(HowEnded::Done));
    eprintln!(
        "{} frames, {before} made when one run was killed; through {:.1} s later",
        frames.len(),
        killed.elapsed().as_secs_f64()
    );
    let carried = program()
        .arg("carry")
        .args(&frames)
        .args(["--long", "512", "--readings", "none", "--to"])
        .arg(&plain)
        .status();
    assert!(carried.expect("asked").success());
    let (out, plain) = (pictures(&out), pictures(&plain));
    assert_eq!(
        out.keys().collect::<Vec<_>>(),
        plain.keys().collect::<Vec<_>>()
    );
    for (name, bytes) in &out {
        assert!(Some(bytes) == plain.get(name), "{name} differs");
    }
}
