//! Where the tests of the queue take place: one new queue each, on every engine.

use super::super::*;
use crate::base::units::Chromaticity;
use crate::colour::output_space::OutputSpace;
use crate::crew::task::{Cause, Delivery, Stamp, TaskError};
use crate::deliver::Wish;
use crate::look::correction::Correction;
pub(super) use crate::show::readings::tests::demo_reading as metered;
use std::path::{Path, PathBuf};

/// A queue of its own for one test, removed afterwards.
pub(super) struct Arena {
    place: Place,
    _scratch: Option<tempfile::TempDir>,
    #[cfg(feature = "many-machines")]
    _database: Option<engine::OwnDatabase>,
}

impl Arena {
    pub(super) fn embedded() -> Self {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        Self {
            place: Place::File(scratch.path().join("queue.sqlite")),
            _scratch: Some(scratch),
            #[cfg(feature = "many-machines")]
            _database: None,
        }
    }

    /// On the server that the environment names; `None` where it names none.
    #[cfg(feature = "many-machines")]
    pub(super) fn on_server() -> Option<Self> {
        let server = std::env::var("HOUSELIGHTS_POSTGRES").ok()?;
        let database = engine::OwnDatabase::made_on(&server);
        Some(Self {
            place: Place::Server(database.address().to_owned()),
            _scratch: None,
            _database: Some(database),
        })
    }

    pub(super) fn place(&self) -> &Place {
        &self.place
    }

    pub(super) fn open(&self) -> Queue {
        Queue::open(&self.place).expect("opened")
    }
}

pub(super) fn run_of(host: &str) -> RunOf {
    RunOf {
        host: host.to_owned(),
        process: 7,
        program: "this program".to_owned(),
    }
}

pub(super) fn delivery() -> Delivery {
    Delivery {
        long_edge: Some(2048),
        space: OutputSpace::Srgb,
        wish: Wish::default(),
    }
}

pub(super) fn wish(folder: &str) -> OutputWish {
    OutputWish {
        folder: PathBuf::from(folder),
        mark: "a mark".to_owned(),
        delivery: delivery(),
        profile: None,
    }
}

/// A show with these frames and one wish.
pub(super) fn show(name: &str, frames: &[&str]) -> NewShow {
    NewShow {
        name: name.to_owned(),
        asked: Some("{\"look\":1}".to_owned()),
        priority: None,
        frames: frames.iter().map(|name| frame(name)).collect(),
        wishes: vec![wish("/out")],
    }
}

pub(super) fn frame(name: &str) -> NewFrame {
    NewFrame {
        frame: PathBuf::from(name),
        shown: PathBuf::from(name),
        bytes: 1000,
        is_first: false,
    }
}

/// The stamp of a file that holds nothing but its seed.
pub(super) fn stamp(seed: &str) -> Stamp {
    let hash = blake3::hash(seed.as_bytes()).to_hex().to_string();
    Stamp {
        bytes: 1000,
        modified: 5,
        head: hash.clone(),
        hash,
    }
}

pub(super) fn correction(gain: f64) -> Correction {
    Correction {
        gain,
        ..Correction::neutral(Chromaticity {
            x: 0.3127,
            y: 0.329,
        })
    }
}

pub(super) fn trouble(cause: Cause) -> TaskError {
    TaskError {
        cause,
        reason: "it went wrong".to_owned(),
        next_step: None,
    }
}

pub(super) fn begin(queue: &mut Queue, host: &str) -> Run {
    queue.begin_run(&run_of(host)).expect("begun")
}

/// A queue with a show of two frames, and a run on it.
pub(super) fn begun(arena: &Arena) -> (Queue, Run) {
    let mut queue = arena.open();
    let new = show("one", &["/in/1.dng", "/in/2.dng"]);
    queue.add(&new).expect("added");
    let run = begin(&mut queue, "host");
    (queue, run)
}

/// The next claim of a run, whatever it is.
pub(super) fn next(queue: &mut Queue, run: &Run) -> Claimed {
    queue.claim(run.id(), &[]).expect("asked")
}

/// The next claim, which must be to meter.
pub(super) fn next_to_meter(queue: &mut Queue, run: &Run) -> Claim {
    match next(queue, run) {
        Claimed::Meter(claim) => claim,
        other => panic!("{other:?}"),
    }
}

/// The next claim, which must be to make.
pub(super) fn next_to_make(queue: &mut Queue, run: &Run) -> MakeClaim {
    match next(queue, run) {
        Claimed::Make(claim) => *claim,
        other => panic!("{other:?}"),
    }
}

/// The next claim, which must be to solve.
pub(super) fn next_to_solve(queue: &mut Queue, run: &Run) -> SolveClaim {
    match next(queue, run) {
        Claimed::Solve(claim) => claim,
        other => panic!("{other:?}"),
    }
}

/// Meters everything that waits, each frame as the file that its path says.
pub(super) fn meter_all(queue: &mut Queue, run: &Run) {
    loop {
        match next(queue, run) {
            Claimed::Meter(claim) => {
                let metered = metered(stamp(&claim.frame.to_string_lossy()));
                let noted = queue.note_metered(&claim, &metered, Some(0.5));
                assert_eq!(noted.expect("noted"), Noted::Taken);
            }
            Claimed::Solve(claim) => return queue.give_back_show(&claim).expect("given back"),
            other => panic!("{other:?}"),
        }
    }
}

/// What a planner would give: the same gain for every frame, pictures named after frames.
pub(super) fn plan(queue: &mut Queue, show: ShowId, gain: f64) -> SolvedJobs {
    let wishes = queue.wishes(show).expect("asked");
    let lights = queue.lights(show).expect("asked").expect("understood");
    let jobs = lights.into_iter().map(|light| SolvedJob {
        job: light.job,
        correction: correction(gain),
        notes: vec!["a note".to_owned()],
        outputs: wishes
            .iter()
            .map(|(id, wish)| PlannedOutput {
                wish: *id,
                folder: wish.folder.clone(),
                picture: Path::new(light.frame.file_name().expect("a name"))
                    .with_extension("jpg")
                    .into_os_string(),
                delivery: wish.delivery.clone(),
                recipe: format!("recipe {gain}"),
            })
            .collect(),
    });
    SolvedJobs {
        found: "{}".to_owned(),
        jobs: jobs.collect(),
    }
}

/// Meters what waits and solves the show that then can be.
pub(super) fn meter_and_solve(queue: &mut Queue, run: &Run, gain: f64) {
    meter_all(queue, run);
    let claim = next_to_solve(queue, run);
    let solved = plan(queue, claim.show, gain);
    let noted = queue.note_solved(&claim, &solved);
    assert_eq!(noted.expect("noted"), Noted::Taken);
}

/// What a worker would tell of a job whose pictures are all in place.
pub(super) fn made(claim: &MakeClaim) -> Vec<MadeOutput> {
    let outputs = claim.outputs.iter().map(|output| MadeOutput {
        output: output.output,
        key: output.key.clone(),
        made: Ok(Standing {
            stamp: stamp(&output.key),
            outside: Some(0.25),
        }),
    });
    outputs.collect()
}

/// Makes everything that waits; the frames, in the order in which they came.
pub(super) fn make_all(queue: &mut Queue, run: &Run) -> Vec<PathBuf> {
    let mut frames = Vec::new();
    loop {
        match next(queue, run) {
            Claimed::Make(claim) => {
                let noted = queue.note_made(&claim, &made(&claim), Some(1.5));
                assert_eq!(noted.expect("noted"), Noted::Taken);
                frames.push(claim.claim.frame);
            }
            Claimed::Nothing => return frames,
            other => panic!("{other:?}"),
        }
    }
}

/// How many jobs are in a state, over all shows.
pub(super) fn count(queue: &mut Queue, state: JobState) -> u64 {
    let status = queue.status().expect("asked");
    status.shows.iter().map(|show| show.jobs_in(&[state])).sum()
}
