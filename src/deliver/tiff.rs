//! A picture as a TIFF 6.0 file of 16 bits a channel, for retouching elsewhere: strip after strip, so that it is never held
//! whole.
//!
//! The strips are not compressed. On 18 megapixels of a real stage frame at ISO 3200 the noise in the low bits left little to
//! gain: 13 % by LZW with the horizontal predictor, 24 % by Deflate at its fastest, for about as much time as the whole
//! rendering takes; and an uncompressed file opens fastest, in everything. EXIF stands in directories of the file itself, the
//! profile and the XMP packet in tags of their own (ICC.1:2010, B.3; ISO 16684-3).

use crate::deliver::error::DeliverError;
use crate::deliver::exif::fields as exif_fields;
use crate::deliver::wish::Wish;
use crate::raw::facts::Facts;
use crate::render::run::HANDED_ROWS;
use little_exif::endian::Endian;
use little_exif::exif_tag::ExifTag;
use little_exif::ifd::ExifTagGroup;
use std::io::{Seek, Write};
use tiff::Directory;
use tiff::encoder::{DirectoryEncoder, TiffEncoder, TiffKind, colortype::RGB16};
use tiff::tags::{Tag, Type};

/// Rows of a strip: some hundred kilobytes. A number of its own: how many rows rendering hands on is no matter of the file's.
pub(crate) const STRIP_ROWS: usize = 16;
const _: () = assert!(HANDED_ROWS.is_multiple_of(STRIP_ROWS));

/// Tags that the library has no name for: EXIF's directories (CIPA DC-008, 4.6.3) and the XMP packet (ISO 16684-3).
const EXIF_DIRECTORY: Tag = Tag::Unknown(0x8769);
const POSITION_DIRECTORY: Tag = Tag::Unknown(0x8825);
const XMP: Tag = Tag::Unknown(0x02bc);

/// What goes into the file beside the pixels.
pub(crate) struct Metadata<'a> {
    pub(crate) facts: &'a Facts,
    pub(crate) wish: &'a Wish,
    /// EXIF's code of the space.
    pub(crate) colour_space: u16,
    pub(crate) xmp: &'a str,
    pub(crate) profile: &'a [u8],
}

/// Writes a file of `width` by `height` pixels. `rows` is called once and hands groups of whole rows to the function that it
/// is given, from the top down; every group but the last has a multiple of [`STRIP_ROWS`] rows.
///
/// # Errors
/// What the library or the file refuses, or what `rows` returns.
pub(crate) fn write(
    file: impl Write + Seek,
    (width, height): (u32, u32),
    metadata: &Metadata<'_>,
    rows: impl FnOnce(&mut dyn FnMut(&[u16]) -> Result<(), DeliverError>) -> Result<(), DeliverError>,
) -> Result<(), DeliverError> {
    let fields = exif_fields(metadata.facts, metadata.wish, metadata.colour_space);
    let mut file = TiffEncoder::new(file)?;
    let exif = directory(&mut file, &fields, ExifTagGroup::EXIF)?;
    let position = directory(&mut file, &fields, ExifTagGroup::GPS)?;
    let mut picture = file.new_image::<RGB16>(width, height)?;
    picture.rows_per_strip(u32::try_from(STRIP_ROWS).unwrap_or(u32::MAX))?;
    let own = picture.encoder();
    push(own, &fields, ExifTagGroup::GENERIC)?;
    for (tag, offset) in [(EXIF_DIRECTORY, exif), (POSITION_DIRECTORY, position)] {
        if let Some(offset) = offset {
            own.write_tag(tag, offset)?;
        }
    }
    put(own, XMP, Type::BYTE, metadata.xmp.as_bytes())?;
    put(own, Tag::IccProfile, Type::UNDEFINED, metadata.profile)?;
    let strip = STRIP_ROWS * width as usize * 3;
    rows(&mut |group| {
        for strip in group.chunks(strip) {
            picture.write_strip(strip)?;
        }
        Ok(())
    })?;
    Ok(picture.finish()?)
}

/// Writes the fields of one group as a directory of its own; its offset, or `None` when there are no such fields.
fn directory(
    file: &mut TiffEncoder<impl Write + Seek>,
    fields: &[ExifTag],
    group: ExifTagGroup,
) -> Result<Option<u32>, DeliverError> {
    if !fields.iter().any(|field| field.get_group() == group) {
        return Ok(None);
    }
    let mut directory = file.extra_directory()?;
    push(&mut directory, fields, group)?;
    Ok(Some(directory.finish_with_offsets()?.offset))
}

/// Puts the fields of one group into a directory.
fn push<W: Write + Seek, K: TiffKind>(
    directory: &mut DirectoryEncoder<'_, W, K>,
    fields: &[ExifTag],
    group: ExifTagGroup,
) -> Result<(), DeliverError> {
    // The library writes the machine's own order of bytes, as TIFF allows.
    let order = if cfg!(target_endian = "little") {
        Endian::Little
    } else {
        Endian::Big
    };
    for field in fields.iter().filter(|field| field.get_group() == group) {
        let Some(kind) = Type::from_u16(field.format().as_u16()) else {
            continue;
        };
        let tag = Tag::from_u16_exhaustive(field.as_u16());
        put(directory, tag, kind, &field.value_as_u8_vec(&order))?;
    }
    Ok(())
}

/// Puts one field into a directory. Values and directories begin at even places (TIFF 6.0, section 2), which the library
/// leaves to its user: a value of odd length is followed by an empty byte. Short values stand in the directory itself.
fn put<W: Write + Seek, K: TiffKind>(
    directory: &mut DirectoryEncoder<'_, W, K>,
    tag: Tag,
    kind: Type,
    value: &[u8],
) -> Result<(), DeliverError> {
    const LONGEST_INSIDE: usize = 4;
    let entry = directory.write_entry_bytes(kind, value)?;
    if value.len() > LONGEST_INSIDE && !value.len().is_multiple_of(2) {
        directory.write_data(0_u8)?;
    }
    directory.extend_from(&Directory::from_iter([(tag, entry)]));
    Ok(())
}
