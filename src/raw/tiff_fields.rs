//! EXIF fields of a TIFF-like raw, through this room's walker.

use crate::raw::exif_facts::{Fields, Group};
use crate::raw::source::Source;
use crate::raw::tiff::{Directory, Role, Tiff};

/// EXIF fields of a walked file.
#[derive(Debug)]
pub(crate) struct TiffFields<'t, 's, S: Source + ?Sized>(pub(crate) &'t Tiff<'s, S>);

impl<'s, S: Source + ?Sized> TiffFields<'_, 's, S> {
    /// The directories that may hold fields of a group, best first. A DNG that is not the main picture of its file keeps
    /// the sensor's directory below the first one, but its camera fields in the first.
    fn places(&self, group: Group) -> impl Iterator<Item = &Directory> {
        let tiff = self.0;
        let (first, second) = match group {
            Group::Picture => (tiff.first(), tiff.of_role(Role::Exif)),
            Group::Gps => (tiff.of_role(Role::Gps), None),
        };
        first.into_iter().chain(second)
    }
}

impl<S: Source + ?Sized> Fields for TiffFields<'_, '_, S> {
    fn text(&self, group: Group, tag: u16) -> Option<String> {
        self.places(group)
            .find_map(|directory| self.0.text_of(directory, tag))
    }

    fn numbers(&self, group: Group, tag: u16) -> Option<Vec<f64>> {
        /// The fields used here have at most three values.
        const MOST: u32 = 16;
        self.places(group)
            .find_map(|directory| self.0.numbers_of(directory, tag, MOST))
    }
}
