//! A baseline JPEG stream (ITU-T T.81, process 1) made row by row.
//!
//! Libraries do this too, and one did it here. Encoding was a quarter of the whole job's time with it, and it wanted the whole picture
//! in memory, 72 MB for 24 megapixels; what is fast elsewhere is C with assembler that a fresh machine has no assembler for. This
//! takes rows as they are rendered, while they are in the cache, in half of that library's time (figures in benches/results), and
//! its files are as large and as near to the picture. It knows what is delivered and nothing else: three components in 8 bits, with
//! whole or quarter chrominance and the standard's typical tables.

mod entropy;
mod tables;
mod transform;

use crate::deliver::wish::ChromaSampling;
use entropy::{Codes, Scan};
use std::io::{self, Write};
use tables::{AC, DC, Huffman, ZIGZAG};
use transform::{Block, GROUP, SIDE, Transform, quantise, separate};

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
    /// Units of the scan in a band.
    units: usize,
    /// Of luminance, and of each chrominance.
    components: [Component; 3],
    /// Rows of chrominance at full size, before four pixels become one.
    fine: [Vec<f32>; 2],
    codes: [Codes; 2],
    scan: Scan,
}

/// A component's rows, and the blocks of a band of them.
#[derive(Debug)]
struct Component {
    /// Rows of blocks in a band, each of eight rows of samples in whole groups: as many as a unit of the scan has across.
    rows: Vec<[Vec<f32>; SIDE]>,
    /// The blocks of each.
    blocks: Vec<Vec<Block>>,
    transform: Transform,
    /// First coefficient of the block coded last.
    before: i16,
}

impl<W: Write> Encoder<W> {
    /// Begins a stream: writes the tables.
    ///
    /// # Errors
    /// What the writer says.
    pub(crate) fn begin(picture: Picture, mut to: W) -> io::Result<Self> {
        let steps = tables::quantisation(picture.quality);
        to.write_all(&head(picture, &steps))?;
        let width = usize::from(picture.width);
        // Blocks of a component across and down in a unit of the scan.
        let in_a_unit = match picture.sampling {
            ChromaSampling::Full => [1, 1, 1],
            ChromaSampling::Quarter => [2, 1, 1],
        };
        let units = width.div_ceil(SIDE * in_a_unit[0]);
        let component = |at: usize| {
            let blocks = units * in_a_unit[at];
            let length = (blocks * SIDE).next_multiple_of(GROUP);
            Component {
                rows: vec![std::array::from_fn(|_| vec![0.0; length]); in_a_unit[at]],
                blocks: vec![vec![[0; tables::COEFFICIENTS]; blocks]; in_a_unit[at]],
                transform: Transform::new(&steps[at.min(1)]),
                before: 0,
            }
        };
        let fine = match picture.sampling {
            ChromaSampling::Full => 0,
            ChromaSampling::Quarter => width.next_multiple_of(2),
        };
        Ok(Self {
            to,
            picture,
            taken: 0,
            units,
            components: std::array::from_fn(component),
            fine: [vec![0.0; fine], vec![0.0; fine]],
            codes: [Codes::new(0), Codes::new(1)],
            scan: Scan::default(),
        })
    }

    /// Takes the next rows: whole ones, red, green and blue by turns. Rows beyond the picture's last are passed over.
    ///
    /// # Errors
    /// What the writer says.
    pub(crate) fn take(&mut self, rows: &[u8]) -> io::Result<()> {
        let length = 3 * usize::from(self.picture.width);
        let left = usize::from(self.picture.height) - self.taken;
        for row in rows.chunks_exact(length).take(left) {
            self.take_row(row);
            let band = self.band_height();
            if self.taken.is_multiple_of(band) {
                self.code_band()?;
            } else if self.taken == usize::from(self.picture.height) {
                // The last row stands for those that the last band has not.
                let taken = self.taken;
                while !self.taken.is_multiple_of(band) {
                    self.take_row(row);
                }
                self.taken = taken;
                self.code_band()?;
            }
        }
        Ok(())
    }

    /// Ends the stream.
    ///
    /// # Errors
    /// What the writer says.
    pub(crate) fn finish(mut self) -> io::Result<()> {
        self.scan.finish();
        self.scan.write_to(&mut self.to)?;
        self.to.write_all(&[0xff, END_OF_IMAGE])
    }

    /// Rows of the picture in a band.
    fn band_height(&self) -> usize {
        SIDE * self.components[0].rows.len()
    }

    fn take_row(&mut self, row: &[u8]) {
        let width = usize::from(self.picture.width);
        let at = self.taken % self.band_height();
        let [luminance, chrominance @ ..] = &mut self.components;
        let luminance = &mut luminance.rows[at / SIDE][at % SIDE];
        match self.picture.sampling {
            ChromaSampling::Full => {
                let [blue, red] = chrominance.each_mut().map(|c| &mut c.rows[0][at]);
                separate(row, luminance, blue, red);
                extend(blue, width);
                extend(red, width);
            }
            ChromaSampling::Quarter => {
                let [blue, red] = &mut self.fine;
                separate(row, luminance, blue, red);
                for (fine, component) in self.fine.iter_mut().zip(chrominance) {
                    extend(fine, width);
                    let coarse = &mut component.rows[0][at / 2];
                    let is_first = at.is_multiple_of(2);
                    for (mean, pair) in coarse.iter_mut().zip(fine.as_chunks::<2>().0) {
                        let half = 0.25 * (pair[0] + pair[1]);
                        *mean = if is_first { half } else { *mean + half };
                    }
                    extend(coarse, width.div_ceil(2));
                }
            }
        }
        extend(luminance, width);
        self.taken += 1;
    }

    fn code_band(&mut self) -> io::Result<()> {
        for component in &mut self.components {
            for (rows, blocks) in component.rows.iter().zip(&mut component.blocks) {
                quantise(rows, &component.transform, blocks);
            }
        }
        code_units(
            &mut self.components,
            self.units,
            &self.codes,
            &mut self.scan,
        );
        if self.scan.waiting() >= WRITTEN_TOGETHER {
            self.scan.write_to(&mut self.to)?;
        }
        Ok(())
    }
}

/// Codes a band in the order of a scan (T.81, A.2.3): unit by unit, in each every component's blocks, from the left and from the top.
#[multiversion::multiversion(targets("x86_64+bmi1+bmi2+lzcnt+movbe", "aarch64+neon"))]
fn code_units(components: &mut [Component; 3], units: usize, codes: &[Codes; 2], scan: &mut Scan) {
    let blocks: usize = components.iter().map(|c| c.blocks.len().pow(2)).sum();
    scan.code(units * blocks, |pen| {
        for unit in 0..units {
            for (at, component) in components.iter_mut().enumerate() {
                let across = component.blocks.len();
                for blocks in &component.blocks {
                    for block in &blocks[unit * across..(unit + 1) * across] {
                        pen.block(block, &mut component.before, &codes[at.min(1)]);
                    }
                }
            }
        }
    });
}

/// Repeats the last sample of a row to its end.
fn extend(row: &mut [f32], width: usize) {
    if let Some(&last) = row.get(width - 1) {
        row[width..].fill(last);
    }
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
