//! The stream as others read it.

use super::*;
use image::ImageReader;
use std::io::Cursor;

/// A picture with smooth ground, edges and noise.
fn rgb(width: usize, height: usize) -> Vec<u8> {
    let mut bytes = Vec::new();
    for y in 0..height {
        for x in 0..width {
            let noise = (x * 7919 + y * 104_729) % 23;
            let edge = if (x / 5 + y / 7) % 2 == 0 { 90 } else { 0 };
            let values = [x * 2 + noise, y * 3 + edge, 255 - (x + y) % 256];
            bytes.extend(values.map(|value| (value % 256) as u8));
        }
    }
    bytes
}

fn encoded(picture: Picture, rgb: &[u8], rows_at_a_time: usize) -> Vec<u8> {
    let mut file = vec![0xff, 0xd8];
    let mut encoder = Encoder::begin(picture, &mut file).expect("a vector takes all");
    for rows in rgb.chunks(rows_at_a_time * 3 * usize::from(picture.width)) {
        encoder.take_pixels(rows).expect("a vector takes all");
    }
    encoder.finish().expect("a vector takes all");
    file
}

/// As the library `image` reads it.
fn decoded(file: &[u8]) -> Vec<u8> {
    let reader = ImageReader::new(Cursor::new(file)).with_guessed_format();
    let picture = reader.expect("a format").decode().expect("a picture");
    picture.into_rgb8().into_raw()
}

/// The same by the library jpeg-encoder.
fn by_the_library(picture: Picture, rgb: &[u8]) -> Vec<u8> {
    use jpeg_encoder::{ChromaSubsamplingMethod, ColorType, Encoder, SamplingFactor};
    let mut file = Vec::new();
    let mut encoder = Encoder::new(&mut file, picture.quality);
    encoder.set_sampling_factor(match picture.sampling {
        ChromaSampling::Full => SamplingFactor::R_4_4_4,
        ChromaSampling::Quarter => SamplingFactor::R_4_2_0,
    });
    encoder.set_chroma_subsampling_method(ChromaSubsamplingMethod::Average);
    encoder
        .encode(rgb, picture.width, picture.height, ColorType::Rgb)
        .expect("encoded");
    file
}

/// Root of the mean square difference in codes.
fn difference(a: &[u8], b: &[u8]) -> f64 {
    assert_eq!(a.len(), b.len());
    let squares = a
        .iter()
        .zip(b)
        .map(|(&a, &b)| (f64::from(a) - f64::from(b)).powi(2));
    (squares.sum::<f64>() / a.len() as f64).sqrt()
}

#[test]
fn it_is_as_near_to_the_picture_and_as_small_as_a_librarys_at_every_size() {
    use ChromaSampling::{Full, Quarter};
    let sizes = [
        (1, 1),
        (7, 9),
        (8, 8),
        (16, 16),
        (17, 33),
        (127, 40),
        (129, 15),
        (300, 201),
    ];
    for (width, height) in sizes {
        for (quality, sampling) in [
            (100, Full),
            (92, Full),
            (85, Quarter),
            (50, Quarter),
            (5, Full),
        ] {
            let picture = Picture {
                width,
                height,
                quality,
                sampling,
            };
            let rgb = rgb(usize::from(width), usize::from(height));
            let ours = encoded(picture, &rgb, 1);
            let theirs = by_the_library(picture, &rgb);
            let (ours_off, theirs_off) = (
                difference(&decoded(&ours), &rgb),
                difference(&decoded(&theirs), &rgb),
            );
            // Three hundredths, because what stands beyond the edges is made up by each in its way, and where hardly anything
            // is off a tenth of a code.
            assert!(
                ours_off <= theirs_off * 1.03 + 0.1,
                "{width} x {height} at {quality}: {ours_off} against {theirs_off}"
            );
            // The library states a JFIF segment of 18 bytes.
            let allowed = theirs.len() as f64 * 1.01 + 18.0;
            assert!(
                (ours.len() as f64) <= allowed,
                "{} against {}",
                ours.len(),
                theirs.len()
            );
        }
    }
}

#[test]
fn how_many_rows_come_at_a_time_does_not_matter() {
    for sampling in [ChromaSampling::Full, ChromaSampling::Quarter] {
        let picture = Picture {
            width: 50,
            height: 37,
            quality: 90,
            sampling,
        };
        let rgb = rgb(50, 37);
        let whole = encoded(picture, &rgb, 37);
        for rows in [1, 3, 8, 16, 20] {
            assert_eq!(encoded(picture, &rgb, rows), whole, "{rows} rows");
        }
    }
}

#[test]
fn rows_channel_by_channel_and_pixel_by_pixel_give_the_same_file() {
    for (sampling, width, height) in [
        (ChromaSampling::Full, 50, 37),
        (ChromaSampling::Quarter, 1, 3),
        (ChromaSampling::Quarter, 1030, 67),
        (ChromaSampling::Full, 512, 16),
        (ChromaSampling::Full, 1100, 45),
    ] {
        let picture = Picture {
            width,
            height,
            quality: 90,
            sampling,
        };
        let width = usize::from(width);
        let pixels = rgb(width, usize::from(height));
        let rows: Vec<u8> = (pixels.chunks(3 * width))
            .flat_map(|row| (0..3).flat_map(|channel| row.iter().copied().skip(channel).step_by(3)))
            .collect();
        // Bands are coded where they stand, or put together first where the rows that come are not whole ones.
        for together in [1, 5, 16, 32, usize::from(height)] {
            let mut file = vec![0xff, 0xd8];
            let mut encoder = Encoder::begin(picture, &mut file).expect("a vector takes all");
            for rows in rows.chunks(3 * width * together) {
                encoder.take(rows).expect("a vector takes all");
            }
            encoder.finish().expect("a vector takes all");
            assert!(
                file == encoded(picture, &pixels, 1),
                "{width} x {height}, {together} rows together"
            );
        }
    }
}

#[test]
fn flat_colours_come_back() {
    // T.871's conversion and steps of 1 leave at most one code of rounding.
    for colour in [
        [0, 0, 0],
        [255, 255, 255],
        [255, 0, 0],
        [13, 200, 77],
        [0, 0, 255],
    ] {
        let rgb: Vec<u8> = colour.repeat(20 * 20);
        let picture = Picture {
            width: 20,
            height: 20,
            quality: 100,
            sampling: ChromaSampling::Full,
        };
        let back = decoded(&encoded(picture, &rgb, 20));
        assert!(
            back.iter().zip(&rgb).all(|(a, b)| a.abs_diff(*b) <= 1),
            "{colour:?}: {:?}",
            &back[..3]
        );
    }
}

#[test]
fn a_writer_that_is_full_is_told() {
    #[derive(Debug)]
    struct Full;
    impl Write for Full {
        fn write(&mut self, _: &[u8]) -> io::Result<usize> {
            Err(io::ErrorKind::StorageFull.into())
        }
        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }
    let picture = Picture {
        width: 8,
        height: 8,
        quality: 92,
        sampling: ChromaSampling::Full,
    };
    let error = Encoder::begin(picture, Full).expect_err("full");
    assert_eq!(error.kind(), io::ErrorKind::StorageFull);
}
