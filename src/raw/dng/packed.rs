//! Uncompressed samples of 8 to 16 bits.
//!
//! TIFF 6.0: samples of other than 8 or 16 bits are packed from the most significant bit of each byte on (FillOrder 1, the
//! only one that the Digital Negative specification allows, whatever the byte order); rows begin at byte boundaries.
//! Samples of 16 bits follow the file's byte order.

use crate::raw::error::Fault;
use crate::raw::tiff::ByteOrder;

/// Bytes of one row of `values` samples.
pub(super) fn row_bytes(values: usize, bits: u32) -> usize {
    (values * bits as usize).div_ceil(8)
}

/// Unpacks rows of `values` samples each into `samples`, whose length is a multiple of it.
pub(super) fn unpack(
    bytes: &[u8],
    values: usize,
    bits: u32,
    order: ByteOrder,
    samples: &mut [u16],
) -> Result<(), Fault> {
    let length = row_bytes(values, bits);
    let rows = samples.len() / values;
    if bytes.len() < length * rows {
        return Err(Fault::damaged(format!(
            "{} bytes of samples where {} are needed",
            bytes.len(),
            length * rows
        )));
    }
    for (row, packed) in samples
        .chunks_exact_mut(values)
        .zip(bytes.chunks_exact(length))
    {
        match (bits, order) {
            (8, _) => {
                for (sample, byte) in row.iter_mut().zip(packed) {
                    *sample = u16::from(*byte);
                }
            }
            (16, ByteOrder::Little) => {
                for (sample, pair) in row.iter_mut().zip(packed.chunks_exact(2)) {
                    *sample = u16::from_le_bytes([pair[0], pair[1]]);
                }
            }
            (16, ByteOrder::Big) => {
                for (sample, pair) in row.iter_mut().zip(packed.chunks_exact(2)) {
                    *sample = u16::from_be_bytes([pair[0], pair[1]]);
                }
            }
            _ => unpack_row(packed, bits, row),
        }
    }
    Ok(())
}

/// One row, most significant bit first; `bits` from 1 to 16.
fn unpack_row(packed: &[u8], bits: u32, row: &mut [u16]) {
    let mask = (1u32 << bits) - 1;
    let mut held = 0u32;
    let mut have = 0u32;
    let mut next = packed.iter();
    for sample in row {
        while have < bits {
            // At most 15 bits are held here, so that 8 more fit.
            held = held << 8 | u32::from(next.next().copied().unwrap_or(0));
            have += 8;
        }
        have -= bits;
        #[expect(clippy::cast_possible_truncation, reason = "masked to 16 bits at most")]
        let value = (held >> have & mask) as u16;
        *sample = value;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twelve_bits_start_at_the_most_significant() {
        let mut samples = [0; 3];
        // Two rows would start at a new byte: 3 samples of 12 bits take 4.5, so 5 bytes.
        unpack(
            &[0xab, 0xcd, 0xef, 0x12, 0x3f],
            3,
            12,
            ByteOrder::Little,
            &mut samples,
        )
        .expect("enough bytes");
        assert_eq!(samples, [0xabc, 0xdef, 0x123]);
    }

    #[test]
    fn every_depth_round_trips() {
        for bits in 8..=16u32 {
            // 31 samples: no row ends at a byte boundary by chance for odd depths.
            let values: Vec<u16> = (0..62u32)
                .map(|index| (index * 40_503 % 65_536) as u16 & ((1u32 << bits) - 1) as u16)
                .collect();
            let mut packed = Vec::new();
            for row in values.chunks(31) {
                let (mut held, mut have) = (0u64, 0u32);
                for value in row {
                    held = held << bits | u64::from(*value);
                    have += bits;
                    while have >= 8 {
                        have -= 8;
                        packed.push((held >> have) as u8);
                    }
                }
                if have > 0 {
                    packed.push((held << (8 - have)) as u8);
                }
            }
            let mut samples = vec![0; 62];
            unpack(&packed, 31, bits, ByteOrder::Big, &mut samples).expect("enough bytes");
            assert_eq!(samples, values, "{bits} bits");
        }
    }

    #[test]
    fn too_few_bytes_are_refused() {
        assert!(unpack(&[0; 7], 2, 16, ByteOrder::Little, &mut [0; 4]).is_err());
    }
}
