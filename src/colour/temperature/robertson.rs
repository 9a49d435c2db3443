//! Robertson's interpolation between isotemperature lines.

use super::{Temperature, uv_of};
use crate::base::units::{Chromaticity, Kelvin};

/// Reciprocal megakelvin (mired), u, v on the locus, and slope of the isotemperature line (Robertson 1968, Journal of
/// the Optical Society of America 58:1528; Wyszecki and Stiles, "Color Science", 2nd edition, table 1(3.11), with the
/// misprinted u at 325 mired put right).
#[rustfmt::skip]
const LINES: [[f64; 4]; 31] = [
    [0.0, 0.18006, 0.26352, -0.24341],
    [10.0, 0.18066, 0.26589, -0.25479],
    [20.0, 0.18133, 0.26846, -0.26876],
    [30.0, 0.18208, 0.27119, -0.28539],
    [40.0, 0.18293, 0.27407, -0.3047],
    [50.0, 0.18388, 0.27709, -0.32675],
    [60.0, 0.18494, 0.28021, -0.35156],
    [70.0, 0.18611, 0.28342, -0.37915],
    [80.0, 0.1874, 0.28668, -0.40955],
    [90.0, 0.1888, 0.28997, -0.44278],
    [100.0, 0.19032, 0.29326, -0.47888],
    [125.0, 0.19462, 0.30141, -0.58204],
    [150.0, 0.19962, 0.30921, -0.70471],
    [175.0, 0.20525, 0.31647, -0.84901],
    [200.0, 0.21142, 0.32312, -1.0182],
    [225.0, 0.21807, 0.32909, -1.2168],
    [250.0, 0.22511, 0.33439, -1.4512],
    [275.0, 0.23247, 0.33904, -1.7298],
    [300.0, 0.2401, 0.34308, -2.0637],
    [325.0, 0.24792, 0.34655, -2.4681],
    [350.0, 0.25591, 0.34951, -2.9641],
    [375.0, 0.264, 0.352, -3.5814],
    [400.0, 0.27218, 0.35407, -4.3633],
    [425.0, 0.28039, 0.35577, -5.3762],
    [450.0, 0.28863, 0.35714, -6.7262],
    [475.0, 0.29685, 0.35823, -8.5955],
    [500.0, 0.30505, 0.35907, -11.324],
    [525.0, 0.3132, 0.35968, -15.628],
    [550.0, 0.32129, 0.36011, -23.325],
    [575.0, 0.32931, 0.36038, -40.77],
    [600.0, 0.33724, 0.36051, -116.45],
];

/// Correlated colour temperature by Robertson (1968): within 1.5 K and 0.0001 of Duv from 2000 to 10000 K.
///
/// Made for iterations: beyond the last line (600 mired, 1667 K) the temperature stays there, and beyond the first (0
/// mired) it is infinite, never an error. `None` only for what is no chromaticity at all. Far from the locus the number
/// means little; [`super::ohno`] says so.
#[must_use]
pub fn robertson(xy: Chromaticity) -> Option<Temperature> {
    let [u, v] = uv_of(xy)?;
    // Distance from each line, positive on its hotter side's far end: it changes sign at the line that is passed.
    let distance = |line: &[f64; 4]| {
        let length = 1.0_f64.hypot(line[3]);
        ((v - line[2]) - line[3] * (u - line[1])) / length
    };
    let mut previous = (&LINES[0], distance(&LINES[0]));
    let mut share = 0.0;
    let mut hotter = &LINES[0];
    let mut cooler = &LINES[0];
    for line in &LINES[1..] {
        let here = distance(line);
        (hotter, cooler) = (previous.0, line);
        if here <= 0.0 {
            // Before the first line both distances are negative or zero: stay on it.
            share = if previous.1 > 0.0 {
                -here / (previous.1 - here)
            } else {
                1.0
            };
            break;
        }
        previous = (line, here);
    }
    let between = |hot: f64, cool: f64| hot * share + cool * (1.0 - share);
    let direction = |line: &[f64; 4]| {
        let length = 1.0_f64.hypot(line[3]);
        [1.0 / length, line[3] / length]
    };
    let (hot, cool) = (direction(hotter), direction(cooler));
    let along = [between(hot[0], cool[0]), between(hot[1], cool[1])];
    let offset = [
        u - between(hotter[1], cooler[1]),
        v - between(hotter[2], cooler[2]),
    ];
    let duv = -(offset[0] * along[0] + offset[1] * along[1]) / along[0].hypot(along[1]);
    Some(Temperature {
        kelvin: Kelvin(1e6 / between(hotter[0], cooler[0])),
        duv,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beyond_the_lines_it_stays_at_their_ends() {
        let candle = super::super::planckian(Kelvin(1200.0));
        let temperature = robertson(candle).expect("a chromaticity");
        assert!((temperature.kelvin.0 - 1e6 / 600.0).abs() < 1e-9);
        // Bluer than any black body.
        let blue = robertson(Chromaticity { x: 0.2, y: 0.2 }).expect("a chromaticity");
        assert!(blue.kelvin.0.is_infinite() && blue.duv.is_finite());
        // What a camera matrix makes of a 450 nm LED: below the x axis, still no NaN.
        let led = robertson(Chromaticity { x: 0.11, y: -0.032 }).expect("a chromaticity");
        assert!(!led.kelvin.0.is_nan() && led.duv.is_finite());
        assert_eq!(
            robertson(Chromaticity {
                x: f64::NAN,
                y: 0.3
            }),
            None
        );
    }
}
