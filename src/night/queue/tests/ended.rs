//! What stays of runs that ended, and of shows that were dropped: nothing that is in anybody's way.

use super::super::*;
use super::arena::*;
use super::on_every_engine;
use std::time::Instant;

on_every_engine!(
    a_run_that_was_declared_dead_and_has_not_heard_of_it_gets_nothing,
    what_belongs_to_a_run_that_ended_goes_back,
    a_show_that_was_dropped_and_added_again_begins_with_nothing_of_it,
    a_picture_of_a_show_that_was_dropped_and_added_again_is_nobodys,
    a_wish_for_a_folder_that_was_made_anew_is_the_same_wish,
);

fn a_run_that_was_declared_dead_and_has_not_heard_of_it_gets_nothing(arena: &Arena) {
    let mut queue = arena.open();
    queue.add(&show("one", &["/in/1.dng"])).expect("added");
    let dead = begin(&mut queue, "a host");
    queue.end_run(dead.id(), HowEnded::Died).expect("ended");
    assert!(matches!(next(&mut queue, &dead), Claimed::InHand));
    let own = begin(&mut queue, "another host");
    next_to_meter(&mut queue, &own);
}

fn what_belongs_to_a_run_that_ended_goes_back(arena: &Arena) {
    let mut queue = arena.open();
    queue.add(&show("one", &["/in/1.dng"])).expect("added");
    let ended = begin(&mut queue, "a host");
    let claim = next_to_meter(&mut queue, &ended);
    queue.end_run(ended.id(), HowEnded::Died).expect("ended");
    // As a version of the program left it that did not ask whether a run lives before it gave it anything.
    let claimed = queue.writing(|engine| {
        Ok(engine.execute(
            "UPDATE jobs SET state = 'metering', claim = $2 WHERE id = $1",
            &[claim.job.into(), ended.id().into()],
        )?)
    });
    assert_eq!(claimed.expect("written"), 1);
    let own = begin(&mut queue, "another host");
    assert!(matches!(next(&mut queue, &own), Claimed::InHand));
    let returned = queue.return_stale(&mut Watch::default(), Some(own.id()), Instant::now());
    assert_eq!(returned.expect("looked"), []);
    assert_eq!(next_to_meter(&mut queue, &own).job, claim.job);
}

fn a_show_that_was_dropped_and_added_again_begins_with_nothing_of_it(arena: &Arena) {
    let mut queue = arena.open();
    queue.add(&show("one", &["/in/1.dng"])).expect("added");
    let run = begin(&mut queue, "host");
    meter_and_solve(&mut queue, &run, 1.0);
    make_all(&mut queue, &run);
    queue.pause(Some("one")).expect("paused");
    let scope = Scope {
        show: Some("one".to_owned()),
        frames: Vec::new(),
    };
    queue.drop_out(&scope).expect("dropped");
    let again = NewShow {
        wishes: vec![wish("/elsewhere")],
        ..show("one", &["/in/1.dng"])
    };
    let added = queue.add(&again).expect("added");
    assert_eq!((added.frames, added.wishes), (1, 1));
    let wishes = queue.wishes(added.show).expect("read");
    assert_eq!(
        wishes.iter().map(|(_, wish)| wish).collect::<Vec<_>>(),
        [&wish("/elsewhere")]
    );
    meter_and_solve(&mut queue, &run, 1.0);
    let claim = next_to_make(&mut queue, &run);
    assert_eq!(claim.outputs.len(), 1);
    assert_eq!(claim.outputs[0].of_wish, wish("/elsewhere"));
}

fn a_picture_of_a_show_that_was_dropped_and_added_again_is_nobodys(arena: &Arena) {
    let mut queue = arena.open();
    queue.add(&show("one", &["/in/1.dng"])).expect("added");
    let run = begin(&mut queue, "host");
    meter_and_solve(&mut queue, &run, 1.0);
    let before = next_to_make(&mut queue, &run);
    let scope = Scope {
        show: Some("one".to_owned()),
        frames: Vec::new(),
    };
    queue.drop_out(&scope).expect("dropped");
    queue.add(&show("one", &["/in/1.dng"])).expect("added");
    meter_and_solve(&mut queue, &run, 2.0);
    let now = next_to_make(&mut queue, &run);
    assert_eq!(now.claim.job, before.claim.job);
    let noted = queue.note_made(&before, &made(&before), Some(1.0));
    assert_eq!(noted.expect("told"), Noted::NotOurs);
    let noted = queue.note_made(&now, &made(&now), Some(1.0));
    assert_eq!(noted.expect("told"), Noted::Taken);
}

fn a_wish_for_a_folder_that_was_made_anew_is_the_same_wish(arena: &Arena) {
    let mut queue = arena.open();
    queue.add(&show("one", &["/in/1.dng"])).expect("added");
    let marked = OutputWish {
        mark: "another mark".to_owned(),
        ..wish("/out")
    };
    let again = NewShow {
        wishes: vec![marked.clone()],
        ..show("one", &["/in/1.dng"])
    };
    let added = queue.add(&again).expect("added");
    assert_eq!(added.wishes, 0);
    let wishes = queue.wishes(added.show).expect("read");
    assert_eq!(
        wishes.iter().map(|(_, wish)| wish).collect::<Vec<_>>(),
        [&marked]
    );
}
