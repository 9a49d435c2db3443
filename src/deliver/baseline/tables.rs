//! The tables of ITU-T T.81 that a baseline file states: quantisation (annex K.1) and Huffman codes (annex K.3).

/// Coefficients of a block.
pub(super) const COEFFICIENTS: usize = 64;

/// Place in the block, row times 8 plus column, of each coefficient in the order of the file (T.81, figure A.6).
pub(super) const ZIGZAG: [u8; COEFFICIENTS] = [
    0, 1, 8, 16, 9, 2, 3, 10, 17, 24, 32, 25, 18, 11, 4, 5, 12, 19, 26, 33, 40, 48, 41, 34, 27, 20,
    13, 6, 7, 14, 21, 28, 35, 42, 49, 56, 57, 50, 43, 36, 29, 22, 15, 23, 30, 37, 44, 51, 58, 59,
    52, 45, 38, 31, 39, 46, 53, 60, 61, 54, 47, 55, 62, 63,
];

/// T.81, table K.1, rows of the block.
const LUMINANCE: [u8; COEFFICIENTS] = [
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55, 14, 13, 16, 24, 40, 57, 69, 56,
    14, 17, 22, 29, 51, 87, 80, 62, 18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113,
    92, 49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
];

/// T.81, table K.2, rows of the block.
const CHROMINANCE: [u8; COEFFICIENTS] = [
    17, 18, 24, 47, 99, 99, 99, 99, 18, 21, 26, 66, 99, 99, 99, 99, 24, 26, 56, 99, 99, 99, 99, 99,
    47, 66, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99,
    99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99, 99,
];

/// A quantisation table for luminance and one for chrominance, rows of the block, at a quality of 1 to 100: annex K's at 50, scaled
/// as the Independent JPEG Group's library defined it (the formula is from memory).
pub(super) fn quantisation(quality: u8) -> [[u8; COEFFICIENTS]; 2] {
    let quality = u32::from(quality.clamp(1, 100));
    let percent = if quality < 50 {
        5000 / quality
    } else {
        200 - 2 * quality
    };
    [LUMINANCE, CHROMINANCE].map(|table| {
        table.map(|step| {
            let scaled = (u32::from(step) * percent + 50) / 100;
            // A baseline file holds steps of 8 bits (B.2.4.1).
            u8::try_from(scaled.max(1)).unwrap_or(u8::MAX)
        })
    })
}

/// A Huffman table as a file states it: how many codes there are of each length from 1 to 16 bits, and their symbols.
pub(super) struct Huffman {
    pub(super) counts: [u8; 16],
    pub(super) symbols: &'static [u8],
}

/// T.81, tables K.3 and K.4.
pub(super) const DC: [Huffman; 2] = [
    Huffman {
        counts: [0, 1, 5, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0],
        symbols: &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11],
    },
    Huffman {
        counts: [0, 3, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0],
        symbols: &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11],
    },
];

/// T.81, tables K.5 and K.6: run of zeros in the high four bits, size in the low ones.
pub(super) const AC: [Huffman; 2] = [
    Huffman {
        counts: [0, 2, 1, 3, 3, 2, 4, 3, 5, 5, 4, 4, 0, 0, 1, 0x7d],
        symbols: &[
            0x01, 0x02, 0x03, 0x00, 0x04, 0x11, 0x05, 0x12, 0x21, 0x31, 0x41, 0x06, 0x13, 0x51,
            0x61, 0x07, 0x22, 0x71, 0x14, 0x32, 0x81, 0x91, 0xa1, 0x08, 0x23, 0x42, 0xb1, 0xc1,
            0x15, 0x52, 0xd1, 0xf0, 0x24, 0x33, 0x62, 0x72, 0x82, 0x09, 0x0a, 0x16, 0x17, 0x18,
            0x19, 0x1a, 0x25, 0x26, 0x27, 0x28, 0x29, 0x2a, 0x34, 0x35, 0x36, 0x37, 0x38, 0x39,
            0x3a, 0x43, 0x44, 0x45, 0x46, 0x47, 0x48, 0x49, 0x4a, 0x53, 0x54, 0x55, 0x56, 0x57,
            0x58, 0x59, 0x5a, 0x63, 0x64, 0x65, 0x66, 0x67, 0x68, 0x69, 0x6a, 0x73, 0x74, 0x75,
            0x76, 0x77, 0x78, 0x79, 0x7a, 0x83, 0x84, 0x85, 0x86, 0x87, 0x88, 0x89, 0x8a, 0x92,
            0x93, 0x94, 0x95, 0x96, 0x97, 0x98, 0x99, 0x9a, 0xa2, 0xa3, 0xa4, 0xa5, 0xa6, 0xa7,
            0xa8, 0xa9, 0xaa, 0xb2, 0xb3, 0xb4, 0xb5, 0xb6, 0xb7, 0xb8, 0xb9, 0xba, 0xc2, 0xc3,
            0xc4, 0xc5, 0xc6, 0xc7, 0xc8, 0xc9, 0xca, 0xd2, 0xd3, 0xd4, 0xd5, 0xd6, 0xd7, 0xd8,
            0xd9, 0xda, 0xe1, 0xe2, 0xe3, 0xe4, 0xe5, 0xe6, 0xe7, 0xe8, 0xe9, 0xea, 0xf1, 0xf2,
            0xf3, 0xf4, 0xf5, 0xf6, 0xf7, 0xf8, 0xf9, 0xfa,
        ],
    },
    Huffman {
        counts: [0, 2, 1, 2, 4, 4, 3, 4, 7, 5, 4, 4, 0, 1, 2, 0x77],
        symbols: &[
            0x00, 0x01, 0x02, 0x03, 0x11, 0x04, 0x05, 0x21, 0x31, 0x06, 0x12, 0x41, 0x51, 0x07,
            0x61, 0x71, 0x13, 0x22, 0x32, 0x81, 0x08, 0x14, 0x42, 0x91, 0xa1, 0xb1, 0xc1, 0x09,
            0x23, 0x33, 0x52, 0xf0, 0x15, 0x62, 0x72, 0xd1, 0x0a, 0x16, 0x24, 0x34, 0xe1, 0x25,
            0xf1, 0x17, 0x18, 0x19, 0x1a, 0x26, 0x27, 0x28, 0x29, 0x2a, 0x35, 0x36, 0x37, 0x38,
            0x39, 0x3a, 0x43, 0x44, 0x45, 0x46, 0x47, 0x48, 0x49, 0x4a, 0x53, 0x54, 0x55, 0x56,
            0x57, 0x58, 0x59, 0x5a, 0x63, 0x64, 0x65, 0x66, 0x67, 0x68, 0x69, 0x6a, 0x73, 0x74,
            0x75, 0x76, 0x77, 0x78, 0x79, 0x7a, 0x82, 0x83, 0x84, 0x85, 0x86, 0x87, 0x88, 0x89,
            0x8a, 0x92, 0x93, 0x94, 0x95, 0x96, 0x97, 0x98, 0x99, 0x9a, 0xa2, 0xa3, 0xa4, 0xa5,
            0xa6, 0xa7, 0xa8, 0xa9, 0xaa, 0xb2, 0xb3, 0xb4, 0xb5, 0xb6, 0xb7, 0xb8, 0xb9, 0xba,
            0xc2, 0xc3, 0xc4, 0xc5, 0xc6, 0xc7, 0xc8, 0xc9, 0xca, 0xd2, 0xd3, 0xd4, 0xd5, 0xd6,
            0xd7, 0xd8, 0xd9, 0xda, 0xe2, 0xe3, 0xe4, 0xe5, 0xe6, 0xe7, 0xe8, 0xe9, 0xea, 0xf2,
            0xf3, 0xf4, 0xf5, 0xf6, 0xf7, 0xf8, 0xf9, 0xfa,
        ],
    },
];

/// A code, and its length in bits; 0 for a symbol without a code.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Code {
    pub(super) bits: u32,
    pub(super) length: u32,
}

impl Code {
    /// This code with another behind it.
    #[inline(always)]
    pub(super) fn then(self, other: Self) -> Self {
        Self {
            bits: self.bits << other.length | other.bits,
            length: self.length + other.length,
        }
    }
}

/// The code of each symbol: T.81, annex C.
pub(super) fn codes(table: &Huffman) -> [Code; 256] {
    let mut codes = [Code::default(); 256];
    let (mut bits, mut symbols) = (0, table.symbols.iter());
    for (length, &count) in (1..).zip(&table.counts) {
        for &symbol in symbols.by_ref().take(usize::from(count)) {
            codes[usize::from(symbol)] = Code { bits, length };
            bits += 1;
        }
        bits <<= 1;
    }
    codes
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(code: Code) -> String {
        format!("{:0width$b}", code.bits, width = code.length as usize)
    }

    #[test]
    fn codes_are_those_that_the_standard_lists() {
        // T.81, tables K.3 and K.4: categories 0, 5 and 11.
        for (table, expected) in DC
            .iter()
            .zip([["00", "110", "111111110"], ["00", "11110", "11111111110"]])
        {
            let codes = codes(table);
            assert_eq!([0, 5, 11].map(|at| written(codes[at])), expected);
        }
        // T.81, tables K.5 and K.6: the end of a block, sixteen zeros, run 0 size 1, run 1 size 2, run 15 size 10.
        let symbols = [0x00, 0xf0, 0x01, 0x12, 0xfa];
        for (table, expected) in AC.iter().zip([
            ["1010", "11111111001", "00", "11011", "1111111111111110"],
            ["00", "1111111010", "01", "111001", "1111111111111110"],
        ]) {
            let codes = codes(table);
            assert_eq!(symbols.map(|at| written(codes[at])), expected);
        }
    }

    #[test]
    fn half_quality_is_the_tables_of_the_standard_and_full_quality_divides_by_one() {
        assert_eq!(quantisation(50), [LUMINANCE, CHROMINANCE]);
        assert_eq!(quantisation(100), [[1; COEFFICIENTS]; 2]);
        // Twice the steps at a quarter; what would not fit 8 bits stays at 255.
        assert_eq!(quantisation(25)[0][0], 32);
        assert_eq!(quantisation(1)[0][0], 255);
    }

    #[test]
    fn the_order_of_the_file_takes_each_place_once() {
        let mut seen = [0; COEFFICIENTS];
        for place in ZIGZAG {
            seen[usize::from(place)] += 1;
        }
        assert_eq!(seen, [1; COEFFICIENTS]);
        // T.81, figure A.6: 5 stands in the third row's first column, 62 before the last.
        assert_eq!((ZIGZAG[3], ZIGZAG[62]), (16, 62));
    }
}
