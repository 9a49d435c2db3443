//! Other frames at the paths of those that wait, or were made.

use super::*;
use crate::night::queue::{Scope, ShowId};

/// Counts solvings.
#[derive(Default)]
struct Solvings(usize);

impl Watcher for Solvings {
    fn tell(&mut self, event: &Event) {
        self.0 += usize::from(matches!(event, Event::Solving { .. }));
    }
}

/// The two frames of the show change places.
fn exchange(show: &Path) {
    let [one, other] = ["one-0401.dng", "one-0405.dng"].map(|name| show.join(name));
    let away = show.join("away");
    fs::rename(&one, &away).expect("moved");
    fs::rename(&other, &one).expect("moved");
    fs::rename(&away, &other).expect("moved");
}

#[test]
fn raws_that_are_all_replaced_before_anything_was_made_cost_one_solving_more() {
    let show = Show::new();
    let folder = show.path("show");
    let is_exchanged = Cell::new(false);
    let wanted = move |task: &Task, _: &CrewSettings| {
        if matches!(task, Task::Make(_)) && !is_exchanged.replace(true) {
            exchange(&folder);
        }
        None
    };
    let mut solvings = Solvings::default();
    let ended = run(
        &show.job(),
        surroundings(Rc::new(wanted), Vec::new()),
        &StopWish::default(),
        &mut solvings,
    );
    assert_eq!(ended.expect("a queue"), HowEnded::Done);
    assert_eq!((show.made(), solvings.0), (2, 2));
    assert!(show.remarks().contains(&Remark::Replaced {
        frame: show.path("show").join("one-0401.dng"),
        others: 1
    }));
}

#[test]
fn pictures_are_not_replaced_by_those_of_other_frames_until_a_person_names_them() {
    let show = Show::new();
    let picture = show.path("out/one-0401.jpg");
    night(&show, &show.job(), Rc::new(|_, _| None));
    let of_before = fs::read(&picture).expect("made");
    exchange(&show.path("show"));
    // Another look, so that every picture is to be made again.
    let mut look = presets::preset(presets::DEFAULT).expect("a preset");
    look.saturation *= 1.1;
    let snapshot = Snapshot::of(&asked(look), None).expect("kept");
    let mut queue = show.queue();
    let ask = || {
        let job = AddJob {
            asked: Some(snapshot.clone()),
            ..show.addition(snapshot.clone())
        };
        add(&show.place(), job)
    };
    // While other frames lie there nothing is taken.
    let refused = ask().map(|_| ()).expect_err("refused");
    assert!(refused.to_string().contains("one-0401.dng"), "{refused}");
    exchange(&show.path("show"));
    ask().expect("added");
    exchange(&show.path("show"));
    night(&show, &show.job(), Rc::new(|_, _| None));
    let frames = queue.frames(ShowId(1)).expect("read");
    for frame in &frames {
        assert_eq!(
            frame.error.as_ref().map(|error| error.cause),
            Some(Cause::AnotherRaw)
        );
    }
    assert_eq!(fs::read(&picture).expect("there"), of_before);
    let named = Scope {
        show: None,
        frames: vec![frames[0].frame.clone()],
    };
    queue.retry(&named).expect("asked");
    night(&show, &show.job(), Rc::new(|_, _| None));
    assert_eq!(show.made(), 1);
    assert_ne!(fs::read(&picture).expect("there"), of_before);
}

#[test]
fn pictures_whose_raws_are_away_are_not_waited_for() {
    let show = Show::new();
    night(&show, &show.job(), Rc::new(|_, _| None));
    fs::remove_file(show.path("out/one-0401.jpg")).expect("removed");
    fs::rename(show.path("show"), show.path("in a pocket")).expect("unplugged");
    assert_eq!(
        night(&show, &show.job(), Rc::new(|_, _| None)),
        HowEnded::Done
    );
    assert_eq!(
        show.remarks().last(),
        Some(&Remark::RawsAway { pictures: 1 })
    );
    fs::rename(show.path("in a pocket"), show.path("show")).expect("plugged in");
    night(&show, &show.job(), Rc::new(|_, _| None));
    assert!(show.path("out/one-0401.jpg").exists());
}

#[test]
fn a_frame_that_could_not_be_read_is_tried_again_when_its_file_has_changed() {
    let show = Show::new();
    let frame = show.path("show/one-0401.dng");
    let whole = fs::read(&frame).expect("read");
    fs::write(&frame, &whole[..whole.len() / 3]).expect("cut off");
    let readings = Rc::new(Cell::new(0));
    let work = || {
        let count = Rc::clone(&readings);
        let wanted = move |task: &Task, _: &CrewSettings| {
            let is_reading = matches!(task, Task::Meter { .. });
            count.set(count.get() + usize::from(is_reading));
            None
        };
        night(&show, &show.job(), Rc::new(wanted))
    };
    work();
    assert_eq!((show.made(), readings.get()), (1, 2));
    work();
    assert_eq!((show.made(), readings.get()), (1, 2), "it is what it was");
    fs::write(&frame, &whole).expect("copied to its end");
    work();
    assert_eq!((show.made(), readings.get()), (2, 3));
}
