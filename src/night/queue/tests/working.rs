//! A night as it should go, and what comes in between.

use super::super::*;
use super::arena::*;
use super::on_every_engine;
use crate::crew::task::Cause;
use std::path::PathBuf;

on_every_engine!(
    a_show_goes_from_metering_over_solving_to_pictures,
    more_frames_have_a_show_solved_again_and_only_what_changed_is_made_again,
    claims_come_by_priority_then_firsts_then_shows,
    a_frame_that_kills_its_worker_twice_is_set_aside,
    pictures_of_dropped_frames_are_not_counted,
);

fn a_show_goes_from_metering_over_solving_to_pictures(arena: &Arena) {
    let mut queue = arena.open();
    let added = queue
        .add(&show("one", &["/in/1.dng", "/in/2.dng"]))
        .expect("added");
    assert!(added.is_new);
    assert_eq!((added.frames, added.known_frames, added.wishes), (2, 0, 1));
    let run = begin(&mut queue, "host");
    let first = next_to_meter(&mut queue, &run);
    let second = next_to_meter(&mut queue, &run);
    assert_eq!(first.frame, PathBuf::from("/in/1.dng"));
    assert_eq!(second.frame, PathBuf::from("/in/2.dng"));
    // Both are in hand: nothing to claim, and something may come of them.
    assert_eq!(next(&mut queue, &run), Claimed::InHand);
    for claim in [&first, &second] {
        let metered = metered(stamp(&claim.frame.to_string_lossy()));
        assert_eq!(
            queue
                .note_metered(claim, &metered, Some(0.5))
                .expect("noted"),
            Noted::Taken
        );
    }
    let solve = next_to_solve(&mut queue, &run);
    assert_eq!((solve.show, solve.name.as_str()), (added.show, "one"));
    assert_eq!(next(&mut queue, &run), Claimed::InHand);
    let lights = queue
        .lights(solve.show)
        .expect("asked")
        .expect("understood");
    assert_eq!(lights.len(), 2);
    assert_eq!(lights[1].metered, metered(stamp("/in/2.dng")));
    let solved = plan(&mut queue, solve.show, 1.25);
    assert_eq!(
        queue.note_solved(&solve, &solved).expect("noted"),
        Noted::Taken
    );
    let make = next_to_make(&mut queue, &run);
    assert_eq!(make.input, stamp("/in/1.dng"));
    assert_eq!(make.correction, correction(1.25));
    assert_eq!(make.outputs.len(), 1);
    assert_eq!(make.outputs[0].of_wish, wish("/out"));
    assert_eq!(make.outputs[0].picture, "1.jpg");
    assert_eq!(
        queue
            .note_made(&make, &made(&make), Some(2.0))
            .expect("noted"),
        Noted::Taken
    );
    // Told twice it is not this run's any more.
    assert_eq!(
        queue
            .note_made(&make, &made(&make), Some(2.0))
            .expect("noted"),
        Noted::NotOurs
    );
    assert_eq!(make_all(&mut queue, &run), [PathBuf::from("/in/2.dng")]);
    let status = queue.status().expect("asked");
    assert_eq!(status.shows[0].state, ShowState::Solved);
    assert_eq!(status.shows[0].jobs_in(&[JobState::Made]), 2);
    assert_eq!(status.shows[0].jobs[0].made.seconds, 3.5);
    assert_eq!(status.shows[0].outputs[0].sized, 2);
    queue.end_run(run.id(), HowEnded::Done).expect("ended");
    assert_eq!(queue.runs().expect("asked")[0].how, Some(HowEnded::Done));
    let frames = queue.frames(added.show).expect("asked");
    assert_eq!(frames.len(), 2);
    assert_eq!(frames[0].outputs[0].outside, Some(0.25));
    assert_eq!(frames[0].notes, ["a note"]);
}

fn more_frames_have_a_show_solved_again_and_only_what_changed_is_made_again(arena: &Arena) {
    let (mut queue, run) = begun(arena);
    meter_and_solve(&mut queue, &run, 1.0);
    let in_hand = next_to_make(&mut queue, &run);
    let added = queue
        .add(&show("one", &["/in/2.dng", "/in/3.dng"]))
        .expect("added");
    assert!(!added.is_new);
    assert_eq!((added.frames, added.known_frames, added.wishes), (1, 1, 0));
    // What is in hand is finished under the old solving, and stands where that has not changed.
    assert_eq!(
        queue
            .note_made(&in_hand, &made(&in_hand), Some(1.0))
            .expect("noted"),
        Noted::Taken
    );
    meter_and_solve(&mut queue, &run, 1.0);
    assert_eq!(
        make_all(&mut queue, &run),
        [PathBuf::from("/in/2.dng"), PathBuf::from("/in/3.dng")]
    );
    // The same again is nothing new.
    let added = queue.add(&show("one", &["/in/3.dng"])).expect("added");
    assert_eq!((added.frames, added.known_frames, added.wishes), (0, 1, 0));
    assert_eq!(next(&mut queue, &run), Claimed::Nothing);
    // Asked otherwise, all are made again.
    let mut asked = show("one", &[]);
    asked.asked = Some("{\"look\":2}".to_owned());
    queue.add(&asked).expect("added");
    meter_and_solve(&mut queue, &run, 2.0);
    assert_eq!(make_all(&mut queue, &run).len(), 3);
}

fn claims_come_by_priority_then_firsts_then_shows(arena: &Arena) {
    let mut queue = arena.open();
    let mut one = show("one", &["/in/1.dng", "/in/2.dng"]);
    one.frames[1].is_first = true;
    one.wishes = vec![wish("/one")];
    let mut two = show("two", &["/in/3.dng", "/in/4.dng"]);
    two.frames[1].is_first = true;
    two.wishes = vec![wish("/two")];
    let mut late = show("urgent", &["/in/5.dng"]);
    late.priority = Some(0);
    late.wishes = vec![wish("/urgent")];
    for new in [&one, &two, &late] {
        queue.add(new).expect("added");
    }
    let run = begin(&mut queue, "host");
    let mut order = Vec::new();
    loop {
        match next(&mut queue, &run) {
            Claimed::Meter(claim) => {
                let metered = metered(stamp(&claim.frame.to_string_lossy()));
                queue.note_metered(&claim, &metered, None).expect("noted");
            }
            Claimed::Solve(claim) => {
                let solved = plan(&mut queue, claim.show, 1.0);
                queue.note_solved(&claim, &solved).expect("noted");
            }
            Claimed::Make(claim) => {
                queue
                    .note_made(&claim, &made(&claim), Some(1.0))
                    .expect("noted");
                order.push(claim.claim.frame.to_string_lossy().into_owned());
            }
            Claimed::Nothing => break,
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(
        order,
        [
            "/in/5.dng",
            "/in/2.dng",
            "/in/4.dng",
            "/in/1.dng",
            "/in/3.dng"
        ]
    );
}

fn a_frame_that_kills_its_worker_twice_is_set_aside(arena: &Arena) {
    let (mut queue, run) = begun(arena);
    let claim = next_to_meter(&mut queue, &run);
    let error = trouble(Cause::Memory);
    assert_eq!(
        queue.note_lost(&claim, &error).expect("noted"),
        AfterLoss::TriedAgain
    );
    let claim = next_to_meter(&mut queue, &run);
    assert_eq!((claim.losses, &claim.last_loss), (1, &Some(error.clone())));
    assert_eq!(
        queue.note_lost(&claim, &error).expect("noted"),
        AfterLoss::SetAside
    );
    assert_eq!(
        queue.note_lost(&claim, &error).expect("noted"),
        AfterLoss::NotOurs
    );
    meter_and_solve(&mut queue, &run, 1.0);
    assert_eq!(make_all(&mut queue, &run), [PathBuf::from("/in/2.dng")]);
    // A person asks again: it is metered, and the other picture stands.
    let changed = queue.retry(&Scope::default()).expect("asked");
    assert_eq!(changed, Changed { shows: 0, jobs: 1 });
    meter_and_solve(&mut queue, &run, 1.0);
    assert_eq!(make_all(&mut queue, &run), [PathBuf::from("/in/1.dng")]);
}

fn pictures_of_dropped_frames_are_not_counted(arena: &Arena) {
    let mut queue = arena.open();
    queue
        .add(&show("one", &["/in/1.dng", "/in/2.dng", "/in/3.dng"]))
        .expect("added");
    let run = begin(&mut queue, "host");
    meter_and_solve(&mut queue, &run, 1.0);
    make_all(&mut queue, &run);
    let scope = Scope {
        show: Some("one".to_owned()),
        frames: vec![PathBuf::from("/in/2.dng")],
    };
    queue.drop_out(&scope).expect("dropped");
    meter_and_solve(&mut queue, &run, 1.0);
    let counts = |queue: &mut Queue| {
        let shows = queue.status().expect("asked").shows;
        let outputs = shows.iter().flat_map(|show| &show.outputs);
        let counted = outputs.map(|count| (count.state, count.outputs, count.bytes));
        counted.collect::<Vec<_>>()
    };
    assert_eq!(counts(&mut queue), [(OutputState::Made, 2, 2000)]);
    // It comes back, and its picture stands.
    queue.add(&show("one", &["/in/2.dng"])).expect("added");
    meter_and_solve(&mut queue, &run, 1.0);
    assert_eq!(counts(&mut queue), [(OutputState::Made, 3, 3000)]);
    assert_eq!(make_all(&mut queue, &run).len(), 0);
}
