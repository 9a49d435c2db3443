//! The seam with stores in memory.

use super::*;
use crate::crew::stamp::stamp_of;
use crate::night::depot::StandIn;
use std::fs;

/// A scratch folder of so many bytes over stores that hold this frame.
fn scratch(most: u64, frame: &Path, content: &[u8]) -> Scratch {
    let stores = StandIn::new();
    let file = tempfile::NamedTempFile::new().expect("a file");
    fs::write(&file, content).expect("written");
    let mut depot = stores.depot().expect("a depot");
    depot.store(file.path(), frame).expect("stored");
    Scratch::over(most, StopWish::default(), Rc::new(move || stores.depot()))
}

#[test]
fn a_stored_frame_is_a_file_until_it_is_done_with() {
    let frame = Path::new("s3://shows/one/1.nef");
    let scratch = &mut scratch(10, frame, b"frame");
    let outline = scratch.outline(frame).expect("there");
    let here = scratch.bring(frame, outline.bytes).expect("fetched");
    let file = here.frame(frame).to_path_buf();
    assert_eq!(fs::read(&file).expect("a file"), b"frame");
    let stamp = here.stamp(stamp_of(&file).expect("read"));
    assert!(outline.fits(&stamp), "with the store's time");
    let error = task_error(&format!("{}: odd", file.display()));
    assert_eq!(here.error(error, frame).reason, "s3://shows/one/1.nef: odd");
    assert!(matches!(scratch.bring(frame, 6), Err(NotHere::Busy)));
    drop(here);
    assert!(!file.exists());
    assert!(scratch.bring(frame, 6).is_ok());
    let gone = scratch.bring(Path::new("s3://shows/one/2.nef"), 1);
    assert!(matches!(gone, Err(NotHere::Never(_))));
}

#[test]
fn a_picture_is_made_in_scratch_and_put_into_its_place() {
    let scratch = &mut scratch(10, Path::new("s3://shows/one/1.nef"), b"frame");
    let here = scratch.room(1).expect("room");
    let place = Path::new("s3://shows/out/1.jpg");
    let made = here.picture(place, 0);
    fs::write(&made, b"picture").expect("written");
    let error = task_error(&format!("cannot write {}", made.display()));
    let named = here.picture_error(error, place, 0).reason;
    assert_eq!(named, "cannot write s3://shows/out/1.jpg");
    let stamp = scratch.put(made.clone(), place).expect("stored");
    assert!(scratch.outline(place).expect("there").fits(&stamp));
    assert!(!made.exists());
}

#[test]
fn a_store_that_does_not_answer_keeps_nobody_waiting() {
    let frame = Path::new("s3://shows/one/1.nef");
    let scratch = &mut scratch(10, frame, b"frame");
    let silent = Path::new("s3://silent/1.nef");
    scratch.begin_look();
    // A question to it would take longer than this test may.
    assert!(!scratch.answers(silent));
    assert!(
        scratch.bring(frame, 1).is_ok(),
        "others are asked meanwhile"
    );
    scratch.begin_look();
    assert!(!scratch.answers(silent), "nothing is known yet");
}

#[test]
fn a_store_that_answers_is_known_to_at_a_later_look() {
    let frame = Path::new("s3://shows/one/1.nef");
    let scratch = &mut scratch(10, frame, b"frame");
    let mut looks = 0;
    loop {
        scratch.begin_look();
        if scratch.answers(Path::new("s3://shows/one/not there.nef")) {
            break;
        }
        looks += 1;
        assert!(looks < 1000, "it never answers");
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    assert!(looks > 0, "it is asked beside the work");
}
