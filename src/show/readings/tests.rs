use super::*;
use crate::crew::hands::Hands;
use crate::crew::stamp::stamp_of;
use crate::crew::task::{Answer, Task};
use std::fs;
use std::sync::OnceLock;

const PROGRAM: &str = "this program";

struct Scratch(tempfile::TempDir);

impl Scratch {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a scratch folder"))
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn place(&self) -> Place {
        Place::File(self.path("readings"))
    }

    fn open(&self) -> Readings {
        Readings::open(&self.place(), PROGRAM)
    }

    /// A file, and what is pretended to have been read from it.
    fn frame(&self, name: &str, content: &[u8]) -> (PathBuf, Metered) {
        let path = self.path(name);
        fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        fs::write(&path, content).expect("written");
        let input = stamp_of(&path).expect("read");
        (path, metered(input, content.len() as f64 / 7.0))
    }
}

/// A reading of a demo frame as a worker gives it, through the pipe, said to be of a file with this stamp.
pub(crate) fn demo_reading(input: Stamp) -> Metered {
    static READ: OnceLock<Metered> = OnceLock::new();
    let read = READ.get_or_init(|| {
        let frame = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-frames/one-0401.dng");
        match Hands::default().perform(&Task::Meter { frame }) {
            Ok(Answer::Metered(metered)) => {
                let line = serde_json::to_vec(&metered).expect("a line");
                serde_json::from_slice(&line).expect("a reading")
            }
            other => panic!("{other:?}"),
        }
    });
    Metered {
        input,
        ..read.clone()
    }
}

/// One that is told apart from others by its clipped share.
fn metered(input: Stamp, seed: f64) -> Metered {
    let mut metered = demo_reading(input);
    metered.reading.clipped_share = seed.sin();
    metered.notes = vec!["settled: white level".to_owned()];
    metered
}

fn outline(path: &Path) -> Outline {
    Outline::of(path).expect("there")
}

#[test]
fn a_kept_reading_comes_back_to_the_bit_and_only_while_its_file_is_the_same() {
    let scratch = Scratch::new();
    let (path, metered) = scratch.frame("show/1.nef", b"content");
    let mut readings = scratch.open();
    assert_eq!(readings.find(&path, outline(&path)), None);
    readings.keep(&path, &metered);
    readings.finish();
    assert_eq!(readings.take_remarks(), Vec::<String>::new());
    let mut again = scratch.open();
    assert!(again.find(&path, outline(&path)).as_ref() == Some(&metered));
    // Another program reads for itself.
    let mut other = Readings::open(&scratch.place(), "another program");
    assert_eq!(other.find(&path, outline(&path)), None);
    let later = Outline {
        modified: outline(&path).modified + 1,
        ..outline(&path)
    };
    assert_eq!(again.find(&path, later), None);
}

#[test]
fn a_frame_on_a_drive_that_moved_is_known_by_its_head() {
    let scratch = Scratch::new();
    let (path, metered) = scratch.frame("show/7.nef", b"body one");
    let mut readings = scratch.open();
    readings.keep(&path, &metered);
    readings.finish();
    for (folder, content, is_known) in [("moved", b"body one", true), ("other", b"body two", false)]
    {
        let (path, _) = scratch.frame(&format!("{folder}/7.nef"), content);
        let known = readings.find(&path, outline(&scratch.path("show/7.nef")));
        assert_eq!(known.is_some(), is_known, "{folder}");
    }
    // Found there once, it is found by path.
    readings.finish();
    let moved = scratch.path("moved/7.nef");
    fs::write(&moved, b"gone bad").expect("written");
    let known = scratch
        .open()
        .find(&moved, outline(&scratch.path("show/7.nef")));
    assert!(known.is_some_and(|known| known.reading == metered.reading));
}

#[test]
fn a_copy_and_a_touched_frame_are_known_by_their_content() {
    let scratch = Scratch::new();
    let (path, metered) = scratch.frame("show/7.nef", b"body one");
    let mut readings = scratch.open();
    readings.keep(&path, &metered);
    readings.finish();
    let touched = Outline {
        modified: outline(&path).modified + 5,
        ..outline(&path)
    };
    fs::File::options()
        .write(true)
        .open(&path)
        .and_then(|file| {
            file.set_modified(UNIX_EPOCH + Duration::from_nanos(touched.modified.cast_unsigned()))
        })
        .expect("touched");
    assert_eq!(outline(&path), touched);
    let known = readings.find(&path, touched).expect("known");
    assert!(known.reading == metered.reading && touched.fits(&known.input));
    // Equal in size and in the first bytes, and another content.
    let long = |last: u8| {
        let mut bytes = vec![7; 100_000];
        bytes.push(last);
        bytes
    };
    let (first, read) = scratch.frame("a/1.nef", &long(1));
    readings.keep(&first, &read);
    readings.finish();
    for (name, last, is_known) in [("b/copy.nef", 1, true), ("b/other.nef", 2, false)] {
        let (path, _) = scratch.frame(name, &long(last));
        let known = readings.find(&path, outline(&path));
        assert_eq!(known.is_some(), is_known, "{name}");
        assert!(known.is_none_or(|known| known.reading == read.reading));
    }
    // Its new outline is noted: the next run reads nothing of it.
    readings.finish();
    let copy = scratch.path("b/copy.nef");
    let before = outline(&copy);
    fs::write(&copy, b"gone bad").expect("written");
    assert!(scratch.open().find(&copy, before).is_some());
}

#[test]
fn a_run_that_is_killed_loses_only_what_it_read_last() {
    let scratch = Scratch::new();
    let (path, metered) = scratch.frame("1.nef", b"content");
    let mut readings = scratch.open();
    std::thread::sleep(LONGEST_WAIT);
    readings.keep(&path, &metered);
    // Never told to finish, and never dropped.
    std::mem::forget(readings);
    assert!(scratch.open().find(&path, outline(&path)).is_some());
}

#[test]
fn what_is_no_file_of_readings_is_left_as_it_is() {
    let scratch = Scratch::new();
    let mut later = scratch.open();
    let (path, metered) = scratch.frame("1.nef", b"content");
    later.keep(&path, &metered);
    drop(later);
    let connection = rusqlite::Connection::open(scratch.path("readings")).expect("opened");
    connection
        .pragma_update(None, "user_version", 99)
        .expect("set");
    drop(connection);
    let foreign = rusqlite::Connection::open(scratch.path("foreign")).expect("begun");
    foreign
        .execute_batch("CREATE TABLE songs (title TEXT)")
        .expect("made");
    drop(foreign);
    fs::write(scratch.path("letter"), b"Dear venue, ".repeat(200)).expect("written");
    fs::write(scratch.path("empty.nef"), b"").expect("written");
    for (name, words) in [
        ("readings", "later version"),
        ("foreign", "no file of readings"),
        ("letter", "no file of readings"),
        ("empty.nef", "raw file's name"),
        ("no/such/folder/readings", "check the place"),
    ] {
        let before = fs::read(scratch.path(name)).ok();
        let mut readings = Readings::open(&Place::File(scratch.path(name)), PROGRAM);
        readings.keep(&path, &metered);
        readings.finish();
        assert_eq!(readings.find(&path, outline(&path)), None, "{name}");
        let remarks = readings.take_remarks();
        assert!(
            remarks.len() == 1 && remarks[0].contains(words),
            "{name}: {remarks:?}"
        );
        assert_eq!(fs::read(scratch.path(name)).ok(), before, "{name}");
    }
}

#[test]
fn damage_anywhere_costs_readings_and_never_gives_a_wrong_one() {
    let scratch = Scratch::new();
    let mut readings = scratch.open();
    let frames: Vec<_> = (0..8)
        .map(|number| {
            scratch.frame(
                &format!("{number}.nef"),
                &vec![number; 40 + usize::from(number)],
            )
        })
        .collect();
    for (path, metered) in &frames {
        readings.keep(path, metered);
    }
    drop(readings);
    let whole = fs::read(scratch.path("readings")).expect("read");
    let mut lost = 0;
    for step in 0..60 {
        let mut damaged = whole.clone();
        // All over the file: its head, its tables, its readings.
        let at = step * whole.len() / 60;
        let end = (at + 300).min(whole.len());
        for byte in &mut damaged[at..end] {
            *byte ^= 0x5a;
        }
        fs::write(scratch.path("readings"), &damaged).expect("damaged");
        let mut readings = scratch.open();
        for (path, metered) in &frames {
            match readings.find(path, outline(path)) {
                Some(found) => assert!(found == *metered, "damaged at {at}"),
                None => lost += 1,
            }
            readings.keep(path, metered);
        }
        readings.finish();
    }
    assert!(lost > 0);
}

#[test]
fn two_runs_at_once_keep_both_their_readings() {
    let scratch = Scratch::new();
    let frames: Vec<_> = (0..200_u8)
        .map(|number| scratch.frame(&format!("{number}.nef"), &[number; 9]))
        .collect();
    std::thread::scope(|scope| {
        let scratch = &scratch;
        for half in frames.chunks(100) {
            scope.spawn(move || {
                let mut readings = scratch.open();
                for (path, metered) in half {
                    readings.keep(path, metered);
                }
                readings.finish();
                assert_eq!(readings.take_remarks(), Vec::<String>::new());
            });
        }
    });
    let mut readings = scratch.open();
    for (path, metered) in &frames {
        assert!(readings.find(path, outline(path)).as_ref() == Some(metered));
    }
}

#[test]
fn what_was_not_used_for_longest_goes_first() {
    let scratch = Scratch::new();
    let frames: Vec<_> = (0..40_u8)
        .map(|number| scratch.frame(&format!("{number}.nef"), &[number; 9]))
        .collect();
    let mut readings = scratch.open();
    readings.today = 100;
    for (path, metered) in &frames {
        readings.keep(path, metered);
    }
    readings.finish();
    // A week later the second half is used again.
    readings.today = 107;
    for (path, _) in &frames[20..] {
        assert!(readings.find(path, outline(path)).is_some());
    }
    readings.finish();
    let database = readings.database.as_mut().expect("open");
    let bytes = fs::metadata(scratch.path("readings")).expect("there").len();
    database.make_room(bytes * 3 / 4).expect("made");
    let is_known = |(path, _): &(PathBuf, Metered)| readings.find(path, outline(path)).is_some();
    let known: Vec<bool> = frames.iter().map(is_known).collect();
    assert!(known[20..].iter().all(|&known| known), "{known:?}");
    assert!(
        known[..20].iter().filter(|&&known| !known).count() >= 15,
        "{known:?}"
    );
}
