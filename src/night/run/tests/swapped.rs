//! Another card in the reader than the one whose frames wait, and frames that are away by themselves.

use super::*;
use crate::night::queue::ShowId;

/// Puts a card back when its show waits for it.
struct PutsBack<'a>(&'a Show);

/// Another card stands where the show's stood.
fn swap(show: &Show) {
    fs::rename(show.path("show"), show.path("pocket")).expect("taken out");
    fs::create_dir(show.path("show")).expect("another card");
    fs::write(show.path("show/two-0001.dng"), b"of another show").expect("its frame");
}

impl Watcher for PutsBack<'_> {
    fn tell(&mut self, event: &Event) {
        let away = |remark: &Remark| {
            matches!(
                remark,
                Remark::Away {
                    is_source: true,
                    ..
                }
            )
        };
        if matches!(event, Event::Remark { remark, .. } if away(remark)) {
            fs::remove_dir_all(self.0.path("show")).expect("taken out");
            fs::rename(self.0.path("pocket"), self.0.path("show")).expect("put back");
        }
    }
}

fn put_back_when_missed(show: &Show, wanted: Wanted) -> HowEnded {
    let surroundings = surroundings(wanted, Vec::new());
    let stop = StopWish::default();
    run(&show.job(), surroundings, &stop, &mut PutsBack(show)).expect("a queue")
}

#[test]
fn a_show_waits_while_another_card_is_in_its_reader() {
    let show = Show::new();
    swap(&show);
    let how = put_back_when_missed(&show, Rc::new(|_, _| None));
    assert_eq!((how, show.made()), (HowEnded::Done, 2));
}

#[test]
fn a_card_that_is_swapped_in_the_middle_of_work_costs_no_frame() {
    let show = Rc::new(Show::new());
    let (of_hook, is_swapped) = (Rc::clone(&show), Cell::new(false));
    let wanted = move |task: &Task, _: &CrewSettings| {
        if matches!(task, Task::Make(_)) && !is_swapped.replace(true) {
            swap(&of_hook);
        }
        None
    };
    let how = put_back_when_missed(&show, Rc::new(wanted));
    assert_eq!((how, show.made()), (HowEnded::Done, 2));
    let back = |remark: &Remark| matches!(remark, Remark::Back { .. });
    assert!(show.remarks().iter().any(back));
}

#[test]
fn a_frame_that_is_away_by_itself_is_set_aside_and_tried_again_when_it_is_there() {
    for is_metered in [false, true] {
        let show = Show::new();
        let (frame, pocket) = (show.path("show/one-0401.dng"), show.path("pocket.dng"));
        let takes_away = {
            let (frame, pocket) = (frame.clone(), pocket.clone());
            move |task: &Task, _: &CrewSettings| {
                if is_metered && matches!(task, Task::Make(_)) && frame.exists() {
                    fs::rename(&frame, &pocket).expect("taken away");
                }
                None
            }
        };
        if !is_metered {
            fs::rename(&frame, &pocket).expect("taken away");
        }
        let how = night(&show, &show.job(), Rc::new(takes_away));
        assert_eq!((how, show.made()), (HowEnded::Done, 1));
        let first = &show.queue().frames(ShowId(1)).expect("read")[0];
        assert_eq!(first.state, JobState::SetAside);
        fs::rename(&pocket, &frame).expect("brought back");
        night(&show, &show.job(), Rc::new(|_, _| None));
        assert_eq!(show.made(), 2, "metered: {is_metered}");
    }
}
