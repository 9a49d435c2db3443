//! Delivered JPEG files, checked by libraries that did not write them: the image crate decodes, kamadak-exif reads EXIF,
//! moxcms reads the profile. The segments are walked by hand.

#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that meets the unexpected should stop there"
)]

use exif::{In, Tag, Value};
use houselights::base::geometry::Orientation;
use houselights::colour::output_space::OutputSpace;
use houselights::colour::profile;
use houselights::deliver::{DeliverError, Provenance, Wish, jpeg};
use houselights::raw::facts::{Body, CaptureTime, Facts, Position};
use houselights::render::Rendered;

fn picture(width: usize, height: usize, colour: impl Fn(usize, usize) -> [u8; 3]) -> Rendered {
    let mut rgb = Vec::with_capacity(width * height * 3);
    for y in 0..height {
        for x in 0..width {
            rgb.extend(colour(x, y));
        }
    }
    Rendered {
        width,
        height,
        space: OutputSpace::Srgb,
        rgb,
    }
}

fn grey(width: usize, height: usize) -> Rendered {
    picture(width, height, |_, _| [119; 3])
}

fn wish(quality: u8) -> Wish {
    Wish {
        quality,
        ..Wish::default()
    }
}

/// Everything that a file may say, each value chosen so that a swap shows.
fn full_facts() -> Facts {
    Facts {
        body: Body {
            make: "Atelier Lumière".to_string(),
            model: "Body 2 & <3>".to_string(),
            serial: Some("0012345".to_string()),
        },
        captured: Some(CaptureTime {
            civil: jiff::civil::date(2026, 5, 9).at(21, 14, 3, 250_000_000),
            offset_minutes: Some(-210),
        }),
        exposure_seconds: Some(1.0 / 250.0),
        f_number: Some(2.8),
        iso: Some(3200.0),
        focal_length_mm: Some(85.0),
        lens: Some("85 mm ƒ/1.4 “Été” 撮影".to_string()),
        orientation: Orientation::default(),
        position: Some(Position {
            latitude: -33.999_999_999_9,
            longitude: 18.4241,
            altitude: Some(-2.5),
        }),
    }
}

/// Marker code and content of each segment up to the scan, without the length field.
fn segments(file: &[u8]) -> Vec<(u8, Vec<u8>)> {
    assert_eq!(file[..2], [0xff, 0xd8], "start of image");
    let mut found = Vec::new();
    let mut at = 2;
    loop {
        assert_eq!(file[at], 0xff, "a marker at {at}");
        let marker = file[at + 1];
        let length = usize::from(u16::from_be_bytes([file[at + 2], file[at + 3]]));
        found.push((marker, file[at + 4..at + 2 + length].to_vec()));
        if marker == 0xda {
            return found;
        }
        at += 2 + length;
    }
}

fn read_exif(file: &[u8]) -> exif::Exif {
    exif::Reader::new()
        .read_from_container(&mut std::io::Cursor::new(file))
        .expect("kamadak-exif reads it")
}

fn bytes_of(exif: &exif::Exif, tag: Tag) -> Vec<u8> {
    match &exif.get_field(tag, In::PRIMARY).expect("present").value {
        Value::Ascii(lines) => lines.concat(),
        Value::Undefined(bytes, _) | Value::Byte(bytes) => bytes.clone(),
        other => panic!("{tag}: {other:?}"),
    }
}

fn text_of(exif: &exif::Exif, tag: Tag) -> String {
    String::from_utf8(bytes_of(exif, tag)).expect("UTF-8")
}

fn number_of(exif: &exif::Exif, tag: Tag) -> u32 {
    exif.get_field(tag, In::PRIMARY)
        .unwrap_or_else(|| panic!("{tag} is there"))
        .value
        .get_uint(0)
        .expect("a whole number")
}

fn fractions_of(exif: &exif::Exif, tag: Tag) -> Vec<(u32, u32)> {
    match &exif.get_field(tag, In::PRIMARY).expect("present").value {
        Value::Rational(values) => values.iter().map(|v| (v.num, v.denom)).collect(),
        other => panic!("{tag}: {other:?}"),
    }
}

#[test]
fn segments_stand_in_the_order_that_the_standards_ask_for() {
    let file = jpeg::encode(&grey(40, 24), &full_facts(), &wish(92)).expect("encoded");
    let found = segments(&file);
    let markers: Vec<u8> = found.iter().map(|(marker, _)| *marker).collect();
    // EXIF, XMP, profile, then tables, frame (SOF0: baseline) and scan; no JFIF.
    assert_eq!(markers[..3], [0xe1, 0xe1, 0xe2]);
    assert!(found[0].1.starts_with(b"Exif\0\0"));
    assert!(found[1].1.starts_with(b"http://ns.adobe.com/xap/1.0/\0"));
    assert!(found[2].1.starts_with(b"ICC_PROFILE\0"));
    assert!(
        markers[3..]
            .iter()
            .all(|m| [0xdb, 0xc4, 0xc0, 0xda].contains(m))
    );
    assert_eq!(markers.iter().filter(|&&m| m == 0xc0).count(), 1);
    assert_eq!(file[file.len() - 2..], [0xff, 0xd9], "end of image");
    // One start of image only.
    assert_eq!(
        file.windows(3).filter(|w| *w == [0xff, 0xd8, 0xff]).count(),
        1
    );
}

#[test]
fn every_size_comes_back_as_it_was() {
    // One pixel; an odd size below a block; a block; a row one pixel over two blocks; a column; one pixel over 16 both ways.
    for (width, height) in [(1, 1), (7, 5), (8, 8), (17, 1), (1, 17), (17, 17), (64, 48)] {
        for quality in [1, 89, 90, 100] {
            let file = jpeg::encode(&grey(width, height), &Facts::default(), &wish(quality))
                .expect("encoded");
            let back = image::load_from_memory(&file).expect("decoded").to_rgb8();
            assert_eq!(
                (back.width() as usize, back.height() as usize),
                (width, height)
            );
            // Quality 1 steps the mean of a block by 255 / 8 at worst; from 89 on by less than a code.
            let allowed = if quality == 1 { 16 } else { 1 };
            for pixel in back.pixels() {
                for value in pixel.0 {
                    assert!(
                        value.abs_diff(119) <= allowed,
                        "{width} x {height} at quality {quality}: {value}"
                    );
                }
            }
        }
    }
}

#[test]
fn colour_is_halved_below_ninety_only() {
    for (quality, luma_factors) in [(1, 0x22), (89, 0x22), (90, 0x11), (92, 0x11), (100, 0x11)] {
        let file = jpeg::encode(&grey(33, 17), &Facts::default(), &wish(quality)).expect("encoded");
        let (_, frame) = segments(&file)
            .into_iter()
            .find(|(marker, _)| *marker == 0xc0)
            .expect("a baseline frame");
        // ITU-T T.81, B.2.2: precision, height, width, components, then identifier, factors, table of each.
        assert_eq!(frame[0], 8);
        assert_eq!(frame[1..5], [0, 17, 0, 33]);
        assert_eq!(frame[5], 3);
        assert_eq!([frame[7], frame[10], frame[13]], [luma_factors, 0x11, 0x11]);
    }
}

#[test]
fn a_neutral_ramp_stays_neutral_and_within_a_code() {
    let ramp = picture(256, 16, |x, _| [x as u8; 3]);
    // At 100 the tables are all 1; at 92 the largest step of a luma coefficient is below 20, and a ramp has few of them.
    for (quality, allowed) in [(100, 1), (92, 2)] {
        let file = jpeg::encode(&ramp, &Facts::default(), &wish(quality)).expect("encoded");
        let back = image::load_from_memory(&file).expect("decoded").to_rgb8();
        for (x, _, pixel) in back.enumerate_pixels() {
            let [r, g, b] = pixel.0;
            assert!(
                r.abs_diff(g) <= 1 && g.abs_diff(b) <= 1,
                "not neutral: {pixel:?}"
            );
            assert!(
                u32::from(g).abs_diff(x) <= allowed,
                "{x} came back as {g} at quality {quality}"
            );
        }
    }
}

#[test]
fn halved_colour_is_the_mean_of_its_pixels() {
    // Red and blue in turn: the mean of each two by two is purple; one pixel taken for four would be red or blue.
    let stripes = picture(32, 32, |x, _| {
        if x % 2 == 0 {
            [200, 60, 60]
        } else {
            [60, 60, 200]
        }
    });
    let file = jpeg::encode(&stripes, &Facts::default(), &wish(89)).expect("encoded");
    let back = image::load_from_memory(&file).expect("decoded").to_rgb8();
    let mean = |channel: usize| {
        back.pixels().map(|p| f64::from(p.0[channel])).sum::<f64>() / f64::from(32 * 32)
    };
    assert!((mean(0) - mean(2)).abs() < 6.0, "{} {}", mean(0), mean(2));
}

#[test]
fn the_profile_is_the_one_that_was_asked_for() {
    let file = jpeg::encode(&grey(8, 8), &Facts::default(), &wish(92)).expect("encoded");
    let mut whole = Vec::new();
    let pieces: Vec<_> = segments(&file)
        .into_iter()
        .filter(|(marker, content)| *marker == 0xe2 && content.starts_with(b"ICC_PROFILE\0"))
        .collect();
    for (index, (_, content)) in pieces.iter().enumerate() {
        assert_eq!(usize::from(content[12]), index + 1);
        assert_eq!(usize::from(content[13]), pieces.len());
        whole.extend_from_slice(&content[14..]);
    }
    assert_eq!(whole, profile::of(OutputSpace::Srgb).expect("profile"));
    let parsed = moxcms::ColorProfile::new_from_slice(&whole).expect("moxcms reads it");
    assert_eq!(parsed.color_space, moxcms::DataColorSpace::Rgb);
}

#[test]
fn every_exif_field_is_read_back() {
    let wish = Wish {
        include_position: true,
        ..wish(92)
    };
    let file = jpeg::encode(&grey(40, 24), &full_facts(), &wish).expect("encoded");
    let exif = read_exif(&file);
    assert_eq!(text_of(&exif, Tag::Make), "Atelier Lumière");
    assert_eq!(text_of(&exif, Tag::Model), "Body 2 & <3>");
    assert_eq!(text_of(&exif, Tag::BodySerialNumber), "0012345");
    assert_eq!(text_of(&exif, Tag::LensModel), "85 mm ƒ/1.4 “Été” 撮影");
    assert_eq!(text_of(&exif, Tag::DateTimeOriginal), "2026:05:09 21:14:03");
    assert_eq!(
        text_of(&exif, Tag::DateTimeDigitized),
        "2026:05:09 21:14:03"
    );
    assert_eq!(text_of(&exif, Tag::SubSecTimeOriginal), "25");
    assert_eq!(text_of(&exif, Tag::SubSecTimeDigitized), "25");
    assert_eq!(text_of(&exif, Tag::OffsetTimeOriginal), "-03:30");
    assert_eq!(text_of(&exif, Tag::OffsetTimeDigitized), "-03:30");
    assert_eq!(fractions_of(&exif, Tag::ExposureTime), [(1, 250)]);
    assert_eq!(fractions_of(&exif, Tag::FNumber), [(14, 5)]);
    assert_eq!(fractions_of(&exif, Tag::FocalLength), [(85, 1)]);
    assert_eq!(number_of(&exif, Tag::PhotographicSensitivity), 3200);
    assert_eq!(number_of(&exif, Tag::Orientation), 1);
    assert_eq!(number_of(&exif, Tag::ColorSpace), 1);
    assert_eq!(number_of(&exif, Tag::PixelXDimension), 40);
    assert_eq!(number_of(&exif, Tag::PixelYDimension), 24);
    assert_eq!(fractions_of(&exif, Tag::XResolution), [(300, 1)]);
    assert_eq!(fractions_of(&exif, Tag::YResolution), [(300, 1)]);
    assert_eq!(number_of(&exif, Tag::ResolutionUnit), 2);
    assert_eq!(number_of(&exif, Tag::YCbCrPositioning), 1);
    assert_eq!(
        text_of(&exif, Tag::Software),
        concat!("houselights ", env!("CARGO_PKG_VERSION"))
    );
    assert_eq!(bytes_of(&exif, Tag::ExifVersion), b"0232");
    assert_eq!(bytes_of(&exif, Tag::FlashpixVersion), b"0100");
    assert_eq!(bytes_of(&exif, Tag::ComponentsConfiguration), [1, 2, 3, 0]);
    // 33.9999999999 degrees south rounds to 34 degrees 0 minutes 0 seconds: the carry reaches the degree.
    assert_eq!(text_of(&exif, Tag::GPSLatitudeRef), "S");
    assert_eq!(
        fractions_of(&exif, Tag::GPSLatitude),
        [(34, 1), (0, 1), (0, 10_000)]
    );
    assert_eq!(text_of(&exif, Tag::GPSLongitudeRef), "E");
    // 18.4241 degrees = 18 degrees 25 minutes 26.76 seconds.
    assert_eq!(
        fractions_of(&exif, Tag::GPSLongitude),
        [(18, 1), (25, 1), (267_600, 10_000)]
    );
    assert_eq!(bytes_of(&exif, Tag::GPSAltitudeRef), [1]);
    assert_eq!(fractions_of(&exif, Tag::GPSAltitude), [(5, 2)]);
    assert_eq!(bytes_of(&exif, Tag::GPSVersionID), [2, 3, 0, 0]);
    assert!(
        exif.fields().all(|field| field.ifd_num == In::PRIMARY),
        "no preview"
    );
}

#[test]
fn an_unknown_fact_has_no_field() {
    let file = jpeg::encode(&grey(8, 8), &Facts::default(), &wish(92)).expect("encoded");
    let exif = read_exif(&file);
    for tag in [
        Tag::Make,
        Tag::Model,
        Tag::BodySerialNumber,
        Tag::LensModel,
        Tag::DateTimeOriginal,
        Tag::SubSecTimeOriginal,
        Tag::OffsetTimeOriginal,
        Tag::ExposureTime,
        Tag::FNumber,
        Tag::FocalLength,
        Tag::PhotographicSensitivity,
        Tag::GPSLatitude,
    ] {
        assert!(exif.get_field(tag, In::PRIMARY).is_none(), "{tag}");
    }
    assert_eq!(number_of(&exif, Tag::Orientation), 1);
}

#[test]
fn nonsense_in_the_facts_is_left_out() {
    let nonsense = Facts {
        exposure_seconds: Some(f64::NAN),
        f_number: Some(-2.8),
        iso: Some(0.0),
        focal_length_mm: Some(f64::INFINITY),
        captured: Some(CaptureTime {
            civil: jiff::civil::date(-4, 1, 1).at(0, 0, 0, 0),
            offset_minutes: Some(i32::MIN),
        }),
        position: Some(Position {
            latitude: f64::NAN,
            longitude: 500.0,
            altitude: Some(f64::NAN),
        }),
        lens: Some("\0\u{1}".to_string()),
        ..Facts::default()
    };
    let wish = Wish {
        include_position: true,
        ..wish(92)
    };
    let file = jpeg::encode(&grey(8, 8), &nonsense, &wish).expect("encoded");
    let plain = jpeg::encode(&grey(8, 8), &Facts::default(), &wish).expect("encoded");
    assert_eq!(file, plain);
}

#[test]
fn high_sensitivity_goes_where_it_fits() {
    for (iso, short, long) in [
        (65_534.0, 65_534, None),
        (65_535.0, 65_535, Some(65_535)),
        (102_400.0, 65_535, Some(102_400)),
        (3_280_000.0, 65_535, Some(3_280_000)),
    ] {
        let facts = Facts {
            iso: Some(iso),
            ..Facts::default()
        };
        let file = jpeg::encode(&grey(8, 8), &facts, &wish(92)).expect("encoded");
        let exif = read_exif(&file);
        assert_eq!(number_of(&exif, Tag::PhotographicSensitivity), short);
        let recommended = exif
            .get_field(Tag::RecommendedExposureIndex, In::PRIMARY)
            .and_then(|field| field.value.get_uint(0));
        assert_eq!(recommended, long);
        if long.is_some() {
            assert_eq!(number_of(&exif, Tag::SensitivityType), 2);
        }
    }
}

#[test]
fn the_position_goes_out_only_when_asked_for() {
    let file = jpeg::encode(&grey(8, 8), &full_facts(), &wish(92)).expect("encoded");
    let exif = read_exif(&file);
    assert!(
        exif.fields()
            .all(|field| field.tag.context() != exif::Context::Gps)
    );
    assert!(!String::from_utf8_lossy(&file).contains("GPS"));
}

#[test]
fn xmp_is_well_formed_and_says_what_was_given() {
    let wish = Wish {
        include_position: true,
        provenance: Provenance {
            original: Some("Gig <1> & \"encore\" 'é'.arw".to_string()),
            look: Some("Blue hour".to_string()),
            correction_digest: Some("00ff".to_string()),
        },
        ..wish(92)
    };
    let file = jpeg::encode(&grey(8, 8), &full_facts(), &wish).expect("encoded");
    let (_, content) = segments(&file).remove(1);
    let packet = String::from_utf8(content["http://ns.adobe.com/xap/1.0/\0".len()..].to_vec())
        .expect("UTF-8");
    // ISO 16684-1, 7.3.2: the packet's header with its fixed identifier, and its trailer.
    assert!(packet.starts_with("<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>"));
    assert!(packet.ends_with("<?xpacket end=\"r\"?>"));
    for expected in [
        "<dc:format>image/jpeg</dc:format>",
        "<dc:source>Gig &lt;1&gt; &amp; &quot;encore&quot; &apos;é&apos;.arw</dc:source>",
        "<xmp:CreateDate>2026-05-09T21:14:03.25-03:30</xmp:CreateDate>",
        "<exif:ExposureTime>1/250</exif:ExposureTime>",
        "<exif:FNumber>14/5</exif:FNumber>",
        "<exifEX:LensModel>85 mm ƒ/1.4 “Été” 撮影</exifEX:LensModel>",
        "<exifEX:PhotographicSensitivity>3200</exifEX:PhotographicSensitivity>",
        "<tiff:Model>Body 2 &amp; &lt;3&gt;</tiff:Model>",
        "<houselights:Look>Blue hour</houselights:Look>",
        "<houselights:CorrectionDigest>00ff</houselights:CorrectionDigest>",
        "<exif:GPSLatitude>34,0.000000S</exif:GPSLatitude>",
        "<exif:GPSLongitude>18,25.446000E</exif:GPSLongitude>",
    ] {
        assert!(packet.contains(expected), "{expected} in {packet}");
    }
}

#[test]
fn equal_input_gives_equal_bytes() {
    let ramp = picture(64, 32, |x, y| [x as u8 * 4, y as u8 * 8, 90]);
    let first = jpeg::encode(&ramp, &full_facts(), &wish(92)).expect("encoded");
    // Longer than a clock's second, in case one slips in somewhere.
    std::thread::sleep(std::time::Duration::from_millis(1100));
    assert!(first == jpeg::encode(&ramp, &full_facts(), &wish(92)).expect("encoded"));
}

#[test]
fn what_cannot_be_delivered_is_refused_with_the_reason() {
    let facts = Facts::default();
    for quality in [0, 101, 255] {
        let error = jpeg::encode(&grey(8, 8), &facts, &wish(quality)).expect_err("refused");
        assert!(matches!(error, DeliverError::Quality(q) if q == quality));
        assert!(error.to_string().contains("1 to 100"), "{error}");
    }
    for (width, height) in [(0, 8), (8, 0), (0, 0), (65_536, 1), (1, 65_536)] {
        let error = jpeg::encode(&grey(width, height), &facts, &wish(92)).expect_err("refused");
        assert!(
            matches!(error, DeliverError::Size { .. }),
            "{width} x {height}: {error}"
        );
    }
    assert!(jpeg::encode(&grey(65_535, 1), &facts, &wish(92)).is_ok());
    for length in [0, 8 * 8 * 3 - 1, 8 * 8 * 3 + 1] {
        let broken = Rendered {
            space: OutputSpace::Srgb,
            width: 8,
            height: 8,
            rgb: vec![0; length],
        };
        let error = jpeg::encode(&broken, &facts, &wish(92)).expect_err("refused");
        assert!(matches!(error, DeliverError::Values { .. }), "{error}");
    }
}

#[test]
fn a_damaged_file_s_endless_text_still_fits() {
    let facts = Facts {
        lens: Some("撮".repeat(100_000)),
        body: Body {
            make: "é".repeat(100_000),
            model: "\u{7}".repeat(100_000),
            serial: Some("9".repeat(100_000)),
        },
        ..Facts::default()
    };
    let file = jpeg::encode(&grey(8, 8), &facts, &wish(92)).expect("encoded");
    assert!(text_of(&read_exif(&file), Tag::LensModel).starts_with("撮撮"));
}
