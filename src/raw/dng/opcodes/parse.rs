//! Opcode lists as they stand in the file (Digital Negative specification, chapter "Opcode List Processing"): always big
//! endian, whatever the file's byte order.

use crate::raw::error::Fault;

/// One opcode of a list, its parameters not read yet.
#[derive(Clone, Debug)]
pub(in crate::raw::dng) struct Opcode {
    /// Its number.
    pub(super) number: u32,
    /// Whether a reader may leave it out.
    pub(super) is_optional: bool,
    /// Its parameters.
    pub(super) parameters: Vec<u8>,
}

/// Flag bit 0: the opcode is optional. (Bit 1, to skip it for previews, means nothing here.)
const OPTIONAL: u32 = 1;

/// Big-endian numbers, one after the other.
pub(super) struct Numbers<'a>(pub(super) &'a [u8]);

impl Numbers<'_> {
    fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (taken, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*taken)
    }

    pub(super) fn u16(&mut self) -> Option<u16> {
        self.take().map(u16::from_be_bytes)
    }

    pub(super) fn u32(&mut self) -> Option<u32> {
        self.take().map(u32::from_be_bytes)
    }

    /// A finite number.
    pub(super) fn f32(&mut self) -> Option<f32> {
        self.take()
            .map(f32::from_be_bytes)
            .filter(|value| value.is_finite())
    }

    /// A finite number.
    pub(super) fn f64(&mut self) -> Option<f64> {
        self.take()
            .map(f64::from_be_bytes)
            .filter(|value| value.is_finite())
    }

    /// `count` values by `read`; memory is asked for only when `size` bytes for each are there.
    pub(super) fn many<T>(
        &mut self,
        count: u32,
        size: usize,
        read: impl Fn(&mut Self) -> Option<T>,
    ) -> Option<Vec<T>> {
        if self.0.len() / size < count as usize {
            return None;
        }
        (0..count).map(|_| read(self)).collect()
    }
}

/// Splits a list into its opcodes.
pub(super) fn split(bytes: &[u8]) -> Result<Vec<Opcode>, Fault> {
    let cut = || Fault::damaged("an opcode list is cut short");
    let mut numbers = Numbers(bytes);
    let count = numbers.u32().ok_or_else(cut)?;
    let mut list = Vec::new();
    for _ in 0..count {
        let number = numbers.u32().ok_or_else(cut)?;
        let _version = numbers.u32().ok_or_else(cut)?;
        let flags = numbers.u32().ok_or_else(cut)?;
        let length = numbers.u32().ok_or_else(cut)? as usize;
        let parameters = numbers.0.get(..length).ok_or_else(cut)?.to_vec();
        numbers.0 = &numbers.0[length..];
        list.push(Opcode {
            number,
            is_optional: flags & OPTIONAL != 0,
            parameters,
        });
    }
    Ok(list)
}

/// The photosites and planes that an opcode touches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Area {
    pub(super) top: usize,
    pub(super) left: usize,
    pub(super) bottom: usize,
    pub(super) right: usize,
    pub(super) plane: usize,
    pub(super) planes: usize,
    pub(super) row_pitch: usize,
    pub(super) column_pitch: usize,
}

impl Area {
    fn read(numbers: &mut Numbers<'_>) -> Option<Self> {
        let mut next = || numbers.u32().map(|value| value as usize);
        let area = Self {
            top: next()?,
            left: next()?,
            bottom: next()?,
            right: next()?,
            plane: next()?,
            planes: next()?,
            row_pitch: next()?,
            column_pitch: next()?,
        };
        (area.top <= area.bottom
            && area.left <= area.right
            && area.row_pitch > 0
            && area.column_pitch > 0
            && area.planes > 0)
            .then_some(area)
    }

    fn rows(&self) -> usize {
        (self.bottom - self.top).div_ceil(self.row_pitch)
    }

    fn columns(&self) -> usize {
        (self.right - self.left).div_ceil(self.column_pitch)
    }
}

/// A map of gains over the picture.
#[derive(Clone, Debug)]
pub(super) struct GainMap {
    pub(super) rows: usize,
    pub(super) columns: usize,
    pub(super) spacing: [f64; 2],
    pub(super) origin: [f64; 2],
    pub(super) planes: usize,
    pub(super) gains: Vec<f32>,
}

/// What an opcode does, its parameters read and checked.
#[derive(Clone, Debug)]
pub(super) enum Action {
    /// 3: gains 1 + k0 r² + k1 r⁴ + ... + k4 r¹⁰ around a centre.
    FixVignetteRadial { k: [f64; 5], centre: [f64; 2] },
    /// 4: photosites of this count are bad.
    FixBadPixelsConstant { constant: u32 },
    /// 5: these photosites (row, column) and rectangles (top, left, bottom, right) are bad.
    FixBadPixelsList {
        points: Vec<[u32; 2]>,
        rectangles: Vec<[u32; 4]>,
    },
    /// 6: only this rectangle is the picture.
    TrimBounds {
        top: usize,
        left: usize,
        bottom: usize,
        right: usize,
    },
    /// 7: a table of 16-bit values.
    MapTable { area: Area, table: Vec<u16> },
    /// 8: a polynomial, lowest power first.
    MapPolynomial { area: Area, coefficients: Vec<f64> },
    /// 9: a map of gains.
    GainMap { area: Area, map: GainMap },
    /// 10 and 12: an offset and a factor for each row of the area.
    PerRow {
        area: Area,
        kind: PerLine,
        values: Vec<f32>,
    },
    /// 11 and 13: an offset and a factor for each column of the area.
    PerColumn {
        area: Area,
        kind: PerLine,
        values: Vec<f32>,
    },
}

/// What a per-row or per-column opcode does with its value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum PerLine {
    Delta,
    Scale,
}

/// The specification's name of an opcode.
pub(super) fn name(number: u32) -> &'static str {
    match number {
        1 => "WarpRectilinear",
        2 => "WarpFisheye",
        3 => "FixVignetteRadial",
        4 => "FixBadPixelsConstant",
        5 => "FixBadPixelsList",
        6 => "TrimBounds",
        7 => "MapTable",
        8 => "MapPolynomial",
        9 => "GainMap",
        10 => "DeltaPerRow",
        11 => "DeltaPerColumn",
        12 => "ScalePerRow",
        13 => "ScalePerColumn",
        14 => "WarpRectilinear2",
        _ => "unknown",
    }
}

impl Action {
    /// Reads an opcode's parameters: `Ok(None)` for an opcode that is not carried out here, `Err` for parameters that make
    /// no sense.
    pub(super) fn of(opcode: &Opcode) -> Result<Option<Self>, Fault> {
        if !(3..=13).contains(&opcode.number) {
            return Ok(None);
        }
        Self::read(opcode.number, Numbers(&opcode.parameters))
            .map(Some)
            .ok_or_else(|| {
                Fault::damaged(format!(
                    "the parameters of opcode {} ({}) make no sense",
                    opcode.number,
                    name(opcode.number)
                ))
            })
    }

    fn read(number: u32, mut numbers: Numbers<'_>) -> Option<Self> {
        /// The specification's highest degree of MapPolynomial.
        const MOST_DEGREE: u32 = 8;
        let n = &mut numbers;
        Some(match number {
            3 => Self::FixVignetteRadial {
                k: [n.f64()?, n.f64()?, n.f64()?, n.f64()?, n.f64()?],
                centre: [n.f64()?, n.f64()?],
            },
            4 => Self::FixBadPixelsConstant { constant: n.u32()? },
            5 => {
                let _phase = n.u32()?;
                let (points, rectangles) = (n.u32()?, n.u32()?);
                Self::FixBadPixelsList {
                    points: n.many(points, 8, |n| Some([n.u32()?, n.u32()?]))?,
                    rectangles: n.many(rectangles, 16, |n| {
                        Some([n.u32()?, n.u32()?, n.u32()?, n.u32()?])
                    })?,
                }
            }
            6 => {
                let mut next = || n.u32().map(|value| value as usize);
                Self::TrimBounds {
                    top: next()?,
                    left: next()?,
                    bottom: next()?,
                    right: next()?,
                }
            }
            7 => {
                let area = Area::read(n)?;
                let count = n.u32()?;
                let table = n.many(count, 2, Numbers::u16)?;
                (!table.is_empty()).then_some(Self::MapTable { area, table })?
            }
            8 => {
                let area = Area::read(n)?;
                let degree = n.u32()?;
                if degree > MOST_DEGREE {
                    return None;
                }
                Self::MapPolynomial {
                    area,
                    coefficients: n.many(degree + 1, 8, Numbers::f64)?,
                }
            }
            9 => {
                let area = Area::read(n)?;
                Self::GainMap {
                    area,
                    map: GainMap::read(n)?,
                }
            }
            10 | 12 => {
                let area = Area::read(n)?;
                let count = n.u32()?;
                let values = n.many(count, 4, Numbers::f32)?;
                let kind = per_line(number);
                (values.len() >= area.rows()).then_some(Self::PerRow { area, kind, values })?
            }
            11 | 13 => {
                let area = Area::read(n)?;
                let count = n.u32()?;
                let values = n.many(count, 4, Numbers::f32)?;
                let kind = per_line(number);
                (values.len() >= area.columns()).then_some(Self::PerColumn {
                    area,
                    kind,
                    values,
                })?
            }
            _ => return None,
        })
    }
}

fn per_line(number: u32) -> PerLine {
    if matches!(number, 10 | 11) {
        PerLine::Delta
    } else {
        PerLine::Scale
    }
}

impl GainMap {
    fn read(n: &mut Numbers<'_>) -> Option<Self> {
        let (rows, columns) = (n.u32()?, n.u32()?);
        let spacing = [n.f64()?, n.f64()?];
        let origin = [n.f64()?, n.f64()?];
        let planes = n.u32()?;
        let count = rows.checked_mul(columns)?.checked_mul(planes)?;
        if count == 0 || spacing.iter().any(|value| *value < 0.0) {
            return None;
        }
        Some(Self {
            rows: rows as usize,
            columns: columns as usize,
            spacing,
            origin,
            planes: planes as usize,
            gains: n.many(count, 4, Numbers::f32)?,
        })
    }
}
