//! A baseline JPEG stream (ITU-T T.81, process 1) made row by row.
//!
//! Libraries do this too, and one did it here. Encoding was a quarter of the whole job's time with it, and it wanted the whole picture
//! in memory, 72 MB for 24 megapixels; what is fast elsewhere is C with assembler that a fresh machine has no assembler for. This
//! takes rows as they are rendered, while they are in the cache, in far less than that library's time (figures in benches/results), and
//! its files are as large and as near to the picture. It knows what is delivered and nothing else: three components in 8 bits, with
//! whole or quarter chrominance and the standard's typical tables.

mod entropy;
mod group;
mod samples;
mod scan;
mod span;
mod tables;
mod transform;

use crate::deliver::wish::ChromaSampling;
use samples::part;
use span::{MOST_ROWS, Span};
use std::io::{self, Write};
use tables::{AC, DC, Huffman, ZIGZAG};

/// Blocks that are worked on side by side. So many that loops over them fill the widest vectors and are not taken apart by
/// compilers; so few that a tile of them stays in a first-level cache of 32 KiB.
const LANES: usize = 64;

/// Marker codes: T.81, table B.1.
const START_OF_FRAME: u8 = 0xc0;
const HUFFMAN_TABLE: u8 = 0xc4;
const END_OF_IMAGE: u8 = 0xd9;
const START_OF_SCAN: u8 = 0xda;
const QUANTISATION_TABLE: u8 = 0xdb;

/// Coded bytes that are gathered before they are written.
const WRITTEN_TOGETHER: usize = 1 << 18;

/// What is encoded.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Picture {
    /// Columns, at least 1.
    pub(crate) width: u16,
    /// Rows, at least 1.
    pub(crate) height: u16,
    /// 1 to 100.
    pub(crate) quality: u8,
    pub(crate) sampling: ChromaSampling,
}

/// A stream that is being made. Its bytes begin behind the start of image and the application segments, which are the caller's.
#[derive(Debug)]
pub(crate) struct Encoder<W> {
    to: W,
    picture: Picture,
    /// Rows that were taken.
    taken: usize,
    /// Red, green and blue of a band's rows, each in whole spans.
    rows: Vec<[Vec<u8>; 3]>,
    span: Span,
}

impl<W: Write> Encoder<W> {
    /// Begins a stream: writes the tables.
    ///
    /// # Errors
    /// What the writer says.
    pub(crate) fn begin(picture: Picture, mut to: W) -> io::Result<Self> {
        let steps = tables::quantisation(picture.quality);
        to.write_all(&head(picture, &steps))?;
        let span = Span::new(picture.sampling, &steps);
        let length = usize::from(picture.width).next_multiple_of(span.width());
        let row = || [(); 3].map(|()| vec![0; length]);
        Ok(Self {
            to,
            picture,
            taken: 0,
            rows: (0..span.height()).map(|_| row()).collect(),
            span,
        })
    }

    /// Takes the next rows: whole ones, each all of its red, then its green, then its blue. Rows beyond the picture's last are
    /// passed over.
    ///
    /// # Errors
    /// What the writer says.
    pub(crate) fn take(&mut self, mut rows: &[u8]) -> io::Result<()> {
        let [width, height] = [self.picture.width, self.picture.height].map(usize::from);
        let band = self.rows.len();
        if self.taken.is_multiple_of(band) {
            // Bands that are whole are coded where they stand.
            let bands = rows.chunks_exact(3 * width * band);
            for band_rows in bands.take((height - self.taken) / band) {
                self.code_where_it_stands(band_rows)?;
                rows = &rows[band_rows.len()..];
            }
        }
        self.take_rows(rows, |row, channels| {
            for (channel, codes) in channels.into_iter().zip(row.chunks_exact(width)) {
                channel.copy_from_slice(codes);
            }
        })
    }

    /// The same of pixels, red, green and blue by turns.
    ///
    /// # Errors
    /// What the writer says.
    pub(crate) fn take_pixels(&mut self, pixels: &[u8]) -> io::Result<()> {
        self.take_rows(pixels, |row, [red, green, blue]| {
            part(row, red, green, blue)
        })
    }

    fn take_rows(&mut self, rows: &[u8], put: impl Fn(&[u8], [&mut [u8]; 3])) -> io::Result<()> {
        let length = 3 * usize::from(self.picture.width);
        let left = usize::from(self.picture.height) - self.taken;
        for row in rows.chunks_exact(length).take(left) {
            self.take_row(row, &put);
            let band = self.rows.len();
            if self.taken.is_multiple_of(band) {
                self.code_kept(0)?;
            } else if self.taken == usize::from(self.picture.height) {
                // The last row stands for those that the last band has not.
                let taken = self.taken;
                while !self.taken.is_multiple_of(band) {
                    self.take_row(row, &put);
                }
                self.taken = taken;
                self.code_kept(0)?;
            }
        }
        Ok(())
    }

    /// Ends the stream.
    ///
    /// # Errors
    /// What the writer says.
    pub(crate) fn finish(mut self) -> io::Result<()> {
        self.span.scan.finish();
        self.span.scan.write_to(&mut self.to)?;
        self.to.write_all(&[0xff, END_OF_IMAGE])
    }

    fn take_row(&mut self, row: &[u8], put: impl Fn(&[u8], [&mut [u8]; 3])) {
        let width = usize::from(self.picture.width);
        let at = self.taken % self.rows.len();
        let channels = &mut self.rows[at];
        put(
            row,
            channels.each_mut().map(|channel| &mut channel[..width]),
        );
        for channel in channels {
            fill_beyond(channel, width);
        }
        self.taken += 1;
    }

    /// Codes a band of rows, each all of its red, then its green, then its blue. Only what lies in a span that is not whole is kept.
    fn code_where_it_stands(&mut self, rows: &[u8]) -> io::Result<()> {
        let width = usize::from(self.picture.width);
        let whole = width - width % self.span.width();
        debug_assert!(self.rows.len() <= MOST_ROWS);
        let mut channels = [[&[][..]; 3]; MOST_ROWS];
        let each_row = rows.chunks_exact(3 * width);
        for ((row, kept), views) in each_row.zip(&mut self.rows).zip(&mut channels) {
            *views = [0, 1, 2].map(|channel| &row[channel * width..][..width]);
            for (from, kept) in views.iter().zip(kept) {
                kept[whole..width].copy_from_slice(&from[whole..]);
                fill_beyond(kept, width);
            }
        }
        self.span.code_columns(&channels, 0..whole, width);
        self.taken += self.rows.len();
        self.code_kept(whole)
    }

    /// Codes the rows that are kept, from column `from` on.
    fn code_kept(&mut self, from: usize) -> io::Result<()> {
        let width = usize::from(self.picture.width);
        let mut channels = [[&[][..]; 3]; MOST_ROWS];
        for (views, kept) in channels.iter_mut().zip(&self.rows) {
            *views = kept.each_ref().map(Vec::as_slice);
        }
        self.span.code_columns(&channels, from..width, width);
        if self.span.scan.waiting() >= WRITTEN_TOGETHER {
            self.span.scan.write_to(&mut self.to)?;
        }
        Ok(())
    }
}

/// The last pixel stands for those beyond it.
fn fill_beyond(channel: &mut [u8], width: usize) {
    let last = channel[width - 1];
    channel[width..].fill(last);
}

/// What stands before the coded picture: T.81, B.2.
fn head(picture: Picture, steps: &[[u8; tables::COEFFICIENTS]; 2]) -> Vec<u8> {
    let mut head = Vec::new();
    let mut segment = |marker: u8, content: &[u8]| {
        // A segment's length counts itself; the longest here has 181 bytes.
        let length = u16::try_from(content.len() + 2).unwrap_or(u16::MAX);
        head.extend([0xff, marker]);
        head.extend(length.to_be_bytes());
        head.extend(content);
    };
    for (number, steps) in (0..).zip(steps) {
        let mut content = vec![number];
        content.extend(ZIGZAG.map(|place| steps[usize::from(place)]));
        segment(QUANTISATION_TABLE, &content);
    }
    // How many blocks of luminance there are across and down for one of chrominance, four bits each.
    let luminance = match picture.sampling {
        ChromaSampling::Full => 0x11,
        ChromaSampling::Quarter => 0x22,
    };
    let ([height_high, height_low], [width_high, width_low]) =
        (picture.height.to_be_bytes(), picture.width.to_be_bytes());
    let size = [8, height_high, height_low, width_high, width_low, 3];
    let components = [1, luminance, 0, 2, 0x11, 1, 3, 0x11, 1];
    segment(START_OF_FRAME, &[&size[..], &components].concat());
    for (class, kinds) in [(0x00, &DC), (0x10, &AC)] {
        for (number, Huffman { counts, symbols }) in (0..).zip(kinds) {
            segment(
                HUFFMAN_TABLE,
                &[&[class | number], &counts[..], symbols].concat(),
            );
        }
    }
    // Three components with their tables, all coefficients at once.
    segment(START_OF_SCAN, &[3, 1, 0x00, 2, 0x11, 3, 0x11, 0, 63, 0]);
    head
}

#[cfg(test)]
mod tests;
