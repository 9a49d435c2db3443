//! How well the demosaic methods do, against figures from outside.

use crate::base::geometry::Rect;
use crate::base::plane::Plane;
use crate::raw::frame::{BlackLevels, Layout, Mosaic};
use crate::render::demosaic::Method;
use crate::render::develop::Strip;
use crate::render::row::RgbRow;
use crate::render::sensor::SensorStep;

/// A photograph (see the file's note beside it), as values of 0 to 255.
fn photograph() -> image::RgbImage {
    let bytes = include_bytes!("../../../tests/data/cat_256.png");
    image::load_from_memory(bytes).expect("a PNG").to_rgb8()
}

/// What a sensor with this layout would have counted of a picture (257 counts a step).
fn mosaic_of(picture: &image::RgbImage, layout: Layout) -> Mosaic {
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    let mut mosaic = Mosaic {
        counts: Plane::filled(width, height, 0),
        layout,
        black: BlackLevels::flat(0.0, 1),
        white: [65_535.0; 3],
        crop: Rect {
            left: 0,
            top: 0,
            width,
            height,
        },
    };
    for y in 0..height {
        for x in 0..width {
            let channel = mosaic.channel_at(x, y);
            let value = picture.get_pixel(x as u32, y as u32).0[channel];
            mosaic.counts.row_mut(y)[x] = u16::from(value) * 257;
        }
    }
    mosaic
}

/// Colour peak signal-to-noise ratio in decibels: over all three channels, values held within 0 to 1, without a border.
fn cpsnr(picture: &image::RgbImage, layout: Layout, method: Method, border: usize) -> f64 {
    let mosaic = mosaic_of(picture, layout);
    let step = SensorStep {
        black: mosaic.black.clone(),
        white: mosaic.white,
        neutral: [1.0; 3],
        noise: None,
    };
    let (width, height) = (mosaic.width(), mosaic.height());
    let mut strip = Strip::new(&step, method, &mosaic, 0..width, 0);
    let mut row = RgbRow::new(width);
    let (mut sum, mut count) = (0.0, 0.0);
    for y in 0..height {
        strip.row(y, &mut row, |_, _| ());
        if y < border || y >= height - border {
            continue;
        }
        for x in border..width - border {
            for (channel, plane) in row.planes.iter().enumerate() {
                let truth = f64::from(picture.get_pixel(x as u32, y as u32).0[channel]) / 255.0;
                let error = f64::from(plane[x]).clamp(0.0, 1.0) - truth;
                sum += error * error;
                count += 1.0;
            }
        }
    }
    -10.0 * (sum / count).log10()
}

/// Figures of colour-demosaicing 0.2.7 (a general-purpose Python library) on the same picture, border of 8 left out, for
/// the patterns RGGB and GBRG.
const FIGURES: [(Method, [f64; 2]); 2] = [
    (Method::Bilinear, [31.428_257, 31.403_952]),
    (Method::Malvar, [35.973_799, 35.923_153]),
];

#[test]
fn bayer_methods_reach_the_figures_of_a_library() {
    let picture = photograph();
    for (method, figures) in FIGURES {
        for (pattern, figure) in [[[0, 1], [1, 2]], [[1, 2], [0, 1]]]
            .into_iter()
            .zip(figures)
        {
            let found = cpsnr(&picture, Layout::Bayer(pattern), method, 8);
            // The same formula: nothing but rounding may differ.
            assert!(
                (found - figure).abs() < 1e-3,
                "{method:?} {pattern:?}: {found} dB"
            );
        }
    }
}

#[test]
fn the_six_by_six_pattern_loses_little_against_bilinear_bayer() {
    const PATTERN: [[u8; 6]; 6] = [
        [1, 2, 1, 1, 0, 1],
        [0, 1, 0, 2, 1, 2],
        [1, 2, 1, 1, 0, 1],
        [1, 0, 1, 1, 2, 1],
        [2, 1, 2, 0, 1, 0],
        [1, 0, 1, 1, 2, 1],
    ];
    let found = cpsnr(&photograph(), Layout::XTrans(PATTERN), Method::XTrans, 8);
    // No outside figure: held against the plain method for Bayer patterns above.
    assert!(found > FIGURES[0].1[0], "{found} dB");
}
