//! A picture as a baseline JPEG file (ITU-T T.81) with EXIF, XMP and the profile of its space.

use crate::deliver::baseline::{Encoder, Picture};
use crate::deliver::error::DeliverError;
use crate::deliver::exif::block as exif_block;
use crate::deliver::segments::{self, START_OF_IMAGE};
use crate::deliver::tagged::Tagged;
use crate::deliver::wish::{ChromaSampling, Wish};
use crate::deliver::xmp;
use crate::raw::facts::Facts;
use crate::render::Rendered;
use std::io::Write;

/// The bytes of a JPEG file: baseline, 4:4:4 from quality 90 on and 4:2:0 below, EXIF first, then XMP, then the profile of
/// its space. Equal arguments give equal bytes on every run of one build.
///
/// # Errors
/// A quality outside 1 to 100, a picture without pixels or with an edge over 65535, one whose values do not agree with its
/// size, or metadata that does not fit.
pub fn encode(picture: &Rendered, facts: &Facts, wish: &Wish) -> Result<Vec<u8>, DeliverError> {
    let tagged = Tagged::space(picture.space)?;
    let mut file = Vec::new();
    let size = (picture.width, picture.height);
    let mut writer = Writer::begin(&mut file, size, &tagged, facts, wish)?;
    writer.take_pixels(&picture.rgb)?;
    writer.finish()?;
    Ok(file)
}

/// A picture as a JPEG file that holds nothing but pixels, 4:2:0: for pages that say everything else themselves.
///
/// # Errors
/// As [`encode`].
pub fn bare(picture: &Rendered, quality: u8) -> Result<Vec<u8>, DeliverError> {
    let mut file = START_OF_IMAGE.to_vec();
    let size = (picture.width, picture.height);
    let mut writer = Writer::bare(&mut file, size, quality, ChromaSampling::Quarter)?;
    writer.take_pixels(&picture.rgb)?;
    writer.finish()?;
    Ok(file)
}

/// A JPEG file that is written while its rows are rendered.
pub(crate) struct Writer<W> {
    encoder: Encoder<W>,
    /// Values of the picture.
    wanted: usize,
    found: usize,
}

impl<W: Write> Writer<W> {
    /// Writes what stands before the picture, in the space of `tagged`.
    ///
    /// # Errors
    /// As [`encode`], and what the writer says.
    pub(crate) fn begin(
        mut to: W,
        size: (usize, usize),
        tagged: &Tagged,
        facts: &Facts,
        wish: &Wish,
    ) -> Result<Self, DeliverError> {
        let (width, height) = checked_size(size, wish.quality)?;
        let exif = exif_block(
            facts,
            (u32::from(width), u32::from(height)),
            wish,
            tagged.code,
        )
        .map_err(DeliverError::Exif)?;
        let xmp = xmp::packet(facts, wish, tagged.code);
        let header = segments::header(&exif, xmp.as_bytes(), &tagged.profile)?;
        to.write_all(&header).map_err(DeliverError::Written)?;
        Self::bare(to, size, wish.quality, wish.chroma_sampling())
    }

    fn bare(
        to: W,
        size: (usize, usize),
        quality: u8,
        sampling: ChromaSampling,
    ) -> Result<Self, DeliverError> {
        let (width, height) = checked_size(size, quality)?;
        let picture = Picture {
            width,
            height,
            quality,
            sampling,
        };
        Ok(Self {
            encoder: Encoder::begin(picture, to).map_err(DeliverError::Written)?,
            wanted: size.0 * size.1 * 3,
            found: 0,
        })
    }

    /// Takes the pixels of the next whole rows, red, green and blue by turns.
    ///
    /// # Errors
    /// What the writer says.
    pub(crate) fn take_pixels(&mut self, pixels: &[u8]) -> Result<(), DeliverError> {
        self.found += pixels.len();
        self.encoder
            .take_pixels(pixels)
            .map_err(DeliverError::Written)
    }

    /// Takes the next rows, from the top down: whole ones, each all of its red, then its green, then its blue.
    ///
    /// # Errors
    /// What the writer says.
    pub(crate) fn take(&mut self, rows: &[u8]) -> Result<(), DeliverError> {
        self.found += rows.len();
        self.encoder.take(rows).map_err(DeliverError::Written)
    }

    /// Ends the file.
    ///
    /// # Errors
    /// When it did not get as many values as belong to its size, and what the writer says.
    pub(crate) fn finish(self) -> Result<(), DeliverError> {
        if self.found != self.wanted {
            return Err(DeliverError::Values {
                found: self.found,
                wanted: self.wanted,
            });
        }
        self.encoder.finish().map_err(DeliverError::Written)
    }
}

fn checked_size((width, height): (usize, usize), quality: u8) -> Result<(u16, u16), DeliverError> {
    if !(1..=100).contains(&quality) {
        return Err(DeliverError::Quality(quality));
    }
    let edge = |pixels: usize| u16::try_from(pixels).ok().filter(|&pixels| pixels > 0);
    match (edge(width), edge(height)) {
        (Some(width), Some(height)) => Ok((width, height)),
        _ => Err(DeliverError::Size { width, height }),
    }
}
