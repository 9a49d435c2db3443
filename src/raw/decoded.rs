//! What any reader hands over, and the one way it becomes a [`Frame`]'s mosaic: cut to the active area, pattern and black
//! levels shifted with it, sanity checked.
//!
//! Decoders leave the sensor's masked border in; everything after this room counts from the first photosite that sees
//! light, so the cut happens here, once, for all of them.

use crate::base::geometry::Rect;
use crate::base::plane::Plane;
use crate::colour::camera::CameraColour;
use crate::raw::error::Fault;
use crate::raw::frame::{BlackLevels, Channel, Layout, Mosaic};

/// Pixels of the largest picture read: medium format backs reach 150 megapixels, and a frame must fit a worker's memory.
pub(crate) const MOST_MEGAPIXELS: u64 = 400;

/// A picture as its reader left it.
#[derive(Clone, Debug)]
pub(crate) struct Decoded {
    /// Pixels in a row.
    pub(crate) width: usize,
    /// Rows.
    pub(crate) height: usize,
    /// `width * height * channels` counts, row after row.
    pub(crate) counts: Vec<u16>,
    /// The pattern, phase counted from the first photosite of the active area.
    pub(crate) layout: Layout,
    /// Black levels, pattern and deviations counted from the first photosite of the active area.
    pub(crate) black: BlackLevels,
    /// White levels of red, green, blue.
    pub(crate) white: [f32; 3],
    /// The part that sees light.
    pub(crate) active: Rect,
    /// The part that makes the picture, counted from the active area's first photosite.
    pub(crate) crop: Rect,
    /// The body's colour.
    pub(crate) colour: CameraColour,
    /// What was odd and how it was settled.
    pub(crate) notes: Vec<String>,
}

impl Layout {
    /// The same pattern seen from `right` columns and `down` rows further on.
    pub(crate) fn shifted(&self, right: usize, down: usize) -> Self {
        fn shift<const N: usize>(
            pattern: &[[Channel; N]; N],
            right: usize,
            down: usize,
        ) -> [[Channel; N]; N] {
            std::array::from_fn(|y| {
                std::array::from_fn(|x| pattern[(y + down) % N][(x + right) % N])
            })
        }
        match self {
            Self::Bayer(pattern) => Self::Bayer(shift(pattern, right, down)),
            Self::XTrans(pattern) => Self::XTrans(shift(pattern, right, down)),
            Self::Linear => Self::Linear,
        }
    }

    /// A layout from the colours of a repeating pattern, row after row (0 red, 1 green, 2 blue).
    pub(crate) fn from_pattern(width: usize, height: usize, colours: &[u8]) -> Result<Self, Fault> {
        let named = || Fault::Pattern {
            what: format!("{width} x {height} with colours {colours:?}"),
        };
        let count = |channel: u8| colours.iter().filter(|colour| **colour == channel).count();
        if colours.len() != width * height {
            return Err(named());
        }
        match (width, height) {
            // Green on one diagonal, red and blue on the other.
            (2, 2)
                if (count(0), count(1), count(2)) == (1, 2, 1)
                    && (colours[0] == 1) == (colours[3] == 1) =>
            {
                Ok(Self::Bayer([
                    [colours[0], colours[1]],
                    [colours[2], colours[3]],
                ]))
            }
            // 8 red, 20 green, 8 blue.
            (6, 6) if (count(0), count(1), count(2)) == (8, 20, 8) => {
                Ok(Self::XTrans(std::array::from_fn(|y| {
                    std::array::from_fn(|x| colours[y * 6 + x])
                })))
            }
            _ => Err(named()),
        }
    }
}

impl BlackLevels {
    /// All levels and deviations multiplied.
    pub(crate) fn scaled(mut self, by: f32) -> Self {
        let all = self
            .pattern
            .iter_mut()
            .chain(&mut self.column_deviation)
            .chain(&mut self.row_deviation);
        for level in all {
            *level *= by;
        }
        self
    }

    /// The same levels seen from `right` columns and `down` rows further on.
    pub(crate) fn shifted(&self, right: usize, down: usize) -> Self {
        let channels = self.pattern.len() / (self.rows * self.columns);
        let mut pattern = Vec::with_capacity(self.pattern.len());
        for y in 0..self.rows {
            for x in 0..self.columns {
                let cell = ((y + down) % self.rows) * self.columns + (x + right) % self.columns;
                pattern.extend_from_slice(&self.pattern[cell * channels..][..channels]);
            }
        }
        Self {
            rows: self.rows,
            columns: self.columns,
            pattern,
            column_deviation: self.column_deviation.iter().skip(right).copied().collect(),
            row_deviation: self.row_deviation.iter().skip(down).copied().collect(),
        }
    }
}

/// Refuses sizes that no body has, before memory is asked for.
pub(crate) fn check_size(width: u64, height: u64) -> Result<(), Fault> {
    if width == 0 || height == 0 {
        return Err(Fault::damaged(format!(
            "it states a picture of {width} x {height} pixels"
        )));
    }
    match width.checked_mul(height) {
        Some(pixels) if pixels <= MOST_MEGAPIXELS * 1_000_000 => Ok(()),
        _ => Err(Fault::TooLarge {
            width,
            height,
            limit: MOST_MEGAPIXELS,
        }),
    }
}

impl Decoded {
    /// The whole picture as active area and crop, for readers that know no border.
    pub(crate) fn whole(width: usize, height: usize) -> Rect {
        Rect {
            left: 0,
            top: 0,
            width,
            height,
        }
    }

    /// Cuts to the active area and checks what came out.
    pub(crate) fn into_mosaic(self) -> Result<(Mosaic, CameraColour, Vec<String>), Fault> {
        check_size(self.width as u64, self.height as u64)?;
        let channels = if self.layout == Layout::Linear { 3 } else { 1 };
        if self.counts.len() != self.width * self.height * channels {
            return Err(Fault::damaged(format!(
                "{} counts for {} x {} pixels",
                self.counts.len(),
                self.width,
                self.height
            )));
        }
        if !self.active.fits(self.width, self.height) {
            return Err(Fault::damaged("its active area lies outside its picture"));
        }
        let counts = cut(self.counts, self.width, channels, self.active);
        let counts = Plane::from_values(self.active.width * channels, self.active.height, counts)
            .ok_or_else(|| Fault::damaged("its active area lies outside its picture"))?;
        let mut notes = self.notes;
        let mut crop = self.crop;
        if !crop.fits(self.active.width, self.active.height) {
            notes.push("the stated crop lies outside the active area: all of it is used".into());
            crop = Self::whole(self.active.width, self.active.height);
        }
        let mosaic = Mosaic {
            counts,
            layout: self.layout,
            black: self.black,
            white: self.white,
            crop,
        };
        check(&mosaic)?;
        Ok((mosaic, self.colour, notes))
    }
}

/// Moves the rows of an area to the front, and leaves them alone.
fn cut(mut counts: Vec<u16>, width: usize, channels: usize, area: Rect) -> Vec<u16> {
    let length = area.width * channels;
    let stands_in_front = (area.left, area.top, area.width) == (0, 0, width);
    let moved = if stands_in_front { 0 } else { area.height };
    for y in 0..moved {
        let from = ((area.top + y) * width + area.left) * channels;
        counts.copy_within(from..from + length, y * length);
    }
    counts.truncate(length * area.height);
    counts
}

/// Levels with room between them and a mosaic that is not one value.
fn check(mosaic: &Mosaic) -> Result<(), Fault> {
    let finite = |values: &[f32]| values.iter().all(|value| value.is_finite());
    let black = &mosaic.black;
    if !(finite(&black.pattern)
        && finite(&black.column_deviation)
        && finite(&black.row_deviation)
        && finite(&mosaic.white))
    {
        return Err(Fault::damaged("a black or white level is not a number"));
    }
    let highest = |values: &[f32]| values.iter().copied().fold(f32::MIN, f32::max);
    let deviation = |values: &[f32]| highest(values).max(0.0);
    let top = highest(&black.pattern)
        + deviation(&black.column_deviation)
        + deviation(&black.row_deviation);
    let white = mosaic.white.iter().copied().fold(f32::MAX, f32::min);
    if top >= white {
        return Err(Fault::Levels { black: top, white });
    }
    let counts = mosaic.counts.values();
    if let Some(first) = counts.first()
        && counts.len() > 1
        && counts.iter().all(|count| count == first)
    {
        return Err(Fault::Implausible {
            what: format!("{first} everywhere"),
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shifting_by_a_whole_pattern_changes_nothing() {
        let bayer = Layout::Bayer([[0, 1], [1, 2]]);
        assert_eq!(bayer.shifted(2, 4), bayer);
        assert_eq!(bayer.shifted(1, 0), Layout::Bayer([[1, 0], [2, 1]]));
        assert_eq!(bayer.shifted(1, 1), Layout::Bayer([[2, 1], [1, 0]]));
        let black = BlackLevels {
            rows: 2,
            columns: 3,
            pattern: vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0],
            column_deviation: vec![0.5, 0.25],
            row_deviation: Vec::new(),
        };
        assert_eq!(black.shifted(1, 1).pattern, [5.0, 6.0, 4.0, 2.0, 3.0, 1.0]);
        assert_eq!(black.shifted(1, 1).column_deviation, [0.25]);
    }

    #[test]
    fn patterns_other_than_bayer_and_x_trans_are_refused() {
        assert!(Layout::from_pattern(2, 2, &[2, 1, 1, 0]).is_ok());
        assert!(Layout::from_pattern(2, 2, &[1, 0, 2, 1]).is_ok());
        for (width, height, colours) in [
            (2, 2, vec![0, 1, 2, 1]),
            (2, 2, vec![0, 1, 3, 2]),
            (2, 2, vec![0, 1, 1]),
            (4, 2, vec![0, 1, 0, 1, 1, 2, 1, 2]),
        ] {
            assert!(Layout::from_pattern(width, height, &colours).is_err());
        }
    }

    #[test]
    fn the_active_area_is_cut_out() {
        let counts: Vec<u16> = (0..20).collect();
        let area = Rect {
            left: 1,
            top: 2,
            width: 3,
            height: 2,
        };
        assert_eq!(cut(counts, 5, 1, area), [11, 12, 13, 16, 17, 18]);
        let counts: Vec<u16> = (0..12).collect();
        let area = Rect {
            left: 1,
            top: 1,
            width: 1,
            height: 1,
        };
        assert_eq!(cut(counts, 2, 3, area), [9, 10, 11]);
    }

    #[test]
    fn sizes_that_no_body_has_are_refused() {
        assert!(check_size(0, 5).is_err());
        assert!(check_size(u64::MAX, 2).is_err());
        assert!(check_size(20_000, 20_001).is_err());
        assert!(check_size(20_000, 20_000).is_ok());
    }
}
