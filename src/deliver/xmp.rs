//! The XMP packet of a delivered picture (ISO 16684-1), written by xmp-writer.
//!
//! It says in Unicode what EXIF says in its own fields (CIPA DC-010 names the properties), and what EXIF has no field for:
//! the original's file name, the look, and a digest of the correction. The packet is marked read-only, so it needs no padding:
//! nobody should edit a delivered picture's packet in place.

use crate::deliver::exif::{SOFTWARE, hemispheres, offset_words, second_digits, whole_iso};
use crate::deliver::fraction::Fraction;
use crate::deliver::wish::Wish;
use crate::deliver::words::cleaned;
use crate::raw::facts::{CaptureTime, Facts, Position};
use xmp_writer::{CustomNamespace, Namespace, RdfCollectionType, XmpWriter};

/// Our own properties. The domain is reserved for names that lead nowhere (RFC 2606), so that it is nobody's.
const OWN: (&str, &str, &str) = (
    "houselights",
    "houselights",
    "http://ns.houselights.invalid/picture/1.0/",
);
const TIFF: (&str, &str, &str) = ("TIFF", "tiff", "http://ns.adobe.com/tiff/1.0/");
const EXIF: (&str, &str, &str) = ("Exif", "exif", "http://ns.adobe.com/exif/1.0/");
const EXIF_EXTENDED: (&str, &str, &str) = ("Exif extended", "exifEX", "http://cipa.jp/exif/1.0/");

/// The packet, with its wrapper.
pub(crate) fn packet(facts: &Facts, wish: &Wish, colour_space: u16) -> String {
    let mut writer = XmpWriter::new();
    writer.creator_tool(SOFTWARE);
    writer.format(wish.format.media_type());
    let time = facts.captured.as_ref().and_then(date_words);
    if let Some(time) = &time {
        property(&mut writer, Namespace::Xmp, "CreateDate", time);
    }
    let provenance = &wish.provenance;
    if let Some(original) = provenance.original.as_deref().and_then(cleaned) {
        writer.source(&original);
    }
    for (name, value) in [
        ("Look", &provenance.look),
        ("CorrectionDigest", &provenance.correction_digest),
    ] {
        if let Some(value) = value.as_deref().and_then(cleaned) {
            property(&mut writer, namespace(OWN), name, &value);
        }
    }
    facts_as_properties(&mut writer, facts, time.as_deref(), colour_space);
    if let Some(position) = facts.position.filter(|_| wish.include_position) {
        position_as_properties(&mut writer, &position);
    }
    writer.finish(None)
}

fn facts_as_properties(
    writer: &mut XmpWriter<'_>,
    facts: &Facts,
    time: Option<&str>,
    colour_space: u16,
) {
    let fraction = |value: Option<f64>| value.and_then(Fraction::near).map(|f| f.to_string());
    let text = |value: Option<&str>| value.and_then(cleaned);
    let single = [
        (TIFF, "Make", text(Some(&facts.body.make))),
        (TIFF, "Model", text(Some(&facts.body.model))),
        (TIFF, "Orientation", Some("1".to_string())),
        (EXIF, "ColorSpace", Some(colour_space.to_string())),
        (EXIF, "DateTimeOriginal", time.map(str::to_string)),
        (EXIF, "ExposureTime", fraction(facts.exposure_seconds)),
        (EXIF, "FNumber", fraction(facts.f_number)),
        (EXIF, "FocalLength", fraction(facts.focal_length_mm)),
        (EXIF_EXTENDED, "LensModel", text(facts.lens.as_deref())),
        (
            EXIF_EXTENDED,
            "BodySerialNumber",
            text(facts.body.serial.as_deref()),
        ),
    ];
    for (of, name, value) in single {
        if let Some(value) = value {
            property(writer, namespace(of), name, &value);
        }
    }
    if let Some(iso) = facts.iso.and_then(whole_iso) {
        let words = iso.to_string();
        // CIPA DC-010 has it as one integer; readers of older packets look for the ordered array.
        property(
            writer,
            namespace(EXIF_EXTENDED),
            "PhotographicSensitivity",
            &words,
        );
        let mut array = writer
            .element("ISOSpeedRatings", namespace(EXIF))
            .array(RdfCollectionType::Seq);
        array.element().value(words.as_str());
    }
}

fn position_as_properties(writer: &mut XmpWriter<'_>, position: &Position) {
    let (north, east) = hemispheres(position);
    for (name, value, limit, letter) in [
        ("GPSLatitude", position.latitude, 90.0, north),
        ("GPSLongitude", position.longitude, 180.0, east),
    ] {
        if let Some(words) = degrees_words(value, limit, letter) {
            property(writer, namespace(EXIF), name, &words);
        }
    }
}

/// `52,31.250000N`: whole degrees, minutes with a fraction, the hemisphere (ISO 16684-2, GPSCoordinate); `None` outside
/// `limit`.
fn degrees_words(value: f64, limit: f64, letter: char) -> Option<String> {
    /// A millionth of a minute of arc is 2 mm on the ground.
    const PARTS_OF_A_MINUTE: f64 = 1e6;
    if !(-limit..=limit).contains(&value) {
        return None;
    }
    let parts = (value.abs() * 60.0 * PARTS_OF_A_MINUTE).round();
    let minutes = parts / PARTS_OF_A_MINUTE;
    let degree = (minutes / 60.0).floor();
    Some(format!(
        "{degree:.0},{:.6}{letter}",
        minutes - 60.0 * degree
    ))
}

/// The moment as ISO 8601 with what is known of fraction and offset; `None` for a year before Christ.
fn date_words(time: &CaptureTime) -> Option<String> {
    let civil = &time.civil;
    if civil.year() < 0 {
        return None;
    }
    let fraction = second_digits(time)
        .map(|digits| format!(".{digits}"))
        .unwrap_or_default();
    Some(format!(
        "{:04}-{:02}-{:02}T{:02}:{:02}:{:02}{fraction}{}",
        civil.year(),
        civil.month(),
        civil.day(),
        civil.hour(),
        civil.minute(),
        civil.second(),
        offset_words(time).unwrap_or_default()
    ))
}

fn namespace(
    (name, prefix, url): (&'static str, &'static str, &'static str),
) -> Namespace<'static> {
    Namespace::Custom(Box::new(CustomNamespace::new(name, prefix, url)))
}

fn property(writer: &mut XmpWriter<'_>, namespace: Namespace<'static>, name: &str, value: &str) {
    writer.element(name, namespace).value(value);
}
