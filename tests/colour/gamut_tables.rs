//! Gamut compression and mapping against published parameters and compared methods.

use crate::scene::{Gamut, daylight_matrix, double, lights, single};
use crate::tables::{close, close3, number, rows, table, triple};
use houselights::base::units::Chromaticity;
use houselights::colour::difference::ciede2000;
use houselights::colour::gamut::{Compression, Destination};
use houselights::colour::lab::{Lab, lab_of_xyz};
use houselights::colour::spaces::{AP1, BT2020, SRGB, conversion};

/// CIELAB under D65, as the compared methods were measured.
fn lab(linear_srgb: [f64; 3]) -> Lab {
    lab_of_xyz(SRGB.to_xyz().apply(linear_srgb), Chromaticity::D65.to_xyz())
}

/// Academy, ACES 1.3 reference gamut compression, AP1.
#[test]
fn reference_gamut_compression() {
    let table = table("reference_gamut_compress.json");
    let compression = Compression::reference();
    assert_eq!(compression.limits(), triple(&table["limits_cmy"]));
    for row in rows(&table, "rows") {
        let found = double(compression.compress(single(triple(&row["ap1_in"]))));
        // One departure, meant: a colour beyond the limit ends on the gamut's boundary and not outside.
        let wanted = triple(&row["ap1_out"]).map(|value| value.max(0.0));
        close3(found, wanted, 1e-6, "AP1");
    }
}

/// Ten lights through a measured sensor: what the matrix makes of them, and what the guard leaves.
#[test]
fn no_light_leaves_the_guard_with_negative_luminance() {
    let to_working = daylight_matrix();
    let gamut = Gamut::new();
    let table = table("led_through_sensor.json");
    let luminance = |working: [f64; 3]| BT2020.to_xyz().apply(working)[1];
    let mut negative = 0;
    for (row, (name, camera)) in rows(&table, "rows").iter().zip(lights()) {
        let working = to_working.apply(camera);
        let xyz = BT2020.to_xyz().apply(working);
        let sum: f64 = xyz.iter().sum();
        // The table was balanced by the sensor's true D65 neutral, ours by the matrix's: two units in the third
        // decimal.
        close(
            xyz[0] / sum,
            number(&row["camera_matrix_xy"][0]),
            4e-3,
            &name,
        );
        close(
            xyz[1] / sum,
            number(&row["camera_matrix_xy"][1]),
            4e-3,
            &name,
        );
        negative += usize::from(luminance(working) < 0.0);

        let guarded = gamut.guarded(working);
        assert!(
            guarded
                .iter()
                .all(|value| *value >= 0.0 && value.is_finite()),
            "{name}: {guarded:?}"
        );
        assert!(AP1.to_xyz().apply(double(guarded))[1] > 0.0, "{name}");
        let srgb = gamut.srgb(working);
        assert!(
            srgb.iter().all(|value| *value >= 0.0 && value.is_finite()),
            "{name}: {srgb:?}"
        );
    }
    // Otherwise this test shows nothing: violet and royal blue have negative luminance before the guard.
    assert_eq!(negative, 2);
}

/// X-Rite 2016, BabelColor: patches inside sRGB come out as they went in; cyan, outside, moves no further than clipping
/// moves it.
#[test]
fn chart_patches_are_left_alone() {
    let table = table("colorchecker24.json");
    let to_working = conversion(&SRGB, &BT2020);
    let to_ap1 = conversion(&SRGB, &AP1);
    let gamut = Gamut::new();
    let mut outside = 0;
    for set in table["sets"].as_object().unwrap().values() {
        for patch in rows(set, "patches") {
            let name = patch["patch"].as_str().unwrap();
            let linear = triple(&patch["linear_sRGB_Bradford"]);
            if patch["out_of_sRGB"].as_bool().unwrap() {
                outside += 1;
                let mapped = double(gamut.srgb(to_working.apply(linear)));
                let clipped = linear.map(|value| value.max(0.0));
                let distance = ciede2000(lab(mapped), lab(linear));
                assert!(
                    distance < ciede2000(lab(clipped), lab(linear)) + 1.0,
                    "{name}: {distance}"
                );
            } else {
                let ap1 = single(to_ap1.apply(linear));
                assert_eq!(gamut.compression.compress(ap1), ap1, "{name}");
                assert_eq!(
                    Destination::of(&SRGB).map(single(linear)),
                    single(linear),
                    "{name}"
                );
                // Two matrices in double precision between two roundings to single.
                close3(
                    double(gamut.srgb(to_working.apply(linear))),
                    linear,
                    2e-7,
                    name,
                );
            }
        }
    }
    assert_eq!(outside, 4);
}

/// Eleven lights outside sRGB with the colour difference that published methods leave (each measured by another
/// library).
#[test]
fn the_map_is_near_the_best_compared_method_for_every_light() {
    let table = table("gamut_methods_compared.json");
    for row in rows(&table, "rows") {
        let name = row["name"].as_str().unwrap();
        let linear = triple(&row["linear_sRGB"]);
        // First that we measure as the table does.
        let clipped = triple(&row["channel clip"]["lin"]);
        let by_clipping = number(&row["channel clip"]["dE2000"]);
        close(
            ciede2000(lab(clipped), lab(linear)),
            by_clipping,
            0.05,
            name,
        );

        let mapped = double(Destination::of(&SRGB).map(single(linear)));
        let ours = ciede2000(lab(mapped), lab(linear));
        let published = |method: &str| number(&row[method]["dE2000"]);
        let oklab = published("Oklch chroma reduction");
        let mixing = published("linear-light constant-Y desaturation");
        let best = by_clipping.min(mixing).min(oklab);
        // Green: what is kept in hue there is paid in lightness; clipping turns it 11 degrees towards yellow.
        assert!(ours < best + 4.7, "{name}: {ours:.2} against {best:.2}");
    }
}
