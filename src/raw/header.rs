//! What the header of a TIFF-like raw tells before any decoder is called.
//!
//! Damaged headers are what makes one of the decoders abort, hang or take all memory, and what lets the other decode
//! well-looking pixels with wrong facts. A whole file keeps every value inside itself and its chain of directories open
//! ended; one that does not is refused here, where it costs nothing.

use crate::base::geometry::Rect;
use crate::raw::decoded::check_size;
use crate::raw::dng::levels;
use crate::raw::error::Fault;
use crate::raw::source::Source;
use crate::raw::tiff::{Directory, Tiff};

/// TIFF 6.0 tags.
const IMAGE_WIDTH: u16 = 256;
const IMAGE_LENGTH: u16 = 257;
const BITS_PER_SAMPLE: u16 = 258;
const COMPRESSION: u16 = 259;
const SAMPLES_PER_PIXEL: u16 = 277;
/// Offsets and byte counts of strips and of tiles.
const SEGMENTS: [(u16, u16); 2] = [(273, 279), (324, 325)];
/// TIFF 6.0: no compression. The numbers above 32767 are the makers' own.
const FIRST_PRIVATE: u32 = 32_767;

/// Whether some picture of the file is stored in a maker's own compression.
pub(crate) fn has_makers_compression<S: Source + ?Sized>(tiff: &Tiff<'_, S>) -> bool {
    tiff.directories.iter().any(|directory| {
        tiff.integer_of(directory, COMPRESSION)
            .is_some_and(|compression| compression >= FIRST_PRIVATE)
    })
}

/// Refuses a header that contradicts itself or the file's length.
pub(crate) fn check<S: Source + ?Sized>(tiff: &Tiff<'_, S>) -> Result<(), Fault> {
    if tiff.loops {
        return Err(Fault::damaged("its directories lead back to themselves"));
    }
    for directory in &tiff.directories {
        if let Some(tag) = tiff.value_outside(directory) {
            return Err(Fault::damaged(format!(
                "the value of tag {tag} lies beyond its end"
            )));
        }
        check_picture(tiff, directory)?;
    }
    Ok(())
}

/// Sizes, depths and the places of strips and tiles of one picture.
fn check_picture<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    directory: &Directory,
) -> Result<(), Fault> {
    /// No sensor counts deeper; floating-point samples have 32 bits.
    const MOST_BITS: u32 = 32;
    /// Values of a pixel in any raw.
    const MOST_SAMPLES: u32 = 8;
    /// Strips or tiles of a picture.
    const MOST_SEGMENTS: u32 = 1 << 18;
    let number = |tag: u16| tiff.integer_of(directory, tag);
    if let (Some(width), Some(height)) = (number(IMAGE_WIDTH), number(IMAGE_LENGTH)) {
        check_size(width.into(), height.into())?;
    }
    if number(BITS_PER_SAMPLE).is_some_and(|bits| bits > MOST_BITS) {
        return Err(Fault::damaged("samples of more than 32 bits"));
    }
    if number(SAMPLES_PER_PIXEL).is_some_and(|samples| samples > MOST_SAMPLES) {
        return Err(Fault::damaged("more than 8 values a pixel"));
    }
    if !tiff.is_classic {
        // The relatives of TIFF put other numbers into these tags.
        return Ok(());
    }
    for (offsets, lengths) in SEGMENTS {
        let list = |tag: u16| tiff.numbers_of(directory, tag, MOST_SEGMENTS);
        let (Some(offsets), Some(lengths)) = (list(offsets), list(lengths)) else {
            continue;
        };
        let is_outside = |(offset, length): (&f64, &f64)| offset + length > tiff.length() as f64;
        if let Some(index) = offsets.iter().zip(&lengths).position(is_outside) {
            return Err(Fault::damaged(format!(
                "strip or tile {} of {} ends after the file",
                index + 1,
                offsets.len()
            )));
        }
    }
    Ok(())
}

/// What a raw that is not a DNG states of its sensor picture in tags that it borrows from DNG.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Stated {
    /// The part that makes the picture, counted from the first photosite of the file.
    pub(crate) crop: Option<Rect>,
    /// White level in counts.
    pub(crate) white: Option<f32>,
}

/// The borrowed tags of the picture of this size.
pub(crate) fn stated<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    width: usize,
    height: usize,
) -> Stated {
    let is_size = |directory: &Directory, tag: u16, size: usize| {
        tiff.integer_of(directory, tag).map(|value| value as usize) == Some(size)
    };
    let Some(directory) = tiff.directories.iter().find(|directory| {
        is_size(directory, IMAGE_WIDTH, width) && is_size(directory, IMAGE_LENGTH, height)
    }) else {
        return Stated::default();
    };
    let whole = Rect {
        left: 0,
        top: 0,
        width,
        height,
    };
    Stated {
        crop: levels::stated_crop(tiff, directory)
            .filter(|crop| crop.fits(width, height) && *crop != whole),
        white: levels::stated_white(tiff, directory)
            .map(|levels| levels.into_iter().fold(f32::MAX, f32::min))
            .filter(|white| (1.0..=65_535.0).contains(white)),
    }
}
