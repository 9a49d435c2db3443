//! The bytes of a scan, written code by code: ITU-T T.81, F.1.2.3.

use super::tables::{COEFFICIENTS, Code};
use std::io::{self, Write};

/// Bytes that are written at a time.
const WORD: usize = size_of::<u64>();
/// Most bytes that a block can take before stuffing: 64 codes of 16 bits with 11 further bits each.
pub(super) const MOST_BYTES: usize = COEFFICIENTS * 27 / 8;

/// A code of up to 27 bits in one number: its bits stand above its length, which takes five.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Packed(u32);

impl Packed {
    pub(super) const NONE: Self = Self(0);
    const LENGTH_BITS: u32 = 5;

    #[inline(always)]
    pub(super) fn new(code: Code) -> Self {
        Self(code.bits << Self::LENGTH_BITS | code.length)
    }

    #[inline(always)]
    fn bits(self) -> u64 {
        u64::from(self.0 >> Self::LENGTH_BITS)
    }

    #[inline(always)]
    fn length(self) -> u32 {
        self.0 & ((1 << Self::LENGTH_BITS) - 1)
    }
}

/// The bytes of a scan.
#[derive(Debug, Default)]
pub(super) struct Scan {
    bytes: Vec<u8>,
    /// What a pen writes, before stuffing.
    plain: Vec<u8>,
    /// Bits that fill no byte yet: the lowest `have`.
    held: u64,
    have: u32,
}

impl Scan {
    /// Writes what is coded so far, in whole bytes, and forgets it.
    pub(super) fn write_to(&mut self, to: &mut impl Write) -> io::Result<()> {
        to.write_all(&self.bytes)?;
        self.bytes.clear();
        Ok(())
    }

    /// How many bytes wait.
    pub(super) fn waiting(&self) -> usize {
        self.bytes.len()
    }

    /// Fills the last byte with ones: T.81, F.1.2.3.
    pub(super) fn finish(&mut self) {
        self.code(1, |pen| {
            let ones = Code {
                bits: 0x7f,
                length: 7,
            };
            pen.put(Packed::new(ones), Packed::NONE);
        });
        self.have = 0;
    }

    /// Codes up to so many blocks with a pen.
    #[inline(always)]
    pub(super) fn code(&mut self, blocks: usize, code: impl FnOnce(&mut Pen<'_>)) {
        let room = blocks * MOST_BYTES + WORD;
        if self.plain.len() < room {
            self.plain.resize(room, 0);
        }
        let mut pen = Pen {
            bytes: &mut self.plain,
            at: 0,
            held: self.held,
            have: self.have,
        };
        code(&mut pen);
        let Pen { at, held, have, .. } = pen;
        (self.held, self.have) = (held, have);
        self.stuff(at);
    }

    /// Takes the first bytes that the pen has written. A byte of 255 would begin a marker; a zero after it says that it does not
    /// (T.81, F.1.2.3).
    fn stuff(&mut self, length: usize) {
        let mut rest = &self.plain[..length];
        while let Some(place) = memchr::memchr(0xff, rest) {
            let (run, behind) = rest.split_at(place + 1);
            self.bytes.extend_from_slice(run);
            self.bytes.push(0);
            rest = behind;
        }
        self.bytes.extend_from_slice(rest);
    }
}

/// Writes codes one after the other.
#[derive(Debug)]
pub(super) struct Pen<'a> {
    bytes: &'a mut [u8],
    at: usize,
    held: u64,
    have: u32,
}

impl Pen<'_> {
    /// Appends two codes. Eight bytes are written each time, of which whole ones count: a branch on how many there are would be
    /// guessed wrong half the time.
    #[inline(always)]
    pub(super) fn put(&mut self, first: Packed, second: Packed) {
        let length = first.length() + second.length();
        let bits = first.bits() << second.length() | second.bits();
        self.held = self.held << length | bits;
        self.have += length;
        if let Some(place) = self.bytes.get_mut(self.at..self.at + WORD) {
            // With nothing held, what is written is written over.
            place.copy_from_slice(&self.held.wrapping_shl(64 - self.have).to_be_bytes());
        }
        self.at += (self.have / 8) as usize;
        self.have %= 8;
    }
}
