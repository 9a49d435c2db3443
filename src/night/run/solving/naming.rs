//! What the pictures of a show are called.

use super::{Unsolved, refused};
use crate::crew::stamp::Outline;
use crate::night::depot::is_stored;
use crate::night::queue::{JobState, NamedOutput, OutputWish, Queue, SolveClaim, WishId};
use crate::night::run::folders::FolderTrouble;
use crate::night::run::scratch::{NotHere, Scratch};
use crate::show::ledger::{Ledger, LedgerError};
use crate::show::names::{GivenNames, picture_names};
use std::collections::HashMap;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// Names by wish and frame.
pub(super) type Names = HashMap<(WishId, PathBuf), OsString>;

/// The names of a show's pictures: those that its folders know, by their ledgers or by the queue, and new ones beside them.
/// Frames that cannot be read take part, so that names do not depend on which can.
pub(super) fn names(
    queue: &mut Queue,
    scratch: &mut Scratch,
    claim: &SolveClaim,
    wishes: &[(WishId, OutputWish)],
) -> Result<Names, Unsolved> {
    let frames = queue.frames(claim.show)?.into_iter();
    let taking_part = frames.filter(|frame| frame.state != JobState::Dropped);
    let mut frames: Vec<PathBuf> = taking_part.map(|frame| frame.frame).collect();
    frames.sort();
    let mut names = Names::new();
    for (wish, of_wish) in wishes {
        let ending = of_wish.delivery.wish.format.ending();
        let named = queue.named_outputs(&of_wish.folder)?;
        let (ledger, stored) = match is_stored(&of_wish.folder) {
            true => (None, stored_in(scratch, &of_wish.folder)?),
            false => (Some(ledger(of_wish)?), Vec::new()),
        };
        let ours = named.iter().filter(|output| output.wish == *wish);
        let known = Known {
            frames: &frames,
            ending,
            ledger,
            stored,
            ours: ours
                .map(|output| (output.frame.clone(), output.picture.clone()))
                .collect(),
            named: &named,
        };
        for (frame, name) in frames.iter().zip(picture_names(&frames, ending, &known)) {
            names.insert((*wish, frame.clone()), name);
        }
    }
    Ok(names)
}

/// What was made in the folder of a wish.
fn ledger(of_wish: &OutputWish) -> Result<Ledger, Unsolved> {
    Ledger::open_shared(&of_wish.folder).map_err(|error| match error {
        // Waiting does not help.
        LedgerError::LaterVersion { .. } => refused(error),
        LedgerError::Io { .. } | LedgerError::Rewrite(_) => Unsolved::Folder(
            FolderTrouble::of_ledger(&of_wish.folder, &error),
            of_wish.mark.clone(),
        ),
    })
}

/// The names of what lies in a folder in a store: somebody else's, unless the queue has given them.
fn stored_in(scratch: &mut Scratch, folder: &Path) -> Result<Vec<OsString>, Unsolved> {
    let listed = scratch.list(folder).map_err(|why| match why {
        NotHere::Stopped => Unsolved::Stopped,
        NotHere::Never(error) => Unsolved::Refused(error.into()),
        why => Unsolved::NotHere(why),
    })?;
    let directly = listed.into_iter().map(|object| object.address);
    Ok(directly
        .filter(|address| address.parent() == Some(folder))
        .filter_map(|address| Some(address.file_name()?.to_os_string()))
        .collect())
}

/// The names that are given already.
struct Known<'a> {
    frames: &'a [PathBuf],
    ending: &'a str,
    /// `None` for a folder in a store: the queue alone knows what is ours there.
    ledger: Option<Ledger>,
    /// What lies in a folder in a store.
    stored: Vec<OsString>,
    ours: HashMap<PathBuf, OsString>,
    named: &'a [NamedOutput],
}

impl GivenNames for Known<'_> {
    fn name_of(&self, frame: usize) -> Option<OsString> {
        let frame = &self.frames[frame];
        if let Some(name) = self.ours.get(frame) {
            return Some(name.clone());
        }
        let ledger = self.ledger.as_ref()?;
        let name = ledger.picture_name(frame, Outline::of(frame).ok(), self.ending)?;
        // The same frame may be in two shows that share a folder: then the queue has given that name.
        (!self.named.iter().any(|output| output.picture == name)).then_some(name)
    }

    fn all(&self) -> Vec<OsString> {
        let of_ledger = self.ledger.iter().flat_map(Ledger::picture_names);
        let of_queue = self.named.iter().map(|output| output.picture.clone());
        let given = of_ledger.map(ToOwned::to_owned).chain(of_queue);
        given.chain(self.stored.iter().cloned()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_picture_takes_no_name_that_something_else_has_in_its_store() {
        let frames = ["1.nef", "2.nef"].map(|name| Path::new("s3://shows/one").join(name));
        let known = Known {
            frames: &frames,
            ending: "jpg",
            ledger: None,
            stored: ["1.JPG", "2.jpg"].map(OsString::from).to_vec(),
            ours: HashMap::from([(frames[1].clone(), OsString::from("2.jpg"))]),
            named: &[],
        };
        let names = picture_names(&frames, "jpg", &known);
        assert!(!names[0].eq_ignore_ascii_case("1.jpg"), "{names:?}");
        assert_eq!(names[1], "2.jpg", "ours stays where it is");
    }
}
