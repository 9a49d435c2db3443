//! Real raw files, good and bad. They are not part of the project: the environment variable HOUSELIGHTS_RAWS names the
//! folder that holds them.

#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "a test that meets the unexpected should stop there, and one that is skipped says so"
)]

use houselights::base::geometry::{Orientation, Rect};
use houselights::base::units::Kelvin;
use houselights::raw::frame::Layout;
use houselights::raw::{Facts, Fault, Frame, read_facts, read_frame};
use std::path::PathBuf;

/// A file of the folder; says loudly when there is none.
fn raw(name: &str) -> Option<PathBuf> {
    let Some(folder) = std::env::var_os("HOUSELIGHTS_RAWS") else {
        eprintln!("SKIPPED {name}: HOUSELIGHTS_RAWS does not name a folder of raw files");
        return None;
    };
    Some(PathBuf::from(folder).join(name))
}

/// A good file: its frame, and facts that the quick way gives too.
fn good(name: &str) -> Option<(Frame, Facts)> {
    let path = raw(&format!("good/{name}"))?;
    let frame = read_frame(&path).unwrap_or_else(|error| panic!("{error}"));
    let facts = read_facts(&path).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(frame.facts, facts);
    Some((frame, facts))
}

/// Sum of all counts and of counts times a place that no row length divides: a wrong, shifted or swapped count shows.
fn sums(frame: &Frame) -> (u64, u64) {
    let counts = frame.mosaic.counts.values();
    let weighed = |(index, count): (usize, &u16)| (index as u64 % 251) * u64::from(*count);
    (
        counts.iter().copied().map(u64::from).sum(),
        counts.iter().enumerate().map(weighed).sum(),
    )
}

#[test]
fn a_stage_frame_of_a_mirrorless_body() {
    let Some((frame, facts)) = good("stage-blue.arw") else {
        return;
    };
    assert_eq!((frame.mosaic.width(), frame.mosaic.height()), (5216, 3464));
    assert_eq!(frame.mosaic.layout, Layout::Bayer([[0, 1], [1, 2]]));
    assert_eq!(frame.mosaic.black.at(0, 0, 0), 512.0);
    // The file states it; its photosites clip at 16372, the decoders' tables say 16380 and 15360.
    assert_eq!(frame.mosaic.white, [16_383.0; 3]);
    // The file states it; the last 32 columns hold no picture.
    let crop = Rect {
        left: 8,
        top: 8,
        width: 5168,
        height: 3448,
    };
    assert_eq!(frame.mosaic.crop, crop);
    assert_eq!(facts.exposure_seconds, Some(1.0 / 640.0));
    assert_eq!(facts.iso, Some(3200.0));
    assert_eq!(facts.lens.as_deref(), Some("E 55-210mm F4.5-6.3 OSS"));
    assert_eq!(facts.orientation, Orientation::Upright);
    assert!(frame.colour.as_shot_neutral.is_some());
}

#[test]
fn an_uncompressed_frame_of_an_early_body() {
    let Some((frame, facts)) = good("park.nef") else {
        return;
    };
    assert_eq!((frame.mosaic.width(), frame.mosaic.height()), (2000, 1312));
    assert_eq!(frame.mosaic.layout, Layout::Bayer([[2, 1], [1, 0]]));
    let captured = facts.captured.expect("a time");
    assert_eq!(captured.civil.to_string(), "2000-11-19T13:01:50.24");
    assert_eq!(facts.f_number, Some(7.6));
    // Of LibRaw's raw_image, columns 0 to 1999 of rows 0 to 1311, computed with rawpy.
    assert_eq!(sums(&frame), PARK_SUMS);
}

#[test]
fn a_ciff_frame() {
    let Some((frame, facts)) = good("tree.crw") else {
        return;
    };
    assert_eq!((frame.mosaic.width(), frame.mosaic.height()), (2176, 1448));
    assert_eq!(frame.mosaic.layout, Layout::Bayer([[0, 1], [1, 2]]));
    assert_eq!(facts.body.make, "Canon");
    // Of LibRaw's raw_image from row 6, column 48 on, computed with rawpy.
    assert_eq!(sums(&frame), TREE_SUMS);
}

/// Sum and weighed sum of the counts that LibRaw decodes.
const PARK_SUMS: (u64, u64) = (1_246_632_186, 155_236_866_349);
const TREE_SUMS: (u64, u64) = (1_478_579_140, 184_864_882_924);

#[test]
fn a_lossy_linear_dng_with_polynomials() {
    let Some((frame, facts)) = good("lossy-linear.dng") else {
        return;
    };
    let mosaic = &frame.mosaic;
    assert_eq!((mosaic.width(), mosaic.height()), (600, 400));
    assert_eq!(mosaic.layout, Layout::Linear);
    assert_eq!(mosaic.white, [65_535.0; 3]);
    assert!(
        frame
            .notes
            .iter()
            .any(|note| note.contains("MapPolynomial"))
    );
    assert_eq!(facts.body.serial.as_deref(), Some("2055816"));
    let kelvins: Vec<_> = frame
        .colour
        .calibrations
        .iter()
        .map(|calibration| calibration.temperature)
        .collect();
    assert_eq!(kelvins, [2850.0, 6500.0].map(|kelvin| Some(Kelvin(kelvin))));
    // A frame in the dark: after opcodes its mean is black to within its noise, which the file states as 1.3e-4 of the
    // range (NoiseProfile). Without the opcodes the mean would be 0.05.
    let black = f64::from(mosaic.black.at(0, 0, 0));
    let values = mosaic.counts.values();
    let mean = values
        .iter()
        .map(|count| f64::from(*count) - black)
        .sum::<f64>()
        / values.len() as f64
        / (65_535.0 - black);
    assert!(mean.abs() < 1.3e-4, "mean {mean}");
    // Noise below black is still there.
    assert!(values.iter().any(|count| f64::from(*count) < black));
}

#[test]
fn facts_agree_with_another_metadata_library() {
    use exif::{In, Tag, Value};
    for name in [
        "good/stage-blue.arw",
        "good/park.nef",
        "good/lossy-linear.dng",
    ] {
        let Some(path) = raw(name) else {
            return;
        };
        let facts = read_facts(&path).expect("facts");
        let file = std::fs::File::open(&path).expect("the file");
        let theirs = exif::Reader::new()
            .read_from_container(&mut std::io::BufReader::new(file))
            .expect("EXIF");
        let number = |tag: Tag| match &theirs.get_field(tag, In::PRIMARY)?.value {
            Value::Rational(values) => Some(values.first()?.to_f64()),
            other => other.get_uint(0).map(f64::from),
        };
        let text = |tag: Tag| {
            theirs.get_field(tag, In::PRIMARY).map(|field| {
                field
                    .display_value()
                    .to_string()
                    .trim_matches('"')
                    .trim()
                    .to_owned()
            })
        };
        assert_eq!(facts.exposure_seconds, number(Tag::ExposureTime), "{name}");
        assert_eq!(facts.f_number, number(Tag::FNumber), "{name}");
        assert_eq!(facts.iso, number(Tag::PhotographicSensitivity), "{name}");
        assert_eq!(facts.focal_length_mm, number(Tag::FocalLength), "{name}");
        assert_eq!(Some(facts.body.make.clone()), text(Tag::Make), "{name}");
        assert_eq!(Some(facts.body.model.clone()), text(Tag::Model), "{name}");
        assert_eq!(facts.lens, text(Tag::LensModel), "{name}");
        let captured = facts.captured.expect("a time").civil;
        let theirs = text(Tag::DateTimeOriginal).expect("a time");
        assert_eq!(
            captured.strftime("%Y-%m-%d %H:%M:%S").to_string(),
            theirs,
            "{name}"
        );
    }
}

#[test]
fn every_bad_file_is_refused_with_its_cause() {
    type Expected = fn(&Fault) -> bool;
    let damaged: Expected = |fault| matches!(fault, Fault::Damaged { .. });
    let cases: [(&str, Expected); 8] = [
        ("cut.arw", damaged),
        ("cut.cr2", damaged),
        ("cut.nef", damaged),
        ("header-only.cr3", damaged),
        ("header-bits-hang.nef", damaged),
        ("huge-count.rw2", damaged),
        (
            "jpeg-named.nef",
            |fault| matches!(fault, Fault::NotRaw { what } if what.contains("JPEG")),
        ),
        ("unsupported-compression.gpr", |fault| {
            matches!(fault, Fault::Unsupported { .. })
        }),
    ];
    for (name, is_expected) in cases {
        let Some(path) = raw(&format!("bad/{name}")) else {
            return;
        };
        let error = read_frame(&path).expect_err(name);
        assert!(is_expected(&error.fault), "{error}");
        assert!(error.to_string().contains(name), "{error}");
    }
}

#[test]
fn files_that_are_no_raws_are_named_for_what_they_are() {
    let folder = tempfile::tempdir().expect("a folder");
    for (bytes, words) in [
        (&b""[..], "is empty"),
        (b"a text with a raw file's name", "begins like no raw"),
        (b"\x89PNG\r\n\x1a\n0000", "PNG"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF", "JPEG"),
        (b"II\x2b\0\x08\0\0\0", "BigTIFF"),
        (b"II\x2a\0", "ends within its header"),
        (b"II\x2a\0\xff\xff\xff\x7f", "first directory"),
        (b"II\x2a\0\0\0\0\0", "no directory"),
        // A directory that is its own next: a loop.
        (
            b"MM\0\x2a\0\0\0\x08\0\x01\x01\0\0\x03\0\0\0\x01\0\x01\0\0\0\0\0\x08",
            "themselves",
        ),
    ] {
        let path = folder.path().join("frame.nef");
        std::fs::write(&path, bytes).expect("a file");
        for error in [
            read_facts(&path).expect_err(words),
            read_frame(&path).expect_err(words),
        ] {
            assert!(error.to_string().contains(words), "{error} / {words}");
            assert!(error.to_string().contains("frame.nef"));
        }
    }
    assert!(matches!(
        read_facts(folder.path()).expect_err("a folder").fault,
        Fault::NotRaw { .. }
    ));
    assert!(matches!(
        read_frame(&folder.path().join("none.nef"))
            .expect_err("no file")
            .fault,
        Fault::Unreadable(_)
    ));
}
