//! TIFF files of 16 bits, read back by the tiff library's decoder and by kamadak-exif.

#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that meets the unexpected should stop there"
)]

mod printer_support;
mod render_support;

use exif::{In, Tag as Exif};
use houselights::base::bands::Threads;
use houselights::base::geometry::Orientation;
use houselights::colour::output_space::OutputSpace;
use houselights::colour::printer::{Conversion, FROM, Printing};
use houselights::colour::profile;
use houselights::deliver::{Format, Wish, picture};
use houselights::raw::facts::{Body, CaptureTime, Position};
use houselights::raw::frame::{Frame, Layout};
use houselights::render::Target;
use houselights::render::plan::Plan;
use houselights::render::sample::interleave_rows;
use render_support::{PHASES, frame, stage, unordered};
use std::io::Cursor;
use tiff::decoder::{Decoder, DecodingResult};
use tiff::tags::Tag;

/// A frame on its side, with everything that a file may say; more rows than a group of bands has, and not a whole number of
/// strips.
fn shot() -> Frame {
    let mut counts = unordered(7);
    let mut frame = frame(301, 71, Layout::Bayer(PHASES[0]), |_, _| 512 + counts() / 2);
    frame.facts.orientation = Orientation::Turn90;
    frame.facts.body = Body {
        make: "Atelier Lumière".to_owned(),
        model: "Body 2".to_owned(),
        serial: Some("0012345".to_owned()),
    };
    frame.facts.captured = Some(CaptureTime {
        civil: jiff::civil::date(2026, 5, 9).at(21, 14, 3, 250_000_000),
        offset_minutes: Some(-210),
    });
    frame.facts.exposure_seconds = Some(1.0 / 250.0);
    frame.facts.iso = Some(3200.0);
    frame.facts.lens = Some("85 mm ƒ/1.4".to_owned());
    frame.facts.position = Some(Position {
        latitude: -33.5,
        longitude: 18.4241,
        altitude: None,
    });
    frame
}

fn plan(frame: &Frame, space: OutputSpace) -> Plan {
    let target = Target {
        space,
        ..Target::default()
    };
    Plan::compile(frame, &stage(), &target).expect("a plan")
}

fn pixels_of(plan: &Plan, frame: &Frame) -> Vec<u16> {
    let (width, _) = plan.upright_size();
    let mut pixels = Vec::new();
    plan.run_in_order(&frame.mosaic, &Threads::one(), |rows: &[u16]| {
        interleave_rows(width, rows, &mut pixels);
        Ok::<(), ()>(())
    })
    .expect("nothing stops it");
    pixels
}

fn written(frame: Frame, plan: &Plan, wish: &Wish, conversion: Option<&Conversion>) -> Vec<u8> {
    let mut file = Cursor::new(Vec::new());
    let Frame { facts, mosaic, .. } = frame;
    let outside = picture::write(plan, &mosaic, &facts, wish, conversion, &mut file);
    let outside = outside.expect("written");
    assert!((0.0..=1.0).contains(&outside));
    file.into_inner()
}

fn wish(include_position: bool) -> Wish {
    Wish {
        format: Format::Tiff,
        include_position,
        ..Wish::default()
    }
}

fn pixels(file: &[u8]) -> ((u32, u32), Vec<u16>) {
    let mut decoder = Decoder::new(Cursor::new(file)).expect("opens");
    let size = decoder.dimensions().expect("a size");
    match decoder.read_image().expect("decodes") {
        DecodingResult::U16(values) => (size, values),
        _ => panic!("16 bits a channel"),
    }
}

fn tag(file: &[u8], tag: Tag) -> Vec<u8> {
    let mut decoder = Decoder::new(Cursor::new(file)).expect("opens");
    decoder.get_tag_u8_vec(tag).expect("the tag")
}

#[test]
fn pixels_and_profile_come_back_as_they_were() {
    for space in OutputSpace::ALL {
        let frame = shot();
        let plan = plan(&frame, space);
        let made = pixels_of(&plan, &frame);
        let file = written(frame, &plan, &wish(false), None);
        let (size, values) = pixels(&file);
        assert_eq!(size, (71, 301), "upright");
        assert!(values == made, "{space:?}");
        let embedded = tag(&file, Tag::IccProfile);
        assert!(embedded == profile::of(space).expect("a profile"));
    }
}

#[test]
fn facts_stand_in_exif_and_xmp() {
    for include_position in [false, true] {
        let frame = shot();
        let plan = plan(&frame, OutputSpace::Rec2020);
        let file = written(frame, &plan, &wish(include_position), None);
        let exif = exif::Reader::new()
            .read_from_container(&mut Cursor::new(&file))
            .expect("kamadak-exif reads it");
        let shown = |tag| {
            let field = exif.get_field(tag, In::PRIMARY).expect("the field");
            field.display_value().to_string()
        };
        assert_eq!(shown(Exif::Model), "\"Body 2\"");
        assert_eq!(shown(Exif::ExposureTime), "1/250");
        assert_eq!(shown(Exif::PhotographicSensitivity), "3200");
        assert_eq!(shown(Exif::DateTimeOriginal), "2026-05-09 21:14:03");
        assert_eq!(shown(Exif::OffsetTimeOriginal), "\"-03:30\"");
        assert_eq!(shown(Exif::BodySerialNumber), "\"0012345\"");
        assert_eq!(shown(Exif::XResolution), "300");
        let number = |tag| {
            exif.get_field(tag, In::PRIMARY)
                .and_then(|f| f.value.get_uint(0))
        };
        assert_eq!(number(Exif::Orientation), Some(1), "the pixels are upright");
        // Any space but sRGB.
        assert_eq!(number(Exif::ColorSpace), Some(0xffff));
        let position = exif.get_field(Exif::GPSLatitude, In::PRIMARY);
        assert_eq!(position.is_some(), include_position);
        let xmp = String::from_utf8(tag(&file, Tag::Unknown(0x02bc))).expect("UTF-8");
        assert!(xmp.contains("image/tiff") && xmp.contains("0012345"));
        assert_eq!(xmp.contains("GPSLatitude"), include_position);
    }
}

#[test]
fn a_printers_picture_is_the_converted_one_with_its_profile() {
    let frame = shot();
    let plan = plan(&frame, FROM);
    let profile = printer_support::profile();
    let conversion = Conversion::new(profile.clone(), Printing::default()).expect("a conversion");
    let mut made = pixels_of(&plan, &frame);
    conversion.convert(&mut made);
    let file = written(frame.clone(), &plan, &wish(false), Some(&conversion));
    assert!(pixels(&file).1 == made);
    assert!(tag(&file, Tag::IccProfile) == profile);
    let jpeg = Wish {
        format: Format::Jpeg,
        ..wish(false)
    };
    let file = written(frame, &plan, &jpeg, Some(&conversion));
    // The pieces of the profile, put together (ICC.1:2010, B.4), are the profile.
    let mut embedded = Vec::new();
    let mut at = 2;
    while file[at + 1] != 0xda {
        let length = usize::from(u16::from_be_bytes([file[at + 2], file[at + 3]]));
        let content = &file[at + 4..at + 2 + length];
        if file[at + 1] == 0xe2 && content.starts_with(b"ICC_PROFILE\0") {
            embedded.extend_from_slice(&content[14..]);
        }
        at += 2 + length;
    }
    assert!(embedded == profile);
}

/// TIFF 6.0, section 2: directories and values begin at even places. Read from the bytes, because libraries forgive it.
#[test]
fn directories_values_and_strips_begin_at_even_places() {
    const LONGEST_INSIDE: usize = 4;
    let at = |file: &[u8], place: usize, length: usize| {
        let bytes = file[place..place + length].iter().rev();
        bytes.fold(0, |number, &byte| number << 8 | usize::from(byte))
    };
    for letters in 0..4 {
        let frame = shot();
        let plan = plan(&frame, OutputSpace::DisplayP3);
        let mut wish = wish(true);
        // The XMP packet takes every length.
        wish.provenance.look = Some("l".repeat(letters + 1));
        let file = written(frame, &plan, &wish, None);
        assert_eq!(&file[..4], b"II*\0");
        let mut directories = vec![at(&file, 4, 4)];
        let mut values = 0;
        while let Some(directory) = directories.pop() {
            assert_eq!(directory % 2, 0, "a directory");
            for entry in 0..at(&file, directory, 2) {
                let entry = directory + 2 + 12 * entry;
                let (tag, kind) = (at(&file, entry, 2), at(&file, entry + 2, 2));
                let size = [0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8][kind];
                let length = size * at(&file, entry + 4, 4);
                let value = at(&file, entry + 8, 4);
                if matches!(tag, 0x8769 | 0x8825) {
                    directories.push(value);
                } else if length > LONGEST_INSIDE {
                    assert_eq!(value % 2, 0, "the value of {tag:#x}");
                    values += 1;
                    if tag == 0x111 {
                        assert_eq!(at(&file, value, 4) % 2, 0, "the first strip");
                    }
                }
            }
        }
        assert!(values > 10, "{values}");
    }
}

#[test]
fn a_stated_density_is_in_the_file() {
    // 266.7 as the simplest fraction, 2667/10.
    for (density, fraction) in [(240.0, (240, 1)), (266.7, (2667, 10))] {
        for format in [Format::Jpeg, Format::Tiff] {
            let frame = shot();
            let plan = plan(&frame, OutputSpace::Srgb);
            let wish = Wish {
                format,
                pixels_per_inch: density,
                ..Wish::default()
            };
            let file = written(frame, &plan, &wish, None);
            let exif = exif::Reader::new()
                .read_from_container(&mut Cursor::new(&file))
                .expect("kamadak-exif reads it");
            for tag in [Exif::XResolution, Exif::YResolution] {
                let field = exif.get_field(tag, In::PRIMARY).expect("the field");
                let exif::Value::Rational(found) = &field.value else {
                    panic!("{field:?}")
                };
                assert_eq!((found[0].num, found[0].denom), fraction, "{format:?}");
            }
        }
    }
}

#[test]
fn equal_input_gives_equal_bytes() {
    let make = || {
        let frame = shot();
        let plan = plan(&frame, OutputSpace::DisplayP3);
        written(frame, &plan, &wish(true), None)
    };
    assert!(make() == make());
}
