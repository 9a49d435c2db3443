//! The two loci of whites: black bodies and daylight.

use super::xy_of;
use crate::base::kernel::row_kernel;
use crate::base::logarithm::exp;
use crate::base::units::{Chromaticity, Kelvin};
use crate::colour::observer;

/// Second radiation constant in metre kelvin, as CIE 15 rounds it.
const C2: f64 = 1.4388e-2;

/// The chromaticity of a black body: Planck's law summed over the CIE 1931 observer (CIE 15:2018). Not finite below
/// some 100 K, where no light is left.
#[must_use]
pub fn planckian(temperature: Kelvin) -> Chromaticity {
    xy_of(planckian_uv(temperature.0))
}

/// CIE 1960 u, v of a black body.
pub(super) fn planckian_uv(kelvin: f64) -> [f64; 2] {
    let mut xyz = [0.0; 3];
    let mut wavelength = observer::FIRST_NM;
    for matching in &observer::CIE_1931 {
        // Radiance up to a factor: wavelength in micrometres keeps the powers near 1.
        let radiance = (wavelength * 1e-3).powi(-5) / (C2 / (wavelength * 1e-9 * kelvin)).exp_m1();
        for (sum, sensitivity) in xyz.iter_mut().zip(matching) {
            *sum += radiance * sensitivity;
        }
        wavelength += 1.0;
    }
    uv_of_xyz(xyz)
}

fn uv_of_xyz(xyz: [f64; 3]) -> [f64; 2] {
    let denominator = xyz[0] + 15.0 * xyz[1] + 3.0 * xyz[2];
    [4.0 * xyz[0] / denominator, 6.0 * xyz[1] / denominator]
}

/// Planck's law for thousands of temperatures: what does not depend on them is worked out once, the rest in vectors.
pub(super) struct Planck {
    /// Of each wavelength of the observer: second radiation constant over it, in kelvin, and its power of minus five.
    kelvins: Vec<f64>,
    powers: Vec<f64>,
    radiances: Vec<f64>,
}

impl Planck {
    pub(super) fn new() -> Self {
        let nanometres = || (0..observer::CIE_1931.len()).map(|at| observer::FIRST_NM + at as f64);
        Self {
            kelvins: nanometres().map(|nm| C2 / (nm * 1e-9)).collect(),
            powers: nanometres().map(|nm| (nm * 1e-3).powi(-5)).collect(),
            radiances: vec![0.0; observer::CIE_1931.len()],
        }
    }

    /// CIE 1960 u, v of a black body of 100 K or hotter, as [`planckian_uv`] has them, within 1e-14.
    pub(super) fn uv(&mut self, kelvin: f64) -> [f64; 2] {
        radiance_row(kelvin, &self.kelvins, &self.powers, &mut self.radiances);
        let mut xyz = [0.0; 3];
        for (radiance, matching) in self.radiances.iter().zip(&observer::CIE_1931) {
            for (sum, sensitivity) in xyz.iter_mut().zip(matching) {
                *sum += radiance * sensitivity;
            }
        }
        uv_of_xyz(xyz)
    }
}

row_kernel! {
    /// Radiance of a black body, up to a factor.
    fn radiance_row(kelvin: f64, kelvins: &[f64], powers: &[f64], radiances: &mut [f64]) {
        let length = radiances.len();
        let (kelvins, powers) = (&kelvins[..length], &powers[..length]);
        for at in 0..length {
            radiances[at] = powers[at] / (exp(kelvins[at] / kelvin) - 1.0);
        }
    }
}

/// The chromaticity of a phase of daylight (Judd, MacAdam and Wyszecki 1964; CIE 15:2018, equations 4.9 to 4.11).
/// `None` outside 4000 to 25000 K, where it is not defined. The nominal 6500 K of D65 means 6504 K here, since c2 was
/// rounded differently when the illuminants were named.
#[must_use]
pub fn daylight(temperature: Kelvin) -> Option<Chromaticity> {
    let t = temperature.0;
    if !(4000.0..=25_000.0).contains(&t) {
        return None;
    }
    let x = if t <= 7000.0 {
        -4.6070e9 / t.powi(3) + 2.9678e6 / t.powi(2) + 0.099_11e3 / t + 0.244_063
    } else {
        -2.0064e9 / t.powi(3) + 1.9018e6 / t.powi(2) + 0.247_48e3 / t + 0.237_040
    };
    Some(Chromaticity {
        x,
        y: -3.0 * x * x + 2.870 * x - 0.275,
    })
}

/// The chromaticity at a distance from the black body of a temperature, along the isotemperature line: at right angles
/// to the locus on the CIE 1960 diagram (Ohno 2014, LEUKOS 10:47).
#[must_use]
pub fn with_duv(temperature: Kelvin, duv: f64) -> Chromaticity {
    /// Step along the locus for its direction, kelvin.
    const STEP: f64 = 0.01;
    let here = planckian_uv(temperature.0);
    let next = planckian_uv(temperature.0 + STEP);
    let (du, dv) = (here[0] - next[0], here[1] - next[1]);
    let length = du.hypot(dv);
    xy_of([here[0] - duv * dv / length, here[1] + duv * du / length])
}

#[cfg(test)]
mod tests {
    use super::super::uv_of;
    use super::*;
    use crate::base::kernel::hold_together;

    #[test]
    fn many_temperatures_are_as_one_by_one() {
        let mut planck = Planck::new();
        for step in 0..=300 {
            let kelvin = 100.0 * 1000_f64.powf(f64::from(step) / 300.0);
            for (fast, plain) in planck.uv(kelvin).iter().zip(planckian_uv(kelvin)) {
                assert!((fast - plain).abs() < 1e-14, "{kelvin}: {fast} {plain}");
            }
        }
        hold_together(&radiance_row::levels(), |kernel, length| {
            let mut radiances = vec![0.0; length];
            let kelvins: Vec<f64> = (0..length).map(|at| 2e4 + 40.0 * at as f64).collect();
            kernel(3200.0, &kelvins, &kelvins, &mut radiances);
            radiances
        });
    }

    /// The distance of a chromaticity from a black body, on the CIE 1960 diagram.
    fn distance(xy: Chromaticity, kelvin: f64) -> f64 {
        let here = planckian_uv(kelvin);
        let Some([u, v]) = uv_of(xy) else {
            return f64::NAN;
        };
        (u - here[0]).hypot(v - here[1])
    }

    #[test]
    fn a_point_with_a_duv_is_that_far_from_its_black_body() {
        for kelvin in [1500.0, 2856.0, 5600.0, 20_000.0] {
            for duv in [-0.02, -0.003, 0.0, 0.01] {
                let point = with_duv(Kelvin(kelvin), duv);
                // Through xy and back: rounding only.
                assert!((distance(point, kelvin) - duv.abs()).abs() < 1e-12);
            }
        }
    }

    #[test]
    fn daylight_ends_where_it_is_defined() {
        assert_eq!(daylight(Kelvin(3999.9)), None);
        assert_eq!(daylight(Kelvin(25_000.1)), None);
        assert_eq!(daylight(Kelvin(f64::NAN)), None);
        assert!(daylight(Kelvin(4000.0)).is_some() && daylight(Kelvin(25_000.0)).is_some());
    }
}
