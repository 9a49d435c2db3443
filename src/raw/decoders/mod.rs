//! The seam to the two raw decoders: one file each behind a fence, one order of trust.
//!
//! Which decoder reads a file was settled by measuring both against LibRaw and with damaged files: rawloader where it is
//! exact and knows the body, since it never aborts; rawler for the bodies of this decade (CR3, mirrorless NEF,
//! lossless-compressed ARW, compressed RAF) and whenever rawloader declines. Compressed NEF never comes from rawloader,
//! whose tone table is dithered there.

pub(crate) mod colour;
mod fence;
mod rawler;
mod rawloader;

use crate::raw::container::Container;
use crate::raw::decoded::Decoded;
use crate::raw::error::Fault;
use crate::raw::facts::Facts;
use crate::raw::frame::{BlackLevels, Layout};
use crate::raw::library_fields::facts_of_rawler;
use std::sync::Arc;

/// Why a decoder did not decode.
#[derive(Debug)]
enum Refusal {
    /// It does not know the body or the way the picture is stored.
    Unsupported(String),
    /// The file contradicts itself.
    Damaged(String),
    /// Something that this room found itself.
    Fault(Fault),
}

impl Refusal {
    /// From a decoder's error text, the only thing it gives.
    fn from_words(words: &str) -> Self {
        /// How both crates word "whole, but not for me".
        const UNKNOWN: [&str; 8] = [
            "Couldn't find",
            "Unsupported",
            "unsupported",
            "Unknown camera",
            "No decoder",
            "not supported",
            "Don't know",
            "don't know",
        ];
        let first_line = words.lines().next().unwrap_or_default();
        let brief: String = first_line.chars().take(160).collect();
        if UNKNOWN.iter().any(|mark| words.contains(mark)) {
            Self::Unsupported(brief)
        } else {
            Self::Damaged(brief)
        }
    }
}

/// One of the two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Engine {
    Rawloader,
    Rawler,
}

/// What the order of trust depends on.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Kind<'a> {
    /// The container.
    pub(crate) container: Container,
    /// The maker as the file states it; empty when unknown.
    pub(crate) make: &'a str,
    /// The model as the file states it; empty when unknown.
    pub(crate) model: &'a str,
    /// Whether the picture is stored in the maker's own compression.
    pub(crate) is_compressed: bool,
}

fn order(kind: Kind<'_>) -> &'static [Engine] {
    let nikon = kind.make.to_ascii_uppercase().starts_with("NIKON");
    match kind.container {
        Container::Cr3 => &[Engine::Rawler],
        Container::Raf => &[Engine::Rawler, Engine::Rawloader],
        _ if nikon && kind.is_compressed => &[Engine::Rawler],
        _ => &[Engine::Rawloader, Engine::Rawler],
    }
}

/// Decodes a file that is not a DNG; beside it the white level of the other decoder's table, where there is one.
pub(crate) fn decode(
    bytes: &Arc<Vec<u8>>,
    kind: Kind<'_>,
) -> Result<(Decoded, Option<f32>), Fault> {
    let mut refusals = Vec::new();
    for engine in order(kind) {
        let outcome = match engine {
            Engine::Rawloader => rawloader::decode(bytes),
            Engine::Rawler => rawler::decode(bytes),
        };
        match outcome {
            Ok(mut decoded) => {
                if *engine == Engine::Rawloader {
                    let other = rawler::table_calibrations(kind.make, kind.model);
                    let known = std::mem::take(&mut decoded.colour.calibrations);
                    decoded.colour.calibrations = colour::widened(known, other);
                }
                colour::settle_balance(&mut decoded.colour, kind.model);
                let other = (*engine == Engine::Rawloader)
                    .then(|| rawler::table_white(kind.make, kind.model))
                    .flatten();
                return Ok((decoded, other));
            }
            Err(refusal) => refusals.push(refusal),
        }
    }
    Err(fault_of(refusals))
}

/// Facts as far as rawler gives them, for containers that no EXIF library reads.
pub(crate) fn facts(bytes: &Arc<Vec<u8>>) -> Option<Facts> {
    rawler::metadata(bytes).map(facts_of_rawler)
}

/// Counts that rawler decoded from a DNG.
#[derive(Debug)]
pub(crate) struct DngCounts {
    /// Pixels in a row.
    pub(crate) width: usize,
    /// Rows.
    pub(crate) height: usize,
    /// Values of a pixel.
    pub(crate) channels: usize,
    /// The counts.
    pub(crate) values: Vec<u16>,
    /// Whether they were floating-point numbers with white at 1.
    pub(crate) was_float: bool,
}

/// Only the counts of a DNG, for the compressions that this room does not read itself.
pub(crate) fn dng_counts(bytes: &Arc<Vec<u8>>) -> Result<DngCounts, Fault> {
    rawler::decode_counts(bytes).map_err(|refusal| fault_of(vec![refusal]))
}

/// What all refusals together mean: damage that one of them saw counts more than a body that another does not know.
fn fault_of(refusals: Vec<Refusal>) -> Fault {
    let mut words = None;
    let mut is_damaged = false;
    for refusal in refusals {
        match refusal {
            Refusal::Fault(fault) => return fault,
            Refusal::Damaged(what) if !is_damaged => {
                is_damaged = true;
                words = Some(what);
            }
            Refusal::Unsupported(what) if words.is_none() => words = Some(what),
            _ => {}
        }
    }
    let what = words.unwrap_or_else(|| "no decoder tried".into());
    if is_damaged {
        Fault::Damaged { what }
    } else {
        Fault::Unsupported { what }
    }
}

/// Black levels by colour, laid out over a mosaic's pattern.
fn pattern_black(layout: &Layout, levels: [f32; 3]) -> BlackLevels {
    let (size, pattern): (usize, Vec<f32>) = match layout {
        Layout::Linear => (1, levels.to_vec()),
        Layout::Bayer(pattern) => (
            2,
            pattern
                .iter()
                .flatten()
                .map(|colour| levels[usize::from(*colour)])
                .collect(),
        ),
        Layout::XTrans(pattern) => (
            6,
            pattern
                .iter()
                .flatten()
                .map(|colour| levels[usize::from(*colour)])
                .collect(),
        ),
    };
    BlackLevels {
        rows: size,
        columns: size,
        pattern,
        column_deviation: Vec::new(),
        row_deviation: Vec::new(),
    }
}
