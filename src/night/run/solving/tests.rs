//! Frames in stores that a person named.

use super::*;
use crate::look::file::Look;
use crate::night::depot::StandIn;
use crate::show::solving::{NamedFrame, Neutral};
use std::rc::Rc;

#[test]
fn a_frame_that_is_named_twice_is_fetched_once() {
    let stores = StandIn::new();
    let named = NamedFrame {
        frame: PathBuf::from("s3://shows/one/1.nef"),
        name: None,
        neutral: Neutral::Found,
    };
    let file = tempfile::NamedTempFile::new().expect("a file");
    let mut depot = stores.depot().expect("a depot");
    depot.store(file.path(), &named.frame).expect("stored");
    let mut asked = Asked {
        look: Look::default(),
        reference: Some(named.clone()),
        pins: vec![named],
        clocks: Vec::new(),
        overrules: Default::default(),
        follow: Follow::Light,
    };
    let opens = Rc::new(move || stores.depot());
    let mut scratch = Scratch::over(1, StopWish::default(), opens);
    let fetched = fetch_named(&mut asked, &mut scratch).expect("fetched");
    assert_eq!(fetched.len(), 1);
    let file = asked.pins.remove(0).frame;
    assert!(file.is_file());
    assert_eq!(asked.reference.map(|named| named.frame), Some(file));
}
