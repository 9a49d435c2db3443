//! From tags to levels, areas and pattern (Digital Negative specification, chapter 4).

use super::tags;
use crate::base::geometry::Rect;
use crate::raw::error::Fault;
use crate::raw::frame::{BlackLevels, Layout};
use crate::raw::source::Source;
use crate::raw::tiff::{Directory, Tiff};

/// The largest repeating pattern of black levels read.
const MOST_REPEAT: u32 = 8;
/// The longest row or column for which deviations are read.
const MOST_DEVIATIONS: u32 = 1 << 16;

/// The colours of the picture, counted from the active area's first photosite (CFAPattern has its origin there, as the
/// black level pattern does).
pub(super) fn layout<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    directory: &Directory,
) -> Result<Layout, Fault> {
    if tiff.integer_of(directory, tags::PHOTOMETRIC_INTERPRETATION)
        == Some(tags::PHOTOMETRIC_LINEAR)
    {
        return match tiff.integer_of(directory, tags::SAMPLES_PER_PIXEL) {
            Some(3) => Ok(Layout::Linear),
            other => Err(Fault::Pattern {
                what: format!("linear with {} values a pixel", other.unwrap_or(1)),
            }),
        };
    }
    let missing = || Fault::damaged("its colour filter pattern is missing");
    if tiff.integer_of(directory, tags::CFA_LAYOUT).unwrap_or(1) != 1 {
        return Err(Fault::Pattern {
            what: "photosites in staggered rows or columns".into(),
        });
    }
    let size = tiff
        .numbers_of(directory, tags::CFA_REPEAT_PATTERN_DIM, 2)
        .ok_or_else(missing)?;
    let codes = tiff
        .numbers_of(directory, tags::CFA_PATTERN, 64)
        .ok_or_else(missing)?;
    // The pattern holds colour codes (0 red, 1 green, 2 blue by TIFF/EP). CFAPlaneColor orders the planes, and with them the
    // rows of the colour matrices: any order but the usual one would swap colours.
    let planes = tiff
        .numbers_of(directory, tags::CFA_PLANE_COLOR, 8)
        .unwrap_or_else(|| vec![0.0, 1.0, 2.0]);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "whole numbers; a value too large saturates and is refused"
    )]
    let small = |values: &[f64]| -> Vec<u8> { values.iter().map(|value| *value as u8).collect() };
    let [rows, columns] = small(&size)[..] else {
        return Err(missing());
    };
    if planes.len() == 3 && planes != [0.0, 1.0, 2.0] {
        return Err(Fault::unsupported(
            "colour planes in another order than red, green, blue",
        ));
    }
    if planes.len() != 3 {
        return Err(Fault::Pattern {
            what: format!("{} colours", planes.len()),
        });
    }
    Layout::from_pattern(usize::from(columns), usize::from(rows), &small(&codes))
}

/// The part that sees light: top, left, bottom, right; the whole picture by default.
pub(super) fn active_area<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    directory: &Directory,
    width: usize,
    height: usize,
) -> Result<Rect, Fault> {
    let Some(edges) = tiff.numbers_of(directory, tags::ACTIVE_AREA, 4) else {
        return Ok(Rect {
            left: 0,
            top: 0,
            width,
            height,
        });
    };
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "32-bit whole numbers"
    )]
    let edges: Vec<usize> = edges.into_iter().map(|edge| edge as usize).collect();
    let outside = || Fault::damaged("its active area lies outside its picture");
    let [top, left, bottom, right] = edges[..] else {
        return Err(outside());
    };
    let area = Rect {
        left,
        top,
        width: right.checked_sub(left).ok_or_else(outside)?,
        height: bottom.checked_sub(top).ok_or_else(outside)?,
    };
    if area.fits(width, height) {
        Ok(area)
    } else {
        Err(outside())
    }
}

/// The default crop in whole photosites of the active area, all of it by default.
pub(super) fn crop<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    directory: &Directory,
    active: Rect,
) -> Rect {
    stated_crop(tiff, directory).unwrap_or(Rect {
        left: 0,
        top: 0,
        width: active.width,
        height: active.height,
    })
}

/// The default crop where the file states one: origin and size are rationals; a part of a photosite is left out.
pub(crate) fn stated_crop<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    directory: &Directory,
) -> Option<Rect> {
    let pair = |tag: u16| -> Option<[f64; 2]> {
        let values = tiff.numbers_of(directory, tag, 2)?;
        let pair = [*values.first()?, *values.get(1)?];
        pair.iter()
            .all(|value| value.is_finite() && *value >= 0.0)
            .then_some(pair)
    };
    let origin = pair(tags::DEFAULT_CROP_ORIGIN)?;
    let size = pair(tags::DEFAULT_CROP_SIZE)?;
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "not negative; a value too large saturates and does not fit"
    )]
    let [(left, width), (top, height)] = [0, 1].map(|axis| {
        let first = origin[axis].ceil();
        let end = (origin[axis] + size[axis]).floor();
        (first as usize, (end - first).max(0.0) as usize)
    });
    Some(Rect {
        left,
        top,
        width,
        height,
    })
}

/// Black levels: a repeating pattern and deviations by column and row, all in linearised counts.
pub(super) fn black<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    directory: &Directory,
    active: Rect,
    channels: usize,
) -> Result<BlackLevels, Fault> {
    let repeat = tiff
        .numbers_of(directory, tags::BLACK_LEVEL_REPEAT_DIM, 2)
        .unwrap_or_else(|| vec![1.0, 1.0]);
    let is_size = |value: f64| value >= 1.0 && value <= f64::from(MOST_REPEAT);
    let &[rows, columns] = repeat.as_slice() else {
        return Err(Fault::damaged("its black level pattern has no size"));
    };
    if !is_size(rows) || !is_size(columns) {
        return Err(Fault::damaged(format!(
            "its black levels repeat every {rows} x {columns} photosites"
        )));
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked to be 1 to 8"
    )]
    let (rows, columns) = (rows as usize, columns as usize);
    let most = MOST_REPEAT * MOST_REPEAT * 3;
    let pattern = match directory.entry(tags::BLACK_LEVEL) {
        None => vec![0.0; rows * columns * channels],
        Some(entry) => {
            let values = tiff.numbers(entry, most).map(single).unwrap_or_default();
            if values.len() == rows * columns * channels {
                values
            } else if let [level] = values[..] {
                // Some writers give one level for three channels.
                vec![level; rows * columns * channels]
            } else {
                return Err(Fault::damaged(format!(
                    "{} black levels where {} are needed",
                    values.len(),
                    rows * columns * channels
                )));
            }
        }
    };
    let deviation = |tag: u16, length: usize| match directory.entry(tag) {
        None => Ok(Vec::new()),
        Some(entry) => {
            let values = tiff
                .numbers(entry, MOST_DEVIATIONS)
                .map(single)
                .unwrap_or_default();
            if values.len() == length {
                Ok(values)
            } else {
                Err(Fault::damaged(
                    "its black level deviations do not fit its active area",
                ))
            }
        }
    };
    Ok(BlackLevels {
        rows,
        columns,
        pattern,
        column_deviation: deviation(tags::BLACK_LEVEL_DELTA_H, active.width)?,
        row_deviation: deviation(tags::BLACK_LEVEL_DELTA_V, active.height)?,
    })
}

/// White levels of red, green, blue, or the default.
pub(super) fn white<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    directory: &Directory,
    default: f32,
) -> Result<[f32; 3], Fault> {
    if directory.entry(tags::WHITE_LEVEL).is_none() {
        return Ok([default; 3]);
    }
    stated_white(tiff, directory).ok_or_else(|| Fault::damaged("its white levels cannot be read"))
}

/// White levels of red, green, blue where the file states them.
pub(crate) fn stated_white<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    directory: &Directory,
) -> Option<[f32; 3]> {
    match single(tiff.numbers_of(directory, tags::WHITE_LEVEL, 4)?)[..] {
        [red, green, blue] => Some([red, green, blue]),
        [one] => Some([one; 3]),
        _ => None,
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "levels are counts of 16 bits and their fractions"
)]
fn single(values: Vec<f64>) -> Vec<f32> {
    values.into_iter().map(|value| value as f32).collect()
}
