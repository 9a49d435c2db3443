//! Ohno's method: a fine table of the locus, a triangle near it, a parabola away from it.

use super::locus::Planck;
use super::{Temperature, uv_of};
use crate::base::units::{Chromaticity, Kelvin};
use std::sync::OnceLock;

/// The table's ends in kelvin.
const COOLEST: f64 = 1000.0;
const HOTTEST: f64 = 100_000.0;
/// Ratio of neighbouring temperatures in the table. Ohno takes 1 % with corrections; 0.1 % needs none and errs by less
/// than 0.01 K.
const SPACING: f64 = 1.001;
/// Below this |Duv| the triangle is the better solution, above it the parabola (Ohno 2014).
const TRIANGLE_WITHIN: f64 = 0.002;
/// CIE 15:2018, 9.5: a correlated colour temperature should not be stated further than this from the locus.
const MEANINGLESS_BEYOND: f64 = 0.05;

/// One entry: kelvin, u, v.
type Entry = [f64; 3];

fn table() -> &'static [Entry] {
    static TABLE: OnceLock<Vec<Entry>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let mut planck = Planck::new();
        let mut entries = Vec::new();
        let mut kelvin = COOLEST;
        while kelvin <= HOTTEST {
            let [u, v] = planck.uv(kelvin);
            entries.push([kelvin, u, v]);
            kelvin *= SPACING;
        }
        entries
    })
}

/// Correlated colour temperature and Duv by Ohno (2014, LEUKOS 10:47-55, DOI 10.1080/15502724.2014.839020): within
/// 0.1 K from 2000 to 10000 K.
///
/// `None` where no temperature can be stated: no chromaticity, cooler than 1000 K or hotter than 100000 K, or further
/// than 0.05 from the locus (CIE 15).
#[must_use]
pub fn ohno(xy: Chromaticity) -> Option<Temperature> {
    let [u, v] = uv_of(xy)?;
    let entries = table();
    // Squares tell the nearest as well, and cost a tenth of a library's hypotenuse for each of hundreds of entries.
    let square = |entry: &Entry| (u - entry[1]).powi(2) + (v - entry[2]).powi(2);
    let distance = |entry: &Entry| square(entry).sqrt();
    let nearest = entries
        .iter()
        .map(square)
        .enumerate()
        .min_by(|one, other| one.1.total_cmp(&other.1))?
        .0;
    // At an end of the table the nearest point of the locus may lie beyond it.
    let around = entries.get(nearest.checked_sub(1)?..nearest + 2)?;
    let [before, here, after] = around else {
        return None;
    };
    let (d0, d1, d2) = (distance(before), distance(here), distance(after));

    let chord = (after[1] - before[1]).hypot(after[2] - before[2]);
    let along = (d0 * d0 - d2 * d2 + chord * chord) / (2.0 * chord);
    let foot_v = before[2] + (after[2] - before[2]) * along / chord;
    let side = if v < foot_v { -1.0 } else { 1.0 };
    let triangle = Temperature {
        kelvin: Kelvin(before[0] + (after[0] - before[0]) * along / chord),
        duv: side * (d0 * d0 - along * along).max(0.0).sqrt(),
    };
    let temperature = if triangle.duv.abs() < TRIANGLE_WITHIN {
        triangle
    } else {
        parabola([before[0], here[0], after[0]], [d0, d1, d2], side)
    };
    (temperature.duv.abs() <= MEANINGLESS_BEYOND).then_some(temperature)
}

/// The lowest point of the parabola through three distances.
fn parabola([t0, t1, t2]: [f64; 3], [d0, d1, d2]: [f64; 3], side: f64) -> Temperature {
    let scale = (t2 - t1) * (t0 - t2) * (t1 - t0);
    let a = (t0 * (d2 - d1) + t1 * (d0 - d2) + t2 * (d1 - d0)) / scale;
    let b = -(t0 * t0 * (d2 - d1) + t1 * t1 * (d0 - d2) + t2 * t2 * (d1 - d0)) / scale;
    let c =
        -(d0 * (t2 - t1) * t1 * t2 + d1 * (t0 - t2) * t0 * t2 + d2 * (t1 - t0) * t0 * t1) / scale;
    let kelvin = -b / (2.0 * a);
    Temperature {
        kelvin: Kelvin(kelvin),
        duv: side * ((a * kelvin + b) * kelvin + c),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_says_no_where_a_temperature_means_nothing() {
        // A 630 nm and a 450 nm LED, a green laser's neighbourhood, what a matrix makes of a blue LED, not a number.
        for (x, y) in [
            (0.70, 0.30),
            (0.154, 0.021),
            (0.17, 0.72),
            (0.11, -0.032),
            (f64::NAN, 0.3),
        ] {
            assert_eq!(ohno(Chromaticity { x, y }), None, "{x} {y}");
        }
    }
}
