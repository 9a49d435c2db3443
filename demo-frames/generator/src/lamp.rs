//! Spectra of stage lamps: keys near white, and LED washes as bands.
//!
//! A key is scaled to one lux (Y of the observer = 1), because a lighting designer sets keys by how bright they look.
//! A wash is scaled by radiant power: its sum equals that of one lux of equal-energy light. A deep blue LED gives
//! hardly any lux, yet as much power as a red one; scaled by lux it would burn every sensor.

use crate::SimulatorError;
use crate::colorimetry::{planckian, xyz};
use crate::library::Library;
use crate::spectrum::Spectrum;
use serde::{Deserialize, Serialize};

/// Which lamp a key is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum KeyLamp {
    /// Halogen at full voltage, in kelvin; dimmed it drifts to amber.
    Tungsten(f64),
    /// Xenon discharge follow spot.
    Xenon,
    /// Metal halide of about 4000 K.
    MetalHalide,
    /// White LED, blue pump and phosphor, about 4100 K (CIE LED-B3).
    LedBluePump,
    /// White LED, violet pump, about 4100 K (CIE LED-V2).
    LedVioletPump,
    /// White mixed from three LED bands at 465, 546 and 614 nm.
    LedThreeBand,
    /// Tri-phosphor fluorescent, about 4000 K (CIE FL11).
    Fluorescent,
    /// Daylight of 5500 K (CIE D55), near to a filtered discharge lamp.
    Daylight,
}

/// Colour of a wash.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WashColour {
    /// 630 nm.
    Red,
    /// 590 nm with some 630 nm.
    Amber,
    /// 525 nm.
    Green,
    /// 470 and 525 nm.
    Cyan,
    /// 450 and 470 nm.
    Blue,
    /// 450 and 405 nm with a trace of red: the trade's congo, a deep violet blue.
    Congo,
    /// 450 and 630 nm.
    Magenta,
    /// 405 and 450 nm with red.
    Violet,
}

impl WashColour {
    /// Every colour, for shows drawn by lot.
    pub const ALL: [Self; 8] = [
        Self::Red,
        Self::Amber,
        Self::Green,
        Self::Cyan,
        Self::Blue,
        Self::Congo,
        Self::Magenta,
        Self::Violet,
    ];

    /// LED bands: peak in nm, width in nm, share of power. Peaks and widths as stage fixtures have them (common
    /// practice, no source).
    fn bands(self) -> &'static [(f64, f64, f64)] {
        match self {
            Self::Red => &[(630.0, 18.0, 1.0)],
            Self::Amber => &[(590.0, 15.0, 0.65), (630.0, 18.0, 0.35)],
            Self::Green => &[(525.0, 35.0, 1.0)],
            Self::Cyan => &[(470.0, 25.0, 0.5), (525.0, 35.0, 0.5)],
            Self::Blue => &[(450.0, 20.0, 0.6), (470.0, 25.0, 0.4)],
            Self::Congo => &[
                (450.0, 20.0, 0.68),
                (405.0, 12.0, 0.24),
                (630.0, 18.0, 0.08),
            ],
            Self::Magenta => &[(450.0, 20.0, 0.45), (630.0, 18.0, 0.55)],
            Self::Violet => &[(405.0, 12.0, 0.2), (450.0, 20.0, 0.5), (630.0, 18.0, 0.3)],
        }
    }

    /// Spectrum with the power of one lux of equal-energy light.
    pub(crate) fn spectrum(self, library: &Library) -> Spectrum {
        let mut sum = Spectrum::flat(0.0);
        for &(peak, width, share) in self.bands() {
            let band = single_led(peak, width);
            sum = sum.plus(&band.scaled(share / band.sum()));
        }
        let equal_energy = Spectrum::flat(1.0);
        let lux_of_flat = xyz(library, &equal_energy)[1];
        sum.scaled(equal_energy.sum() / lux_of_flat)
    }
}

/// One LED band: Ohno 2005, "Spectral design considerations for white LED color rendering", Optical Engineering
/// 44(11), 111302: (g + 2 g⁵) / 3 with a Gaussian g.
pub(crate) fn single_led(peak: f64, width: f64) -> Spectrum {
    Spectrum::from_function(|nanometre| {
        let offset = (nanometre - peak) / width;
        let g = libm::exp(-offset * offset);
        (g + 2.0 * g * g * g * g * g) / 3.0
    })
}

/// How colour temperature follows the light of a dimmed halogen lamp: T goes with voltage to the 0.42, light with
/// voltage to the 3.4 (handbook exponents of the lighting trade, from memory).
const DIMMED_TEMPERATURE_EXPONENT: f64 = 0.42 / 3.4;

impl KeyLamp {
    /// A short name for tables.
    #[must_use]
    pub fn name(self) -> String {
        match self {
            Self::Tungsten(kelvin) => format!("tungsten {kelvin:.0} K"),
            Self::Xenon => "xenon".to_owned(),
            Self::MetalHalide => "metal halide".to_owned(),
            Self::LedBluePump => "LED blue pump".to_owned(),
            Self::LedVioletPump => "LED violet pump".to_owned(),
            Self::LedThreeBand => "LED three band".to_owned(),
            Self::Fluorescent => "fluorescent".to_owned(),
            Self::Daylight => "daylight 5500 K".to_owned(),
        }
    }

    /// Spectrum of one lux, for a lamp dimmed by so many stops (0 or negative); only tungsten changes with that.
    pub(crate) fn spectrum(
        self,
        library: &Library,
        stops: f64,
    ) -> Result<Spectrum, SimulatorError> {
        let spectrum = match self {
            Self::Tungsten(kelvin) => {
                planckian(kelvin * libm::exp2(stops.min(0.0) * DIMMED_TEMPERATURE_EXPONENT))
            }
            Self::Xenon => library.light("xenon_lamp")?,
            Self::MetalHalide => library.light("metal_halide_4k")?,
            Self::LedBluePump => library.light("cie_led_b3")?,
            Self::LedVioletPump => library.light("cie_led_v2")?,
            Self::LedThreeBand => library.light("three_led_465_546_614")?,
            Self::Fluorescent => library.light("cie_fl11")?,
            Self::Daylight => library.light("cie_d55")?,
        };
        Ok(spectrum.scaled(1.0 / xyz(library, &spectrum)[1]))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::colorimetry::{temperature, xy_of};

    #[test]
    fn dimming_makes_tungsten_warmer_and_nothing_else() {
        let library = Library::load().unwrap();
        let kelvin = |lamp: KeyLamp, stops: f64| {
            temperature(
                &library,
                xy_of(xyz(&library, &lamp.spectrum(&library, stops).unwrap())),
            )
            .0
        };
        assert!(kelvin(KeyLamp::Tungsten(3200.0), -1.0) < 3000.0);
        assert_eq!(kelvin(KeyLamp::Xenon, -1.0), kelvin(KeyLamp::Xenon, 0.0));
    }

    #[test]
    fn an_led_band_peaks_where_it_should_at_one() {
        assert_eq!(single_led(525.0, 35.0).at(525.0), 1.0);
    }
}
