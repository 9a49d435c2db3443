//! The container: TIFF 6.0 in either byte order, directories of typed fields.
//!
//! A directory is a list of fields sorted by tag. Fields longer than four bytes go behind it. Where a field must hold
//! the place of something written earlier (a strip, another directory), that thing is appended first and its offset
//! known by then: the file grows from the front, and only the header's pointer to the first directory is set last.

/// Byte order of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ByteOrder {
    /// "II".
    Little,
    /// "MM".
    Big,
}

impl ByteOrder {
    pub(crate) fn u16(self, value: u16) -> [u8; 2] {
        match self {
            Self::Little => value.to_le_bytes(),
            Self::Big => value.to_be_bytes(),
        }
    }

    pub(crate) fn u32(self, value: u32) -> [u8; 4] {
        match self {
            Self::Little => value.to_le_bytes(),
            Self::Big => value.to_be_bytes(),
        }
    }
}

/// A field's value (TIFF 6.0, section 2, "types").
#[derive(Clone, Debug)]
pub(crate) enum Value {
    /// BYTE.
    Bytes(Vec<u8>),
    /// ASCII, without its closing zero.
    Text(String),
    /// SHORT.
    Shorts(Vec<u16>),
    /// LONG.
    Longs(Vec<u32>),
    /// RATIONAL.
    Rationals(Vec<(u32, u32)>),
    /// SRATIONAL.
    SignedRationals(Vec<(i32, i32)>),
    /// UNDEFINED.
    Undefined(Vec<u8>),
    /// FLOAT.
    Floats(Vec<f32>),
}

impl Value {
    fn type_code(&self) -> u16 {
        match self {
            Self::Bytes(_) => 1,
            Self::Text(_) => 2,
            Self::Shorts(_) => 3,
            Self::Longs(_) => 4,
            Self::Rationals(_) => 5,
            Self::Undefined(_) => 7,
            Self::SignedRationals(_) => 10,
            Self::Floats(_) => 11,
        }
    }

    fn count(&self) -> usize {
        match self {
            Self::Bytes(bytes) | Self::Undefined(bytes) => bytes.len(),
            Self::Text(text) => text.len() + 1,
            Self::Shorts(values) => values.len(),
            Self::Longs(values) => values.len(),
            Self::Rationals(values) => values.len(),
            Self::SignedRationals(values) => values.len(),
            Self::Floats(values) => values.len(),
        }
    }

    fn bytes(&self, order: ByteOrder) -> Vec<u8> {
        match self {
            Self::Bytes(bytes) | Self::Undefined(bytes) => bytes.clone(),
            Self::Text(text) => text.bytes().chain([0]).collect(),
            Self::Shorts(values) => values.iter().flat_map(|&v| order.u16(v)).collect(),
            Self::Longs(values) => values.iter().flat_map(|&v| order.u32(v)).collect(),
            Self::Rationals(values) => values
                .iter()
                .flat_map(|&(above, below)| [order.u32(above), order.u32(below)])
                .flatten()
                .collect(),
            Self::Floats(values) => values
                .iter()
                .flat_map(|&value| order.u32(value.to_bits()))
                .collect(),
            Self::SignedRationals(values) => values
                .iter()
                .flat_map(|&(above, below)| [order.u32(above as u32), order.u32(below as u32)])
                .flatten()
                .collect(),
        }
    }
}

/// Fields of one directory.
pub(crate) type Directory = Vec<(u16, Value)>;

/// A file being written.
pub(crate) struct Writer {
    order: ByteOrder,
    bytes: Vec<u8>,
}

impl Writer {
    pub(crate) fn new(order: ByteOrder) -> Self {
        let mut bytes = match order {
            ByteOrder::Little => b"II".to_vec(),
            ByteOrder::Big => b"MM".to_vec(),
        };
        bytes.extend(order.u16(42));
        bytes.extend(order.u32(0));
        Self { order, bytes }
    }

    /// Appends data on an even offset; its offset.
    pub(crate) fn append(&mut self, data: &[u8]) -> u32 {
        if self.bytes.len() % 2 == 1 {
            self.bytes.push(0);
        }
        let offset = self.bytes.len() as u32;
        self.bytes.extend(data);
        offset
    }

    /// Appends a directory, the last of its chain; its offset.
    pub(crate) fn directory(&mut self, mut fields: Directory) -> u32 {
        fields.sort_by_key(|field| field.0);
        let mut entries = Vec::new();
        for (tag, value) in &fields {
            let mut data = value.bytes(self.order);
            entries.extend(self.order.u16(*tag));
            entries.extend(self.order.u16(value.type_code()));
            entries.extend(self.order.u32(value.count() as u32));
            if data.len() <= 4 {
                data.resize(4, 0);
                entries.extend(data);
            } else {
                let offset = self.append(&data);
                entries.extend(self.order.u32(offset));
            }
        }
        let mut directory = self.order.u16(fields.len() as u16).to_vec();
        directory.extend(entries);
        directory.extend(self.order.u32(0));
        self.append(&directory)
    }

    /// Points the header to the first directory.
    pub(crate) fn finish(mut self, first: u32) -> Vec<u8> {
        self.bytes[4..8].copy_from_slice(&self.order.u32(first));
        self.bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_directory_is_laid_out_as_the_standard_says() {
        let mut writer = Writer::new(ByteOrder::Big);
        let first = writer.directory(vec![
            (305, Value::Text("abcdef".to_owned())),
            (256, Value::Shorts(vec![7])),
        ]);
        let bytes = writer.finish(first);
        let expected: &[u8] = b"MM\0\x2a\0\0\0\x10abcdef\0\0\0\x02\x01\0\0\x03\0\0\0\x01\0\x07\0\0\x01\x31\0\x02\0\0\0\x07\0\0\0\x08\0\0\0\0";
        assert_eq!(bytes, expected);
    }
}
