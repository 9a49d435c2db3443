//! Several streams of one shape at a time, a sample of each in turn.
//!
//! Where a code ends is known only when it has been looked up: a processor that reads one stream waits for that at every sample.
//! The tiles of a picture know nothing of each other, so the samples of three fill each other's waits. Stuffed zeros are taken out
//! beforehand, a code is looked up with no regard to its further bits, and those are turned into a difference by arithmetic: no
//! branch depends on the picture, so that a noisy one costs no more than a clean one.
//! What is not plain sailing (restarts, a damaged stream) is left to [`LosslessJpeg::decode`], the plain twin, and its errors.

use super::LosslessJpeg;
use super::huffman::extended;
use super::unstuffed::{MOST_BYTES, Unstuffed, WORD};

/// Streams that are read at a time. Measured on 24 megapixels in 384 tiles: two 46 ms, three 39, four 40, and 83 one after the
/// other in the plain way.
pub(crate) const TOGETHER: usize = 3;

/// Bits that look up a code with the first bit of its difference: codes of real files are rarely longer, and three tables of
/// these leave the first cache to the rest.
const INDEX: u32 = 10;

/// A [`Table`] by codes alone, a word for the next [`INDEX`] bits. From the lowest byte on: the bits of code and difference, those
/// of the difference, and in the upper half what makes the difference of the latter (T.81, table F.1). 0 for what takes more
/// than one step.
#[derive(Clone, Debug)]
pub(super) struct ByCode(Box<Words>);

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
        let word = category << 8 | (length + category);
        match category {
            0 => [word; 2],
            // The index must hold the difference's first bit; a category of 16 has no further bits.
            1..=15 if length < INDEX => [word | (0x1_0001 - (1 << category)) << 16, word],
            _ => [0; 2],
        }
    }
}

/// The bits of one stream.
#[derive(Clone, Copy)]
struct Lane<'a> {
    bytes: &'a [u8; MOST_BYTES + WORD],
    /// Bits before the first one in hand.
    at: usize,
    /// The next bits, the very next one the most significant.
    held: u64,
    /// Whether there was a code that no table holds.
    is_lost: bool,
}

/// A shift looks at the lowest six bits of a number only.
const SHIFT: u32 = 63;

impl<'a> Lane<'a> {
    fn new(bytes: &'a [u8; MOST_BYTES + WORD]) -> Self {
        Self {
            bytes,
            at: 0,
            held: 0,
            is_lost: false,
        }
    }

    /// At least 57 bits in hand.
    #[inline(always)]
    fn fill(&mut self) {
        // Never beyond the end: a row that goes so far is refused when it is through.
        let rest = &self.bytes[self.at / 8 % MOST_BYTES..];
        if let Some(word) = rest.first_chunk::<WORD>() {
            self.held = u64::from_be_bytes(*word) << (self.at % 8);
        }
    }

    /// The next difference, modulo 2^16; 24 bits are in hand.
    #[inline(always)]
    fn difference(&mut self, table: &Words, stream: &LosslessJpeg<'_>, component: usize) -> u16 {
        let word = table[(self.held >> (64 - INDEX)) as usize];
        if word == 0 {
            return self.long_difference(stream, component);
        }
        let all = self.held >> (word.wrapping_neg() & SHIFT);
        let further = all & !(u64::MAX << (word >> 8 & SHIFT));
        self.held <<= word & SHIFT;
        self.at += (word & 0xff) as usize;
        (word >> 16).wrapping_add(further as u32) as u16
    }

    #[cold]
    #[inline(never)]
    fn long_difference(&mut self, stream: &LosslessJpeg<'_>, component: usize) -> u16 {
        self.fill();
        let table = &stream.tables[component];
        let Some((category, length)) = table.code(self.held) else {
            self.is_lost = true;
            return 0;
        };
        let category = u32::from(category);
        let bits = match category {
            // No further bits: the difference is 32768 itself.
            16 => 0x8000,
            0 => 0,
            _ => extended((self.held << length >> (64 - category)) as i32, category) as u16,
        };
        self.at += (length + category % 16) as usize;
        self.fill();
        bits
    }
}

/// Working memory.
#[derive(Debug, Default)]
pub(crate) struct Together {
    scans: [Unstuffed; TOGETHER],
}

impl Together {
    /// Decodes streams into as many rows of each as its values fill, as [`LosslessJpeg::decode`] does. `false`, with values of no
    /// meaning, where a stream is damaged or these are not streams for this way.
    pub(crate) fn decode(
        &mut self,
        streams: [&LosslessJpeg<'_>; TOGETHER],
        values: [&mut [u16]; TOGETHER],
    ) -> bool {
        let [first, ..] = streams;
        let (length, wanted) = (first.row_length(), values[0].len());
        let alike = |stream: &LosslessJpeg<'_>| {
            stream.restart_lines == 0
                && stream.components == first.components
                && stream.row_length() == length
                && stream.predictor == first.predictor
                && stream.height >= wanted / length
        };
        if !streams.into_iter().all(alike)
            || values.iter().any(|values| values.len() != wanted)
            || !wanted.is_multiple_of(length)
        {
            return false;
        }
        for (scan, stream) in self.scans.iter_mut().zip(streams) {
            if scan.fill(stream.scan).is_none() {
                return false;
            }
        }
        let mut pictures = values;
        match first.components {
            1 => one_component(&streams, &self.scans, &mut pictures),
            2 => two_components(&streams, &self.scans, &mut pictures),
            _ => return false,
        }
        .is_some()
    }
}

/// One component: see [`rows`].
#[multiversion::multiversion(targets("x86_64+bmi1+bmi2+movbe", "aarch64+neon"))]
fn one_component(
    streams: &[&LosslessJpeg<'_>; TOGETHER],
    scans: &[Unstuffed; TOGETHER],
    pictures: &mut [&mut [u16]; TOGETHER],
) -> Option<()> {
    rows::<1>(streams, scans, pictures)
}

/// Two components, as bodies and converters have them for mosaics: see [`rows`].
#[multiversion::multiversion(targets("x86_64+bmi1+bmi2+movbe", "aarch64+neon"))]
fn two_components(
    streams: &[&LosslessJpeg<'_>; TOGETHER],
    scans: &[Unstuffed; TOGETHER],
    pictures: &mut [&mut [u16]; TOGETHER],
) -> Option<()> {
    rows::<2>(streams, scans, pictures)
}

/// Decodes all rows. `None` for a damaged stream.
#[inline(always)]
fn rows<const N: usize>(
    streams: &[&LosslessJpeg<'_>; TOGETHER],
    scans: &[Unstuffed; TOGETHER],
    pictures: &mut [&mut [u16]; TOGETHER],
) -> Option<()> {
    let length = streams[0].row_length();
    let rows = pictures[0].len() / length;
    let tables = streams.map(|stream| {
        stream
            .component_tables::<N>()
            .map(|table| &*table.by_code.0)
    });
    let mut lanes = scans.each_ref().map(|scan| Lane::new(scan.bytes()));
    for row in 0..rows {
        let mut parts = pictures
            .each_mut()
            .map(|values| values.split_at_mut(row * length));
        let above = parts
            .each_ref()
            .map(|(above, _)| &above[above.len().saturating_sub(length)..]);
        let from_left = row == 0 || streams[0].predictor == 1;
        let mut left = [[0; N]; TOGETHER];
        if from_left {
            for ((left, stream), above) in left.iter_mut().zip(streams).zip(above) {
                *left = match above.first_chunk::<N>() {
                    Some(above) => *above,
                    None => [stream.initial(); N],
                };
            }
        }
        {
            let lines = parts
                .each_mut()
                .map(|(_, line)| line[..length].as_chunks_mut::<N>().0);
            if from_left {
                line::<N, true>(&mut lanes, streams, &tables, left, lines);
            } else {
                line::<N, false>(&mut lanes, streams, &tables, left, lines);
            }
        }
        for (lane, scan) in lanes.iter().zip(scans) {
            if lane.is_lost || lane.at > 8 * scan.len() {
                return None;
            }
        }
        if !from_left {
            for (above, line) in &mut parts {
                let above = &above[above.len() - length..];
                streams[0].add_predictions::<N>(above, &mut line[..length]);
            }
        }
    }
    for (stream, values) in streams.iter().zip(pictures) {
        stream.shift_back(values);
    }
    Some(())
}

/// One line of each stream: sums of the differences from `left` on, or the differences themselves.
#[inline(always)]
#[expect(
    clippy::needless_range_loop,
    reason = "a place in several lines at a time"
)]
fn line<const N: usize, const SUMS: bool>(
    lanes: &mut [Lane<'_>; TOGETHER],
    streams: &[&LosslessJpeg<'_>; TOGETHER],
    tables: &[[&Words; N]; TOGETHER],
    mut left: [[u16; N]; TOGETHER],
    mut lines: [&mut [[u16; N]]; TOGETHER],
) {
    let width = lines[0].len();
    lines = lines.map(|line| &mut line[..width]);
    let mut own = *lanes;
    for x in 0..width {
        // Two samples of 24 bits at most, nine of a code and 15 of its difference: one filling. What is longer fills for itself.
        for lane in &mut own {
            lane.fill();
        }
        for n in 0..N {
            for at in 0..TOGETHER {
                let difference = own[at].difference(tables[at][n], streams[at], n);
                left[at][n] = if SUMS {
                    left[at][n].wrapping_add(difference)
                } else {
                    difference
                };
                lines[at][x][n] = left[at][n];
            }
        }
    }
    *lanes = own;
}

#[cfg(test)]
mod tests;
