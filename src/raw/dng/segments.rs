//! Where a picture's strips or tiles lie in the file and in the picture.
//!
//! Both are rectangles of full width that may stick out over the right and lower edge: tiles always have their full size
//! in the file (TIFF 6.0, section 15), the last strip ends with the picture. Offsets and lengths are checked against the
//! file before anything is decoded, so that a lie costs nothing.

use super::tags;
use crate::raw::error::Fault;
use crate::raw::source::Source;
use crate::raw::tiff::{Directory, Tiff};

/// One strip or tile.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Segment {
    /// Its bytes in the file.
    pub(super) offset: usize,
    /// How many.
    pub(super) length: usize,
    /// First column in the picture.
    pub(super) left: usize,
    /// First row in the picture.
    pub(super) top: usize,
    /// Pixels in a row, as stored.
    pub(super) width: usize,
    /// Rows, as stored.
    pub(super) height: usize,
}

/// The size of a picture and its segments.
#[derive(Clone, Debug)]
pub(super) struct Segments {
    /// Pixels in a row.
    pub(super) width: usize,
    /// Rows.
    pub(super) height: usize,
    /// All strips or tiles, row after row.
    pub(super) list: Vec<Segment>,
}

/// More segments than any writer makes: a 400 megapixel picture in tiles of 64 x 64 has 98 thousand.
const MOST_SEGMENTS: u32 = 1 << 18;

impl Segments {
    /// From a directory's tags.
    pub(super) fn read(
        tiff: &Tiff<'_, impl Source + ?Sized>,
        directory: &Directory,
        file_length: usize,
    ) -> Result<Self, Fault> {
        let size = |tag: u16, what: &str| {
            tiff.integer_of(directory, tag)
                .map(|value| value as usize)
                .ok_or_else(|| Fault::damaged(format!("the picture's {what} is missing")))
        };
        let width = size(tags::IMAGE_WIDTH, "width")?;
        let height = size(tags::IMAGE_LENGTH, "height")?;
        crate::raw::decoded::check_size(width as u64, height as u64)?;
        let is_tiled = directory.entry(tags::TILE_OFFSETS).is_some();
        let (segment_width, segment_height, offsets, lengths) = if is_tiled {
            let tile_width = size(tags::TILE_WIDTH, "tile width")?;
            let tile_height = size(tags::TILE_LENGTH, "tile height")?;
            // A tile larger than the picture is padding only; far larger is a lie.
            crate::raw::decoded::check_size(tile_width as u64, tile_height as u64)?;
            (
                tile_width,
                tile_height,
                tags::TILE_OFFSETS,
                tags::TILE_BYTE_COUNTS,
            )
        } else {
            let rows = tiff
                .integer_of(directory, tags::ROWS_PER_STRIP)
                .map_or(height, |rows| (rows as usize).clamp(1, height));
            (width, rows, tags::STRIP_OFFSETS, tags::STRIP_BYTE_COUNTS)
        };
        let numbers = |tag: u16| {
            tiff.numbers_of(directory, tag, MOST_SEGMENTS)
                .ok_or_else(|| Fault::damaged("its list of strips or tiles cannot be read"))
        };
        let (offsets, lengths) = (numbers(offsets)?, numbers(lengths)?);
        let columns = width.div_ceil(segment_width);
        let rows = height.div_ceil(segment_height);
        if offsets.len() != columns * rows || lengths.len() != offsets.len() {
            return Err(Fault::damaged(format!(
                "{} x {} strips or tiles are needed, {} are listed",
                columns,
                rows,
                offsets.len()
            )));
        }
        let mut list = Vec::with_capacity(offsets.len());
        for (index, (offset, length)) in offsets.into_iter().zip(lengths).enumerate() {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "32-bit whole numbers"
            )]
            let (offset, length) = (offset as usize, length as usize);
            if length == 0 || offset.saturating_add(length) > file_length {
                return Err(Fault::damaged(format!(
                    "strip or tile {} of {} ends after the file",
                    index + 1,
                    columns * rows
                )));
            }
            let top = index / columns * segment_height;
            list.push(Segment {
                offset,
                length,
                left: index % columns * segment_width,
                top,
                width: segment_width,
                height: if is_tiled {
                    segment_height
                } else {
                    segment_height.min(height - top)
                },
            });
        }
        Ok(Self {
            width,
            height,
            list,
        })
    }

    /// Whether these follow each other from left to right and lie inside the picture.
    pub(super) fn hold_beside_each_other(&self, group: &[Segment]) -> bool {
        let is_inside = |segment: &Segment| {
            segment.left + segment.width <= self.width
                && segment.top + segment.height <= self.height
        };
        let follows = |pair: &[Segment]| {
            pair[1].top == pair[0].top && pair[1].left == pair[0].left + pair[0].width
        };
        group.iter().all(is_inside) && group.windows(2).all(follows)
    }

    /// Pastes a segment's values (`channels` a pixel, full stored width) into a picture of this size.
    pub(super) fn paste(
        &self,
        segment: &Segment,
        channels: usize,
        values: &[u16],
        picture: &mut [u16],
    ) {
        let columns = segment.width.min(self.width - segment.left) * channels;
        let rows = segment.height.min(self.height - segment.top);
        let stride = self.width * channels;
        for (y, row) in values
            .chunks_exact(segment.width * channels)
            .take(rows)
            .enumerate()
        {
            let start = (segment.top + y) * stride + segment.left * channels;
            picture[start..start + columns].copy_from_slice(&row[..columns]);
        }
    }
}
