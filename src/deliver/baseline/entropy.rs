//! Huffman coding of quantised coefficients: ITU-T T.81, F.1.2.

use super::tables::{AC, COEFFICIENTS, Code, DC, ZIGZAG, codes};
use super::transform::{Block, SIDE};
use crate::base::words::{WORD, has_255};
use std::io::{self, Write};

/// Most bytes that a block can take before stuffing: 64 codes of 16 bits with 11 further bits each.
const MOST_BYTES: usize = COEFFICIENTS * 27 / 8;

/// Values from 32 below to 31 above zero are looked up together with their code: all but a few in a thousand.
const SMALL: i32 = 32;
const SMALLS: usize = 2 * SMALL as usize;
/// A run of zeros before a value is shorter than this.
const RUNS: usize = 16;

/// The codes of luminance, or of chrominance.
#[derive(Debug)]
pub(super) struct Codes {
    /// By category.
    dc: [Code; 256],
    /// By run and size.
    ac: [Code; 256],
    /// By run and value, code and further bits in one.
    small: Box<[[Code; SMALLS]; RUNS]>,
    /// Which bits of the order of the file belong to the coefficients of a block's row that are set in an index of eight bits.
    in_order: Box<[[u64; 256]; SIDE]>,
}

impl Codes {
    /// Of the first kind (luminance) or the second (chrominance).
    pub(super) fn new(kind: usize) -> Self {
        let mut places = [0; COEFFICIENTS];
        for (place, &at) in (0_u64..).zip(&ZIGZAG) {
            places[usize::from(at)] = place;
        }
        let in_order = |row: usize, set: usize| {
            let columns = (0..SIDE).filter(|column| set >> column & 1 == 1);
            columns.fold(0, |bits, column| bits | 1 << places[row * SIDE + column])
        };
        let ac = codes(&AC[kind]);
        let mut small = Box::new([[Code::default(); SMALLS]; RUNS]);
        for (run, small) in (0..).zip(small.iter_mut()) {
            for (value, code) in (-SMALL..).zip(small) {
                *code = with_value(value, run, &ac);
            }
        }
        Self {
            dc: codes(&DC[kind]),
            ac,
            small,
            in_order: Box::new(std::array::from_fn(|row| {
                std::array::from_fn(|set| in_order(row, set))
            })),
        }
    }

    /// The coefficients that are not zero, a bit each in the order of the file.
    #[inline(always)]
    fn not_zero(&self, block: &Block) -> u64 {
        /// Gathers the lowest bits of eight bytes in the highest byte.
        const GATHER: u64 = 0x0102_0408_1020_4080;
        let rows = block.as_chunks::<SIDE>().0.iter();
        rows.zip(self.in_order.iter()).fold(0, |all, (row, bits)| {
            let set = u64::from_le_bytes(row.map(|value| u8::from(value != 0)));
            all | bits[(set.wrapping_mul(GATHER) >> 56) as usize]
        })
    }
}

/// The code of a value after a run of zeros: of its size (T.81, table F.1), and as many bits, those of one less where it is
/// negative.
#[inline(always)]
fn with_value(value: i32, run: u32, codes: &[Code; 256]) -> Code {
    let size = 32 - value.unsigned_abs().leading_zeros();
    let bits = (value + (value >> 31)).cast_unsigned() & ((1 << size) - 1);
    let code = codes[(run << 4 | size) as usize % 256];
    Code {
        bits: code.bits << size | bits,
        length: code.length + size,
    }
}

/// The bytes of a scan.
#[derive(Debug, Default)]
pub(super) struct Scan {
    /// The first `at` of them are written.
    bytes: Vec<u8>,
    at: usize,
    /// What a pen writes, before stuffing.
    plain: Vec<u8>,
    /// Bits that fill no byte yet: the lowest `have`.
    held: u64,
    have: u32,
}

impl Scan {
    /// Writes what is coded so far, in whole bytes, and forgets it.
    pub(super) fn write_to(&mut self, to: &mut impl Write) -> io::Result<()> {
        to.write_all(&self.bytes[..self.at])?;
        self.at = 0;
        Ok(())
    }

    /// How many bytes wait.
    pub(super) fn waiting(&self) -> usize {
        self.at
    }

    /// Fills the last byte with ones: T.81, F.1.2.3.
    pub(super) fn finish(&mut self) {
        self.code(1, |pen| {
            pen.put(Code {
                bits: 0x7f,
                length: 7,
            });
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
        let room = self.at + 2 * length + WORD;
        if self.bytes.len() < room {
            self.bytes.resize(room, 0);
        }
        let mut from = 0;
        while from < length {
            let word = self.plain[from..].first_chunk::<WORD>();
            if let Some(word) = word.filter(|word| !has_255(**word)) {
                self.bytes[self.at..self.at + WORD].copy_from_slice(word);
                let count = WORD.min(length - from);
                from += count;
                self.at += count;
                continue;
            }
            let byte = self.plain[from];
            from += 1;
            self.bytes[self.at] = byte;
            self.at += 1;
            if byte == 0xff {
                self.bytes[self.at] = 0;
                self.at += 1;
            }
        }
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
    /// Appends up to 27 bits. Eight bytes are written each time, of which whole ones count: a branch on how many there are would
    /// be guessed wrong half the time.
    #[inline(always)]
    fn put(&mut self, Code { bits, length }: Code) {
        self.held = self.held << length | u64::from(bits);
        self.have += length;
        if let Some(place) = self.bytes.get_mut(self.at..self.at + WORD) {
            place.copy_from_slice(&(self.held << (64 - self.have)).to_be_bytes());
        }
        self.at += (self.have / 8) as usize;
        self.have %= 8;
    }

    /// Codes a block. `before` is the first coefficient of the component's block before it, and becomes this one's.
    #[inline(always)]
    pub(super) fn block(&mut self, block: &Block, before: &mut i16, codes: &Codes) {
        let difference = i32::from(block[0]) - i32::from(*before);
        self.put(with_value(difference, 0, &codes.dc));
        *before = block[0];
        let mut left = codes.not_zero(block) & !1;
        let mut last = 0;
        while left != 0 {
            let at = left.trailing_zeros();
            let mut run = at - last - 1;
            while run > 15 {
                self.put(codes.ac[0xf0]);
                run -= 16;
            }
            let place = usize::from(ZIGZAG[at as usize % COEFFICIENTS]);
            let value = i32::from(block[place]);
            let small = codes.small[run as usize % RUNS].get((value + SMALL) as usize);
            self.put(match small {
                Some(code) => *code,
                None => with_value(value, run, &codes.ac),
            });
            last = at;
            left &= left - 1;
        }
        if last as usize != COEFFICIENTS - 1 {
            self.put(codes.ac[0]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scan_of(blocks: &[Block]) -> Vec<u8> {
        let codes = Codes::new(0);
        let (mut scan, mut before, mut bytes) = (Scan::default(), 0, Vec::new());
        scan.code(blocks.len(), |pen| {
            for block in blocks {
                pen.block(block, &mut before, &codes);
            }
        });
        scan.finish();
        scan.write_to(&mut bytes).expect("a vector takes all");
        bytes
    }

    fn block_of(values: &[(usize, i16)]) -> Block {
        let mut block = [0; COEFFICIENTS];
        for &(place, value) in values {
            block[usize::from(ZIGZAG[place])] = value;
        }
        block
    }

    #[test]
    fn blocks_are_coded_as_the_standards_tables_say() {
        // Difference 5: category 3, code 100, bits 101. Run 0 size 1 is 00, value -1 has the bit 0. Sixteen zeros are
        // 11111111001; then run 1 size 2 is 11011, value 3 has 11. The end is 1010, padding ones.
        let block = block_of(&[(0, 5), (1, -1), (19, 3)]);
        let bits = "100101".to_owned() + "000" + "11111111001" + "1101111" + "1010" + "1";
        let expected: Vec<u8> = (bits.as_bytes().chunks(8))
            .map(|byte| {
                u8::from_str_radix(std::str::from_utf8(byte).expect("text"), 2).expect("bits")
            })
            .collect();
        assert_eq!(scan_of(&[block]), expected);
        // The last coefficient needs no end; a second equal block has the difference 0, code 00.
        let last = block_of(&[(0, 0), (63, 1)]);
        // 00, three times sixteen zeros, run 14 size 1: 1111111111101011 (table K.5), bit 1.
        let bits = format!("00{}1111111111101011", "11111111001".repeat(3)) + "1" + "1";
        let mut expected = Vec::new();
        for byte in bits.as_bytes().chunks(8) {
            let text = format!("{:1<8}", std::str::from_utf8(byte).expect("text"));
            expected.push(u8::from_str_radix(&text, 2).expect("bits"));
            if expected.last() == Some(&0xff) {
                expected.push(0);
            }
        }
        assert_eq!(scan_of(&[last])[..6], expected[..6]);
    }

    #[test]
    fn the_worst_block_fits_its_room() {
        // Largest values in all places, signs by turns, so that codes are long and bytes of 255 many.
        for value in [1023, -1023, 1, -1, 512] {
            let mut block = [value; COEFFICIENTS];
            for (at, value) in block.iter_mut().enumerate() {
                *value *= if at % 2 == 0 { 1 } else { -1 };
            }
            assert!(scan_of(&[block; 9]).len() <= 9 * 2 * MOST_BYTES);
        }
    }
}
