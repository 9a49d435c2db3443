//! Correlated colour temperature, the loci.

use crate::tables::{close, number, rows, table};
use houselights::base::units::{Chromaticity, Kelvin};
use houselights::colour::temperature::{daylight, ohno, planckian, robertson, with_duv};

/// Ohno 2014 and Robertson 1968 on 84 points from 2000 to 10000 K and -0.02 to +0.02.
#[test]
fn every_row_of_the_temperature_table() {
    let table = table("cct_duv.json");
    for row in rows(&table, "table") {
        let (kelvin, duv) = (number(&row["CCT"]), number(&row["Duv"]));
        let what = format!("{kelvin} K, {duv}");
        let xy = Chromaticity {
            x: number(&row["x"]),
            y: number(&row["y"]),
        };
        // The table has eight decimals; its own way back took a step of another size along the locus.
        let back = with_duv(Kelvin(kelvin), duv);
        close(back.x, xy.x, 1e-7, &what);
        close(back.y, xy.y, 1e-7, &what);

        let by_ohno = ohno(xy).expect("near the locus");
        close(by_ohno.kelvin.0, kelvin, 0.1, &what);
        close(by_ohno.kelvin.0, number(&row["ohno_back"][0]), 0.02, &what);
        close(by_ohno.duv, duv, 1e-6, &what);
        let by_robertson = robertson(xy).expect("a chromaticity");
        close(by_robertson.kelvin.0, kelvin, 1.5, &what);
        close(by_robertson.duv, duv, 1e-4, &what);
        // The same lines, the same interpolation: only the rounding of the table's xy is between.
        close(
            by_robertson.kelvin.0,
            number(&row["robertson_back"][0]),
            0.02,
            &what,
        );
    }
}

/// Illuminants of CIE 15 by Ohno 2014.
#[test]
fn known_illuminants() {
    for (xy, kelvin, duv) in [
        ((0.3457, 0.3585), 5000.70, 0.003_193),
        ((0.312_70, 0.329_00), 6504.32, 0.003_207),
        ((0.447_58, 0.407_45), 2855.49, 0.0),
    ] {
        let found = ohno(Chromaticity { x: xy.0, y: xy.1 }).unwrap();
        close(found.kelvin.0, kelvin, 0.5, "kelvin");
        close(found.duv, duv, 3e-5, "Duv");
    }
}

#[test]
fn ohno_is_continuous_where_its_two_solutions_meet() {
    // The triangle serves below 0.002, the parabola above; the seam must not show.
    for kelvin in [2000.0, 3200.0, 6500.0, 15_000.0] {
        for side in [-1.0, 1.0] {
            let [inside, outside] = [0.001_999, 0.002_001]
                .map(|duv| ohno(with_duv(Kelvin(kelvin), side * duv)).unwrap());
            close(inside.kelvin.0 / outside.kelvin.0, 1.0, 1e-4, "kelvin");
        }
    }
}

/// CIE 15 daylight (six decimals) and black bodies integrated at 1 nm from 360 to 780 nm.
#[test]
fn loci() {
    let table = table("daylight_planck_locus.json");
    let of = |name: &str| table[name].as_object().unwrap().clone();
    let daylights = of("daylight");
    assert!(daylights.len() > 10);
    for (kelvin, entry) in daylights {
        let found = daylight(Kelvin(kelvin.parse().unwrap())).unwrap();
        close(found.x, number(&entry["xy"][0]), 1e-6, &kelvin);
        close(found.y, number(&entry["xy"][1]), 1e-6, &kelvin);
    }
    let bodies = of("planck");
    assert!(bodies.len() > 10);
    for (kelvin, entry) in bodies {
        let temperature: f64 = kelvin.parse().unwrap();
        let found = planckian(Kelvin(temperature));
        close(found.x, number(&entry["xy"][0]), 1e-6, &kelvin);
        close(found.y, number(&entry["xy"][1]), 1e-6, &kelvin);
    }
}
