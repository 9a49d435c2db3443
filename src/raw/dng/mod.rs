//! Our own reader of DNG files (Digital Negative specification 1.7), mosaic and linear RGB.
//!
//! The decoders either do not read a good part of them (14 bits packed, lossless tiles, lossy) or drop what gives the counts
//! their meaning (opcodes, per-channel and fractional levels, deviations). Here the tags say everything, in the order that
//! the specification sets: stored counts, opcode list 1, linearisation table, levels, opcode list 2, and of list 3 what a
//! reader can do before the demosaic. What cannot be carried out and is not optional is refused.

mod colour;
mod illuminant;
pub(crate) mod levels;
mod opcodes;
mod packed;
mod picture;
mod segments;
pub(crate) mod tags;

use crate::raw::decoded::Decoded;
use crate::raw::error::Fault;
use crate::raw::frame::Layout;
use crate::raw::source::Source;
use crate::raw::tiff::{Directory, Tiff};
use picture::Picture;
use std::sync::Arc;

/// Whether the file says that it is a DNG.
pub(crate) fn is_dng<S: Source + ?Sized>(tiff: &Tiff<'_, S>) -> bool {
    tiff.first()
        .is_some_and(|directory| directory.entry(tags::DNG_VERSION).is_some())
}

/// Decodes the sensor's picture, into memory that may hold anything.
pub(crate) fn read<S: Source + ?Sized>(
    bytes: &Arc<Vec<u8>>,
    tiff: &Tiff<'_, S>,
    memory: Vec<u16>,
) -> Result<Decoded, Fault> {
    let directory = sensor_directory(tiff)?;
    let mut notes = Vec::new();
    let places: Vec<&Directory> = tiff.first().into_iter().chain([directory]).collect();
    let colour = colour::read(tiff, &places, &mut notes)?;
    let layout = levels::layout(tiff, directory)?;
    let mut lists = opcodes::lists(tiff, directory)?;
    let mut picture = picture::read(bytes, tiff, directory, memory)?;
    let channels = picture.channels;
    if (channels == 3) != (layout == Layout::Linear) {
        return Err(Fault::Pattern {
            what: format!("a mosaic with {channels} values a pixel"),
        });
    }
    let active = levels::active_area(tiff, directory, picture.width, picture.height)?;
    let crop = levels::crop(tiff, directory, active);
    let scale = picture.level_scale;
    let black = levels::black(tiff, directory, active, channels)?.scaled(scale);
    // The default white is the largest number that the samples hold: 1 for floating point.
    let largest = ((1u32 << picture.bits) - 1) as f32 / scale;
    let white = levels::white(tiff, directory, largest)?.map(|level| level * scale);
    // A linearisation table may widen the samples to 16 bits.
    let widest = if directory.entry(tags::LINEARIZATION_TABLE).is_some() {
        65_535.0
    } else {
        largest * scale
    };
    if white.iter().any(|level| *level > widest) {
        return Err(Fault::damaged(
            "its white level is above what its samples can hold",
        ));
    }
    if scale != 1.0 && white != [scale; 3] {
        return Err(Fault::unsupported(
            "floating-point samples with a white level other than 1",
        ));
    }
    if picture.is_linearised && !lists[0].is_empty() {
        return Err(Fault::unsupported(
            "opcodes on the stored counts of this compression",
        ));
    }
    opcodes::on_stored(
        std::mem::take(&mut lists[0]),
        &mut picture,
        &layout,
        active,
        &mut notes,
    )?;
    linearise(tiff, directory, &mut picture)?;
    note_baseline_exposure(tiff, &places, &mut notes);
    let decoded = Decoded {
        width: picture.width,
        height: picture.height,
        counts: picture.counts,
        layout,
        black,
        white,
        active,
        crop,
        colour,
        notes,
    };
    let [_, second, third] = lists;
    opcodes::on_linear(second, third, decoded)
}

/// The directory of the full-size sensor picture: NewSubFileType 0 with a mosaic or linear RGB; the largest when several
/// claim to be it.
fn sensor_directory<'t, S: Source + ?Sized>(tiff: &'t Tiff<'_, S>) -> Result<&'t Directory, Fault> {
    let number = |directory: &Directory, tag: u16| tiff.integer_of(directory, tag);
    tiff.directories
        .iter()
        .filter(|directory| {
            number(directory, tags::NEW_SUBFILE_TYPE).unwrap_or(0) == 0
                && matches!(
                    number(directory, tags::PHOTOMETRIC_INTERPRETATION),
                    Some(tags::PHOTOMETRIC_CFA | tags::PHOTOMETRIC_LINEAR)
                )
        })
        .max_by_key(|directory| {
            u64::from(number(directory, tags::IMAGE_WIDTH).unwrap_or(0))
                * u64::from(number(directory, tags::IMAGE_LENGTH).unwrap_or(0))
        })
        .ok_or_else(|| Fault::damaged("it says that it is a DNG, but holds no sensor picture"))
}

/// Applies LinearizationTable: a count beyond its end takes its last value.
fn linearise<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    directory: &Directory,
    picture: &mut Picture,
) -> Result<(), Fault> {
    let Some(entry) = directory.entry(tags::LINEARIZATION_TABLE) else {
        return Ok(());
    };
    if picture.is_linearised {
        return Ok(());
    }
    let table = tiff
        .numbers(entry, 1 << 16)
        .filter(|table| !table.is_empty())
        .ok_or_else(|| Fault::damaged("its linearisation table cannot be read"))?;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "16-bit whole numbers; others saturate"
    )]
    let mut full: Vec<u16> = table.into_iter().map(|value| value as u16).collect();
    let last = full.last().copied().unwrap_or(0);
    full.resize(1 << 16, last);
    for count in &mut picture.counts {
        *count = full[usize::from(*count)];
    }
    Ok(())
}

/// BaselineExposure is a wish of the maker for rendering, not a fact of the counts: noted, not applied.
fn note_baseline_exposure<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    places: &[&Directory],
    notes: &mut Vec<String>,
) {
    let stops = places
        .iter()
        .find_map(|directory| tiff.numbers_of(directory, tags::BASELINE_EXPOSURE, 1))
        .and_then(|values| values.first().copied());
    if let Some(stops) = stops.filter(|stops| stops.is_finite() && *stops != 0.0) {
        notes.push(format!(
            "the file wishes for {stops:+.2} stops of baseline exposure; not applied"
        ));
    }
}
