//! The light room against published tables, computed by general-purpose libraries from published formulas. Each file
//! under `tests/data` names its source.

#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that meets the unexpected should stop there"
)]

use houselights::base::plane::Plane;
use houselights::base::robust;
use houselights::colour::angle;
use houselights::light::estimators::{grey_edge, shades_of_grey};
use houselights::light::histogram::Histogram;
use houselights::light::locus;
use houselights::light::raster::Raster;
use houselights::light::reduce::Reduced;
use houselights::light::region::{log_levels, part};
use houselights::raw::facts::Facts;
use houselights::raw::noise::NoiseModel;
use serde_json::Value;

fn table(name: &str) -> Value {
    let path = format!("{}/tests/data/{name}.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
    serde_json::from_str(&text).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().expect("a list of numbers");
    list.iter().map(|v| v.as_f64().expect("a number")).collect()
}

fn triple(value: &Value) -> [f64; 3] {
    numbers(value).try_into().expect("three numbers")
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// Recovery angle; reproduction angle of Finlayson and Zakizadeh, BMVC 2014.
#[test]
fn angles_between_whites() {
    let table = table("angular_error");
    for row in table["rows"].as_array().expect("rows") {
        let (truth, estimate) = (triple(&row["gt"]), triple(&row["est"]));
        // The table has eight decimals, and an arc cosine near 0 degrees that loses half of them.
        let near = |found: f64, wanted: &Value| (found - number(wanted)).abs() < 1e-6;
        assert!(
            near(angle::recovery(truth, estimate), &row["recovery_deg"]),
            "{row}"
        );
        assert!(
            near(
                angle::reproduction(truth, estimate),
                &row["reproduction_deg"]
            ),
            "{row}"
        );
    }
}

/// Shades of grey (Finlayson and Trezzi 2004) and grey-edge (van de Weijer, Gevers and Gijsenij 2007) of an 8 x 8
/// picture, filtered by scipy.
#[test]
fn the_grey_family() {
    let table = table("grey_family");
    let colours: Vec<[f64; 3]> = table["image_8x8x3"]
        .as_array()
        .expect("rows")
        .iter()
        .flat_map(|row| row.as_array().expect("a row").iter().map(triple))
        .collect();
    let raster = Raster {
        width: 8,
        colours: &colours,
        valid: &vec![true; colours.len()],
    };
    let mut seen = 0;
    for (name, wanted) in table["estimates_unit_norm"].as_object().expect("estimates") {
        let parameter = |key: &str| -> Option<f64> {
            let word = name.split(' ').find_map(|word| word.strip_prefix(key))?;
            Some(if word == "inf" {
                f64::INFINITY
            } else {
                word.parse().expect("a number")
            })
        };
        let p = parameter("p=").expect("a power");
        let (found, tolerance) = match parameter("n=") {
            // The table has eight decimals.
            None => (shades_of_grey(&raster, p), 1e-8),
            // Kernels cut and edges continued as scipy does it; the table says to compare to a thousandth.
            Some(order) => (
                grey_edge(
                    &raster,
                    order as usize,
                    p,
                    parameter("sigma=").expect("a scale"),
                ),
                1e-3,
            ),
        };
        for (found, wanted) in found.expect("an estimate").iter().zip(triple(wanted)) {
            assert!(
                (found - wanted).abs() <= tolerance,
                "{name}: {found} {wanted}"
            );
        }
        seen += 1;
    }
    assert!(seen >= 10, "the table holds the whole family");
}

/// The order of pixels says nothing about the light.
#[test]
fn shades_of_grey_do_not_depend_on_the_order_of_pixels() {
    let colours: Vec<[f64; 3]> = (0..251_u32)
        .map(|at| [at % 7 + 1, at % 11 + 2, at % 13 + 3].map(|v| f64::from(v) / 17.0))
        .collect();
    // 251 is prime, so every step visits every pixel.
    let shuffled: Vec<[f64; 3]> = (0..251).map(|at| colours[at * 100 % 251]).collect();
    let valid = vec![true; 251];
    let of = |colours: &[[f64; 3]]| {
        let raster = Raster {
            width: 251,
            colours,
            valid: &valid,
        };
        shades_of_grey(&raster, 6.0).expect("an estimate")
    };
    for (a, b) in of(&colours).iter().zip(of(&shuffled)) {
        assert!((a - b).abs() < 1e-14);
    }
}

/// Weighted median and Huber's location, by numpy; the table's location is the one that the steps settle at.
#[test]
fn robust_statistics() {
    let table = &table("robust_stats")["weighted_median"];
    let (values, weights) = (numbers(&table["v"]), numbers(&table["w"]));
    assert_eq!(
        robust::weighted_median(&values, &weights),
        table["median"].as_f64()
    );
    let huber = robust::huber(&values, &weights, 0.1, 50).expect("a location");
    assert!(
        (huber - number(&table["huber_k01"])).abs() < 1e-9,
        "{huber}"
    );
}

/// A spot-lit frame: Otsu's threshold, three-class thresholds and the lit region, by scikit-image.
#[test]
fn a_spot_lit_frame_is_parted_as_the_table_says() {
    let table = table("levels_spotlit");
    let levels: Vec<f64> = table["Y_96x96"]
        .as_array()
        .expect("rows")
        .iter()
        .flat_map(numbers)
        .collect();
    let histogram = Histogram::of(&log_levels(&levels, 0.0)).expect("a range");
    // The table has four decimals.
    let near = |found: f64, wanted: &Value| (found - number(wanted)).abs() < 5.1e-5;
    assert!(
        near(histogram.otsu(), &table["otsu_log2"]),
        "{}",
        histogram.otsu()
    );
    let (low, high) = histogram.otsu_three();
    assert!(near(low, &table["multiotsu3_log2"][0]) && near(high, &table["multiotsu3_log2"][1]));

    let threshold = histogram.otsu().exp2();
    let mut lit: Vec<f64> = levels
        .iter()
        .copied()
        .filter(|y| *y > threshold && *y < 0.98)
        .collect();
    let median = robust::median(&mut lit).expect("lit");
    let bright = robust::percentile(&mut lit, 98.0).expect("lit");
    // The table has six decimals.
    assert!(
        (median - number(&table["p50_of_lit"])).abs() < 1e-6,
        "{median}"
    );
    assert!(
        (bright - number(&table["p98_of_lit"])).abs() < 1e-6,
        "{bright}"
    );
    assert!((0.18 / median - number(&table["gain_key018_lit"])).abs() < 1e-3);

    // The region that the program uses has no specks and no glow of the lamp: one disc of the drawn subject's size.
    let reduced = Reduced {
        colour: Plane::from_values(96, 96, levels.iter().map(|&y| [y; 3]).collect())
            .expect("96 x 96"),
        clipped: Plane::filled(96, 96, 0.0),
        noise: NoiseModel {
            slope: 0.0,
            floor: 0.0,
        },
        sites: [1.0; 3],
    };
    let region = part(&reduced, [1.0; 3]);
    let count = region.lit.values().iter().filter(|lit| **lit).count() as f64;
    let share = count / levels.len() as f64;
    // Specks of noise above the threshold are 1.4 % of the mask by the table's precision; the opening takes a few
    // corners of the disc.
    assert!(
        (share / number(&table["subject_true_fraction"]) - 1.0).abs() < 0.02,
        "{share}"
    );
    let top_half = region.lit.values()[..96 * 30]
        .iter()
        .filter(|lit| **lit)
        .count();
    assert_eq!(top_half, 0, "nothing around the lamp is lit by the key");
    assert_eq!(
        region.lamps.values().iter().filter(|lamp| **lamp).count(),
        45
    );
}

/// Relative exposure and exposure values, APEX (ISO 2720:1974).
#[test]
fn exposure_settings() {
    let table = table("ev_table");
    for row in table["rows"].as_array().expect("rows") {
        let facts = Facts {
            exposure_seconds: row["t"].as_f64(),
            f_number: row["N"].as_f64(),
            iso: row["ISO"].as_f64(),
            ..Facts::default()
        };
        let h = facts.relative_exposure().expect("settings are known");
        assert!(
            (h / number(&row["rel_exposure_H"]) - 1.0).abs() < 1e-12,
            "{row}"
        );
        let ev = facts.exposure_value().expect("settings are known").0;
        assert!((ev - number(&row["EV"])).abs() < 1e-6, "{row}");
    }
}

/// Where faces lie from the white, in a camera's log-chroma, under daylight and tungsten: measured spectra (Lu et al., Scientific
/// Data 2025) through the sensitivities of a camera.
#[test]
fn skin_lies_where_it_was_measured() {
    let table = table("skin_groups");
    let groups = table["groups"].as_array().expect("groups");
    assert_eq!(groups.len(), 8);
    for group in groups {
        for light in ["D65", "A"] {
            let measured = numbers(&group[format!("camera_balanced_log_RG_BG_{light}_mean")]);
            let off = locus::distance([measured[0], measured[1]], locus::SKIN);
            // The standard deviation within a group is 0.07 and 0.05.
            assert!(off < 0.07, "{group}: {off}");
        }
    }
}
