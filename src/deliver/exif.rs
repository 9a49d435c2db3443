//! EXIF of a delivered picture (CIPA DC-008, version 2.32), written anew from a frame's facts by little_exif.
//!
//! Nothing is copied as bytes: maker notes break when they are moved, an embedded preview would show the frame as the body saw it,
//! and a position must not slip through. So the block starts empty, and each fact that is known becomes a field. Orientation is
//! always 1, because the pixels are upright already. The bytes depend on nothing but the arguments.

use crate::deliver::fraction::{Fraction, whole_number};
use crate::deliver::wish::Wish;
use crate::deliver::words::cleaned;
use crate::raw::facts::{CaptureTime, Facts, Position};
use little_exif::exif_tag::ExifTag;
use little_exif::metadata::Metadata;
use little_exif::rational::uR64;

/// What wrote the file.
pub(crate) const SOFTWARE: &str = concat!("houselights ", env!("CARGO_PKG_VERSION"));

/// Values of CIPA DC-008-2019, sections 4.6.4 (TIFF fields), 4.6.5 (Exif fields) and 4.6.6 (position); section numbers from
/// memory.
const UPRIGHT: u16 = 1;
const INCHES: u16 = 2;
const UNKNOWN_DENSITY: u32 = 72;
const CENTRED: u16 = 1;
pub(crate) const SRGB: u16 = 1;
/// Any other space: the profile says which.
pub(crate) const UNCALIBRATED: u16 = 0xffff;
const EXIF_VERSION: &[u8; 4] = b"0232";
const FLASHPIX_VERSION: &[u8; 4] = b"0100";
/// Y, Cb, Cr, none.
const COMPONENTS: [u8; 4] = [1, 2, 3, 0];
const GPS_VERSION: [u8; 4] = [2, 3, 0, 0];
const ABOVE_SEA_LEVEL: u8 = 0;
const BELOW_SEA_LEVEL: u8 = 1;
const RECOMMENDED_EXPOSURE_INDEX: u16 = 2;

/// The EXIF block of a JPEG file as TIFF bytes, little endian, for a picture of `width` by `height` pixels.
///
/// # Errors
/// When the library refuses to write it.
pub(crate) fn block(
    facts: &Facts,
    (width, height): (u32, u32),
    wish: &Wish,
    colour_space: u16,
) -> std::io::Result<Vec<u8>> {
    let mut metadata = Metadata::new();
    let compressed = vec![
        ExifTag::YCbCrPositioning(vec![CENTRED]),
        ExifTag::ComponentsConfiguration(COMPONENTS.to_vec()),
        ExifTag::ExifImageWidth(vec![width]),
        ExifTag::ExifImageHeight(vec![height]),
    ];
    for field in fields(facts, wish, colour_space)
        .into_iter()
        .chain(compressed)
    {
        metadata.set_tag(field);
    }
    metadata.encode()
}

/// Every field but those of compressed pictures, in no order.
pub(crate) fn fields(facts: &Facts, wish: &Wish, colour_space: u16) -> Vec<ExifTag> {
    let body = body_fields(facts);
    let exposure = exposure_fields(facts);
    let time = facts.captured.as_ref().map(time_fields).unwrap_or_default();
    let position = facts
        .position
        .filter(|_| wish.include_position)
        .and_then(|position| position_fields(&position))
        .unwrap_or_default();
    let picture = picture_fields(wish.pixels_per_inch, colour_space);
    [picture, body, exposure, time, position].concat()
}

/// What every picture has.
fn picture_fields(pixels_per_inch: f64, colour_space: u16) -> Vec<ExifTag> {
    // A number that is none, which no look can state, is written as the format's word for unknown (DC-008, 4.6.4: 72).
    let density = Fraction::near(pixels_per_inch).unwrap_or(Fraction::whole(UNKNOWN_DENSITY));
    let resolution = || vec![rational(density)];
    vec![
        ExifTag::Orientation(vec![UPRIGHT]),
        ExifTag::XResolution(resolution()),
        ExifTag::YResolution(resolution()),
        ExifTag::ResolutionUnit(vec![INCHES]),
        ExifTag::Software(SOFTWARE.to_string()),
        ExifTag::ExifVersion(EXIF_VERSION.to_vec()),
        ExifTag::FlashpixVersion(FLASHPIX_VERSION.to_vec()),
        ExifTag::ColorSpace(vec![colour_space]),
    ]
}

/// Body and lens.
fn body_fields(facts: &Facts) -> Vec<ExifTag> {
    [
        cleaned(&facts.body.make).map(ExifTag::Make),
        cleaned(&facts.body.model).map(ExifTag::Model),
        facts
            .body
            .serial
            .as_deref()
            .and_then(cleaned)
            .map(ExifTag::SerialNumber),
        facts
            .lens
            .as_deref()
            .and_then(cleaned)
            .map(ExifTag::LensModel),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Exposure settings and focal length.
fn exposure_fields(facts: &Facts) -> Vec<ExifTag> {
    let fraction = |value: Option<f64>| value.and_then(Fraction::near).map(|f| vec![rational(f)]);
    let mut fields: Vec<ExifTag> = [
        fraction(facts.exposure_seconds).map(ExifTag::ExposureTime),
        fraction(facts.f_number).map(ExifTag::FNumber),
        fraction(facts.focal_length_mm).map(ExifTag::FocalLength),
    ]
    .into_iter()
    .flatten()
    .collect();
    if let Some(iso) = facts.iso.and_then(whole_iso) {
        fields.extend(sensitivity_fields(iso));
    }
    fields
}

/// The ISO speed as a whole number from 1 on.
pub(crate) fn whole_iso(iso: f64) -> Option<u32> {
    let rounded = iso.round();
    (rounded >= 1.0 && rounded <= f64::from(u32::MAX)).then(|| whole_number(rounded))
}

/// The field for sensitivity has 16 bits. Above them it holds 65535, and another field holds the number (DC-008-2019, 4.6.5,
/// "PhotographicSensitivity"); bodies state the recommended exposure index there (common practice, no source).
fn sensitivity_fields(iso: u32) -> Vec<ExifTag> {
    match u16::try_from(iso) {
        Ok(iso) if iso < u16::MAX => vec![ExifTag::ISO(vec![iso])],
        _ => vec![
            ExifTag::ISO(vec![u16::MAX]),
            ExifTag::SensitivityType(vec![RECOMMENDED_EXPOSURE_INDEX]),
            ExifTag::RecommendedExposureIndex(vec![iso]),
        ],
    }
}

/// When the shutter opened; a digital frame is digitised in the same moment, so both dates say it.
fn time_fields(time: &CaptureTime) -> Vec<ExifTag> {
    let civil = &time.civil;
    if civil.year() < 0 {
        return Vec::new();
    }
    let date = format!(
        "{:04}:{:02}:{:02} {:02}:{:02}:{:02}",
        civil.year(),
        civil.month(),
        civil.day(),
        civil.hour(),
        civil.minute(),
        civil.second()
    );
    let mut fields = vec![
        ExifTag::DateTimeOriginal(date.clone()),
        ExifTag::CreateDate(date),
    ];
    if let Some(digits) = second_digits(time) {
        fields.push(ExifTag::SubSecTimeOriginal(digits.clone()));
        fields.push(ExifTag::SubSecTimeDigitized(digits));
    }
    if let Some(offset) = offset_words(time) {
        fields.push(ExifTag::OffsetTimeOriginal(offset.clone()));
        fields.push(ExifTag::OffsetTimeDigitized(offset));
    }
    fields
}

/// The digits of the second after the point, without closing zeros; `None` when there are none.
pub(crate) fn second_digits(time: &CaptureTime) -> Option<String> {
    let nanoseconds = time.civil.subsec_nanosecond();
    let digits = format!("{nanoseconds:09}");
    let digits = digits.trim_end_matches('0');
    (!digits.is_empty()).then(|| digits.to_string())
}

/// The offset from UTC as `+02:00`; `None` when it is unknown or no clock's (a day or more).
pub(crate) fn offset_words(time: &CaptureTime) -> Option<String> {
    const MINUTES_OF_A_DAY: u32 = 24 * 60;
    let minutes = time.offset_minutes?;
    let size = minutes.unsigned_abs();
    (size < MINUTES_OF_A_DAY).then(|| {
        let sign = if minutes < 0 { '-' } else { '+' };
        format!("{sign}{:02}:{:02}", size / 60, size % 60)
    })
}

/// A place on Earth; `None` when the numbers are none.
fn position_fields(position: &Position) -> Option<Vec<ExifTag>> {
    let latitude = degrees(position.latitude, 90.0)?;
    let longitude = degrees(position.longitude, 180.0)?;
    let (north, east) = hemispheres(position);
    let mut fields = vec![
        ExifTag::GPSVersionID(GPS_VERSION.to_vec()),
        ExifTag::GPSLatitudeRef(north.to_string()),
        ExifTag::GPSLatitude(latitude),
        ExifTag::GPSLongitudeRef(east.to_string()),
        ExifTag::GPSLongitude(longitude),
        ExifTag::GPSMapDatum("WGS-84".to_string()),
    ];
    if let Some(metres) = position.altitude.filter(|metres| metres.is_finite()) {
        let side = if metres < 0.0 {
            BELOW_SEA_LEVEL
        } else {
            ABOVE_SEA_LEVEL
        };
        let height = Fraction::near(metres.abs()).unwrap_or(Fraction::whole(0));
        fields.push(ExifTag::GPSAltitudeRef(vec![side]));
        fields.push(ExifTag::GPSAltitude(vec![rational(height)]));
    }
    Some(fields)
}

/// Letters of the hemispheres.
pub(crate) fn hemispheres(position: &Position) -> (char, char) {
    (
        if position.latitude < 0.0 { 'S' } else { 'N' },
        if position.longitude < 0.0 { 'W' } else { 'E' },
    )
}

/// Whole degrees, whole minutes and seconds; `None` outside `limit`.
fn degrees(value: f64, limit: f64) -> Option<Vec<uR64>> {
    /// A ten thousandth of a second of arc is 3 mm on the ground.
    const PARTS_OF_A_SECOND: u32 = 10_000;
    const PARTS_OF_A_MINUTE: u32 = 60 * PARTS_OF_A_SECOND;
    const PARTS_OF_A_DEGREE: u32 = 60 * PARTS_OF_A_MINUTE;
    if !(-limit..=limit).contains(&value) {
        return None;
    }
    // Not over 180 * 36,000,000 = 6.5e9, so 64 bits; rounded once, so that 59.99999 carries over.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "bounded by the limit"
    )]
    let parts = (value.abs() * f64::from(PARTS_OF_A_DEGREE)).round() as u64;
    let part = |value: u64, denominator: u32| uR64 {
        nominator: u32::try_from(value).unwrap_or(u32::MAX),
        denominator,
    };
    let (degree, minute) = (u64::from(PARTS_OF_A_DEGREE), u64::from(PARTS_OF_A_MINUTE));
    Some(vec![
        part(parts / degree, 1),
        part(parts % degree / minute, 1),
        part(parts % minute, PARTS_OF_A_SECOND),
    ])
}

fn rational(fraction: Fraction) -> uR64 {
    uR64 {
        nominator: fraction.numerator,
        denominator: fraction.denominator,
    }
}
