//! A queue of 100,000 jobs in twenty shows, on the embedded engine: how long a status and a claim take, and what it costs to
//! record what became of a frame. Stops where a status takes 100 ms or a claim 2 ms: the 95th of a hundred, since the slowest
//! few are the scheduler's on a machine that does other work, and those in which the log is written into the file and synced.

#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    missing_docs,
    reason = "a bench that meets the unexpected should stop there, and prints what it measured"
)]

use houselights::colour::output_space::OutputSpace;
use houselights::crew::hands::Hands;
use houselights::crew::task::{Answer, Delivery, Metered, Stamp, Task};
use houselights::deliver::Wish;
use houselights::look::correction::Correction;
use houselights::night::queue::{
    Claimed, JobState, MadeOutput, NewFrame, NewShow, OutputWish, Place, PlannedOutput, Queue,
    RunOf, SolvedJob, SolvedJobs, Standing,
};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

const SHOWS: usize = 20;
const FRAMES: usize = 5000;
/// Pictures of the first show that are made before anything is measured.
const MADE: usize = 1000;
const CLAIMS: usize = 2000;
const STATUSES: usize = 25;
const STATUS_WITHIN: Duration = Duration::from_millis(100);
const CLAIM_WITHIN: Duration = Duration::from_millis(2);

fn main() {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let place = Place::File(scratch.path().join("queue.sqlite"));
    let mut queue = Queue::open(&place).expect("opened");
    let begun = Instant::now();
    for show in 0..SHOWS {
        queue.add(&show_of(show)).expect("added");
    }
    println!(
        "{} jobs added in {:.1} s",
        SHOWS * FRAMES,
        begun.elapsed().as_secs_f64()
    );
    let run = queue
        .begin_run(&RunOf::this_process("bench"))
        .expect("begun");
    let metered = read();
    let mut noting = Vec::new();
    let solve = loop {
        match queue.claim(run.id(), &[]).expect("claimed") {
            Claimed::Meter(claim) => {
                let begun = Instant::now();
                queue
                    .note_metered(&claim, &metered, Some(1.0))
                    .expect("noted");
                noting.push(begun.elapsed());
            }
            Claimed::Solve(claim) => break claim,
            other => panic!("{other:?}"),
        }
    };
    tell("note a metered frame", &mut noting);
    let begun = Instant::now();
    let lights = queue.lights(solve.show).expect("asked").expect("known");
    println!(
        "readings of {FRAMES} frames: {:.0} ms",
        1e3 * begun.elapsed().as_secs_f64()
    );
    let wishes = queue.wishes(solve.show).expect("asked");
    let correction = Correction::neutral(metered.reading.white);
    let jobs = lights.iter().map(|light| SolvedJob {
        job: light.job,
        correction: correction.clone(),
        notes: Vec::new(),
        outputs: wishes
            .iter()
            .map(|(id, wish)| PlannedOutput {
                wish: *id,
                folder: wish.folder.clone(),
                picture: light
                    .frame
                    .with_extension("jpg")
                    .file_name()
                    .expect("a name")
                    .to_os_string(),
                delivery: wish.delivery.clone(),
                recipe: "recipe".to_owned(),
            })
            .collect(),
    });
    let solved = SolvedJobs {
        found: "{}".to_owned(),
        jobs: jobs.collect(),
    };
    let begun = Instant::now();
    queue.note_solved(&solve, &solved).expect("noted");
    println!(
        "note a solved show of {FRAMES} frames: {:.0} ms",
        1e3 * begun.elapsed().as_secs_f64()
    );
    let (mut claiming, mut noting) = (Vec::new(), Vec::new());
    for at in 0..CLAIMS {
        let begun = Instant::now();
        let Claimed::Make(claim) = queue.claim(run.id(), &[]).expect("claimed") else {
            panic!("nothing to make");
        };
        claiming.push(begun.elapsed());
        if at < MADE {
            let outputs = claim.outputs.iter().map(|output| MadeOutput {
                output: output.output,
                key: output.key.clone(),
                made: Ok(Standing {
                    stamp: stamp(),
                    outside: Some(0.0),
                }),
            });
            let outputs: Vec<MadeOutput> = outputs.collect();
            let begun = Instant::now();
            queue.note_made(&claim, &outputs, Some(1.0)).expect("noted");
            noting.push(begun.elapsed());
        }
    }
    tell("note a made frame", &mut noting);
    let most = tell("claim", &mut claiming);
    assert!(most < CLAIM_WITHIN, "a claim took {most:?}");
    let mut looking = Vec::new();
    for _ in 0..STATUSES {
        let begun = Instant::now();
        // As another process does it: opened for this one look.
        let mut queue = Queue::look_into(&place).expect("opened");
        let status = queue.status().expect("asked");
        looking.push(begun.elapsed());
        let waiting = [JobState::ToMeter];
        let waiting: u64 = (status.shows.iter())
            .map(|show| show.jobs_in(&waiting))
            .sum();
        assert_eq!(waiting as usize, (SHOWS - 1) * FRAMES);
    }
    let most = tell("status", &mut looking);
    assert!(most < STATUS_WITHIN, "a status took {most:?}");
}

/// Prints the middle, the 95th and the 99th of a hundred and the longest; the 95th.
fn tell(what: &str, times: &mut [Duration]) -> Duration {
    times.sort_unstable();
    let at = |share: usize| times[(times.len() - 1) * share / 100];
    println!(
        "{what}: {:?} in the middle, {:?} the 95th and {:?} the 99th of a hundred, {:?} the longest of {}",
        at(50),
        at(95),
        at(99),
        at(100),
        times.len()
    );
    at(95)
}

fn show_of(number: usize) -> NewShow {
    let frames = (0..FRAMES).map(|at| {
        let frame = PathBuf::from(format!("/shows/{number:02}/card/DSC_{at:05}.nef"));
        NewFrame {
            shown: frame.clone(),
            frame,
            bytes: 25_000_000,
            // In one show only: a show with frames that come first is metered before the others.
            is_first: number == 0 && at % 10 == 0,
        }
    });
    NewShow {
        name: format!("show {number}"),
        asked: None,
        priority: None,
        frames: frames.collect(),
        wishes: vec![wish("web"), wish("full")],
    }
}

fn wish(name: &str) -> OutputWish {
    OutputWish {
        folder: PathBuf::from("/out").join(name),
        mark: name.to_owned(),
        delivery: Delivery {
            long_edge: None,
            space: OutputSpace::Srgb,
            wish: Wish::default(),
        },
        profile: None,
    }
}

fn stamp() -> Stamp {
    let hash = "0".repeat(64);
    Stamp {
        bytes: 3_000_000,
        modified: 0,
        head: hash.clone(),
        hash,
    }
}

/// The reading of a demo frame.
fn read() -> Metered {
    let frame = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-frames/one-0401.dng");
    match Hands::default().perform(&Task::Meter { frame }) {
        Ok(Answer::Metered(metered)) => *metered,
        other => panic!("{other:?}"),
    }
}
