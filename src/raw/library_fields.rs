//! EXIF fields of the containers that are not TIFF: RAF through the EXIF block of its embedded JPEG (kamadak-exif), CR3
//! through nom-exif, all else as far as rawler's metadata goes.
//!
//! Every field is optional: what a library refuses, the facts leave out.

use crate::raw::exif_facts::{Fields, Group, civil_time};
use crate::raw::facts::{Body, CaptureTime, Facts};
use crate::raw::source::Source;
use nom_exif::{EntryValue, IfdIndex, IfdKind};
use std::path::Path;

/// EXIF of a JPEG, read by kamadak-exif.
pub(crate) struct JpegFields(exif::Exif);

impl JpegFields {
    /// From the JPEG embedded in a RAF: its place stands in the header (offsets 84 and 88, big endian; common knowledge
    /// of the open decoders, no published source).
    pub(crate) fn of_raf<S: Source + ?Sized>(source: &S) -> Option<Self> {
        /// An EXIF block is one JPEG segment: 64 KiB at most, near the front.
        const ENOUGH: u64 = 160 << 10;
        let mut place = [0; 8];
        source.read_at(84, &mut place)?;
        let number = |at: usize| {
            u32::from_be_bytes([place[at], place[at + 1], place[at + 2], place[at + 3]])
        };
        let offset = u64::from(number(0));
        let length = u64::from(number(4))
            .min(ENOUGH)
            .min(source.length().checked_sub(offset)?);
        let bytes = source.bytes(offset, length)?;
        let block = exif::get_exif_attr_from_jpeg(&mut bytes.as_slice()).ok()?;
        exif::Reader::new().read_raw(block).ok().map(Self)
    }

    fn field(&self, group: Group, tag: u16) -> Option<&exif::Value> {
        use exif::{Context, In, Tag};
        let contexts: &[Context] = match group {
            Group::Picture => &[Context::Tiff, Context::Exif],
            Group::Gps => &[Context::Gps],
        };
        contexts
            .iter()
            .find_map(|context| self.0.get_field(Tag(*context, tag), In::PRIMARY))
            .map(|field| &field.value)
    }
}

impl Fields for JpegFields {
    fn text(&self, group: Group, tag: u16) -> Option<String> {
        match self.field(group, tag)? {
            exif::Value::Ascii(parts) => trimmed(&String::from_utf8_lossy(parts.first()?)),
            _ => None,
        }
    }

    fn numbers(&self, group: Group, tag: u16) -> Option<Vec<f64>> {
        use exif::Value;
        Some(match self.field(group, tag)? {
            Value::Byte(values) => values.iter().copied().map(f64::from).collect(),
            Value::Short(values) => values.iter().copied().map(f64::from).collect(),
            Value::Long(values) => values.iter().copied().map(f64::from).collect(),
            Value::SShort(values) => values.iter().copied().map(f64::from).collect(),
            Value::SLong(values) => values.iter().copied().map(f64::from).collect(),
            Value::Rational(values) => values.iter().map(exif::Rational::to_f64).collect(),
            Value::SRational(values) => values.iter().map(exif::SRational::to_f64).collect(),
            _ => return None,
        })
    }
}

/// EXIF read by nom-exif.
pub(crate) struct NomFields(nom_exif::Exif);

impl NomFields {
    /// From a file; `None` when the library finds nothing.
    pub(crate) fn open(path: &Path) -> Option<Self> {
        nom_exif::read_exif(path).ok().map(Self)
    }

    fn value(&self, group: Group, tag: u16) -> Option<&EntryValue> {
        let kinds: &[IfdKind] = match group {
            Group::Picture => &[IfdKind::Tiff, IfdKind::Exif],
            Group::Gps => &[IfdKind::Gps],
        };
        kinds
            .iter()
            .find_map(|kind| self.0.get_by_code_in(IfdIndex::MAIN, *kind, tag))
    }
}

impl Fields for NomFields {
    fn text(&self, group: Group, tag: u16) -> Option<String> {
        match self.value(group, tag)? {
            EntryValue::Text(text) => trimmed(text),
            EntryValue::DateTime(time) => trimmed(&time.format("%Y:%m:%d %H:%M:%S").to_string()),
            EntryValue::NaiveDateTime(time) => {
                trimmed(&time.format("%Y:%m:%d %H:%M:%S").to_string())
            }
            _ => None,
        }
    }

    fn numbers(&self, group: Group, tag: u16) -> Option<Vec<f64>> {
        let ratio = |numerator: f64, denominator: f64| numerator / denominator;
        Some(match self.value(group, tag)? {
            EntryValue::URationalArray(values) => values
                .iter()
                .map(|value| ratio(value.numerator().into(), value.denominator().into()))
                .collect(),
            EntryValue::U16Array(values) => values.iter().copied().map(f64::from).collect(),
            EntryValue::U32Array(values) => values.iter().copied().map(f64::from).collect(),
            other => vec![other.try_as_float().or_else(|| {
                #[expect(clippy::cast_precision_loss, reason = "EXIF integers have 32 bits")]
                other.try_as_integer().map(|value| value as f64)
            })?],
        })
    }
}

fn trimmed(text: &str) -> Option<String> {
    let text = text.trim_matches(|character: char| character.is_whitespace() || character == '\0');
    (!text.is_empty()).then(|| text.to_owned())
}

/// Facts from rawler's metadata, for what nothing else reads.
pub(crate) fn facts_of_rawler(metadata: rawler::decoders::RawMetadata) -> Facts {
    use crate::base::geometry::Orientation;
    let exif = metadata.exif;
    let positive = |value: Option<rawler::formats::tiff::Rational>| {
        value
            .map(|value| f64::from(value.n) / f64::from(value.d))
            .filter(|value| *value > 0.0 && value.is_finite())
    };
    let civil = [
        (exif.date_time_original, exif.sub_sec_time_original),
        (exif.create_date, exif.sub_sec_time_digitized),
        (exif.modify_date, exif.sub_sec_time),
    ]
    .into_iter()
    .find_map(|(date, fraction)| civil_time(&date?, fraction.as_deref()));
    let name = |text: Option<String>| text.and_then(|text| trimmed(&text));
    Facts {
        body: Body {
            make: metadata.make,
            model: metadata.model,
            serial: name(exif.serial_number),
        },
        captured: civil.map(|civil| CaptureTime {
            civil,
            offset_minutes: None,
        }),
        exposure_seconds: positive(exif.exposure_time).or_else(|| {
            exif.shutter_speed_value
                .map(|value| (-f64::from(value.n) / f64::from(value.d)).exp2())
                .filter(|value| value.is_finite())
        }),
        f_number: positive(exif.fnumber).or_else(|| {
            exif.aperture_value
                .map(|value| (f64::from(value.n) / f64::from(value.d) / 2.0).exp2())
                .filter(|value| value.is_finite())
        }),
        iso: exif
            .iso_speed_ratings
            .filter(|speed| *speed > 0 && *speed < u16::MAX)
            .map(f64::from)
            .or_else(|| exif.recommended_exposure_index.map(f64::from))
            .or_else(|| exif.iso_speed.map(f64::from))
            .filter(|speed| *speed > 0.0),
        focal_length_mm: positive(exif.focal_length),
        lens: name(exif.lens_model),
        orientation: exif
            .orientation
            .and_then(Orientation::from_tag)
            .unwrap_or_default(),
        position: None,
    }
}
