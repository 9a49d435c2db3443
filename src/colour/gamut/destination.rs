//! The RGB space that a picture is made for, with what bringing colours into it needs to know.

use super::hues::Hues;
use super::oklab_of_space::OklabOfSpace;
use crate::colour::spaces::RgbSpace;
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

/// A picture's space, made ready: tables of its boundary by hue.
pub struct Destination {
    pub(super) oklab: OklabOfSpace,
    pub(super) hues: Hues,
}

/// Spaces made ready so far: a table takes some ten milliseconds, and a show asks for one space again and again.
static KNOWN: Mutex<Vec<(RgbSpace, Arc<Destination>)>> = Mutex::new(Vec::new());

impl Destination {
    /// The destination of a space with real primaries.
    #[must_use]
    pub fn of(space: &RgbSpace) -> Arc<Self> {
        // Whoever panicked while holding the list has left it whole: an entry is pushed or is not.
        let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, destination)) = known.iter().find(|(own, _)| own == space) {
            return Arc::clone(destination);
        }
        let oklab = OklabOfSpace::new(space);
        let hues = Hues::of(&oklab);
        let destination = Arc::new(Self { oklab, hues });
        known.push((*space, Arc::clone(&destination)));
        destination
    }
}

impl fmt::Debug for Destination {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        to.debug_struct("Destination").finish_non_exhaustive()
    }
}
