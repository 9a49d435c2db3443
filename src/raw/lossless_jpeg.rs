//! Lossless JPEG: ITU-T T.81 (ISO/IEC 10918-1), process 14, Huffman coding, as the Digital Negative specification and most
//! bodies use it.
//!
//! All seven predictors, 1 to 4 components without subsampling, 2 to 16 bits, point transform and restart intervals. Codes
//! are read by table: 12 bits of the stream index a table that gives the difference's category and the code's length at
//! once, longer codes take a second step; the bits come from a 64-bit reservoir that swallows the stuffed zero after 0xFF.
//! A stream that ends early is an error: missing bits are never made up.

use crate::raw::error::Fault;

/// Bits of the first table step: codes of real files are rarely longer.
const FAST_BITS: u32 = 12;
/// Marks a code longer than [`FAST_BITS`].
const LONGER: u8 = 0xff;

fn damaged(what: &str) -> Fault {
    Fault::damaged(format!("lossless JPEG: {what}"))
}

/// What a stream's header states.
#[derive(Clone, Debug)]
pub(crate) struct LosslessJpeg<'a> {
    /// Samples of one component in a row.
    pub(crate) width: usize,
    /// Rows.
    pub(crate) height: usize,
    /// Components, interleaved.
    pub(crate) components: usize,
    /// Bits of a sample.
    pub(crate) precision: u32,
    predictor: u8,
    point_transform: u32,
    /// Lines between restarts; 0 for none.
    restart_lines: usize,
    tables: Vec<Table>,
    /// Table of each component.
    table_of: [usize; 4],
    scan: &'a [u8],
}

/// A Huffman table, ready to be looked up.
#[derive(Clone, Debug)]
struct Table {
    /// For each [`FAST_BITS`] bits: category and code length, or [`LONGER`].
    fast: Vec<(u8, u8)>,
    /// Per code length 1 to 16: the first code beyond it, aligned to 16 bits, and what to add to a code for its value.
    limit: [u32; 17],
    offset: [i32; 17],
    values: Vec<u8>,
}

impl Table {
    /// From the numbers of codes per length and the values (T.81, annex C and F.2.2.3).
    fn new(counts: &[u8; 16], values: &[u8]) -> Result<Self, Fault> {
        /// A difference has 0 to 16 bits in a lossless process (T.81, table H.2).
        const MOST_CATEGORY: u8 = 16;
        if values.iter().any(|value| *value > MOST_CATEGORY) {
            return Err(damaged("a difference of more than 16 bits"));
        }
        let mut fast = vec![(0, LONGER); 1 << FAST_BITS];
        let mut limit = [0u32; 17];
        let mut offset = [0i32; 17];
        let (mut code, mut index) = (0u32, 0usize);
        for length in 1..=16u32 {
            let count = usize::from(counts[length as usize - 1]);
            offset[length as usize] = index as i32 - code.cast_signed();
            for _ in 0..count {
                if code >= 1 << length {
                    return Err(damaged("its code table is overfull"));
                }
                let value = values[index];
                if length <= FAST_BITS {
                    let shift = FAST_BITS - length;
                    let from = (code << shift) as usize;
                    for slot in &mut fast[from..from + (1 << shift)] {
                        *slot = (value, length as u8);
                    }
                }
                code += 1;
                index += 1;
            }
            limit[length as usize] = code << (16 - length);
            code <<= 1;
        }
        Ok(Self {
            fast,
            limit,
            offset,
            values: values.to_vec(),
        })
    }

    /// Category and length of a code longer than the fast table's, from the next 16 bits.
    fn slow(&self, bits: u32) -> Option<(u8, u32)> {
        for length in FAST_BITS + 1..=16 {
            if bits < self.limit[length as usize] {
                let code = (bits >> (16 - length)).cast_signed();
                let value = self
                    .values
                    .get(usize::try_from(code + self.offset[length as usize]).ok()?)?;
                return Some((*value, length));
            }
        }
        None
    }
}

/// The bits of a scan.
struct Bits<'a> {
    bytes: &'a [u8],
    at: usize,
    /// The next bits, the very next one the most significant.
    held: u64,
    /// How many of them are bits of the stream.
    have: u32,
    /// Zero bits put in after the end of the scan.
    made_up: u32,
}

impl<'a> Bits<'a> {
    fn new(bytes: &'a [u8]) -> Self {
        Self {
            bytes,
            at: 0,
            held: 0,
            have: 0,
            made_up: 0,
        }
    }

    /// At least 32 bits in hand: enough for one code and its difference.
    #[inline(always)]
    fn fill(&mut self) {
        if self.have > 32 {
            return;
        }
        if let Some(next) = self.bytes.get(self.at..self.at + 4) {
            let word = u32::from_be_bytes([next[0], next[1], next[2], next[3]]);
            // No byte of it is 0xFF: the classic test for a zero byte, on the complement.
            let inverse = !word;
            if inverse.wrapping_sub(0x0101_0101) & !inverse & 0x8080_8080 == 0 {
                self.held |= u64::from(word) << (32 - self.have);
                self.have += 32;
                self.at += 4;
                return;
            }
        }
        self.fill_slowly();
    }

    #[cold]
    #[inline(never)]
    fn fill_slowly(&mut self) {
        while self.have <= 48 {
            let byte = match self.bytes.get(self.at) {
                Some(0xff) => match self.bytes.get(self.at + 1) {
                    // A stuffed zero.
                    Some(0) => {
                        self.at += 2;
                        0xff
                    }
                    // A marker: nothing more before it.
                    _ => {
                        self.made_up += 8;
                        0
                    }
                },
                Some(byte) => {
                    self.at += 1;
                    *byte
                }
                None => {
                    self.made_up += 8;
                    0
                }
            };
            self.held |= u64::from(byte) << (56 - self.have);
            self.have += 8;
        }
    }

    #[inline(always)]
    fn take(&mut self, count: u32) {
        self.held <<= count;
        self.have -= count;
    }

    /// Whether bits were used that the stream does not have.
    fn is_exhausted(&self) -> bool {
        self.made_up > self.have
    }

    /// The next difference (T.81, H.1.2.2); `None` for a code that no table holds.
    #[inline(always)]
    fn difference(&mut self, table: &Table) -> Option<i32> {
        self.fill();
        let (mut category, mut length) = table.fast[(self.held >> (64 - FAST_BITS)) as usize];
        if length == LONGER {
            let (value, bits) = table.slow((self.held >> 48) as u32)?;
            category = value;
            #[expect(clippy::cast_possible_truncation, reason = "at most 16")]
            {
                length = bits as u8;
            }
        }
        self.take(u32::from(length));
        let category = u32::from(category);
        if category == 0 {
            return Some(0);
        }
        if category == 16 {
            // No further bits: the difference is 32768 itself.
            return Some(32_768);
        }
        #[expect(clippy::cast_possible_truncation, reason = "at most 15 bits remain")]
        let bits = (self.held >> (64 - category)) as i32;
        self.take(category);
        // A first bit of 0 means a negative difference: add 1 - 2^category then, without a branch.
        let negative = (bits >> (category - 1)) - 1;
        Some(bits + (negative & (1 - (1 << category))))
    }

    /// Moves behind the next restart marker.
    fn restart(&mut self) -> Option<()> {
        self.held = 0;
        self.have = 0;
        self.made_up = 0;
        loop {
            let pair = self.bytes.get(self.at..self.at + 2)?;
            if pair[0] == 0xff && (0xd0..=0xd7).contains(&pair[1]) {
                self.at += 2;
                return Some(());
            }
            // Only padding may stand between: the reservoir may have stopped before a whole byte of it.
            self.at += 1;
        }
    }
}

impl<'a> LosslessJpeg<'a> {
    /// Reads the header up to the scan.
    pub(crate) fn new(bytes: &'a [u8]) -> Result<Self, Fault> {
        const SOI: u8 = 0xd8;
        const SOF3: u8 = 0xc3;
        const DHT: u8 = 0xc4;
        const DRI: u8 = 0xdd;
        const SOS: u8 = 0xda;
        if !bytes.starts_with(&[0xff, SOI]) {
            return Err(damaged("it does not begin as a JPEG stream"));
        }
        let mut tables: [Option<Table>; 4] = [const { None }; 4];
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
                DHT => read_tables(segment, &mut tables)?,
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
        tables: [Option<Table>; 4],
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
        let mut table_of = [0; 4];
        for (component, identifier) in frame.identifiers.iter().enumerate() {
            let [scanned, selector] = [segment[1 + 2 * component], segment[2 + 2 * component]];
            let table = tables
                .get(usize::from(selector >> 4))
                .and_then(Option::as_ref);
            let Some(table) = table.filter(|_| scanned == *identifier) else {
                return Err(damaged("its scan names an unknown component or table"));
            };
            table_of[component] = used.len();
            used.push(table.clone());
        }
        let predictor = segment[1 + 2 * components];
        let point_transform = u32::from(segment[3 + 2 * components] & 0x0f);
        if !(1..=7).contains(&predictor) || point_transform >= frame.precision {
            return Err(damaged("an unknown predictor or point transform"));
        }
        if restart_samples % frame.width != 0 {
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
            table_of,
            scan,
        })
    }

    /// Values in a row: width times components.
    pub(crate) fn row_length(&self) -> usize {
        self.width * self.components
    }

    /// Decodes the rows in order into `values`, whose length is a multiple of [`LosslessJpeg::row_length`] and holds no more
    /// rows than there are.
    pub(crate) fn decode(&self, values: &mut [u16]) -> Result<(), Fault> {
        match self.components {
            1 => self.decode_rows::<1>(values),
            2 => self.decode_rows::<2>(values),
            3 => self.decode_rows::<3>(values),
            _ => self.decode_rows::<4>(values),
        }
    }

    fn decode_rows<const N: usize>(&self, values: &mut [u16]) -> Result<(), Fault> {
        let length = self.row_length();
        if !values.len().is_multiple_of(length) || values.len() / length > self.height {
            return Err(damaged("it has fewer rows than its strip or tile"));
        }
        let tables: [&Table; N] =
            std::array::from_fn(|component| &self.tables[self.table_of[component]]);
        let initial = 1u16 << (self.precision - self.point_transform - 1);
        let mut bits = Bits::new(self.scan);
        let mut is_first = true;
        for row in 0..values.len() / length {
            if row > 0 && self.restart_lines > 0 && row.is_multiple_of(self.restart_lines) {
                bits.restart()
                    .ok_or_else(|| damaged("a restart marker is missing"))?;
                is_first = true;
            }
            let (above, line) = values.split_at_mut(row * length);
            let line = &mut line[..length];
            let above = above.len().checked_sub(length).map(|from| &above[from..]);
            let done = match above.filter(|_| !is_first) {
                // T.81, H.1.2.1: the first line is predicted from the left, from half the range at its start.
                None => from_left::<N>(&mut bits, &tables, [initial; N], line),
                Some(above) => {
                    let start = std::array::from_fn(|component| above[component]);
                    match self.predictor {
                        1 => from_left::<N>(&mut bits, &tables, start, line),
                        2 => general::<N>(&mut bits, &tables, start, line, above, |_, up, _| up),
                        3 => {
                            general::<N>(&mut bits, &tables, start, line, above, |_, _, corner| {
                                corner
                            })
                        }
                        4 => general::<N>(
                            &mut bits,
                            &tables,
                            start,
                            line,
                            above,
                            |left, up, corner| left + up - corner,
                        ),
                        5 => general::<N>(
                            &mut bits,
                            &tables,
                            start,
                            line,
                            above,
                            |left, up, corner| left + ((up - corner) >> 1),
                        ),
                        6 => general::<N>(
                            &mut bits,
                            &tables,
                            start,
                            line,
                            above,
                            |left, up, corner| up + ((left - corner) >> 1),
                        ),
                        _ => general::<N>(&mut bits, &tables, start, line, above, |left, up, _| {
                            (left + up) >> 1
                        }),
                    }
                }
            };
            done.ok_or_else(|| damaged("a code that its table does not hold"))?;
            if bits.is_exhausted() {
                return Err(damaged("its samples end early"));
            }
            is_first = false;
        }
        if self.point_transform > 0 {
            for value in values {
                *value <<= self.point_transform;
            }
        }
        Ok(())
    }
}

/// A line of which each sample is predicted by the one to its left. Sums are modulo 2^16 (T.81, H.1.2.1).
#[inline(always)]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the process works modulo 2^16"
)]
fn from_left<const N: usize>(
    bits: &mut Bits<'_>,
    tables: &[&Table; N],
    start: [u16; N],
    line: &mut [u16],
) -> Option<()> {
    let mut left = start;
    for pixel in line.chunks_exact_mut(N) {
        for component in 0..N {
            let value = left[component].wrapping_add(bits.difference(tables[component])? as u16);
            left[component] = value;
            pixel[component] = value;
        }
    }
    Some(())
}

/// A line predicted from left, above and the corner between them; its first sample from above.
#[inline(always)]
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the process works modulo 2^16"
)]
fn general<const N: usize>(
    bits: &mut Bits<'_>,
    tables: &[&Table; N],
    start: [u16; N],
    line: &mut [u16],
    above: &[u16],
    predict: impl Fn(i32, i32, i32) -> i32,
) -> Option<()> {
    let mut left = [0u16; N];
    let mut corner = [0u16; N];
    for (x, (pixel, up)) in line
        .chunks_exact_mut(N)
        .zip(above.chunks_exact(N))
        .enumerate()
    {
        for component in 0..N {
            let predicted = if x == 0 {
                i32::from(start[component])
            } else {
                predict(
                    i32::from(left[component]),
                    i32::from(up[component]),
                    i32::from(corner[component]),
                )
            };
            let value = (predicted + bits.difference(tables[component])?) as u16;
            left[component] = value;
            corner[component] = up[component];
            pixel[component] = value;
        }
    }
    Some(())
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

fn read_tables(mut segment: &[u8], tables: &mut [Option<Table>; 4]) -> Result<(), Fault> {
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
            *slot = Some(Table::new(counts, values)?);
        }
        segment = rest;
    }
    Ok(())
}
