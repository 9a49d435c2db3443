//! Colour difference and angles.

use crate::tables::{close, number, rows, table, triple};
use houselights::base::units::Chromaticity;
use houselights::colour::angle::{recovery, reproduction};
use houselights::colour::difference::ciede2000;
use houselights::colour::lab::{Lab, lab_of_xyz};

fn lab(value: &serde_json::Value) -> Lab {
    let [lightness, a, b] = triple(value);
    Lab { lightness, a, b }
}

/// Sharma, Wu and Dalal 2005, Table I: 34 pairs, four decimals.
#[test]
fn the_34_pairs() {
    let table = table("ciede2000_34pairs.json");
    let pairs = rows(&table, "pairs");
    assert_eq!(pairs.len(), 34);
    for pair in pairs {
        let (one, other) = (lab(&pair["lab1"]), lab(&pair["lab2"]));
        let wanted = number(&pair["expected_dE00"]);
        close(ciede2000(one, other), wanted, 1e-4, "dE00");
        close(ciede2000(other, one), wanted, 1e-4, "dE00 the other way");
        close(ciede2000(one, one), 0.0, 0.0, "dE00 to itself");
    }
}

/// X-Rite 2016 and BabelColor averages: CIELAB of 96 patches under each set's own white (two decimals).
#[test]
fn lab_of_chart_patches() {
    let table = table("colorchecker24.json");
    for (name, set) in table["sets"].as_object().unwrap() {
        let white = Chromaticity {
            x: number(&set["illuminant_xy"][0]),
            y: number(&set["illuminant_xy"][1]),
        }
        .to_xyz();
        for patch in rows(set, "patches") {
            let found = lab_of_xyz(triple(&patch["XYZ"]), white);
            let wanted = lab(&patch["Lab_own_white"]);
            for (found, wanted) in [
                (found.lightness, wanted.lightness),
                (found.a, wanted.a),
                (found.b, wanted.b),
            ] {
                // Half of the last digit, and XYZ with six decimals.
                close(found, wanted, 7e-3, name);
            }
        }
    }
}

/// Finlayson and Zakizadeh, BMVC 2014.
#[test]
fn angles() {
    for row in rows(&table("angular_error.json"), "rows") {
        let (truth, estimate) = (triple(&row["gt"]), triple(&row["est"]));
        close(
            recovery(truth, estimate),
            number(&row["recovery_deg"]),
            1e-6,
            "recovery",
        );
        close(
            reproduction(truth, estimate),
            number(&row["reproduction_deg"]),
            1e-6,
            "reproduction",
        );
        // Brightness says nothing about a light's colour.
        let brighter = estimate.map(|value| 7.0 * value);
        close(
            recovery(truth, brighter),
            recovery(truth, estimate),
            1e-9,
            "brighter",
        );
    }
}
