//! Several streams of one shape at a time, a sample of each in turn.
//!
//! Where a code ends is known only when it has been looked up: a processor that reads one stream waits for that at every sample.
//! The tiles of a picture know nothing of each other, so the samples of three fill each other's waits. Stuffed zeros are taken out
//! beforehand, a code is looked up with no regard to its further bits, and those are turned into a difference by arithmetic: no
//! branch depends on the picture, so that a noisy one costs no more than a clean one.
//! What is not plain sailing (restarts, a damaged stream) is left to [`LosslessJpeg::decode`], the plain twin, and its errors.

use super::LosslessJpeg;
use super::huffman::extended;
use super::unstuffed::{MOST_BYTES, unstuff};
use std::ops::Range;
use std::sync::Arc;

/// Streams that are read at a time. Measured on 24 megapixels in 384 tiles, before what three need fitted the registers: two 46 ms,
/// three 39, four 40, and 83 one after the other in the plain way. Now three take some 30, and four no less.
pub(crate) const TOGETHER: usize = 3;

/// Bytes that are read at a time.
const WORD: usize = size_of::<u64>();

/// Bits that look up a code with the first bit of its difference: codes of real files are rarely longer, and three tables of
/// these leave the first cache to the rest.
const INDEX: u32 = 10;

/// A [`Table`] by codes alone, a word for the next [`INDEX`] bits. The lowest 8 are the number of bits of code and difference, the
/// highest 6 that of the difference's, and the 16 from [`ADDED`] on make the difference of the latter (T.81, table F.1). 0 for
/// what takes more than one step.
#[derive(Clone, Debug)]
pub(super) struct ByCode(Box<Words>);

/// Where in a word stands what is added, and the number of the difference's bits.
const ADDED: u32 = 8;
const FURTHER: u32 = 26;

/// See [`ByCode`].
type Words = [u32; 1 << INDEX];

impl ByCode {
    /// From the numbers of codes per length and the values, which make a table (T.81, annex C).
    pub(super) fn new(counts: &[u8; 16], values: &[u8]) -> Self {
        let mut words = Box::new([0; 1 << INDEX]);
        let mut values = values.iter();
        let mut from = 0;
        for (length, &count) in (1..=INDEX).zip(counts) {
            // Each code is the first of what begins with it, and codes follow each other in order of length.
            let size = 1 << (INDEX - length);
            for &category in values.by_ref().take(usize::from(count)) {
                let its_own = words.get_mut(from..from + size).unwrap_or_default();
                let [negative, positive] = Self::words(length, u32::from(category));
                let (lower, upper) = its_own.split_at_mut(its_own.len() / 2);
                lower.fill(negative);
                upper.fill(positive);
                from += size;
            }
        }
        Self(words)
    }

    /// For a difference that begins with 0, and for one that begins with 1.
    fn words(length: u32, category: u32) -> [u32; 2] {
        let word = category << FURTHER | (length + category);
        match category {
            0 => [word; 2],
            // The index must hold the difference's first bit; a category of 16 has no further bits.
            1..=15 if length < INDEX => [word | (0x1_0001 - (1 << category)) << ADDED, word],
            _ => [0; 2],
        }
    }
}

/// The place of one stream, whose bits stand among those of all. Passed by value throughout: as a reference it would live in
/// memory, not in registers.
#[derive(Clone, Copy)]
struct Lane {
    /// Bits before the first one in hand.
    at: usize,
    /// The next bits, the very next one the most significant.
    held: u64,
}

/// Where a lane stands that met a code which no table holds: beyond the end of any stream.
const LOST: usize = usize::MAX / 2;

/// A shift looks at the lowest six bits of a number only.
const SHIFT: u32 = 63;

impl Lane {
    /// The same with at least 57 bits in hand.
    #[inline(always)]
    fn filled(self, bytes: &Bytes) -> Self {
        // Never beyond the end: a row that goes so far is refused when it is through.
        let rest = &bytes[self.at / 8 % CAPACITY..];
        let held = rest
            .first_chunk::<WORD>()
            .map_or(0, |word| u64::from_be_bytes(*word) << (self.at % 8));
        Self { held, ..self }
    }

    /// The next difference, modulo 2^16, and what follows it; 24 bits are in hand. `words` are those of the source's stream `at`
    /// and component `n`.
    #[inline(always)]
    fn difference(
        self,
        source: &Streams<'_>,
        words: &Words,
        (at, n): (usize, usize),
    ) -> (Self, u16) {
        let word = words[(self.held >> (64 - INDEX)) as usize];
        if word == 0 {
            return self.long_difference(source, (at, n));
        }
        // What is read goes to the lower end, where the difference's bits are the last: what follows it is in place as well. The
        // bits before stay there, out of the way of the next 24.
        let held = self.held.rotate_left(word & SHIFT);
        let further = held & !(u64::MAX << (word >> FURTHER));
        let next = Self {
            held,
            at: self.at + (word & 0xff) as usize,
        };
        (next, (word >> ADDED).wrapping_add(further as u32) as u16)
    }

    #[cold]
    #[inline(never)]
    fn long_difference(self, source: &Streams<'_>, (at, n): (usize, usize)) -> (Self, u16) {
        let held = self.filled(source.bytes).held;
        let Some((category, length)) = source.streams[at].tables[n].code(held) else {
            return (Self { at: LOST, held: 0 }, 0);
        };
        let category = u32::from(category);
        let difference = match category {
            // No further bits: the difference is 32768 itself.
            16 => 0x8000,
            0 => 0,
            _ => extended((held << length >> (64 - category)) as i32, category) as u16,
        };
        let at = self.at + (length + category % 16) as usize;
        (Self { at, held: 0 }.filled(source.bytes), difference)
    }
}

/// Working memory.
#[derive(Debug)]
pub(crate) struct Together {
    /// The scans without their stuffed zeros, each from a multiple of [`MOST_BYTES`] on: one place for all, so that one register
    /// finds them.
    bytes: Box<[u8]>,
    /// Their tables, each component's, for the same reason.
    words: Box<[[Words; MOST_COMPONENTS]; TOGETHER]>,
}

/// Components that are read this way.
const MOST_COMPONENTS: usize = 2;
/// Bytes for the scans; a power of two, so that a place is held to it by its lowest bits.
const CAPACITY: usize = (TOGETHER * MOST_BYTES).next_power_of_two();
type Bytes = [u8; CAPACITY + WORD];

impl Default for Together {
    fn default() -> Self {
        Self {
            bytes: vec![0; CAPACITY + WORD].into_boxed_slice(),
            words: Box::new([[[0; 1 << INDEX]; MOST_COMPONENTS]; TOGETHER]),
        }
    }
}

/// What a group is read from.
struct Streams<'a> {
    streams: [&'a LosslessJpeg<'a>; TOGETHER],
    bytes: &'a Bytes,
    /// Bits at which each scan ends.
    ends: [usize; TOGETHER],
    words: &'a [[Words; MOST_COMPONENTS]; TOGETHER],
}

impl Together {
    /// Decodes as many rows of each stream, as [`LosslessJpeg::decode`] does. `false`, with values of no meaning, where a stream is
    /// damaged or these are not streams for this way.
    pub(crate) fn decode(
        &mut self,
        streams: [&LosslessJpeg<'_>; TOGETHER],
        rows: usize,
        values: &mut [u16],
        steps: Steps,
    ) -> bool {
        let [first, ..] = streams;
        let alike = |stream: &LosslessJpeg<'_>| {
            stream.restart_lines == 0
                && stream.components == first.components
                && stream.row_length() == first.row_length()
                && stream.predictor == first.predictor
                && stream.height >= rows
        };
        if !streams.into_iter().all(alike) || first.components > MOST_COMPONENTS {
            return false;
        }
        let has_one_table = |stream: &LosslessJpeg<'_>| {
            let mut tables = stream.tables.iter();
            tables.all(|table| Arc::ptr_eq(table, &stream.tables[0]))
        };
        let has_one_table = streams.into_iter().all(has_one_table);
        let tables = if has_one_table { 1 } else { MOST_COMPONENTS };
        let mut ends = [0; TOGETHER];
        for (at, (stream, end)) in streams.into_iter().zip(&mut ends).enumerate() {
            let start = at * MOST_BYTES;
            let Some(scan_length) = unstuff(stream.scan, &mut self.bytes[start..]) else {
                return false;
            };
            *end = 8 * (start + scan_length);
            for (words, table) in self.words[at].iter_mut().zip(&stream.tables).take(tables) {
                words.copy_from_slice(&*table.by_code.0);
            }
        }
        let Some(bytes) = self.bytes.first_chunk() else {
            return false;
        };
        let source = Streams {
            streams,
            bytes,
            ends,
            words: &self.words,
        };
        let lines = Lines {
            values,
            steps,
            length: first.row_length(),
            rows,
        };
        match first.components {
            1 => one_component(&source, lines),
            2 if has_one_table => two_with_one_table(&source, lines),
            _ => two_components(&source, lines),
        }
        .is_some()
    }
}

/// How far values are from each other in memory.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Steps {
    /// From the first of a stream to the first of the next.
    pub(crate) stream: usize,
    /// From the first of a row to the first of the next.
    pub(crate) row: usize,
}

/// Where the values go.
struct Lines<'a> {
    values: &'a mut [u16],
    steps: Steps,
    /// Values in a row.
    length: usize,
    rows: usize,
}

impl Lines<'_> {
    /// Where row `y` of the stream `at` is.
    fn place(&self, at: usize, y: usize) -> Range<usize> {
        let start = at * self.steps.stream + y * self.steps.row;
        start..start + self.length
    }

    /// Row `y` of each stream. `None` where there is no room for them.
    fn row(&mut self, y: usize) -> Option<[&mut [u16]; TOGETHER]> {
        let places = std::array::from_fn(|at| self.place(at, y));
        self.values.get_disjoint_mut(places).ok()
    }

    /// Row `y` of a stream, and the one above it.
    fn row_and_above(&mut self, at: usize, y: usize) -> Option<[&mut [u16]; 2]> {
        let places = [self.place(at, y), self.place(at, y.checked_sub(1)?)];
        self.values.get_disjoint_mut(places).ok()
    }
}

/// One component: see [`rows`].
#[multiversion::multiversion(targets("x86_64+bmi1+bmi2+movbe", "aarch64+neon"))]
fn one_component(source: &Streams<'_>, lines: Lines<'_>) -> Option<()> {
    rows::<1, true>(source, lines)
}

/// Two components, as bodies and converters have them for mosaics: see [`rows`].
#[multiversion::multiversion(targets("x86_64+bmi1+bmi2+movbe", "aarch64+neon"))]
fn two_components(source: &Streams<'_>, lines: Lines<'_>) -> Option<()> {
    rows::<2, false>(source, lines)
}

/// Two components with the same table: see [`rows`].
#[multiversion::multiversion(targets("x86_64+bmi1+bmi2+movbe", "aarch64+neon"))]
fn two_with_one_table(source: &Streams<'_>, lines: Lines<'_>) -> Option<()> {
    rows::<2, true>(source, lines)
}

/// Decodes all rows. `None` for a damaged stream.
#[inline(always)]
fn rows<const N: usize, const HAS_ONE_TABLE: bool>(
    source: &Streams<'_>,
    mut lines: Lines<'_>,
) -> Option<()> {
    let streams = source.streams;
    let mut lanes = std::array::from_fn(|at| Lane {
        at: 8 * at * MOST_BYTES,
        held: 0,
    });
    // What the first pixel of a line is predicted from: that above it.
    let mut firsts = streams.map(|stream| [stream.initial(); N]);
    for y in 0..lines.rows {
        let row = lines.row(y)?.map(|row| row.as_chunks_mut::<N>().0);
        let from_left = y == 0 || streams[0].predictor == 1;
        if from_left {
            (lanes, firsts) = line::<N, HAS_ONE_TABLE, true>(lanes, source, firsts, row);
        } else {
            (lanes, _) = line::<N, HAS_ONE_TABLE, false>(lanes, source, firsts, row);
        }
        let is_beyond = |(lane, end): (&Lane, usize)| lane.at > end;
        if lanes.iter().zip(source.ends).any(is_beyond) {
            return None;
        }
        if !from_left {
            for at in 0..TOGETHER {
                let [row, above] = lines.row_and_above(at, y)?;
                streams[0].add_predictions::<N>(above, row);
            }
        }
    }
    if streams.iter().any(|stream| stream.point_transform > 0) {
        for y in 0..lines.rows {
            for (stream, row) in streams.iter().zip(lines.row(y)?) {
                stream.shift_back(row);
            }
        }
    }
    Some(())
}

/// One line of each stream: sums of the differences from `left` on, or the differences themselves. Returns where the lanes are
/// then, and the lines' first pixels.
#[inline(always)]
fn line<const N: usize, const HAS_ONE_TABLE: bool, const SUMS: bool>(
    mut lanes: [Lane; TOGETHER],
    source: &Streams<'_>,
    left: [[u16; N]; TOGETHER],
    mut lines: [&mut [[u16; N]]; TOGETHER],
) -> ([Lane; TOGETHER], [[u16; N]; TOGETHER]) {
    let width = lines[0].len();
    lines = lines.map(|line| &mut line[..width]);
    // What a pixel is predicted from is read where it stands, one place to the left, or the first one's in its own place: lanes need
    // the registers.
    for (line, left) in lines.iter_mut().zip(left) {
        if let Some(first) = line.first_mut() {
            *first = left;
        }
    }
    if width > 0 {
        lanes = pixel::<N, HAS_ONE_TABLE, SUMS>(lanes, source, &mut lines, [0, 0]);
    }
    for x in 1..width {
        lanes = pixel::<N, HAS_ONE_TABLE, SUMS>(lanes, source, &mut lines, [x - 1, x]);
    }
    let firsts = lines.map(|line| line.first().copied().unwrap_or([0; N]));
    (lanes, firsts)
}

/// The pixel at `x` of each line, from the one at `from` on.
#[inline(always)]
#[expect(
    clippy::needless_range_loop,
    reason = "a sample of several lines at a time"
)]
fn pixel<const N: usize, const HAS_ONE_TABLE: bool, const SUMS: bool>(
    mut lanes: [Lane; TOGETHER],
    source: &Streams<'_>,
    lines: &mut [&mut [[u16; N]]; TOGETHER],
    [from, x]: [usize; 2],
) -> [Lane; TOGETHER] {
    // Two samples of 24 bits at most, nine of a code and 15 of its difference: one filling. What is longer fills for itself.
    for lane in &mut lanes {
        *lane = lane.filled(source.bytes);
    }
    for n in 0..N {
        for at in 0..TOGETHER {
            let words = &source.words[at][if HAS_ONE_TABLE { 0 } else { n }];
            let (next, difference) = lanes[at].difference(source, words, (at, n));
            lanes[at] = next;
            lines[at][x][n] = if SUMS {
                lines[at][from][n].wrapping_add(difference)
            } else {
                difference
            };
        }
    }
    lanes
}

#[cfg(test)]
mod tests;
