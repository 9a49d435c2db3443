//! Nights with stand-ins for what a test cannot have: workers that fail as it wants, a battery, a lid that is closed.

use super::plan::{AddJob, WishJob, add};
use super::power::Power;
use super::scratch::Scratch;
use super::snapshot::Snapshot;
use super::*;
use crate::crew::Shift;
use crate::crew::hands::Hands;
use crate::crew::limits::GIBIBYTE;
use crate::crew::limits::Limits;
use crate::crew::task::{Cause, Delivery};
use crate::crew::task::{Task, TaskError};
use crate::deliver::Wish;
use crate::look::carry::Follow;
use crate::look::file::Look;
use crate::look::presets;
use crate::night::queue::{JobState, RunId};
use crate::night::queue::{LostPicture, Queue, Remark};
use crate::show::solving::Asked;
use std::cell::{Cell, RefCell};
use std::fs;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::time::Instant;

mod killed;
mod replaced;
mod swapped;
mod told;
mod trouble;

/// A show of two demo frames in a queue.
struct Show {
    scratch: tempfile::TempDir,
}

impl Show {
    fn new() -> Self {
        let show = Self {
            scratch: tempfile::tempdir().expect("a scratch folder"),
        };
        let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-frames");
        fs::create_dir(show.path("show")).expect("made");
        for name in ["one-0401.dng", "one-0405.dng"] {
            fs::copy(demo.join(name), show.path("show").join(name)).expect("copied");
        }
        let look = presets::preset(presets::DEFAULT).expect("a preset");
        let asked = Snapshot::of(&asked(look), None).expect("kept");
        add(&show.place(), show.addition(asked)).expect("added");
        show
    }

    fn addition(&self, asked_by_default: Snapshot) -> AddJob {
        AddJob {
            name: None,
            frames: vec![self.path("show")],
            first: Vec::new(),
            asked: None,
            asked_by_default,
            priority: None,
            wishes: vec![WishJob {
                folder: self.path("out"),
                delivery: Delivery {
                    long_edge: Some(100),
                    space: Default::default(),
                    wish: Wish::default(),
                },
                profile: None,
            }],
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.scratch.path().join(name)
    }

    fn queue(&self) -> Queue {
        Queue::open(&self.place()).expect("a queue")
    }

    fn place(&self) -> Place {
        Place::File(self.path("queue.sqlite"))
    }

    fn job(&self) -> NightJob {
        NightJob {
            queue: self.place(),
            readings: readings::Place::Nowhere,
            program: "this program".to_owned(),
            crew: CrewSettings {
                workers: NonZeroUsize::new(2).expect("two"),
                limits: Limits::default(),
                program: "/no/such/program".into(),
                first_arguments: Vec::new(),
            },
            memory: 8 * GIBIBYTE,
            leave_free: 0,
            scratch: GIBIBYTE,
            until: None,
            least_charge: None,
        }
    }

    fn made(&self) -> u64 {
        self.queue().status().expect("read").shows[0].jobs_in(&[JobState::Made])
    }

    fn remarks(&self) -> Vec<Remark> {
        let remarks = self.queue().remarks().expect("read");
        remarks.into_iter().map(|dated| dated.remark).collect()
    }
}

/// What a person asks of a show: this look, carried by the light.
fn asked(look: Look) -> Asked {
    Asked {
        look,
        reference: None,
        pins: Vec::new(),
        clocks: Vec::new(),
        overrules: Default::default(),
        follow: Follow::Light,
    }
}

/// What a test wants to happen to a task: a cause to fail, or nothing. Knows the settings of the crew.
type Wanted = Rc<dyn Fn(&Task, &CrewSettings) -> Option<Cause>>;

/// Works in this thread.
struct StandIn {
    wanted: Wanted,
    settings: CrewSettings,
}

impl Workforce for StandIn {
    fn work(&mut self, stop: &StopWish, shift: &mut dyn Shift) {
        while !stop.is_raised()
            && let Some((key, task)) = shift.next(0)
        {
            let outcome = match (self.wanted)(&task, &self.settings) {
                Some(cause) => Err(TaskError {
                    cause,
                    reason: "as the test wants it".to_owned(),
                    next_step: None,
                }),
                None => Hands::default().perform(&task),
            };
            shift.done(key, outcome, Instant::now());
        }
    }
}

/// A battery that says this, one after the other, and the last for ever.
struct Told(Vec<Option<Power>>);

impl PowerSource for Told {
    fn look(&mut self) -> Option<Power> {
        match self.0.len() {
            0 => None,
            1 => self.0[0],
            _ => self.0.remove(0),
        }
    }
}

fn surroundings(wanted: Wanted, power: Vec<Option<Power>>) -> Surroundings<'static> {
    let hire = move |settings: &CrewSettings| {
        let stand_in = StandIn {
            wanted: Rc::clone(&wanted),
            settings: settings.clone(),
        };
        Ok(Box::new(stand_in) as Box<dyn Workforce>)
    };
    Surroundings {
        hire: Box::new(hire),
        power: Box::new(Told(power)),
    }
}

fn night(show: &Show, job: &NightJob, wanted: Wanted) -> HowEnded {
    let ended = run(
        job,
        surroundings(wanted, Vec::new()),
        &StopWish::default(),
        &mut (),
    );
    let how = ended.expect("a queue");
    assert!(show.queue().status().expect("read").runs.is_empty());
    how
}

#[test]
fn a_night_makes_everything_and_ends() {
    let show = Show::new();
    assert_eq!(
        night(&show, &show.job(), Rc::new(|_, _| None)),
        HowEnded::Done
    );
    assert_eq!(show.made(), 2);
    assert_eq!(
        fs::read_dir(show.path("out"))
            .expect("there")
            .filter(|entry| {
                entry.as_ref().is_ok_and(|entry| {
                    entry
                        .path()
                        .extension()
                        .is_some_and(|ending| ending == "jpg")
                })
            })
            .count(),
        2
    );
}

#[test]
fn a_frame_that_wants_more_memory_gets_all_of_it_alone() {
    let show = Show::new();
    let seen: Rc<RefCell<Vec<(usize, u64)>>> = Rc::default();
    let alone = Rc::clone(&seen);
    let job = show.job();
    let all = memory::whole(job.memory);
    let wanted = move |task: &Task, settings: &CrewSettings| {
        let is_large = matches!(task, Task::Make(_)) && task.frame().ends_with("one-0401.dng");
        if !is_large {
            return None;
        }
        alone
            .borrow_mut()
            .push((settings.workers.get(), settings.limits.memory_bytes));
        (settings.limits.memory_bytes < all).then_some(Cause::Memory)
    };
    assert_eq!(night(&show, &job, Rc::new(wanted)), HowEnded::Done);
    assert_eq!(show.made(), 2);
    let seen = seen.borrow();
    assert_eq!(seen.len(), 2);
    assert_eq!(seen[0].0, 2);
    assert_eq!(seen[1], (1, all));
}

#[test]
fn a_frame_that_kills_its_worker_twice_is_set_aside_and_the_others_are_made() {
    let show = Show::new();
    let killed = Rc::new(Cell::new(0));
    let count = Rc::clone(&killed);
    let wanted = move |task: &Task, _: &CrewSettings| {
        let kills = matches!(task, Task::Meter { .. }) && task.frame().ends_with("one-0401.dng");
        kills.then(|| {
            count.set(count.get() + 1);
            Cause::WorkerLost
        })
    };
    assert_eq!(night(&show, &show.job(), Rc::new(wanted)), HowEnded::Done);
    assert_eq!((killed.get(), show.made()), (2, 1));
    let lost = show
        .remarks()
        .into_iter()
        .filter(|remark| matches!(remark, Remark::WorkerLost { .. }));
    assert_eq!(lost.count(), 2);
}

#[test]
fn workers_that_cannot_be_started_cost_no_frame() {
    let show = Show::new();
    let refused = Cell::new(0);
    let wanted = move |_: &Task, _: &CrewSettings| {
        refused.set(refused.get() + 1);
        (refused.get() <= 1).then_some(Cause::NoWorker)
    };
    assert_eq!(night(&show, &show.job(), Rc::new(wanted)), HowEnded::Done);
    assert_eq!(show.made(), 2);
}

#[test]
fn nothing_is_begun_after_the_hour() {
    let show = Show::new();
    let job = NightJob {
        until: Some(Timestamp::now()),
        ..show.job()
    };
    let how = night(&show, &job, Rc::new(|_, _| panic!("nothing is begun")));
    assert_eq!((how, show.made()), (HowEnded::Hour, 0));
}

#[test]
fn a_low_battery_is_waited_for() {
    let show = Show::new();
    let job = NightJob {
        least_charge: Some(0.3),
        ..show.job()
    };
    let says = |charge: f64, is_on_battery: bool| {
        Some(Power {
            charge,
            is_on_battery,
        })
    };
    let power = vec![
        says(0.8, true),
        says(0.2, true),
        says(0.2, true),
        says(0.2, false),
    ];
    let ended = run(
        &job,
        surroundings(Rc::new(|_, _| None), power),
        &StopWish::default(),
        &mut (),
    );
    assert_eq!(ended.expect("a queue"), HowEnded::Done);
    assert_eq!(show.made(), 2);
    let remarks = show.remarks();
    assert!(
        remarks.contains(&Remark::BatteryLow { charge: 0.2 }),
        "{remarks:?}"
    );
    assert!(
        matches!(remarks.last(), Some(Remark::BatteryBack { .. })),
        "{remarks:?}"
    );
}

#[test]
fn a_run_that_slept_and_was_declared_dead_begins_anew() {
    let show = Show::new();
    let place = show.place();
    let slept = Cell::new(false);
    let wanted = move |_: &Task, _: &CrewSettings| {
        if !slept.replace(true) {
            // Another run saw no beat for long, and ended this one.
            let mut other = Queue::open(&place).expect("a queue");
            other.end_run(RunId(1), HowEnded::Died).expect("ended");
            std::thread::sleep(crate::night::queue::BEAT * 2);
        }
        None
    };
    assert_eq!(night(&show, &show.job(), Rc::new(wanted)), HowEnded::Done);
    assert_eq!(show.made(), 2);
    assert_eq!(show.queue().runs().expect("read").len(), 2);
}

#[test]
fn what_the_rest_will_take_is_learned_from_what_was_made() {
    let show = Show::new();
    let guessed = space::wants(&mut show.queue()).expect("read").remove(0);
    assert!(!guessed.is_measured && guessed.pictures == 2 && guessed.bytes > 0);
    night(&show, &show.job(), Rc::new(|_, _| None));
    assert!(
        space::wants(&mut show.queue()).expect("read").is_empty(),
        "nothing is left"
    );
    let made: u64 = ["one-0401.jpg", "one-0405.jpg"]
        .map(|name| {
            fs::metadata(show.path("out").join(name))
                .expect("made")
                .len()
        })
        .iter()
        .sum();
    fs::remove_file(show.path("out/one-0401.jpg")).expect("removed");
    assert_eq!(
        verify::verify(
            &mut show.queue(),
            &mut Scratch::new(GIBIBYTE, StopWish::default()),
            &mut scratch::Sight::default(),
            &StopWish::default()
        )
        .expect("looked"),
        verify::Verified {
            remade: 1,
            named: vec![LostPicture {
                place: fs::canonicalize(show.path("out"))
                    .expect("there")
                    .join("one-0401.jpg"),
                is_changed: false,
            }],
            raws_away: 0
        }
    );
    let learned = space::wants(&mut show.queue()).expect("read").remove(0);
    assert_eq!(
        (learned.is_measured, learned.pictures, learned.bytes),
        (true, 1, made / 2)
    );
}
