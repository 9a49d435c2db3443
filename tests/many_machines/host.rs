//! A host: claims, does what it claimed in its own process, and tells the queue. Frames and pictures may be in an object store.

use houselights::crew::hands::Hands;
use houselights::crew::stamp::digest;
use houselights::crew::task::{
    Answer, Delivery, Made, Metered, Order, PictureOrder, Place as PictureIs, Stamp, Task,
};
use houselights::look::correction::Correction;
use houselights::night::depot::{Depot, is_stored};
use houselights::night::queue::{
    BEAT, Beat, Claimed, HowEnded, MadeOutput, MakeClaim, Noted, Place, PlannedOutput, Queue,
    RunId, RunOf, ShowId, SolvedJob, SolvedJobs, Standing, Watch,
};
use std::fs::OpenOptions;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Environment of a host: the queue's address, the host's name, and where it writes down what was taken from it.
pub(super) const QUEUE: &str = "HOUSELIGHTS_TEST_HOST_QUEUE";
pub(super) const NAME: &str = "HOUSELIGHTS_TEST_HOST_NAME";
pub(super) const JOURNAL: &str = "HOUSELIGHTS_TEST_HOST_JOURNAL";

const PROGRAM: &str = "this program";

#[test]
#[ignore = "a process that the other test starts"]
fn a_host() {
    let variable = |name: &str| std::env::var(name).expect(name);
    let place = Place::Server(variable(QUEUE));
    let mut queue = Queue::open(&place).expect("opened");
    let run = queue
        .begin_run(&RunOf {
            host: variable(NAME),
            process: std::process::id(),
            program: PROGRAM.to_owned(),
        })
        .expect("begun");
    let id = run.id();
    std::thread::spawn(move || beat(&place, id));
    let mut watch = Watch::default();
    loop {
        match queue.claim(id, &[]).expect("asked") {
            Claimed::Meter(claim) => {
                let metered = metered(&claim.frame);
                let noted = queue.note_metered(&claim, &metered, Some(1.0));
                assert_eq!(noted.expect("told"), Noted::Taken);
            }
            Claimed::Solve(claim) => {
                let solved = solved(&mut queue, claim.show);
                let noted = queue.note_solved(&claim, &solved);
                assert_eq!(noted.expect("told"), Noted::Taken);
            }
            Claimed::Make(claim) => make_and_tell(&mut queue, &claim),
            Claimed::InHand => {
                let returned = queue.return_stale(&mut watch, Some(id), Instant::now());
                returned.expect("looked");
                sleep(Duration::from_millis(50));
            }
            Claimed::Nothing => break,
            other => panic!("{other:?}"),
        }
    }
    queue.end_run(id, HowEnded::Done).expect("ended");
}

fn beat(place: &Place, run: RunId) {
    let mut queue = Queue::open(place).expect("opened");
    while queue.beat(run).expect("beaten") == Beat::Alive {
        sleep(BEAT);
    }
}

fn make_and_tell(queue: &mut Queue, claim: &MakeClaim) {
    let mut outputs = Vec::new();
    for wanted in &claim.outputs {
        let place = wanted.of_wish.folder.join(&wanted.picture);
        let frame = &claim.claim.frame;
        let (stamp, outside) = make(frame, &claim.correction, &wanted.delivery, &place);
        outputs.push(MadeOutput {
            output: wanted.output,
            key: wanted.key.clone(),
            made: Ok(Standing {
                stamp,
                outside: Some(outside),
            }),
        });
    }
    let noted = queue.note_made(claim, &outputs, Some(1.0)).expect("told");
    assert_eq!(noted, Noted::Taken);
    let journal = std::env::var_os(JOURNAL).expect(JOURNAL);
    let mut journal = (OpenOptions::new().create(true).append(true).open(journal)).expect("opened");
    writeln!(journal, "{}", claim.claim.frame.display()).expect("written");
}

/// A frame where a worker can open it: fetched into a scratch folder where it is in a store.
fn landed(frame: &Path, scratch: &Path) -> PathBuf {
    if !is_stored(frame) {
        return frame.to_path_buf();
    }
    let local = scratch.join(frame.file_name().expect("a name"));
    let mut depot = Depot::new().expect("a depot");
    depot.fetch(frame, &local).expect("fetched");
    local
}

/// What a worker finds in a frame.
pub(super) fn metered(frame: &Path) -> Metered {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let frame = landed(frame, scratch.path());
    match Hands::default().perform(&Task::Meter { frame }) {
        Ok(Answer::Metered(metered)) => *metered,
        other => panic!("{other:?}"),
    }
}

/// The picture of a frame in its place, on a drive or in a store: its stamp, and the share of pixels outside its space.
pub(super) fn make(
    frame: &Path,
    correction: &Correction,
    delivery: &Delivery,
    output: &Path,
) -> (Stamp, f64) {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let local = if is_stored(output) {
        scratch.path().join("picture")
    } else {
        output.to_path_buf()
    };
    let order = Order {
        frame: landed(frame, scratch.path()),
        only_from: None,
        correction: correction.clone(),
        pictures: vec![PictureOrder {
            delivery: delivery.clone(),
            profile: None,
            output: local.clone(),
            place: PictureIs::Free,
            made_from: None,
        }],
    };
    let Ok(Answer::Made { pictures, .. }) = Hands::default().perform(&Task::Make(Box::new(order)))
    else {
        panic!("nothing was made of {}", frame.display());
    };
    let Some(Ok(Made::InPlace {
        output: stamp,
        outside,
        ..
    })) = pictures.into_iter().next()
    else {
        panic!("no picture was made of {}", frame.display());
    };
    if !is_stored(output) {
        return (stamp, outside);
    }
    let mut depot = Depot::new().expect("a depot");
    (depot.store(&local, output).expect("stored"), outside)
}

/// Each frame under its own white.
pub(super) fn correction_of(metered: &Metered) -> Correction {
    Correction::neutral(metered.reading.white)
}

fn solved(queue: &mut Queue, show: ShowId) -> SolvedJobs {
    let wishes = queue.wishes(show).expect("asked");
    let lights = queue.lights(show).expect("asked").expect("understood");
    let jobs = lights.iter().map(|light| {
        let correction = correction_of(&light.metered);
        let outputs = wishes.iter().map(|(id, wish)| PlannedOutput {
            wish: *id,
            folder: wish.folder.clone(),
            picture: PathBuf::from(light.frame.file_name().expect("a name"))
                .with_extension("jpg")
                .into_os_string(),
            delivery: wish.delivery.clone(),
            recipe: digest(&(&correction, &wish.delivery, PROGRAM)),
        });
        SolvedJob {
            job: light.job,
            outputs: outputs.collect(),
            correction,
            notes: Vec::new(),
        }
    });
    SolvedJobs {
        found: "{}".to_owned(),
        jobs: jobs.collect(),
    }
}
