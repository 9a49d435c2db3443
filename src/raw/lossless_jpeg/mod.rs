//! Lossless JPEG: ITU-T T.81 (ISO/IEC 10918-1), process 14, Huffman coding, as the Digital Negative specification and most
//! bodies use it.
//!
//! All seven predictors, 1 to 4 components without subsampling, 2 to 16 bits, point transform and restart intervals. Codes
//! are read by table: 12 bits of the stream index a table that mostly gives the difference itself, longer ones take one or
//! two further steps; the bits come from a 64-bit reservoir that swallows the stuffed zero after 0xFF. That is the plain way;
//! [`together`] is a faster one for several streams of one shape.
//! A stream that ends early is an error: missing bits are never made up.

mod bits;
mod header;
mod huffman;
mod together;
mod unstuffed;

use crate::raw::error::Fault;
use bits::Bits;
pub(crate) use huffman::Known;
use huffman::{Lookup, Table};
use std::sync::Arc;
pub(crate) use together::{Steps, TOGETHER, Together};

fn damaged(what: &str) -> Fault {
    Fault::damaged(format!("lossless JPEG: {what}"))
}

/// What a stream's header states.
#[derive(Clone, Debug)]
pub(crate) struct LosslessJpeg<'a> {
    /// Samples of one component in a row.
    pub(crate) width: usize,
    /// Rows.
    pub(crate) height: usize,
    /// Components, interleaved.
    pub(crate) components: usize,
    /// Bits of a sample.
    pub(crate) precision: u32,
    predictor: u8,
    point_transform: u32,
    /// Lines between restarts; 0 for none.
    restart_lines: usize,
    /// Of each component.
    tables: Vec<Arc<Table>>,
    scan: &'a [u8],
}

impl LosslessJpeg<'_> {
    /// Values in a row: width times components.
    pub(crate) fn row_length(&self) -> usize {
        self.width * self.components
    }

    /// Decodes the rows in order into `values`, whose length is a multiple of [`LosslessJpeg::row_length`] and holds no more
    /// rows than there are.
    pub(crate) fn decode(&self, values: &mut [u16]) -> Result<(), Fault> {
        match self.components {
            1 => self.decode_rows::<1>(values),
            2 => self.decode_rows::<2>(values),
            3 => self.decode_rows::<3>(values),
            _ => self.decode_rows::<4>(values),
        }
    }

    fn decode_rows<const N: usize>(&self, values: &mut [u16]) -> Result<(), Fault> {
        let length = self.row_length();
        if !values.len().is_multiple_of(length) || values.len() / length > self.height {
            return Err(damaged("it has fewer rows than its strip or tile"));
        }
        let tables = self.component_tables::<N>().map(Table::lookup);
        let mut bits = Bits::new(self.scan);
        let mut is_first = true;
        for row in 0..values.len() / length {
            if row > 0 && self.restart_lines > 0 && row.is_multiple_of(self.restart_lines) {
                bits.restart()
                    .ok_or_else(|| damaged("a restart marker is missing"))?;
                is_first = true;
            }
            let (above, line) = values.split_at_mut(row * length);
            let line = &mut line[..length];
            let above = above.len().checked_sub(length).map(|from| &above[from..]);
            let done = match above.filter(|_| !is_first) {
                // T.81, H.1.2.1: the first line is predicted from the left, from half the range at its start.
                None => from_left::<N>(&mut bits, &tables, [self.initial(); N], line),
                Some(above) if self.predictor == 1 => {
                    let start = std::array::from_fn(|component| above[component]);
                    from_left::<N>(&mut bits, &tables, start, line)
                }
                Some(above) => differences::<N>(&mut bits, &tables, line)
                    .map(|()| self.add_predictions::<N>(above, line)),
            };
            done.ok_or_else(|| damaged("a code that its table does not hold"))?;
            if bits.is_exhausted() {
                return Err(damaged("its samples end early"));
            }
            is_first = false;
        }
        self.shift_back(values);
        Ok(())
    }

    /// The table of each component.
    fn component_tables<const N: usize>(&self) -> [&Table; N] {
        std::array::from_fn(|component| self.tables[component].as_ref())
    }

    /// What the very first sample is predicted from: half the range.
    fn initial(&self) -> u16 {
        1 << (self.precision - self.point_transform - 1)
    }

    /// Undoes the point transform.
    fn shift_back(&self, values: &mut [u16]) {
        if self.point_transform > 0 {
            for value in values {
                *value <<= self.point_transform;
            }
        }
    }

    /// Turns a line of differences into samples predicted from the line above: T.81, table H.1.
    fn add_predictions<const N: usize>(&self, above: &[u16], line: &mut [u16]) {
        match self.predictor {
            1 => general::<N>(line, above, |left, _, _| left),
            2 => general::<N>(line, above, |_, up, _| up),
            3 => general::<N>(line, above, |_, _, corner| corner),
            4 => general::<N>(line, above, |left, up, corner| left + up - corner),
            5 => general::<N>(line, above, |left, up, corner| left + ((up - corner) >> 1)),
            6 => general::<N>(line, above, |left, up, corner| up + ((left - corner) >> 1)),
            _ => general::<N>(line, above, |left, up, _| (left + up) >> 1),
        }
    }
}

/// A line of which each sample is predicted by the one to its left. Sums are modulo 2^16 (T.81, H.1.2.1).
#[inline(always)]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the process works modulo 2^16"
)]
fn from_left<const N: usize>(
    bits: &mut Bits<'_>,
    tables: &[Lookup<'_>; N],
    start: [u16; N],
    line: &mut [u16],
) -> Option<()> {
    let mut left = start;
    for pixel in line.chunks_exact_mut(N) {
        for component in 0..N {
            let value = left[component].wrapping_add(bits.difference(tables[component])? as u16);
            left[component] = value;
            pixel[component] = value;
        }
    }
    Some(())
}

/// A line's differences.
#[inline(always)]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the process works modulo 2^16"
)]
fn differences<const N: usize>(
    bits: &mut Bits<'_>,
    tables: &[Lookup<'_>; N],
    line: &mut [u16],
) -> Option<()> {
    for pixel in line.chunks_exact_mut(N) {
        for component in 0..N {
            pixel[component] = bits.difference(tables[component])? as u16;
        }
    }
    Some(())
}

/// A line of differences from what is predicted of left, above and the corner between them; its first sample from above.
#[inline(always)]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the process works modulo 2^16"
)]
fn general<const N: usize>(
    line: &mut [u16],
    above: &[u16],
    predict: impl Fn(i32, i32, i32) -> i32,
) {
    let mut left = [0u16; N];
    let mut corner = [0u16; N];
    for (x, (pixel, up)) in line
        .chunks_exact_mut(N)
        .zip(above.chunks_exact(N))
        .enumerate()
    {
        for component in 0..N {
            let predicted = if x == 0 {
                i32::from(up[component])
            } else {
                predict(
                    i32::from(left[component]),
                    i32::from(up[component]),
                    i32::from(corner[component]),
                )
            };
            let value = pixel[component].wrapping_add(predicted as u16);
            left[component] = value;
            corner[component] = up[component];
            pixel[component] = value;
        }
    }
}
