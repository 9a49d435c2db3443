//! The two doors of the room.

use crate::base::geometry::Rect;
use crate::raw::clipping::settle_white;
use crate::raw::container::{Container, container};
use crate::raw::decoded::Decoded;
use crate::raw::decoders::{self, Kind};
use crate::raw::dng;
use crate::raw::error::{Fault, RawError};
use crate::raw::exif_facts::facts_of;
use crate::raw::facts::Facts;
use crate::raw::frame::Frame;
use crate::raw::header::{self, Stated};
use crate::raw::library_fields::{JpegFields, NomFields};
use crate::raw::source::FileSource;
use crate::raw::tiff::Tiff;
use crate::raw::tiff_fields::TiffFields;
use std::path::Path;
use std::sync::Arc;

/// When and how a frame was taken, without decoding its pixels.
///
/// # Errors
/// When the file cannot be read or is no raw file. What a raw file does not state is left out of the facts, without an
/// error.
pub fn read_facts(path: &Path) -> Result<Facts, RawError> {
    facts(path).map_err(|fault| fault.at(path))
}

/// A whole frame. Meant for a worker process with limits: a damaged file can make a decoder hang or abort.
///
/// # Errors
/// When the file cannot be read, is no raw file, is damaged, or holds what cannot be decoded rightly here.
pub fn read_frame(path: &Path) -> Result<Frame, RawError> {
    read_frame_with(path, |_| ()).map(|(frame, ())| frame)
}

/// The same, with what `also` finds in the file's bytes: whoever wants to know something else of them need not read them again.
///
/// # Errors
/// As [`read_frame`].
pub fn read_frame_with<T>(
    path: &Path,
    also: impl FnOnce(&[u8]) -> T,
) -> Result<(Frame, T), RawError> {
    frame(path, also).map_err(|fault| fault.at(path))
}

/// What a container that is no raw is called in an error.
fn refuse_others(found: Container) -> Result<(), Fault> {
    let what = match found {
        Container::Jpeg => "a JPEG picture",
        Container::Other(what) => what,
        Container::BigTiff => "a BigTIFF file, which no body writes",
        Container::Unknown => "it begins like no raw format known here",
        _ => return Ok(()),
    };
    Err(Fault::NotRaw { what: what.into() })
}

fn facts(path: &Path) -> Result<Facts, Fault> {
    let source = FileSource::open(path)?;
    let found = container(source.head());
    refuse_others(found)?;
    let from_library = match found {
        Container::Tiff => {
            let tiff = Tiff::walk(&source)?;
            header::check(&tiff)?;
            return Ok(facts_of(&TiffFields(&tiff)));
        }
        Container::Raf => JpegFields::of_raf(&source)
            .map(|fields| facts_of(&fields))
            .or_else(|| NomFields::open(path).map(|fields| facts_of(&fields))),
        Container::Cr3 => NomFields::open(path).map(|fields| facts_of(&fields)),
        _ => None,
    };
    if let Some(facts) = from_library {
        return Ok(facts);
    }
    let bytes = std::fs::read(path).map_err(Fault::Unreadable)?;
    Ok(decoders::facts(&Arc::new(bytes)).unwrap_or_default())
}

fn frame<T>(path: &Path, also: impl FnOnce(&[u8]) -> T) -> Result<(Frame, T), Fault> {
    drop(FileSource::open(path)?);
    let bytes = std::fs::read(path).map_err(Fault::Unreadable)?;
    if bytes.is_empty() {
        return Err(Fault::Empty);
    }
    let found = container(&bytes);
    refuse_others(found)?;
    let facts = facts(path)?;
    let bytes = Arc::new(bytes);
    let mut kind = Kind {
        container: found,
        make: &facts.body.make,
        model: &facts.body.model,
        is_compressed: true,
    };
    let decoded = if found == Container::Tiff {
        let tiff = Tiff::walk(bytes.as_slice())?;
        if dng::is_dng(&tiff) {
            dng::read(&bytes, &tiff)?
        } else {
            kind.is_compressed = header::has_makers_compression(&tiff);
            let (decoded, other_white) = decoders::decode(&bytes, kind)?;
            settle(decoded, other_white, |decoded| {
                header::stated(&tiff, decoded.width, decoded.height)
            })
        }
    } else {
        let (decoded, other_white) = decoders::decode(&bytes, kind)?;
        settle(decoded, other_white, |_| Stated::default())
    };
    let seen = also(&bytes);
    drop(bytes);
    let (mosaic, colour, notes) = decoded.into_mosaic()?;
    let frame = Frame {
        facts,
        mosaic,
        colour,
        notes,
    };
    Ok((frame, seen))
}

/// What the file states goes before the decoders' tables; then the pixels are asked about the white level.
fn settle(
    mut decoded: Decoded,
    mut other_white: Option<f32>,
    stated: impl Fn(&Decoded) -> Stated,
) -> Decoded {
    let stated = stated(&decoded);
    if let Some(crop) = stated.crop
        && let (Some(left), Some(top)) = (
            crop.left.checked_sub(decoded.active.left),
            crop.top.checked_sub(decoded.active.top),
        )
    {
        decoded.crop = Rect { left, top, ..crop };
    }
    if let Some(white) = stated.white {
        decoded.white = [white; 3];
        other_white = None;
    }
    settle_white(&mut decoded, other_white);
    decoded
}
