//! The conversion into a printer's profile: against the model that the profile describes, with black point compensation by
//! the formula of ISO 18619, and against moxcms, another colour management library.

#![allow(
    clippy::expect_used,
    clippy::print_stdout,
    reason = "a test that meets the unexpected should stop there, and one that measures should say what"
)]

mod printer_support;

use houselights::base::matrix::Matrix3;
use houselights::base::units::Chromaticity;
use houselights::colour::adaptation::bradford_xyz;
use houselights::colour::difference::ciede2000;
use houselights::colour::output_space::OutputSpace;
use houselights::colour::printer::{Conversion, FROM, Intent, Printing, ProfileFault};
use houselights::colour::profile;
use moxcms::{ColorProfile, Layout, RenderingIntent, TransformOptions};
use printer_support::{BLACK, D50, lab, printed, signal_for};

const COMPENSATED: Printing = Printing {
    intent: Intent::Relative,
    black_point_compensation: true,
};
const PLAIN: Printing = Printing {
    intent: Intent::Relative,
    black_point_compensation: false,
};

/// Tristimulus values under D50 of a signal in the space that pictures are converted from.
fn asked(signal: [u16; 3]) -> [f64; 3] {
    let to_d50 = bradford_xyz(Chromaticity::D65.to_xyz(), D50);
    let matrix: Matrix3 = to_d50 * FROM.primaries().to_xyz();
    matrix.apply(signal.map(|code| FROM.transfer().decode(f64::from(code) / 65_535.0)))
}

fn converted(printing: Printing, signals: &[[u16; 3]]) -> Vec<[f64; 3]> {
    let conversion = Conversion::new(printer_support::profile(), printing).expect("a conversion");
    let mut rgb = signals.concat();
    conversion.convert(&mut rgb);
    let pixels = rgb.as_chunks::<3>().0.iter();
    pixels
        .map(|pixel| pixel.map(|code| f64::from(code) / 65_535.0))
        .collect()
}

/// Colours on a lattice, dark ones too.
fn lattice() -> Vec<[u16; 3]> {
    let steps = [0, 2_000, 9_000, 21_000, 36_000, 50_000, 65_535_u16];
    let mut colours = Vec::new();
    for red in steps {
        for green in steps {
            colours.extend(steps.map(|blue| [red, green, blue]));
        }
    }
    colours
}

/// Whether the printer has a colour, with a little room: signals that are cut off say nothing of a conversion.
fn is_printable(xyz: [f64; 3]) -> bool {
    signal_for(xyz)
        .iter()
        .all(|share| (0.02..=0.98).contains(share))
}

/// Median and largest.
fn summary(mut distances: Vec<f64>) -> (f64, f64) {
    distances.sort_by(f64::total_cmp);
    (
        distances[distances.len() / 2],
        distances[distances.len() - 1],
    )
}

#[test]
fn black_point_compensation_is_that_of_the_table() {
    // Neutral colours of the table: what goes in, and what the paper shows.
    let table: serde_json::Value =
        serde_json::from_str(include_str!("data/black_point_compensation.json")).expect("JSON");
    let rows = table["rows"].as_array().expect("rows");
    for row in rows {
        let luminance = |name: &str| row[name][1].as_f64().expect("a number");
        let signal = FROM.transfer().encode(luminance("in_XYZ"));
        let grey = [(signal * 65_535.0).round() as u16; 3];
        let [_, found, _] = printed(converted(COMPENSATED, &[grey])[0]);
        let lightness = |y: f64| lab([D50[0] * y, y, D50[2] * y]).lightness;
        let difference = lightness(found) - lightness(luminance("out_XYZ"));
        // Tables of 33 nodes a side, and a black point that the library finds by itself.
        assert!(difference.abs() < 0.35, "{row}: {found} {difference}");
    }
    assert!(rows.len() >= 4);
}

#[test]
fn colours_are_those_of_the_model() {
    let scale = (BLACK - 1.0) / (0.0 - 1.0);
    for (printing, scale, offset) in [(COMPENSATED, scale, BLACK), (PLAIN, 1.0, 0.0)] {
        // Halfway to grey, where the printer has most of them.
        let signals: Vec<[u16; 3]> = lattice()
            .into_iter()
            .map(|signal| {
                let grey = signal.iter().map(|&code| u32::from(code)).sum::<u32>() / 3;
                signal.map(|code| ((u32::from(code) + grey) / 2) as u16)
            })
            .collect();
        let mut distances = Vec::new();
        for (signal, made) in signals.iter().zip(converted(printing, &signals)) {
            let asked = asked(*signal);
            // ISO 18619, per axis: out = a in + b, white stays.
            let wanted = [0, 1, 2].map(|index| scale * asked[index] + offset * D50[index]);
            if is_printable(wanted) {
                distances.push(ciede2000(lab(printed(made)), lab(wanted)));
            }
        }
        assert!(distances.len() > 60, "{}", distances.len());
        let (median, largest) = summary(distances);
        println!("{printing:?}: CIEDE2000 to the model {median:.3} median, {largest:.3} largest");
        // Measured: interpolation between 33 nodes a side.
        assert!(median < 0.4 && largest < 2.0, "{median} {largest}");
    }
}

#[test]
fn another_library_converts_the_same_way() {
    let signals = lattice();
    let source = ColorProfile::new_from_slice(&profile::of(FROM).expect("a profile"))
        .expect("reads its own profile");
    let medium = ColorProfile::new_from_slice(&printer_support::profile()).expect("reads it");
    for (intent, theirs) in [
        (Intent::Relative, RenderingIntent::RelativeColorimetric),
        (Intent::Perceptual, RenderingIntent::Perceptual),
    ] {
        let printing = Printing { intent, ..PLAIN };
        let options = TransformOptions {
            rendering_intent: theirs,
            ..TransformOptions::default()
        };
        let transform = source
            .create_transform_16bit(Layout::Rgb, &medium, Layout::Rgb, options)
            .expect("a transform");
        let mut there = vec![0_u16; 3 * signals.len()];
        transform
            .transform(&signals.concat(), &mut there)
            .expect("converts");
        let mut distances = Vec::new();
        let pairs = converted(printing, &signals).into_iter();
        for (ours, theirs) in pairs.zip(there.as_chunks::<3>().0) {
            let theirs = theirs.map(|code| f64::from(code) / 65_535.0);
            distances.push(ciede2000(lab(printed(ours)), lab(printed(theirs))));
        }
        let (median, largest) = summary(distances);
        println!("{intent:?}: CIEDE2000 to moxcms {median:.3} median, {largest:.3} largest");
        // Measured: 0.08 and 0.33; both interpolate in the same tables.
        assert!(median < 0.15 && largest < 0.6, "{median} {largest}");
    }
}

#[test]
fn what_the_printer_lacks_is_counted_and_what_it_has_is_not() {
    let conversion = Conversion::new(printer_support::profile(), COMPENSATED).expect("one");
    // Greys, down to black, which compensation keeps.
    let greys: Vec<[u16; 3]> = (0..=64)
        .map(|step: u16| [step.saturating_mul(1024); 3])
        .collect();
    assert_eq!(conversion.count_lost(&greys), 0);
    // The corners of Display P3.
    let corners = [[65_535, 0, 0], [0, 65_535, 0], [0, 0, 65_535]];
    assert_eq!(conversion.count_lost(&corners), 3);
    assert_eq!(conversion.count_lost(&[]), 0);
}

#[test]
fn profiles_that_cannot_serve_are_refused() {
    let good = printer_support::profile();
    let saturation = Printing {
        intent: Intent::Saturation,
        ..COMPENSATED
    };
    let refused = |bytes: &[u8], printing| {
        Conversion::new(bytes.to_vec(), printing).expect_err("no conversion")
    };
    assert_eq!(
        refused(&good, saturation),
        ProfileFault::NoTable("saturation")
    );
    let matrix = profile::of(OutputSpace::Srgb).expect("a profile");
    assert!(Conversion::new(matrix.clone(), COMPENSATED).is_ok());
    let perceptual = Printing {
        intent: Intent::Perceptual,
        ..COMPENSATED
    };
    assert_eq!(
        refused(&matrix, perceptual),
        ProfileFault::NoTable("perceptual")
    );
    // Header whole, tables gone to noise: never a panic.
    for cut in [132, 200, 400, 5_000] {
        let mut damaged = good.clone();
        for (index, byte) in damaged[cut..].iter_mut().enumerate() {
            *byte = (index * 131 % 251) as u8;
        }
        let _ = Conversion::new(damaged, COMPENSATED);
    }
}
