//! What the header of a TIFF-like raw tells before any decoder is called.

use crate::raw::source::Source;
use crate::raw::tiff::Tiff;

/// TIFF tags.
const COMPRESSION: u16 = 259;
/// TIFF 6.0: no compression.
const UNCOMPRESSED: u32 = 1;
/// The first of the private compression schemes: makers' own lie above.
const FIRST_PRIVATE: u32 = 32_768;

/// Whether some picture of the file is stored in a maker's own compression.
pub(crate) fn has_makers_compression<S: Source + ?Sized>(tiff: &Tiff<'_, S>) -> bool {
    tiff.directories.iter().any(|directory| {
        tiff.integer_of(directory, COMPRESSION)
            .is_some_and(|compression| compression != UNCOMPRESSED && compression >= FIRST_PRIVATE)
    })
}
