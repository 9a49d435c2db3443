//! Markers of a lossless JPEG stream up to its scan (T.81, annex B).

use super::huffman::{Known, Table};
use super::{LosslessJpeg, damaged};
use crate::raw::error::Fault;
use std::sync::Arc;

impl<'a> LosslessJpeg<'a> {
    /// Reads the header up to the scan.
    pub(crate) fn new(bytes: &'a [u8], known: &mut Known) -> Result<Self, Fault> {
        const SOI: u8 = 0xd8;
        const SOF3: u8 = 0xc3;
        const DHT: u8 = 0xc4;
        const DRI: u8 = 0xdd;
        const SOS: u8 = 0xda;
        if !bytes.starts_with(&[0xff, SOI]) {
            return Err(damaged("it does not begin as a JPEG stream"));
        }
        let mut tables: [Option<Arc<Table>>; 4] = [const { None }; 4];
        let mut frame: Option<Frame> = None;
        let mut restart_samples = 0usize;
        let mut at = 2;
        loop {
            let marker = loop {
                match bytes.get(at..at + 2) {
                    Some([0xff, 0xff]) => at += 1,
                    Some([0xff, marker]) => break *marker,
                    _ => return Err(damaged("a marker is missing")),
                }
            };
            at += 2;
            let length = match bytes.get(at..at + 2) {
                Some(pair) => usize::from(u16::from_be_bytes([pair[0], pair[1]])),
                None => return Err(damaged("it ends within its header")),
            };
            let segment = length
                .checked_sub(2)
                .and_then(|length| bytes.get(at + 2..at + 2 + length))
                .ok_or_else(|| damaged("it ends within its header"))?;
            at += length;
            match marker {
                SOF3 => frame = Some(Frame::read(segment)?),
                // Differential, progressive, baseline or arithmetic frames.
                0xc0..=0xcf if marker != DHT && marker != 0xc8 && marker != 0xcc => {
                    return Err(Fault::unsupported(
                        "a JPEG process other than the lossless one",
                    ));
                }
                DHT => read_tables(segment, &mut tables, known)?,
                DRI => {
                    if let [high, low, ..] = segment {
                        restart_samples = usize::from(u16::from_be_bytes([*high, *low]));
                    }
                }
                SOS => {
                    let frame = frame.ok_or_else(|| damaged("a scan without a frame"))?;
                    return Self::with_scan(&frame, segment, tables, restart_samples, &bytes[at..]);
                }
                _ => {}
            }
        }
    }

    fn with_scan(
        frame: &Frame,
        segment: &[u8],
        tables: [Option<Arc<Table>>; 4],
        restart_samples: usize,
        scan: &'a [u8],
    ) -> Result<Self, Fault> {
        let components = frame.identifiers.len();
        if segment.first().map(|count| usize::from(*count)) != Some(components)
            || segment.len() < 4 + 2 * components
        {
            return Err(damaged("its scan does not hold all components"));
        }
        let mut used = Vec::new();
        for (component, identifier) in frame.identifiers.iter().enumerate() {
            let [scanned, selector] = [segment[1 + 2 * component], segment[2 + 2 * component]];
            let table = tables
                .get(usize::from(selector >> 4))
                .and_then(Option::as_ref);
            let Some(table) = table.filter(|_| scanned == *identifier) else {
                return Err(damaged("its scan names an unknown component or table"));
            };
            used.push(Arc::clone(table));
        }
        let predictor = segment[1 + 2 * components];
        let point_transform = u32::from(segment[3 + 2 * components] & 0x0f);
        if !(1..=7).contains(&predictor) || point_transform >= frame.precision {
            return Err(damaged("an unknown predictor or point transform"));
        }
        if !restart_samples.is_multiple_of(frame.width) {
            return Err(Fault::unsupported(
                "lossless JPEG with restarts within a line",
            ));
        }
        Ok(Self {
            width: frame.width,
            height: frame.height,
            components,
            precision: frame.precision,
            predictor,
            point_transform,
            restart_lines: restart_samples / frame.width,
            tables: used,
            scan,
        })
    }
}

/// A frame header (T.81, B.2.2).
struct Frame {
    precision: u32,
    width: usize,
    height: usize,
    identifiers: Vec<u8>,
}

impl Frame {
    fn read(segment: &[u8]) -> Result<Self, Fault> {
        let [precision, h1, h0, w1, w0, components, rest @ ..] = segment else {
            return Err(damaged("its frame header is cut short"));
        };
        let height = usize::from(u16::from_be_bytes([*h1, *h0]));
        let width = usize::from(u16::from_be_bytes([*w1, *w0]));
        let components = usize::from(*components);
        if !(2..=16).contains(precision) || width == 0 || height == 0 {
            return Err(damaged("an impossible size or sample depth"));
        }
        if !(1..=4).contains(&components) || rest.len() < 3 * components {
            return Err(damaged("an impossible number of components"));
        }
        let mut identifiers = Vec::new();
        for component in rest.chunks_exact(3).take(components) {
            if component[1] != 0x11 {
                return Err(Fault::unsupported(
                    "lossless JPEG with subsampled components",
                ));
            }
            identifiers.push(component[0]);
        }
        Ok(Self {
            precision: u32::from(*precision),
            width,
            height,
            identifiers,
        })
    }
}

fn read_tables(
    mut segment: &[u8],
    tables: &mut [Option<Arc<Table>>; 4],
    known: &mut Known,
) -> Result<(), Fault> {
    while let [selector, rest @ ..] = segment {
        let Some((counts, rest)) = rest.split_first_chunk::<16>() else {
            return Err(damaged("a code table is cut short"));
        };
        let total: usize = counts.iter().map(|count| usize::from(*count)).sum();
        if rest.len() < total {
            return Err(damaged("a code table is cut short"));
        }
        let (values, rest) = rest.split_at(total);
        // The upper four bits are the class: 0 (DC) serves lossless processes.
        if let Some(slot) = tables.get_mut(usize::from(*selector)) {
            *slot = Some(known.table(counts, values)?);
        }
        segment = rest;
    }
    Ok(())
}
