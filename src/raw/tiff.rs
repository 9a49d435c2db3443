//! A bounded walker of TIFF directories, since the decoders keep to themselves most of what a raw file says of itself.
//!
//! It reads classic TIFF 6.0 in both byte orders and the raw formats that only change the magic number, and follows the
//! chain of main directories, SubIFDs (TIFF Technical Note 1), and the EXIF and GPS directories. Every number of the file
//! is taken for a lie until it fits: directories, entries and depth have limits, no directory is visited twice, and no
//! memory is asked for before the bytes are known to exist. Values are fetched when asked for, so that walking a file costs
//! a few reads whatever it holds.

use crate::raw::error::Fault;
use crate::raw::source::Source;

/// Directories followed at most; raw files have a dozen.
const MOST_DIRECTORIES: usize = 64;
/// Entries read at most in one directory; raw files have about a hundred.
const MOST_ENTRIES: usize = 2048;
/// SubIFDs of SubIFDs are followed this deep.
const MOST_DEPTH: usize = 4;
/// SubIFDs read at most from one entry.
const MOST_SUBDIRECTORIES: usize = 32;

/// The magic number of TIFF 6.0.
const MAGIC: u16 = 42;

/// Tags that lead to further directories.
const SUB_IFDS: u16 = 330;
const EXIF_IFD: u16 = 34_665;
const GPS_IFD: u16 = 34_853;

/// The order of bytes in numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ByteOrder {
    /// `II`: least significant first.
    Little,
    /// `MM`: most significant first.
    Big,
}

impl ByteOrder {
    /// A 16-bit number.
    pub(crate) fn u16(self, bytes: [u8; 2]) -> u16 {
        match self {
            Self::Little => u16::from_le_bytes(bytes),
            Self::Big => u16::from_be_bytes(bytes),
        }
    }

    /// A 32-bit number.
    pub(crate) fn u32(self, bytes: [u8; 4]) -> u32 {
        match self {
            Self::Little => u32::from_le_bytes(bytes),
            Self::Big => u32::from_be_bytes(bytes),
        }
    }

    fn u64(self, bytes: [u8; 8]) -> u64 {
        match self {
            Self::Little => u64::from_le_bytes(bytes),
            Self::Big => u64::from_be_bytes(bytes),
        }
    }
}

/// What a directory describes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Role {
    /// In the main chain.
    Main,
    /// A SubIFD.
    Sub,
    /// EXIF.
    Exif,
    /// GPS.
    Gps,
}

/// One tag of a directory; its values stay in the file until asked for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Entry {
    /// The tag's number.
    pub(crate) tag: u16,
    /// The type's number in TIFF 6.0.
    kind: u16,
    /// How many values.
    pub(crate) count: u32,
    /// Where they lie.
    offset: u64,
}

/// One directory.
#[derive(Clone, Debug)]
pub(crate) struct Directory {
    /// What it describes.
    pub(crate) role: Role,
    entries: Vec<Entry>,
}

impl Directory {
    /// The entry of a tag.
    pub(crate) fn entry(&self, tag: u16) -> Option<&Entry> {
        self.entries.iter().find(|entry| entry.tag == tag)
    }
}

/// A TIFF file's directories, in the order of walking: the first main one is the first.
#[derive(Debug)]
pub(crate) struct Tiff<'s, S: Source + ?Sized> {
    source: &'s S,
    /// The order of bytes.
    pub(crate) order: ByteOrder,
    /// All directories found.
    pub(crate) directories: Vec<Directory>,
    /// Whether the magic number is TIFF's own, not a relative's.
    pub(crate) is_classic: bool,
    /// Whether the main chain leads back to a directory that was read before.
    pub(crate) loops: bool,
}

/// Bytes of one value of a TIFF 6.0 type; 0 for an unknown type.
fn size_of_kind(kind: u16) -> u64 {
    match kind {
        1 | 2 | 6 | 7 => 1,
        3 | 8 => 2,
        4 | 9 | 11 | 13 => 4,
        5 | 10 | 12 => 8,
        _ => 0,
    }
}

/// One value of a TIFF 6.0 type as a number.
fn number_at(order: ByteOrder, kind: u16, bytes: &[u8]) -> Option<f64> {
    let two = |at: usize| -> Option<[u8; 2]> { bytes.get(at..at + 2)?.try_into().ok() };
    let four = |at: usize| -> Option<[u8; 4]> { bytes.get(at..at + 4)?.try_into().ok() };
    let eight = || -> Option<[u8; 8]> { bytes.get(..8)?.try_into().ok() };
    Some(match kind {
        1 | 2 | 7 => f64::from(*bytes.first()?),
        6 => f64::from(bytes.first()?.cast_signed()),
        3 => f64::from(order.u16(two(0)?)),
        8 => f64::from(order.u16(two(0)?).cast_signed()),
        4 | 13 => f64::from(order.u32(four(0)?)),
        9 => f64::from(order.u32(four(0)?).cast_signed()),
        5 => f64::from(order.u32(four(0)?)) / f64::from(order.u32(four(4)?)),
        10 => {
            f64::from(order.u32(four(0)?).cast_signed())
                / f64::from(order.u32(four(4)?).cast_signed())
        }
        11 => f64::from(f32::from_bits(order.u32(four(0)?))),
        12 => f64::from_bits(order.u64(eight()?)),
        _ => return None,
    })
}

impl<'s, S: Source + ?Sized> Tiff<'s, S> {
    /// Walks the directories. A damaged first directory is an error; a damaged one further on is left out, since much of
    /// what raw files carry (previews, notes of the maker) is of no concern here.
    pub(crate) fn walk(source: &'s S) -> Result<Self, Fault> {
        let cut = || Fault::damaged("the file ends within its header");
        let mut header = [0; 8];
        source.read_at(0, &mut header).ok_or_else(cut)?;
        let order = match &header[..2] {
            b"II" => ByteOrder::Little,
            b"MM" => ByteOrder::Big,
            _ => return Err(Fault::damaged("no TIFF byte order mark")),
        };
        let mut walker = Walker {
            source,
            order,
            visited: Vec::new(),
            directories: Vec::new(),
        };
        let mut next = u64::from(order.u32([header[4], header[5], header[6], header[7]]));
        let mut first = true;
        let mut loops = false;
        while next != 0 {
            loops = walker.visited.contains(&next);
            if loops || walker.visited.len() >= MOST_DIRECTORIES {
                break;
            }
            match walker.directory(next, Role::Main, 0) {
                Some(following) => next = following,
                None if first => {
                    return Err(Fault::damaged("its first directory cannot be read"));
                }
                None => break,
            }
            first = false;
        }
        if walker.directories.is_empty() {
            return Err(Fault::damaged("it has no directory"));
        }
        Ok(Self {
            source,
            order,
            directories: walker.directories,
            is_classic: order.u16([header[2], header[3]]) == MAGIC,
            loops,
        })
    }

    /// Bytes of the file.
    pub(crate) fn length(&self) -> u64 {
        self.source.length()
    }

    /// The first tag whose values are not all inside the file. Tags of an unknown type say nothing.
    pub(crate) fn value_outside(&self, directory: &Directory) -> Option<u16> {
        directory
            .entries
            .iter()
            .find(|entry| {
                let length = u64::from(entry.count) * size_of_kind(entry.kind);
                length > 0 && entry.offset + length > self.length()
            })
            .map(|entry| entry.tag)
    }

    /// The first directory of the main chain.
    pub(crate) fn first(&self) -> Option<&Directory> {
        self.directories.first()
    }

    /// The first directory of a role.
    pub(crate) fn of_role(&self, role: Role) -> Option<&Directory> {
        self.directories
            .iter()
            .find(|directory| directory.role == role)
    }

    /// The raw bytes of an entry; `None` when there are more than `most` or they are not in the file.
    pub(crate) fn bytes(&self, entry: &Entry, most: u64) -> Option<Vec<u8>> {
        let count = u64::from(entry.count).checked_mul(size_of_kind(entry.kind))?;
        (count <= most).then(|| self.source.bytes(entry.offset, count))?
    }

    /// All values of an entry as numbers; `None` when there are more than `most`, they are not in the file, or the type is
    /// unknown. Rationals with a zero denominator come out as not finite: who uses them checks.
    pub(crate) fn numbers(&self, entry: &Entry, most: u32) -> Option<Vec<f64>> {
        let size = size_of_kind(entry.kind);
        if entry.count > most || size == 0 {
            return None;
        }
        let bytes = self.bytes(entry, u64::from(most) * size)?;
        bytes
            .chunks_exact(usize::try_from(size).ok()?)
            .map(|value| number_at(self.order, entry.kind, value))
            .collect()
    }

    /// The values of a tag of a directory, by [`Tiff::numbers`].
    pub(crate) fn numbers_of(
        &self,
        directory: &Directory,
        tag: u16,
        most: u32,
    ) -> Option<Vec<f64>> {
        self.numbers(directory.entry(tag)?, most)
    }

    /// The only or first value of a tag as a whole number.
    pub(crate) fn integer_of(&self, directory: &Directory, tag: u16) -> Option<u32> {
        let entry = directory.entry(tag)?;
        let first = Entry { count: 1, ..*entry };
        let value = *self.numbers(&first, 1)?.first()?;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "checked to be a whole number of 32 bits"
        )]
        (entry.count > 0 && value >= 0.0 && value <= f64::from(u32::MAX) && value.fract() == 0.0)
            .then_some(value as u32)
    }

    /// The text of a tag up to its first NUL, trimmed; `None` when it is empty or longer than any name.
    pub(crate) fn text_of(&self, directory: &Directory, tag: u16) -> Option<String> {
        /// EXIF texts used here are names and dates.
        const MOST_TEXT: u64 = 4096;
        let bytes = self.bytes(directory.entry(tag)?, MOST_TEXT)?;
        let text = bytes.split(|byte| *byte == 0).next()?;
        let text = String::from_utf8_lossy(text).trim().to_owned();
        (!text.is_empty()).then_some(text)
    }
}

struct Walker<'s, S: Source + ?Sized> {
    source: &'s S,
    order: ByteOrder,
    visited: Vec<u64>,
    directories: Vec<Directory>,
}

impl<S: Source + ?Sized> Walker<'_, S> {
    fn is_known(&self, offset: u64) -> bool {
        self.visited.contains(&offset) || self.visited.len() >= MOST_DIRECTORIES
    }

    /// Reads the directory at `offset` and those below it; the offset of the next in the chain (0 for none).
    fn directory(&mut self, offset: u64, role: Role, depth: usize) -> Option<u64> {
        /// Bytes of one entry of a classic TIFF directory.
        const ENTRY_BYTES: u64 = 12;
        self.visited.push(offset);
        let order = self.order;
        let mut count = [0; 2];
        self.source.read_at(offset, &mut count)?;
        let count = u64::from(order.u16(count));
        if count == 0 || count as usize > MOST_ENTRIES {
            return None;
        }
        let start = offset.checked_add(2)?;
        let bytes = self.source.bytes(start, count * ENTRY_BYTES)?;
        let mut entries = Vec::with_capacity(count as usize);
        for (index, entry) in bytes.chunks_exact(ENTRY_BYTES as usize).enumerate() {
            let four =
                |at: usize| order.u32([entry[at], entry[at + 1], entry[at + 2], entry[at + 3]]);
            let kind = order.u16([entry[2], entry[3]]);
            let count = four(4);
            let inline = u64::from(count) * size_of_kind(kind) <= 4;
            entries.push(Entry {
                tag: order.u16([entry[0], entry[1]]),
                kind,
                count,
                offset: if inline {
                    start + index as u64 * ENTRY_BYTES + 8
                } else {
                    u64::from(four(8))
                },
            });
        }
        let mut next = [0; 4];
        let next = self
            .source
            .read_at(start + count * ENTRY_BYTES, &mut next)
            .map_or(0, |()| u64::from(order.u32(next)));
        let directory = Directory { role, entries };
        let below: Vec<(u64, Role)> = self.below(&directory);
        self.directories.push(directory);
        if depth < MOST_DEPTH {
            for (offset, role) in below {
                if offset != 0 && !self.is_known(offset) {
                    self.directory(offset, role, depth + 1);
                }
            }
        }
        Some(next)
    }

    fn below(&self, directory: &Directory) -> Vec<(u64, Role)> {
        let mut found = Vec::new();
        for (tag, role) in [
            (EXIF_IFD, Role::Exif),
            (GPS_IFD, Role::Gps),
            (SUB_IFDS, Role::Sub),
        ] {
            let Some(entry) = directory.entry(tag) else {
                continue;
            };
            if !matches!(entry.kind, 4 | 13) {
                continue;
            }
            for index in 0..u64::from(entry.count).min(MOST_SUBDIRECTORIES as u64) {
                let mut offset = [0; 4];
                if self
                    .source
                    .read_at(entry.offset + index * 4, &mut offset)
                    .is_some()
                {
                    found.push((u64::from(self.order.u32(offset)), role));
                }
            }
        }
        found
    }
}
