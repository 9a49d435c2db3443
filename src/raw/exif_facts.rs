//! [`Facts`] from EXIF fields, whoever reads them.
//!
//! TIFF-like raws are read by this room's own walker (a library would read the whole file into memory first), JPEG EXIF
//! blocks (in RAF) by kamadak-exif, CR3 by nom-exif. All three answer the same two questions, text and numbers of a tag, so
//! the rules are written once. Tag numbers and meanings: EXIF 2.32 (CIPA DC-008), TIFF 6.0, and the Digital Negative
//! specification for the last few.

use crate::base::geometry::Orientation;
use crate::raw::facts::{Body, CaptureTime, Facts, Position};
use jiff::civil::DateTime;

/// Where a field is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Group {
    /// The first directory or the EXIF directory: their tag numbers do not clash.
    Picture,
    /// The GPS directory.
    Gps,
}

/// A reader of EXIF fields.
pub(crate) trait Fields {
    /// A text, trimmed; `None` when absent or empty.
    fn text(&self, group: Group, tag: u16) -> Option<String>;
    /// All values as numbers; rationals may be not finite.
    fn numbers(&self, group: Group, tag: u16) -> Option<Vec<f64>>;

    /// The first value when it is positive and finite.
    fn positive(&self, tag: u16) -> Option<f64> {
        self.numbers(Group::Picture, tag)?
            .first()
            .copied()
            .filter(|value| *value > 0.0 && value.is_finite())
    }
}

/// The facts that EXIF fields state.
pub(crate) fn facts_of(fields: &impl Fields) -> Facts {
    let text = |tag: u16| fields.text(Group::Picture, tag);
    Facts {
        body: Body {
            make: text(271).unwrap_or_default(),
            // UniqueCameraModel (DNG) stands in where no model is stated.
            model: text(272).or_else(|| text(50_708)).unwrap_or_default(),
            // BodySerialNumber (EXIF), CameraSerialNumber (DNG).
            serial: text(42_033).or_else(|| text(50_735)),
        },
        captured: captured(fields),
        // ExposureTime, or the APEX ShutterSpeedValue: t = 2^-Tv.
        exposure_seconds: fields
            .positive(33_434)
            .or_else(|| apex(fields, 37_377).map(|value| (-value).exp2())),
        // FNumber, or the APEX ApertureValue: N = 2^(Av/2).
        f_number: fields
            .positive(33_437)
            .or_else(|| apex(fields, 37_378).map(|value| (value / 2.0).exp2())),
        iso: iso(fields),
        focal_length_mm: fields.positive(37_386),
        lens: text(42_036),
        orientation: orientation(fields),
        position: position(fields),
    }
}

fn apex(fields: &impl Fields, tag: u16) -> Option<f64> {
    /// APEX values of real exposures lie well within this.
    const MOST: f64 = 30.0;
    fields
        .numbers(Group::Picture, tag)?
        .first()
        .copied()
        .filter(|value| value.abs() <= MOST)
}

/// PhotographicSensitivity saturates at 65535; the speed then stands in one of the three 32-bit tags of EXIF 2.3.
fn iso(fields: &impl Fields) -> Option<f64> {
    const SATURATED: f64 = 65_535.0;
    const PHOTOGRAPHIC_SENSITIVITY: u16 = 34_855;
    const RECOMMENDED_EXPOSURE_INDEX: u16 = 34_866;
    const ISO_SPEED: u16 = 34_867;
    const STANDARD_OUTPUT_SENSITIVITY: u16 = 34_865;
    let short = fields.positive(PHOTOGRAPHIC_SENSITIVITY);
    short.filter(|value| *value < SATURATED).or_else(|| {
        [
            RECOMMENDED_EXPOSURE_INDEX,
            ISO_SPEED,
            STANDARD_OUTPUT_SENSITIVITY,
        ]
        .into_iter()
        .find_map(|tag| fields.positive(tag))
        .or(short)
    })
}

fn orientation(fields: &impl Fields) -> Orientation {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked to lie within 1 to 8"
    )]
    fields
        .positive(274)
        .filter(|value| (1.0..=8.0).contains(value))
        .and_then(|value| Orientation::from_tag(value as u16))
        .unwrap_or_default()
}

/// DateTimeOriginal, DateTimeDigitized or DateTime, each with its own SubSecTime and OffsetTime.
fn captured(fields: &impl Fields) -> Option<CaptureTime> {
    const CLOCKS: [(u16, u16, u16); 3] = [
        (36_867, 37_521, 36_881),
        (36_868, 37_522, 36_882),
        (306, 37_520, 36_880),
    ];
    /// TIFF/EP TimeZoneOffset: whole hours of DateTimeOriginal's clock.
    const TIME_ZONE_OFFSET: u16 = 34_858;
    CLOCKS.into_iter().find_map(|(date, fraction, offset)| {
        let text = |tag: u16| fields.text(Group::Picture, tag);
        let civil = civil_time(&text(date)?, text(fraction).as_deref())?;
        let whole_hours = || {
            let hours = *fields.numbers(Group::Picture, TIME_ZONE_OFFSET)?.first()?;
            #[expect(clippy::cast_possible_truncation, reason = "checked to be small")]
            (hours.abs() <= 14.0).then_some(hours as i32 * 60)
        };
        Some(CaptureTime {
            civil,
            offset_minutes: text(offset)
                .and_then(|text| offset_minutes(&text))
                .or_else(whole_hours),
        })
    })
}

/// `2026:05:09 21:14:03` and the digits after the decimal point of the second. Any separators are taken: bodies differ.
pub(crate) fn civil_time(text: &str, fraction: Option<&str>) -> Option<DateTime> {
    let mut parts = text
        .split(|character: char| !character.is_ascii_digit())
        .filter(|part| !part.is_empty());
    let mut part = || parts.next()?.parse::<i16>().ok();
    let (year, month, day) = (part()?, part()?, part()?);
    let (hour, minute) = (part()?, part()?);
    let second = part().unwrap_or(0);
    let small = |value: i16| i8::try_from(value).ok();
    let digits = fraction.map(str::trim).unwrap_or_default();
    let nanoseconds = if digits.is_empty() || !digits.bytes().all(|digit| digit.is_ascii_digit()) {
        0
    } else {
        format!("{:0<9.9}", digits).parse::<i32>().ok()?
    };
    // A body whose clock was never set writes zeros, which is no date: `new` refuses it.
    DateTime::new(
        year,
        small(month)?,
        small(day)?,
        small(hour)?,
        small(minute)?,
        small(second)?,
        nanoseconds,
    )
    .ok()
}

/// `+02:00`, `-0830`, `Z`: minutes east of UTC.
fn offset_minutes(text: &str) -> Option<i32> {
    /// Civil offsets run from -12:00 to +14:00.
    const MOST_MINUTES: i32 = 14 * 60;
    if text == "Z" {
        return Some(0);
    }
    let sign = match text.as_bytes().first()? {
        b'+' => 1,
        b'-' => -1,
        _ => return None,
    };
    let digits: String = text[1..].chars().filter(char::is_ascii_digit).collect();
    if digits.len() != 4 {
        return None;
    }
    let minutes = digits[..2].parse::<i32>().ok()? * 60 + digits[2..].parse::<i32>().ok()?;
    (minutes <= MOST_MINUTES).then_some(sign * minutes)
}

fn position(fields: &impl Fields) -> Option<Position> {
    let degrees = |reference: u16, values: u16, negative: &str, most: f64| {
        let parts = fields.numbers(Group::Gps, values)?;
        let value = match parts.as_slice() {
            [degrees, minutes, seconds] => degrees + minutes / 60.0 + seconds / 3600.0,
            _ => return None,
        };
        let sign = if fields.text(Group::Gps, reference)? == negative {
            -1.0
        } else {
            1.0
        };
        (value.abs() <= most).then_some(sign * value)
    };
    let latitude = degrees(1, 2, "S", 90.0)?;
    let longitude = degrees(3, 4, "W", 180.0)?;
    let altitude = || {
        let metres = *fields.numbers(Group::Gps, 6)?.first()?;
        let below = fields.numbers(Group::Gps, 5)?.first().copied()? == 1.0;
        metres
            .is_finite()
            .then_some(if below { -metres } else { metres })
    };
    Some(Position {
        latitude,
        longitude,
        altitude: altitude(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn civil_times_keep_every_digit_of_the_second() {
        let time = civil_time("2026:05:09 21:14:03", Some("25 ")).expect("a date");
        assert_eq!(time.to_string(), "2026-05-09T21:14:03.25");
        let time = civil_time("2026:05:09 21:14:03", Some("007")).expect("a date");
        assert_eq!(time.to_string(), "2026-05-09T21:14:03.007");
        assert_eq!(civil_time("0000:00:00 00:00:00", None), None);
        assert_eq!(civil_time("2026:13:09 21:14:03", None), None);
        assert_eq!(civil_time("    :  :     :  :  ", None), None);
    }

    #[test]
    fn offsets_are_minutes_east() {
        assert_eq!(offset_minutes("+02:00"), Some(120));
        assert_eq!(offset_minutes("-08:30"), Some(-510));
        assert_eq!(offset_minutes("Z"), Some(0));
        for odd in ["", "02:00", "+2", "+99:00", "+é:00"] {
            assert_eq!(offset_minutes(odd), None, "{odd}");
        }
    }
}
