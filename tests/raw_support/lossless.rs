//! A lossless JPEG encoder after ITU-T T.81, annexes C, H and B.

/// How a stream is made.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    pub components: usize,
    /// 1 to 7.
    pub predictor: u8,
    /// Bits dropped from each sample.
    pub point_transform: u32,
    /// Lines between restart markers; 0 for none.
    pub restart_lines: usize,
    /// Code lengths 1, 2, 3 ... 16 for the categories 0 to 15, so that codes longer than a fast table occur; otherwise all
    /// 17 categories have 5 bits.
    pub long_codes: bool,
    /// Whether every second component has a table of its own, of the other kind.
    pub own_tables: bool,
    /// Rows of the strip or tile in one row of the stream.
    pub rows_in_one: usize,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            components: 1,
            predictor: 1,
            point_transform: 0,
            restart_lines: 0,
            long_codes: false,
            own_tables: false,
            rows_in_one: 1,
        }
    }
}

struct Bits {
    bytes: Vec<u8>,
    held: u32,
    have: u32,
}

impl Bits {
    fn put(&mut self, code: u32, length: u32) {
        for bit in (0..length).rev() {
            self.held = self.held << 1 | (code >> bit & 1);
            self.have += 1;
            if self.have == 8 {
                self.bytes.push(self.held as u8);
                if self.held == 0xff {
                    self.bytes.push(0);
                }
                (self.held, self.have) = (0, 0);
            }
        }
    }

    /// Fills the last byte with ones.
    fn flush(&mut self) {
        while self.have != 0 {
            self.put(1, 1);
        }
    }
}

/// Code and length of a category.
fn code(category: u32, long: bool) -> (u32, u32) {
    if long {
        // 0, 10, 110, ...: length = category + 1.
        let length = category + 1;
        ((1u32 << length) - 2, length)
    } else {
        (category, 5)
    }
}

/// Encodes `values` in rows of `row` values.
pub fn encode(values: &[u16], row: usize, options: Options, precision: u32) -> Vec<u8> {
    let n = options.components;
    let line = row * options.rows_in_one;
    assert_eq!(line % n, 0, "components divide the row");
    let mut padded = values.to_vec();
    while !padded.len().is_multiple_of(line) {
        padded.push(0);
    }
    let (width, height) = (line / n, padded.len() / line);
    let samples: Vec<i32> = padded
        .iter()
        .map(|value| i32::from(*value >> options.point_transform))
        .collect();

    let mut out = vec![0xff, 0xd8];
    let mut segment = |marker: u8, body: &[u8]| {
        out.extend([0xff, marker]);
        out.extend(((body.len() + 2) as u16).to_be_bytes());
        out.extend(body);
    };
    let mut frame = vec![precision as u8];
    frame.extend((height as u16).to_be_bytes());
    frame.extend((width as u16).to_be_bytes());
    frame.push(n as u8);
    for component in 0..n {
        frame.extend([component as u8, 0x11, 0]);
    }
    segment(0xc3, &frame);
    let tables = if options.own_tables { 2 } else { 1 };
    let table_of = |component: usize| component % tables;
    let is_long = |component: usize| options.long_codes ^ (table_of(component) == 1);
    for number in 0..tables {
        let mut table = vec![number as u8];
        if is_long(number) {
            table.extend([1u8; 16]);
            table.extend(0..16u8);
        } else {
            let mut counts = [0u8; 16];
            counts[4] = 17;
            table.extend(counts);
            table.extend(0..17u8);
        }
        segment(0xc4, &table);
    }
    if options.restart_lines > 0 {
        segment(
            0xdd,
            &((options.restart_lines * width) as u16).to_be_bytes(),
        );
    }
    let mut scan = vec![n as u8];
    for component in 0..n {
        scan.extend([component as u8, (table_of(component) as u8) << 4]);
    }
    scan.extend([options.predictor, 0, options.point_transform as u8]);
    segment(0xda, &scan);

    let mut bits = Bits {
        bytes: Vec::new(),
        held: 0,
        have: 0,
    };
    let mut restarts = 0u8;
    let mut first_line = true;
    for y in 0..height {
        if y > 0 && options.restart_lines > 0 && y % options.restart_lines == 0 {
            bits.flush();
            bits.bytes.extend([0xff, 0xd0 + restarts % 8]);
            restarts += 1;
            first_line = true;
        }
        for x in 0..width {
            for component in 0..n {
                let at = |x: usize, y: usize| samples[y * line + x * n + component];
                let predicted = if first_line {
                    if x == 0 {
                        1 << (precision - options.point_transform - 1)
                    } else {
                        at(x - 1, y)
                    }
                } else if x == 0 {
                    at(0, y - 1)
                } else {
                    let (a, b, c) = (at(x - 1, y), at(x, y - 1), at(x - 1, y - 1));
                    match options.predictor {
                        1 => a,
                        2 => b,
                        3 => c,
                        4 => a + b - c,
                        5 => a + ((b - c) >> 1),
                        6 => b + ((a - c) >> 1),
                        _ => (a + b) >> 1,
                    }
                };
                // Differences are modulo 2^16, taken between -32767 and 32768.
                let mut difference = (at(x, y) - predicted) & 0xffff;
                if difference > 32_768 {
                    difference -= 65_536;
                }
                let category = 32 - difference.unsigned_abs().leading_zeros();
                let (code, length) = code(category, is_long(component));
                bits.put(code, length);
                if category < 16 {
                    let extra = if difference < 0 {
                        difference + (1 << category) - 1
                    } else {
                        difference
                    };
                    bits.put(extra.cast_unsigned(), category);
                }
            }
        }
        first_line = false;
    }
    bits.flush();
    out.extend(bits.bytes);
    out.extend([0xff, 0xd9]);
    out
}
