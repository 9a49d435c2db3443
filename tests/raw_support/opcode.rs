//! Opcode lists (always big endian).

/// One opcode.
pub fn opcode(number: u32, flags: u32, parameters: &[u8]) -> Vec<u8> {
    let mut bytes = Vec::new();
    for value in [number, 0x0103_0000, flags, parameters.len() as u32] {
        bytes.extend(value.to_be_bytes());
    }
    bytes.extend(parameters);
    bytes
}

/// A list.
pub fn list(opcodes: &[Vec<u8>]) -> super::Value {
    let mut bytes = (opcodes.len() as u32).to_be_bytes().to_vec();
    bytes.extend(opcodes.concat());
    super::Value::Undefined(bytes)
}

/// Parameters in the making.
#[derive(Default)]
pub struct Parameters(pub Vec<u8>);

impl Parameters {
    /// Top, left, bottom, right; first plane, planes; row pitch, column pitch.
    pub fn area(values: [u32; 8]) -> Self {
        Self::default().u32s(&values)
    }

    pub fn u32s(mut self, values: &[u32]) -> Self {
        self.0
            .extend(values.iter().flat_map(|value| value.to_be_bytes()));
        self
    }

    pub fn u16s(mut self, values: &[u16]) -> Self {
        self.0
            .extend(values.iter().flat_map(|value| value.to_be_bytes()));
        self
    }

    pub fn f32s(mut self, values: &[f32]) -> Self {
        self.0
            .extend(values.iter().flat_map(|value| value.to_be_bytes()));
        self
    }

    pub fn f64s(mut self, values: &[f64]) -> Self {
        self.0
            .extend(values.iter().flat_map(|value| value.to_be_bytes()));
        self
    }
}
