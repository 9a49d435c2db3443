//! Frames that are not to be had: removed, or on a drive that is away, or on a card in whose place another one is now.

use crate::night::depot::is_stored;
use std::fs;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};

/// Frames that are looked for to tell whether a folder is the one that was named: few enough to be asked for every two seconds.
const MOST_LOOKED_FOR: usize = 64;
/// Where no more than one in so many is there, it is another card: cameras name frames by number, so that two cards may have
/// a few names in common. Somebody who removes frames leaves more of them, as a rule. Common practice, no source.
const STRANGE: usize = 16;

/// What is seen of a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sought {
    /// It is there, or a worker finds out what is wrong with it.
    There,
    /// It is not: it was removed, or another card stands in the place of its own.
    Absent,
    /// Its drive is away.
    Lost,
}

/// Looks for a frame.
pub(super) fn sought(frame: &Path) -> Sought {
    // What is in a store was a file on this machine when it was read.
    let Some(folder) = frame.parent().filter(|_| !is_stored(frame)) else {
        return Sought::There;
    };
    match fs::metadata(frame) {
        Ok(_) => {
            // The system may still know the file of a drive that was pulled a moment ago.
            let first = fs::File::open(frame).and_then(|mut file| file.read(&mut [0]));
            match first.is_err_and(|error| is_of_a_drive(&error)) {
                true => Sought::Lost,
                false => Sought::There,
            }
        }
        Err(error) if is_of_a_drive(&error) || !is_there(folder) => Sought::Lost,
        Err(error) if matches!(error.kind(), ErrorKind::NotFound | ErrorKind::NotADirectory) => {
            Sought::Absent
        }
        Err(_) => Sought::There,
    }
}

/// Some of the frames of a folder, from all over it: what a person removes lies together.
pub(super) fn some_of(mut frames: Vec<PathBuf>) -> Vec<PathBuf> {
    let step = frames.len().div_ceil(MOST_LOOKED_FOR).max(1);
    let mut place = 0;
    frames.retain(|_| {
        place += 1;
        (place - 1) % step == 0
    });
    frames
}

/// Whether a folder of frames is there, and is the one with these.
pub(super) fn are_there(folder: &Path, frames: &[PathBuf]) -> bool {
    let there = || frames.iter().filter(|frame| frame.exists()).count();
    is_there(folder) && (frames.is_empty() || there() * STRANGE > frames.len())
}

/// Whether a folder is there: an unplugged drive leaves its mount point behind, empty, or nothing.
fn is_there(folder: &Path) -> bool {
    fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some())
}

/// Errors that speak of a drive and not of a file.
fn is_of_a_drive(error: &std::io::Error) -> bool {
    /// Input/output error, no such device, no such device or address: Linux and the BSDs number them alike.
    const OF_A_DRIVE: [i32; 3] = [5, 6, 19];
    error
        .raw_os_error()
        .is_some_and(|code| OF_A_DRIVE.contains(&code))
        || matches!(
            error.kind(),
            ErrorKind::StaleNetworkFileHandle
                | ErrorKind::NotConnected
                | ErrorKind::HostUnreachable
        )
}

#[cfg(test)]
mod tests {
    use super::super::drives::{Holds, Why};
    use super::super::scratch::Scratch;
    use super::*;
    use crate::base::progress::StopWish;
    use crate::night::queue::ShowId;
    use std::time::Instant;

    #[test]
    fn a_removed_frame_is_told_from_a_removed_drive_and_from_another_card() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let card = scratch.path().join("card");
        fs::create_dir(&card).expect("made");
        let [one, other] = ["1.nef", "2.nef"].map(|name| card.join(name));
        let frames = vec![one.clone(), other.clone()];
        fs::write(&one, b"x").expect("written");
        assert_eq!(sought(&one), Sought::There);
        assert_eq!(sought(&other), Sought::Absent);
        assert!(are_there(&card, &frames), "removed, and others are there");
        fs::rename(&card, scratch.path().join("pocket")).expect("unplugged");
        assert_eq!(sought(&one), Sought::Lost);
        fs::create_dir(&card).expect("an empty mount point");
        assert_eq!(sought(&one), Sought::Lost);
        fs::write(card.join("3.nef"), b"x").expect("another card");
        assert_eq!(sought(&one), Sought::Absent);
        assert!(!are_there(&card, &frames));
        let mut holds = Holds::default();
        let now = Instant::now();
        assert!(holds.hold(ShowId(1), card.clone(), Why::Source { frames }, now));
        let line = &mut Scratch::new(0, StopWish::default());
        assert!(holds.look(line, now).back.is_empty() && holds.shows() == [ShowId(1)]);
        fs::write(&one, b"x").expect("plugged in");
        assert_eq!(holds.look(line, now).back.len(), 1);
        assert!(holds.shows().is_empty());
    }

    #[test]
    fn a_few_names_in_common_make_no_card_the_same() {
        let card = tempfile::tempdir().expect("a card");
        let all: Vec<PathBuf> = (0..1000)
            .map(|n| card.path().join(format!("{n:03}.nef")))
            .collect();
        let some = some_of(all.clone());
        assert!(some.len() <= MOST_LOOKED_FOR && some.len() > MOST_LOOKED_FOR / 2);
        assert!(some.last() > all.get(950), "from all over it");
        for frame in &all[..40] {
            fs::write(frame, b"x").expect("written");
        }
        assert!(!are_there(card.path(), &some));
        for frame in &all[..100] {
            fs::write(frame, b"x").expect("written");
        }
        assert!(are_there(card.path(), &some));
        assert_eq!(some_of(all[..3].to_vec()), all[..3]);
    }
}
