//! Look files: what is written reads back, and what is wrong is refused by name.

#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that meets the unexpected should stop there"
)]

use houselights::base::format::Format;
use houselights::base::units::{Chromaticity, Stops};
use houselights::colour::output_space::OutputSpace;
use houselights::colour::printer::{Intent, Printing};
use houselights::light::sheet::KeyMemory;
use houselights::look::correction::{
    Curve, Lean, Levels, Medium, Monochrome, NoiseReduction, RollOff, Sharpening, Tint,
};
use houselights::look::file::{
    ExposurePolicy, ExposureWish, LevelsPolicy, LevelsWish, Look, LookError, OutputWish, Remembered,
};
use houselights::look::keys::{Key, MOST_ENTRIES};
use houselights::look::read::FieldError;
use houselights::raw::facts::Body;
use proptest::prelude::*;
use std::path::Path;

fn look() -> impl Strategy<Value = Look> {
    let words = "[ -~\n\t\"\\\\äöü€]{0,40}";
    let curve = prop_oneof![
        Just(Curve::Straight),
        // A ceiling that the contrast can reach; the rest is refused.
        (0.8..2.0, 1.6..64.0).prop_map(|(contrast, ceiling)| Curve::Shoulder { contrast, ceiling })
    ];
    let levels = || {
        (-0.05..0.2, 0.25..4.0, 0.25..16.0).prop_map(|(black, middle, white)| Levels {
            black,
            middle,
            white,
        })
    };
    let exposure =
        (any::<bool>(), -6.0..6.0, 0.0..1.0, 0.0..4.0).prop_map(|(lit, stops, kept, most)| {
            ExposureWish {
                policy: if lit {
                    ExposurePolicy::Lit
                } else {
                    ExposurePolicy::AsShot
                },
                stops: Stops(stops),
                kept_difference: kept,
                most_correction: Stops(most),
            }
        });
    let white =
        proptest::option::of((0.1..0.6, 0.1..0.39).prop_map(|(x, y)| Chromaticity { x, y }));
    let reference = proptest::option::of(
        (
            words,
            proptest::option::of(words),
            1e-4..1e4,
            levels(),
            proptest::option::of(1e-6..1e6),
            proptest::option::of(1e-6..1.5),
        )
            .prop_map(
                |(text, serial, gain, levels, relative_exposure, key_level)| Remembered {
                    frame: text.clone(),
                    body: Body {
                        make: text.clone(),
                        model: text,
                        serial,
                    },
                    gain,
                    levels,
                    relative_exposure,
                    key_level,
                },
            ),
    );
    let taste = (0.0..1.0, 0.1..8.0, 0.1..100.0, 0.0..2.0, 0.0..1.0);
    let monochrome =
        (0.0..1.0, 0.0..1.0, 0.0..1.0, 0.01..1.0).prop_map(|(amount, red, green, blue)| {
            Monochrome {
                amount,
                red,
                green,
                blue,
            }
        });
    let lean = || (0.0..360.0, 0.0..1.0).prop_map(|(hue, strength)| Lean { hue, strength });
    let tint = (lean(), lean()).prop_map(|(shadows, highlights)| Tint {
        shadows,
        highlights,
    });
    let sharpening = (
        0.0..2.0,
        prop_oneof![
            Just(Medium::Screen),
            Just(Medium::Glossy),
            Just(Medium::Matte)
        ],
        proptest::option::of(60.0..720.0),
    )
        .prop_map(|(amount, medium, resolution)| Sharpening {
            amount,
            medium,
            resolution,
        });
    let toning = (monochrome, tint, sharpening);
    let output = (
        proptest::option::of(16..65_500_u32),
        1..=100_u8,
        proptest::sample::select(OutputSpace::ALL.to_vec()),
        proptest::sample::select(Format::ALL.to_vec()),
        words,
        proptest::sample::select(Intent::ALL.to_vec()),
        any::<bool>(),
    );
    let first = (words, words, white, exposure, any::<bool>(), levels());
    (first, curve, taste, toning, output, reference, keys()).prop_map(
        |(first, curve, taste, toning, output, reference, keys)| {
            let (name, note, white, exposure, measured, fixed) = first;
            let (amount, start, above, saturation, noise_reduction) = taste;
            Look {
                name,
                note,
                white,
                exposure,
                levels: LevelsWish {
                    policy: if measured {
                        LevelsPolicy::Measured
                    } else {
                        LevelsPolicy::Fixed
                    },
                    fixed,
                },
                curve,
                roll_off: RollOff {
                    amount,
                    start,
                    end: start + above,
                },
                saturation,
                monochrome: toning.0,
                tint: toning.1,
                noise: NoiseReduction {
                    luminance: noise_reduction,
                    colour: 1.0 - noise_reduction,
                    grain: noise_reduction / 2.0,
                },
                detail: noise_reduction / 3.0,
                sharpening: toning.2,
                output: OutputWish {
                    long_edge: output.0,
                    space: output.2,
                    format: output.3,
                    profile: output.4,
                    printing: Printing {
                        intent: output.5,
                        black_point_compensation: output.6,
                    },
                    quality: output.1,
                },
                reference,
                keys,
            }
        },
    )
}

/// Keys as they are remembered, of any names and numbers.
fn keys() -> impl Strategy<Value = Vec<Key>> {
    let colour = || (-2.0..2.0, -2.0..2.0).prop_map(|(a, b)| [a, b]);
    let memory = (
        proptest::collection::vec((colour(), 1e-6..1e6), 0..20),
        proptest::collection::vec((colour(), -30.0..5.0, 1e-6..1.0), 0..20),
    );
    let key = (
        "[ -~\n\"\\\\äöü€]{1,20}",
        0.1..0.6,
        0.1..0.39,
        proptest::option::of(-6.0..6.0),
        memory,
    );
    proptest::collection::vec(key, 0..4).prop_map(|keys| {
        let mut found: Vec<Key> = Vec::new();
        for (name, x, y, level, (palette, surfaces)) in keys {
            let memory = KeyMemory { palette, surfaces };
            let white = Chromaticity { x, y };
            if found.iter().all(|known| known.name != name) {
                found.push(Key::new(name, white, level.map(Stops), &memory));
            }
        }
        found
    })
}

proptest! {
    #[test]
    fn a_written_look_reads_back_the_same(look in look()) {
        prop_assert_eq!(Look::from_text(&look.to_text()), Ok(look));
    }
}

#[test]
fn a_saved_look_loads_the_same_and_a_path_is_told_from_a_name() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("tuesday night.toml");
    let look = Look {
        name: "tuesday".into(),
        saturation: 0.9,
        ..Look::default()
    };
    look.save(&path).expect("saved");
    assert_eq!(Look::load(&path).expect("loaded"), look);
    assert_eq!(Look::resolve(&path).expect("resolved"), look);
    assert_eq!(
        Look::resolve(Path::new("stage")).expect("a preset").name,
        "stage"
    );
    let unknown = Look::resolve(Path::new("attic"))
        .expect_err("no such preset")
        .to_string();
    assert!(
        unknown.contains("stage, faithful, cellar, meadow, limelight"),
        "{unknown}"
    );
    for absent in ["attic.toml", "./attic", "venues/attic"] {
        assert!(
            matches!(
                Look::resolve(Path::new(absent)),
                Err(LookError::Read { .. })
            ),
            "{absent}"
        );
    }
    assert!(
        matches!(Look::resolve(folder.path()), Err(LookError::Read { .. })),
        "a folder is no look"
    );
}

#[test]
fn missing_fields_are_neutral() {
    assert_eq!(Look::from_text("version = 1"), Ok(Look::default()));
}

fn refused(text: &str) -> String {
    Look::from_text(&format!("version = 1\n{text}"))
        .expect_err("not a look")
        .to_string()
}

#[test]
fn an_unknown_field_is_named_with_the_known_ones() {
    let said = refused("[exposure]\nstop = \"+1.0 stops\"");
    assert!(
        said.starts_with("[exposure] has no field \"stop\""),
        "{said}"
    );
    assert!(
        said.contains("policy, stops, kept-difference, most-correction"),
        "{said}"
    );
    let said = refused("contrast = 1.2");
    assert!(
        said.contains("no field \"contrast\"") && said.contains("curve"),
        "{said}"
    );
    assert!(refused("[grain]\namount = 1.0").contains("no field \"grain\""));
}

#[test]
fn a_wrong_unit_is_named_with_the_one_found_and_the_one_wanted() {
    let said = refused("[exposure]\nstops = \"0.3 px\"");
    assert_eq!(
        said,
        "exposure.stops: found the unit \"px\", wanted stops, written as \"+0.3 stops\""
    );
    assert!(refused("[exposure]\nstops = 0.3").contains("found the bare number 0.3, wanted stops"));
    assert!(refused("[output]\nlong-edge = \"2048 stops\"").contains("wanted px"));
    assert!(refused("[colour]\nsaturation = \"1.0\"").contains("wanted a bare number"));
    assert!(refused("[colour]\nsaturation = \"1.0 stops\"").contains("found the unit \"stops\""));
    assert!(refused("[colour]\nsaturation = true").contains("colour.saturation"));
}

#[test]
fn numbers_out_of_range_or_not_finite_are_refused() {
    for value in ["nan", "-nan", "inf", "-inf", "2.5", "-0.1"] {
        let said = refused(&format!("[colour]\nsaturation = {value}"));
        assert!(said.contains("allowed is 0 to 2"), "{value}: {said}");
    }
    assert!(refused("[exposure]\nstops = \"99 stops\"").contains("allowed is -6 to 6"));
    assert!(refused("[output]\nquality = 92.5").contains("a whole number"));
    assert!(refused("[white]\nx = 0.6\ny = 0.6").contains("white.x and white.y"));
    assert!(
        refused("[monochrome]\nred = 0.0\ngreen = 0.0\nblue = 0.0").contains("give at least one")
    );
    assert!(refused("[tint]\nshadows-hue = 75.0").contains("wanted degrees"));
    assert!(refused("[tint]\nshadows-hue = \"400 degrees\"").contains("allowed is 0 to 360"));
    assert!(refused("[roll-off]\nstart = 8.0\nend = 4.0").contains("roll-off.end"));
}

#[test]
fn a_shoulder_that_cannot_rise_to_its_ceiling_is_refused_with_what_to_do() {
    let said = refused("[curve]\nkind = \"shoulder\"\ncontrast = 0.8\nceiling = 1.05");
    assert!(
        said.starts_with("curve.ceiling is 1.05") && said.contains("raise curve.ceiling"),
        "{said}"
    );
    // 0.18^(1 - 1/0.8) = 1.5353.
    assert!(said.contains("1.54 times diffuse white"), "{said}");
    let text = "version = 1\n[curve]\nkind = \"shoulder\"\ncontrast = 0.8\nceiling = 1.54";
    assert!(Look::from_text(text).is_ok());
}

#[test]
fn halves_of_what_belongs_together_are_refused() {
    assert!(refused("[white]\nx = 0.3").contains("white.y is missing"));
    assert!(refused("[reference]\nframe = \"a.dng\"").contains("reference.gain is missing"));
    assert!(refused("[curve]\ncontrast = 1.2").contains("kind = \"shoulder\""));
    assert!(refused("white = 3").contains("[white]"));
    assert!(refused("[curve]\nkind = \"bent\"").contains("one of \"straight\", \"shoulder\""));
}

#[test]
fn versions() {
    let later = Look::from_text("version = 2\nglow = 1").expect_err("a later version");
    assert!(matches!(later, FieldError::Version(_)));
    assert!(later.to_string().contains("a later houselights"), "{later}");
    assert!(matches!(
        Look::from_text("name = \"x\""),
        Err(FieldError::NoVersion)
    ));
    assert!(matches!(
        Look::from_text("version = \"1\""),
        Err(FieldError::NotAVersion(_))
    ));
    assert!(matches!(
        Look::from_text("version = 1\n[curve"),
        Err(FieldError::Syntax(_))
    ));
    assert!(matches!(
        Look::from_text("\u{0}\u{fffd}"),
        Err(FieldError::Syntax(_))
    ));
}

#[test]
fn an_error_in_a_file_names_the_file() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let path = folder.path().join("venue.toml");
    std::fs::write(&path, "version = 1\n[noise]\nreduction = nan").expect("written");
    let said = Look::load(&path).expect_err("NaN").to_string();
    assert!(
        said.contains("venue.toml") && said.contains("noise.reduction"),
        "{said}"
    );
}

#[test]
fn a_look_of_before_there_were_keys_reads_and_has_none() {
    let text =
        "version = 1\n[white]\nx = 0.35\ny = 0.36\n[reference]\nframe = \"a.dng\"\ngain = 1.5\n";
    let look = Look::from_text(text).expect("an old look");
    assert!(look.is_solved() && look.keys.is_empty());
}

#[test]
fn keys_stay_readable_bounded_and_editable() {
    let memory = KeyMemory {
        palette: (0..1000)
            .map(|at| ([0.1234567, -0.7654321], 1.0 + f64::from(at)))
            .collect(),
        surfaces: (0..1000)
            .map(|at| ([0.1234567, -0.7654321], -8.1234567, 1e-5 * f64::from(at)))
            .collect(),
    };
    let white = Chromaticity { x: 0.38, y: 0.377 };
    let key = Key::new("follow spot".to_owned(), white, Some(Stops(-0.25)), &memory);
    assert_eq!(key.memory.palette.len(), MOST_ENTRIES);
    assert_eq!(
        key.memory.palette[0],
        ([0.123, -0.765], 1000.0),
        "the weightiest stay"
    );
    let look = Look {
        keys: vec![key],
        ..Look::default()
    };
    let text = look.to_text();
    assert!(text.len() < 24_000, "{} bytes", text.len());
    assert!(text.lines().all(|line| line.len() < 240));
    for words in [
        "[[key]]",
        "name = \"follow spot\"",
        "level = \"-0.25 stops\"",
        "x 0.3800, y 0.3770: ",
    ] {
        assert!(text.contains(words), "{words} in:\n{text}");
    }
    let renamed = Look::from_text(&text.replace("follow spot", "bühne links")).expect("a look");
    assert_eq!(renamed.keys[0].name, "bühne links");
    assert_eq!(renamed.keys[0].memory, look.keys[0].memory);
    let told = houselights::look::describe::in_words(&look);
    assert!(
        told.contains("key follow spot") && told.contains("240 colours"),
        "{told}"
    );
}

#[test]
fn keys_that_cannot_be_are_refused_by_name() {
    let key = "[[key]]\nname = \"spot\"\nx = 0.38\ny = 0.377\n";
    assert!(Look::from_text(&format!("version = 1\n{key}")).is_ok());
    for (more, words) in [
        (
            "level = 0.3",
            "key \"spot\": level is the bare number 0.3, wanted stops",
        ),
        ("level = \"0.3 px\"", "found the unit \"px\""),
        ("colours = \"0.1 0.2\"", "groups of 3 numbers"),
        ("colours = \"0.1 0.2 nan\"", "groups of 3 numbers"),
        ("surfaces = \"0.1 0.2 -3 0\"", "groups of 4 numbers"),
        ("surfaces = 3", "text with groups of 4 numbers"),
        (
            "glow = 1",
            "[[key]] has no field \"glow\"; its fields are name, x, y, level",
        ),
    ] {
        let said = refused(&format!("{key}{more}"));
        assert!(said.contains(words), "{more}: {said}");
    }
    assert!(refused("[[key]]\nx = 0.3\ny = 0.3").contains("key 1: name is missing"));
    assert!(refused("[[key]]\nname = \"spot\"\nx = 0.38").contains("key \"spot\": y is missing"));
    assert!(
        refused("[[key]]\nname = \"spot\"\nx = 0.7\ny = 0.7").contains("sum must stay below 1")
    );
    assert!(refused(&format!("{key}{key}")).contains("\"spot\" stands there twice"));
    assert!(refused("key = 3").contains("[[key]]"));
    assert!(refused(&key.repeat(20)).contains("20 are too many, at most 16"));
}
