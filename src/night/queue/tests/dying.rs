//! Runs that die, sleep, or tell too late; machines whose clocks disagree.

use super::super::*;
use super::arena::*;
use super::on_every_engine;
use crate::crew::task::Cause;
use std::path::PathBuf;
use std::time::{Duration, Instant};

on_every_engine!(
    a_run_on_another_machine_is_dead_when_its_beat_stands_still_for_the_watchers_clock,
    what_a_run_tells_after_it_was_declared_dead_is_not_taken,
    clocks_an_hour_apart_change_nothing,
    a_claim_whose_answer_was_lost_goes_back,
    a_show_whose_solver_died_is_solved_by_another,
    what_a_person_does_meanwhile_is_stronger_than_what_a_run_tells,
    a_raw_that_was_replaced_has_its_show_solved_again,
    pictures_that_were_removed_are_made_again,
    paused_and_held_shows_are_told_apart,
);

fn a_run_on_another_machine_is_dead_when_its_beat_stands_still_for_the_watchers_clock(
    arena: &Arena,
) {
    let (mut there, mut here) = (arena.open(), arena.open());
    there
        .add(&show("one", &["/in/1.dng", "/in/2.dng"]))
        .expect("added");
    let other = begin(&mut there, "another host");
    let claim = next_to_meter(&mut there, &other);
    let own = begin(&mut here, "this host");
    let mut watch = Watch::default();
    let begun = Instant::now();
    let mut look = |queue: &mut Queue, after: Duration| {
        queue
            .return_stale(&mut watch, Some(own.id()), begun + after)
            .expect("looked")
    };
    assert_eq!(look(&mut here, Duration::ZERO), []);
    assert_eq!(look(&mut here, PATIENCE - BEAT), []);
    // One beat, and its time begins anew.
    assert_eq!(there.beat(other.id()).expect("beaten"), Beat::Alive);
    assert_eq!(look(&mut here, PATIENCE), []);
    assert_eq!(look(&mut here, 2 * PATIENCE - BEAT), []);
    let returned = look(&mut here, 2 * PATIENCE + BEAT);
    assert_eq!(returned.len(), 1);
    assert_eq!((returned[0].run, returned[0].jobs), (other.id(), 1));
    // It wakes, and hears of it at its next beat.
    assert_eq!(there.beat(other.id()).expect("beaten"), Beat::DeclaredDead);
    let again = next_to_meter(&mut here, &own);
    assert_eq!((again.job, again.losses), (claim.job, 0));
    let remarks = here.remarks().expect("asked");
    assert!(
        matches!(&remarks[..], [DatedRemark { remark: Remark::RunDied { jobs: 1, host, .. }, .. }] if host == "another host"),
        "{remarks:?}"
    );
    assert_eq!(here.runs().expect("asked")[0].how, Some(HowEnded::Died));
}

fn what_a_run_tells_after_it_was_declared_dead_is_not_taken(arena: &Arena) {
    let (mut there, mut here) = (arena.open(), arena.open());
    there.add(&show("one", &["/in/1.dng"])).expect("added");
    let late = begin(&mut there, "another host");
    let claim = next_to_meter(&mut there, &late);
    let own = begin(&mut here, "this host");
    // As an observer ends it.
    there.end_run(late.id(), HowEnded::Died).expect("ended");
    let metered = metered(stamp("/in/1.dng"));
    assert_eq!(
        there.note_metered(&claim, &metered, None).expect("told"),
        Noted::NotOurs
    );
    assert_eq!(there.give_back(&claim).expect("told"), Noted::NotOurs);
    assert_eq!(
        there
            .set_aside(&claim, &trouble(Cause::Unreadable))
            .expect("told"),
        Noted::NotOurs
    );
    assert_eq!(
        there
            .note_lost(&claim, &trouble(Cause::Memory))
            .expect("told"),
        AfterLoss::NotOurs
    );
    meter_and_solve(&mut here, &own, 1.0);
    let make = next_to_make(&mut here, &own);
    here.end_run(own.id(), HowEnded::Died).expect("ended");
    let third = begin(&mut here, "this host");
    let again = next_to_make(&mut here, &third);
    assert_eq!(
        there
            .note_made(&make, &made(&make), Some(1.0))
            .expect("told"),
        Noted::NotOurs
    );
    assert_eq!(count(&mut here, JobState::Making), 1);
    assert_eq!(
        here.note_made(&again, &made(&again), Some(1.0))
            .expect("told"),
        Noted::Taken
    );
    assert_eq!(count(&mut here, JobState::Made), 1);
}

/// The times that a machine an hour ahead wrote are only for people: it is alive, and its work is taken.
fn clocks_an_hour_apart_change_nothing(arena: &Arena) {
    const HOUR: i64 = 3_600_000;
    for ahead in [-HOUR, HOUR] {
        let (mut there, mut here) = (arena.open(), arena.open());
        let name = format!("show {ahead}");
        there
            .add(&NewShow {
                wishes: vec![wish(&name)],
                ..show(&name, &["/in/1.dng", "/in/2.dng"])
            })
            .expect("added");
        let other = begin(&mut there, "another host");
        let claim = next_to_meter(&mut there, &other);
        // Every time that the other machine wrote, as its clock had it.
        let moved = there.writing(|engine| {
            engine.execute("UPDATE runs SET began = began + $1", &[ahead.into()])?;
            engine.execute("UPDATE details SET changed = changed + $1", &[ahead.into()])?;
            engine.execute("UPDATE shows SET added = added + $1", &[ahead.into()])?;
            Ok(())
        });
        moved.expect("moved");
        let own = begin(&mut here, "this host");
        let mut watch = Watch::default();
        for _ in 0..3 {
            let now = Instant::now();
            let returned = here.return_stale(&mut watch, Some(own.id()), now);
            assert_eq!(returned.expect("looked"), []);
        }
        let metered = metered(stamp("/in/1.dng"));
        assert_eq!(
            there.note_metered(&claim, &metered, None).expect("told"),
            Noted::Taken
        );
        meter_and_solve(&mut here, &own, 1.0);
        assert_eq!(
            make_all(&mut here, &own),
            [PathBuf::from("/in/1.dng"), PathBuf::from("/in/2.dng")]
        );
        for run in [other, own] {
            here.end_run(run.id(), HowEnded::Done).expect("ended");
        }
    }
}

fn a_claim_whose_answer_was_lost_goes_back(arena: &Arena) {
    let (mut queue, run) = begun(arena);
    let lost = [(); 2].map(|()| next_to_meter(&mut queue, &run).job);
    let given = queue.give_back_all(run.id());
    assert_eq!(given.expect("given"), 2);
    assert_eq!([(); 2].map(|()| next_to_meter(&mut queue, &run).job), lost);
}

fn a_show_whose_solver_died_is_solved_by_another(arena: &Arena) {
    let mut queue = arena.open();
    queue.add(&show("one", &["/in/1.dng"])).expect("added");
    let first = begin(&mut queue, "host");
    meter_all(&mut queue, &first);
    let lost = next_to_solve(&mut queue, &first);
    let solved = plan(&mut queue, lost.show, 1.0);
    queue.end_run(first.id(), HowEnded::Died).expect("ended");
    let second = begin(&mut queue, "host");
    let claim = next_to_solve(&mut queue, &second);
    assert_eq!(
        queue.note_solved(&lost, &solved).expect("told"),
        Noted::NotOurs
    );
    assert_eq!(
        queue.note_solved(&claim, &solved).expect("told"),
        Noted::Taken
    );
    // More frames while it is being solved: what was solved is not taken.
    queue.add(&show("one", &["/in/2.dng"])).expect("added");
    meter_all(&mut queue, &second);
    let claim = next_to_solve(&mut queue, &second);
    queue.add(&show("one", &["/in/3.dng"])).expect("added");
    let solved = plan(&mut queue, claim.show, 1.0);
    assert_eq!(
        queue.note_solved(&claim, &solved).expect("told"),
        Noted::NotOurs
    );
    meter_and_solve(&mut queue, &second, 1.0);
    assert_eq!(make_all(&mut queue, &second).len(), 3);
    // A show that cannot be solved waits for a person, and others go on.
    queue
        .add(&NewShow {
            wishes: vec![wish("/two")],
            ..show("two", &["/in/9.dng"])
        })
        .expect("added");
    meter_all(&mut queue, &second);
    let claim = next_to_solve(&mut queue, &second);
    let trouble = Trouble {
        reason: "no frame can be taken for the reference".to_owned(),
        next_step: None,
    };
    queue.note_not_solved(&claim, &trouble).expect("told");
    assert_eq!(next(&mut queue, &second), Claimed::Nothing);
    assert_eq!(
        queue.status().expect("asked").shows[1].trouble,
        Some(trouble)
    );
    let changed = queue.retry(&Scope {
        show: Some("two".to_owned()),
        frames: Vec::new(),
    });
    assert_eq!(changed.expect("asked"), Changed { shows: 1, jobs: 0 });
    next_to_solve(&mut queue, &second);
}

fn what_a_person_does_meanwhile_is_stronger_than_what_a_run_tells(arena: &Arena) {
    let (mut queue, run) = begun(arena);
    let claim = next_to_meter(&mut queue, &run);
    let scope = Scope {
        show: Some("one".to_owned()),
        frames: vec![PathBuf::from("/in/1.dng")],
    };
    assert_eq!(
        queue.drop_out(&scope).expect("dropped"),
        Changed { shows: 0, jobs: 1 }
    );
    assert_eq!(
        queue
            .note_metered(&claim, &metered(stamp("1")), None)
            .expect("told"),
        Noted::NotOurs
    );
    meter_and_solve(&mut queue, &run, 1.0);
    let make = next_to_make(&mut queue, &run);
    let whole = Scope {
        frames: Vec::new(),
        ..scope
    };
    assert_eq!(
        queue.drop_out(&whole).expect("dropped"),
        Changed { shows: 1, jobs: 1 }
    );
    assert_eq!(
        queue
            .note_made(&make, &made(&make), Some(1.0))
            .expect("told"),
        Noted::NotOurs
    );
    assert_eq!(next(&mut queue, &run), Claimed::Nothing);
    assert_eq!(queue.status().expect("asked").shows, []);
    assert!(matches!(
        queue.drop_out(&whole),
        Err(QueueError::UnknownShow(name)) if name == "one"
    ));
    // The name of the picture that was never made is another show's to have.
    queue.add(&show("two", &["/other/2.dng"])).expect("added");
    meter_and_solve(&mut queue, &run, 1.0);
    // And the show can come back.
    queue.add(&show("one", &["/in/1.dng"])).expect("added");
    assert_eq!(count(&mut queue, JobState::ToMeter), 1);
}

fn a_raw_that_was_replaced_has_its_show_solved_again(arena: &Arena) {
    let (mut queue, run) = begun(arena);
    meter_and_solve(&mut queue, &run, 1.0);
    let first = next_to_make(&mut queue, &run);
    queue
        .note_made(&first, &made(&first), Some(1.0))
        .expect("told");
    let second = next_to_make(&mut queue, &run);
    assert_eq!(
        queue.meter_again(&second.claim, &[]).expect("told"),
        Noted::Taken
    );
    let claim = next_to_meter(&mut queue, &run);
    assert_eq!(claim.job, second.claim.job);
    let replaced = metered(stamp("another content"));
    queue.note_metered(&claim, &replaced, None).expect("told");
    let solve = next_to_solve(&mut queue, &run);
    let solved = plan(&mut queue, solve.show, 1.0);
    queue.note_solved(&solve, &solved).expect("told");
    let make = next_to_make(&mut queue, &run);
    assert_eq!(make.claim.job, claim.job);
    assert_eq!(make.input, stamp("another content"));
    assert_ne!(make.outputs[0].key, second.outputs[0].key);
    queue
        .note_made(&make, &made(&make), Some(1.0))
        .expect("told");
    assert_eq!(next(&mut queue, &run), Claimed::Nothing);
}

fn pictures_that_were_removed_are_made_again(arena: &Arena) {
    let mut queue = arena.open();
    let mut new = show("one", &["/in/1.dng", "/in/2.dng"]);
    new.wishes.push(wish("/full"));
    queue.add(&new).expect("added");
    let run = begin(&mut queue, "host");
    meter_and_solve(&mut queue, &run, 1.0);
    assert_eq!(make_all(&mut queue, &run).len(), 2);
    let made_rows = queue.made_outputs().expect("asked");
    assert_eq!(made_rows.len(), 4);
    let gone = &made_rows[1..2];
    assert_eq!(queue.remake(gone).expect("told"), 1);
    // Told twice it is one.
    assert_eq!(queue.remake(gone).expect("told"), 0);
    let make = next_to_make(&mut queue, &run);
    // Only the one that is gone.
    assert_eq!(make.outputs.len(), 1);
    assert_eq!(make.outputs[0].output, gone[0].output);
    queue
        .note_made(&make, &made(&make), Some(1.0))
        .expect("told");
    assert_eq!(next(&mut queue, &run), Claimed::Nothing);
    // A picture that cannot be written sets its frame aside with the reason; the other stands.
    queue.remake(gone).expect("told");
    let make = next_to_make(&mut queue, &run);
    let failed = [MadeOutput {
        output: make.outputs[0].output,
        key: make.outputs[0].key.clone(),
        made: Err(trouble(Cause::PlaceTaken)),
    }];
    queue.note_made(&make, &failed, Some(1.0)).expect("told");
    assert_eq!(count(&mut queue, JobState::SetAside), 1);
    let frames = queue.frames(gone[0].show).expect("asked");
    let aside = frames
        .iter()
        .find(|frame| frame.state == JobState::SetAside);
    assert_eq!(
        aside.and_then(|frame| frame.error.clone()),
        Some(trouble(Cause::PlaceTaken))
    );
    queue.retry(&Scope::default()).expect("asked");
    meter_and_solve(&mut queue, &run, 1.0);
    assert_eq!(make_all(&mut queue, &run).len(), 1);
}

fn paused_and_held_shows_are_told_apart(arena: &Arena) {
    let mut queue = arena.open();
    let one = queue.add(&show("one", &["/in/1.dng"])).expect("added");
    let run = begin(&mut queue, "host");
    let held = [one.show];
    assert_eq!(queue.claim(run.id(), &held).expect("asked"), Claimed::Held);
    queue.pause(None).expect("paused");
    assert_eq!(next(&mut queue, &run), Claimed::Paused);
    queue.resume(None).expect("resumed");
    queue.pause(Some("one")).expect("paused");
    assert_eq!(next(&mut queue, &run), Claimed::Paused);
    queue.resume(None).expect("resumed");
    assert_eq!(next(&mut queue, &run), Claimed::Paused);
    queue.resume(Some("one")).expect("resumed");
    next_to_meter(&mut queue, &run);
    assert!(matches!(
        queue.pause(Some("none")),
        Err(QueueError::UnknownShow(_))
    ));
}
