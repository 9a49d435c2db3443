//! Huffman coding of quantised coefficients: ITU-T T.81, F.1.2.
//!
//! A block is coded from the marks of its coefficients that are not zero, two codes at a time, without asking whether a value
//! is large or a run long: blocks where one is are known beforehand and go another way.

use super::LANES;
use super::group::{Group, RUNS, SMALL};
use super::scan::{Packed, Pen};
use super::tables::{AC, COEFFICIENTS, Code, DC, codes};

const SMALLS: usize = 2 * SMALL as usize;

/// The codes of luminance, or of chrominance.
#[derive(Debug)]
pub(super) struct Codes {
    /// By category.
    dc: [Code; 256],
    /// By run and size.
    ac: [Code; 256],
    /// By run and value, code and further bits in one; none for zero.
    small: Box<[[Packed; SMALLS]; RUNS as usize]>,
}

impl Codes {
    /// Of the first kind (luminance) or the second (chrominance).
    pub(super) fn new(kind: usize) -> Self {
        let ac = codes(&AC[kind]);
        let mut small = Box::new([[Packed::NONE; SMALLS]; RUNS as usize]);
        for (run, small) in (0..).zip(small.iter_mut()) {
            for (value, code) in (-i32::from(SMALL)..).zip(small) {
                if value != 0 {
                    *code = Packed::new(with_value(value, run, &ac));
                }
            }
        }
        Self {
            dc: codes(&DC[kind]),
            ac,
            small,
        }
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

impl Pen<'_> {
    /// Ends the block before, and codes the first coefficient of one of the blocks of a group, and then the others. `before` is
    /// the first coefficient of the component's block before it, and becomes this one's; the end that this block needs is returned.
    #[inline(always)]
    pub(super) fn block(
        &mut self,
        end: End,
        group: &Group,
        lane: usize,
        before: &mut i16,
        codes: &Codes,
    ) -> End {
        let lane = lane % LANES;
        let first = group.first[lane];
        let code = with_value(i32::from(first) - i32::from(*before), 0, &codes.dc);
        *before = first;
        let first = Packed::new(end.0.then(code));
        let mut rest = Rest {
            left: group.set[lane],
            next: 1,
        };
        let end = End(match rest.left >> (COEFFICIENTS - 1) {
            0 => codes.ac[0],
            _ => Code::default(),
        });
        if group.unusual[lane] != 0 {
            self.put(first, Packed::NONE);
            self.unusual_block(rest, group, lane, codes);
            return end;
        }
        // Past the last coefficient there are codes of no bits: a few of them cost less than asking each time.
        let second = rest.small(group, lane, codes);
        self.put(first, second);
        while rest.left != 0 {
            self.two(&mut rest, group, lane, codes);
            self.two(&mut rest, group, lane, codes);
        }
        end
    }

    /// Codes the next two coefficients of a block without unusual ones.
    #[inline(always)]
    fn two(&mut self, rest: &mut Rest, group: &Group, lane: usize, codes: &Codes) {
        let first = rest.small(group, lane, codes);
        let second = rest.small(group, lane, codes);
        self.put(first, second);
    }

    /// Codes the coefficients of a block, with values of any size after runs of any length.
    fn unusual_block(&mut self, mut rest: Rest, group: &Group, lane: usize, codes: &Codes) {
        while rest.left != 0 {
            let first = self.any(&mut rest, group, lane, codes);
            let is_near = rest.left != 0 && rest.run() < RUNS;
            let second = if is_near {
                self.any(&mut rest, group, lane, codes)
            } else {
                Packed::NONE
            };
            self.put(first, second);
        }
    }

    /// The code of the next coefficient, of any size after a run of any length: sixteen zeros have a code of their own, which is put.
    #[inline(always)]
    fn any(&mut self, rest: &mut Rest, group: &Group, lane: usize, codes: &Codes) -> Packed {
        let (at, mut run) = rest.take();
        while run >= RUNS {
            self.put(Packed::new(codes.ac[0xf0]), Packed::NONE);
            run -= RUNS;
        }
        let value = i32::from(group.coefficients[at][lane]);
        Packed::new(with_value(value, run, &codes.ac))
    }

    /// Ends the last block of a run of them.
    pub(super) fn end(&mut self, end: End) {
        self.put(Packed::new(end.0), Packed::NONE);
    }
}

/// The code that ends a block: of no bits where its last coefficient is not zero.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct End(Code);

/// The coefficients of a block that are not coded yet.
struct Rest {
    /// Those that are not zero.
    left: u64,
    /// The one after the last that was coded.
    next: u32,
}

impl Rest {
    /// How many zeros stand before the next that is not zero.
    #[inline(always)]
    fn run(&self) -> u32 {
        self.left.trailing_zeros().wrapping_sub(self.next)
    }

    /// The next that is not zero, and how many zeros stand before it.
    #[inline(always)]
    fn take(&mut self) -> (usize, u32) {
        let (at, run) = (self.left.trailing_zeros(), self.run());
        self.next = at + 1;
        self.left &= self.left.wrapping_sub(1);
        (at as usize % COEFFICIENTS, run)
    }

    /// The code of the next in a block where none is unusual; when none is left, the one of the first, which is kept as 0 and
    /// whose code has no bits.
    #[inline(always)]
    fn small(&mut self, group: &Group, lane: usize, codes: &Codes) -> Packed {
        let (at, run) = self.take();
        let value = group.coefficients[at][lane].wrapping_add(SMALL);
        codes.small[(run % RUNS) as usize][value as usize % SMALLS]
    }
}

#[cfg(test)]
mod tests {
    use super::super::scan::{MOST_BYTES, Scan};
    use super::*;

    /// A block's coefficients in the order of the file.
    type Block = [i16; COEFFICIENTS];

    fn scan_of(blocks: &[Block]) -> Vec<u8> {
        let mut group = Group::EMPTY;
        for (lane, block) in blocks.iter().enumerate() {
            for (place, value) in block.iter().enumerate() {
                group.coefficients[place][lane] = *value;
                group.set[lane] |= u64::from(*value != 0) << place;
            }
        }
        group.settle();
        let codes = Codes::new(0);
        let (mut scan, mut before, mut bytes) = (Scan::default(), 0, Vec::new());
        scan.code(blocks.len(), |pen| {
            let mut end = End::default();
            for lane in 0..blocks.len() {
                end = pen.block(end, &group, lane, &mut before, &codes);
            }
            pen.end(end);
        });
        scan.finish();
        scan.write_to(&mut bytes).expect("a vector takes all");
        bytes
    }

    fn block_of(values: &[(usize, i16)]) -> Block {
        let mut block = [0; COEFFICIENTS];
        for &(place, value) in values {
            block[place] = value;
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

    /// The same bits by the plain rule, value by value.
    fn plain_scan_of(blocks: &[Block]) -> Vec<u8> {
        let (dc, ac) = (codes(&DC[0]), codes(&AC[0]));
        let (mut bits, mut before) = (String::new(), 0);
        let mut put = |code: Code| {
            bits.push_str(&format!(
                "{:0width$b}",
                code.bits,
                width = code.length as usize
            ));
        };
        for block in blocks {
            put(with_value(i32::from(block[0] - before), 0, &dc));
            before = block[0];
            let mut run = 0;
            for &value in &block[1..] {
                if value == 0 {
                    run += 1;
                    continue;
                }
                for _ in 0..run / 16 {
                    put(ac[0xf0]);
                }
                put(with_value(i32::from(value), run % 16, &ac));
                run = 0;
            }
            if run > 0 {
                put(ac[0]);
            }
        }
        let mut bytes = Vec::new();
        for byte in bits.as_bytes().chunks(8) {
            let text = format!("{:1<8}", std::str::from_utf8(byte).expect("text"));
            bytes.push(u8::from_str_radix(&text, 2).expect("bits"));
            if bytes.last() == Some(&0xff) {
                bytes.push(0);
            }
        }
        bytes
    }

    #[test]
    fn any_blocks_are_coded_as_the_plain_rule_says() {
        // Blocks from empty to full, with small values and now and then a large one.
        for seed in 0..200_usize {
            let blocks: Vec<Block> = (0..LANES)
                .map(|number| {
                    std::array::from_fn(|place| {
                        let mixed = (seed * 64 + number)
                            .wrapping_mul(0x9e37_79b9)
                            .wrapping_add(place * 0x85eb_ca6b);
                        let mixed = (mixed ^ mixed >> 15).wrapping_mul(0x2c1b_3c6d) >> 8;
                        let is_set = mixed % 64 < (seed + number) % 65;
                        let most = if mixed % 1013 == 0 { 1023 } else { 63 };
                        let value = (mixed / 64 % (2 * most + 1)) as i16 - most as i16;
                        if is_set { value } else { 0 }
                    })
                })
                .collect();
            assert_eq!(scan_of(&blocks), plain_scan_of(&blocks), "{seed}");
        }
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
