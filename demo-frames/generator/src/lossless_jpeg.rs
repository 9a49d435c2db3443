//! Lossless JPEG (ITU-T T.81, annex H) as DNG tiles hold it: two interleaved components, predictor 1, one Huffman table
//! made for the tile (annex K.2).
//!
//! A Bayer row is red green red green; as two components each photosite is predicted from the last one of its own
//! colour. The first photosite of a row is predicted from the one above, the very first from half the range.

/// Difference categories of T.81, table H.2: 0 to 16.
const CATEGORIES: usize = 17;

/// Encodes `width` x `height` counts of at most `bits` bits; `width` is even.
pub(crate) fn encode(counts: &[u16], width: usize, height: usize, bits: u8) -> Vec<u8> {
    let differences = differences(counts, width, bits);
    let mut frequency = [0u64; CATEGORIES];
    for &difference in &differences {
        frequency[category(difference)] += 1;
    }
    let table = HuffmanTable::for_frequency(&frequency);
    let codes = table.codes();

    let mut out = vec![0xFF, 0xD8];
    let segment = |out: &mut Vec<u8>, marker: u8, body: &[u8]| {
        out.extend([0xFF, marker]);
        out.extend((body.len() as u16 + 2).to_be_bytes());
        out.extend(body);
    };
    let mut definition = vec![0];
    definition.extend(table.of_length);
    definition.extend(&table.values);
    segment(&mut out, 0xC4, &definition);
    let mut frame = vec![bits];
    frame.extend((height as u16).to_be_bytes());
    frame.extend((width as u16 / 2).to_be_bytes());
    frame.extend([2, 0, 0x11, 0, 1, 0x11, 0]);
    segment(&mut out, 0xC3, &frame);
    segment(&mut out, 0xDA, &[2, 0, 0, 1, 0, 1, 0, 0]);

    let mut writer = BitWriter::new(out);
    for difference in differences {
        let category = category(difference);
        let (code, length) = codes[category];
        writer.put(code, length);
        // Category 16 (a difference of exactly 32768) has no further bits.
        if category < 16 {
            let shift = if difference < 0 {
                (1 << category) - 1
            } else {
                0
            };
            writer.put((difference + shift) as u32, category as u32);
        }
    }
    let mut out = writer.finish();
    out.extend([0xFF, 0xD9]);
    out
}

/// Each count less its prediction, modulo 2¹⁶ (annex H.1.2.1).
fn differences(counts: &[u16], width: usize, bits: u8) -> Vec<i32> {
    let start = 1i32 << (bits - 1);
    counts
        .iter()
        .enumerate()
        .map(|(index, &count)| {
            let prediction = if index % width >= 2 {
                i32::from(counts[index - 2])
            } else if index >= width {
                i32::from(counts[index - width])
            } else {
                start
            };
            i32::from((i32::from(count) - prediction) as i16)
        })
        .collect()
}

/// Bits that a difference needs.
fn category(difference: i32) -> usize {
    (32 - difference.unsigned_abs().leading_zeros()) as usize
}

struct HuffmanTable {
    /// Codes of length 1 to 16.
    of_length: [u8; 16],
    /// Categories by rising code length.
    values: Vec<u8>,
}

impl HuffmanTable {
    /// Annex K.2: code lengths from frequencies, with one code point held back so that no code is all ones.
    fn for_frequency(frequency: &[u64; CATEGORIES]) -> Self {
        const HELD_BACK: usize = CATEGORIES;
        let mut weight = [0u64; CATEGORIES + 1];
        weight[..CATEGORIES].copy_from_slice(frequency);
        weight[HELD_BACK] = 1;
        let mut size = [0usize; CATEGORIES + 1];
        let mut chain: [Option<usize>; CATEGORIES + 1] = [None; CATEGORIES + 1];
        // The rarest, of equals the one with the largest value.
        let rarest = |weight: &[u64], but: Option<usize>| {
            (0..weight.len())
                .rev()
                .filter(|&value| weight[value] > 0 && Some(value) != but)
                .min_by_key(|&value| weight[value])
        };
        while let Some(first) = rarest(&weight, None) {
            let Some(second) = rarest(&weight, Some(first)) else {
                break;
            };
            weight[first] += weight[second];
            weight[second] = 0;
            let mut last = first;
            loop {
                size[last] += 1;
                match chain[last] {
                    Some(next) => last = next,
                    None => break,
                }
            }
            chain[last] = Some(second);
            let mut member = Some(second);
            while let Some(value) = member {
                size[value] += 1;
                member = chain[value];
            }
        }
        // 18 symbols never need more than 17 bits; the adjustment of figure K.3 brings 17 down to 16.
        let mut of_length = [0i32; CATEGORIES + 2];
        for &bits in size.iter().filter(|&&bits| bits > 0) {
            of_length[bits] += 1;
        }
        for length in (17..of_length.len()).rev() {
            while of_length[length] > 0 {
                let mut shorter = length - 2;
                while of_length[shorter] == 0 {
                    shorter -= 1;
                }
                of_length[length] -= 2;
                of_length[length - 1] += 1;
                of_length[shorter + 1] += 2;
                of_length[shorter] -= 1;
            }
        }
        if let Some(longest) = of_length.iter().rposition(|&count| count > 0) {
            of_length[longest] -= 1;
        }
        let mut values: Vec<u8> = (0..CATEGORIES as u8)
            .filter(|&value| size[usize::from(value)] > 0)
            .collect();
        values.sort_by_key(|&value| size[usize::from(value)]);
        let mut lengths = [0u8; 16];
        for (length, slot) in lengths.iter_mut().enumerate() {
            *slot = of_length[length + 1] as u8;
        }
        Self {
            of_length: lengths,
            values,
        }
    }

    /// Annex C: the code and its length for each category.
    fn codes(&self) -> [(u32, u32); CATEGORIES] {
        let mut codes = [(0, 0); CATEGORIES];
        let mut code = 0;
        let mut values = self.values.iter();
        for (index, &count) in self.of_length.iter().enumerate() {
            for &value in values.by_ref().take(usize::from(count)) {
                codes[usize::from(value)] = (code, index as u32 + 1);
                code += 1;
            }
            code <<= 1;
        }
        codes
    }
}

struct BitWriter {
    out: Vec<u8>,
    pending: u64,
    count: u32,
}

impl BitWriter {
    fn new(out: Vec<u8>) -> Self {
        Self {
            out,
            pending: 0,
            count: 0,
        }
    }

    fn put(&mut self, value: u32, bits: u32) {
        self.pending = (self.pending << bits) | u64::from(value);
        self.count += bits;
        while self.count >= 8 {
            self.count -= 8;
            let byte = (self.pending >> self.count) as u8;
            self.out.push(byte);
            if byte == 0xFF {
                self.out.push(0);
            }
        }
    }

    /// Fills the last byte with ones (annex F.1.2.3).
    fn finish(mut self) -> Vec<u8> {
        if self.count > 0 {
            let missing = 8 - self.count;
            self.put((1 << missing) - 1, missing);
        }
        self.out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_are_a_prefix_code_without_all_ones() {
        let mut frequency = [0; CATEGORIES];
        // Fibonacci counts make the deepest tree.
        let (mut a, mut b) = (1, 1);
        for slot in &mut frequency {
            *slot = a;
            (a, b) = (b, a + b);
        }
        let codes = HuffmanTable::for_frequency(&frequency).codes();
        for (index, &(code, length)) in codes.iter().enumerate() {
            assert!(
                (1..=16).contains(&length),
                "category {index}: {length} bits"
            );
            assert_ne!(code, (1 << length) - 1);
            for (other, &(longer, more)) in codes.iter().enumerate() {
                let is_prefix = more >= length && longer >> (more - length) == code;
                assert!(
                    index == other || !is_prefix,
                    "{index} is a prefix of {other}"
                );
            }
        }
    }

    #[test]
    fn a_flat_tile_is_short() {
        let tile = encode(&[2048; 64 * 64], 64, 64, 14);
        assert!(tile.len() < 64 * 64 / 8 + 80);
        assert_eq!(tile[..2], [0xFF, 0xD8]);
        assert_eq!(tile[tile.len() - 2..], [0xFF, 0xD9]);
    }
}
