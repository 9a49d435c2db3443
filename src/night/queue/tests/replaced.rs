//! Raws that were replaced by others at the same path.

use super::super::*;
use super::arena::*;
use super::on_every_engine;
use crate::crew::task::Cause;
use std::path::PathBuf;

on_every_engine!(
    pictures_of_another_raw_are_replaced_only_where_their_frame_is_named,
    a_reading_of_another_raw_sets_a_frame_with_pictures_aside,
    raws_that_were_replaced_before_anything_was_made_are_metered_again_together,
);

/// The pictures of the only frame are made and one of them is gone again: the claim that finds the raw replaced.
fn made_and_gone(queue: &mut Queue, run: &Run) -> MakeClaim {
    queue.add(&show("one", &["/in/1.dng"])).expect("added");
    meter_and_solve(queue, run, 1.0);
    make_all(queue, run);
    let made = queue.made_outputs().expect("asked");
    assert_eq!(queue.remake(&made).expect("told"), 1);
    next_to_make(queue, run)
}

fn cause_of_the_first(queue: &mut Queue) -> Option<Cause> {
    let frames = queue.frames(ShowId(1)).expect("asked");
    frames[0].error.as_ref().map(|error| error.cause)
}

fn pictures_of_another_raw_are_replaced_only_where_their_frame_is_named(arena: &Arena) {
    let mut queue = arena.open();
    let run = begin(&mut queue, "host");
    let make = made_and_gone(&mut queue, &run);
    let again = |queue: &mut Queue, make: &MakeClaim| {
        let noted = queue.meter_again(&make.claim, &[]).expect("told");
        assert_eq!(noted, Noted::AnotherRaw);
        assert_eq!(cause_of_the_first(queue), Some(Cause::AnotherRaw));
        assert_eq!(next(queue, &run), Claimed::Nothing);
    };
    again(&mut queue, &make);
    // Asked for everything, nobody speaks of this frame: it may be back as it was, and is seen to be another if not.
    queue.retry(&Scope::default()).expect("asked");
    let solve = next_to_solve(&mut queue, &run);
    let solved = plan(&mut queue, solve.show, 1.0);
    queue.note_solved(&solve, &solved).expect("told");
    let make = next_to_make(&mut queue, &run);
    assert_eq!(make.input, stamp("/in/1.dng"));
    again(&mut queue, &make);
    let named = Scope {
        show: None,
        frames: vec![PathBuf::from("/in/1.dng")],
    };
    queue.retry(&named).expect("asked");
    let claim = next_to_meter(&mut queue, &run);
    let noted = queue.note_metered(&claim, &metered(stamp("another")), None);
    assert_eq!(noted.expect("told"), Noted::Taken);
    let solve = next_to_solve(&mut queue, &run);
    let solved = plan(&mut queue, solve.show, 1.0);
    queue.note_solved(&solve, &solved).expect("told");
    assert_eq!(make_all(&mut queue, &run).len(), 1);
}

fn a_reading_of_another_raw_sets_a_frame_with_pictures_aside(arena: &Arena) {
    let mut queue = arena.open();
    let run = begin(&mut queue, "host");
    let make = made_and_gone(&mut queue, &run);
    queue.give_back(&make.claim).expect("told");
    let frame = Scope {
        show: Some("one".to_owned()),
        frames: vec![PathBuf::from("/in/1.dng")],
    };
    let show = show("one", &["/in/1.dng"]);
    make_all(&mut queue, &run);
    // Dropped and added again, it is metered anew; its picture is still known.
    queue.drop_out(&frame).expect("dropped");
    queue.add(&show).expect("added");
    let claim = next_to_meter(&mut queue, &run);
    let noted = queue.note_metered(&claim, &metered(stamp("another")), None);
    assert_eq!(noted.expect("told"), Noted::AnotherRaw);
    assert_eq!(cause_of_the_first(&mut queue), Some(Cause::AnotherRaw));
    assert_eq!(queue.made_outputs().expect("asked").len(), 1);
    assert_eq!(
        queue.frames_with_pictures(ShowId(1)).expect("asked")[0].input,
        stamp("/in/1.dng")
    );
}

fn raws_that_were_replaced_before_anything_was_made_are_metered_again_together(arena: &Arena) {
    let mut queue = arena.open();
    let run = begin(&mut queue, "host");
    let frames = ["/in/1.dng", "/in/2.dng", "/in/3.dng", "/in/4.dng"];
    let added = queue.add(&show("one", &frames)).expect("added");
    meter_and_solve(&mut queue, &run, 1.0);
    let first = next_to_make(&mut queue, &run);
    let noted = queue.note_made(&first, &made(&first), Some(1.0));
    assert_eq!(noted.expect("told"), Noted::Taken);
    let second = next_to_make(&mut queue, &run);
    let waiting = queue.frames_without_pictures(added.show).expect("asked");
    let paths: Vec<PathBuf> = waiting.iter().map(|known| known.frame.clone()).collect();
    assert_eq!(paths, ["/in/3.dng", "/in/4.dng"].map(PathBuf::from));
    // The job that has a picture is none of those, whoever names it.
    let others = [first.claim.job, waiting[0].job];
    let noted = queue.meter_again(&second.claim, &others);
    assert_eq!(noted.expect("told"), Noted::Taken);
    assert_eq!(count(&mut queue, JobState::ToMeter), 2);
    assert_eq!(count(&mut queue, JobState::Made), 1);
    // Both are metered before the show is solved, once.
    meter_and_solve(&mut queue, &run, 1.0);
    assert_eq!(make_all(&mut queue, &run).len(), 3);
}
