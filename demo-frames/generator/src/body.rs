//! Camera bodies: what the sensor is sensitive to, how it counts, how it stores.
//!
//! Body one has the measured sensitivities of the table. Body two is invented from them: every curve moved towards the
//! blue by a few nanometres and broadened by a Gaussian, each channel by different amounts, as two makers' filters
//! differ. Names, serial numbers and lenses are invented.

use crate::SimulatorError;
use crate::calibration::{ColourProfile, camera_rgb, fit};
use crate::colorimetry::xyz;
use crate::library::Library;
use crate::spectrum::Spectrum;
use crate::tiff::ByteOrder;

/// A lens, as EXIF tells of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Lens {
    /// Maker.
    pub make: String,
    /// Model.
    pub model: String,
    /// Shortest focal length, mm.
    pub shortest: u32,
    /// Longest focal length, mm.
    pub longest: u32,
    /// Widest f-number times ten.
    pub widest_tenths: u32,
    /// Share of light that passes (a T-stop's square over the f-number's).
    pub transmission: f64,
    /// Light lost in the picture's corner, as a share.
    pub vignetting: f64,
}

/// A camera body.
#[derive(Clone, Debug, PartialEq)]
pub struct Body {
    /// Maker.
    pub make: String,
    /// Model.
    pub model: String,
    /// Serial number.
    pub serial: String,
    /// The lens on it.
    pub lens: Lens,
    /// Channel of the photosites, first row and column of the active area first: 0 red, 1 green, 2 blue.
    pub pattern: [[u8; 2]; 2],
    /// Counts of no light, by place in the pattern.
    pub black: [[u16; 2]; 2],
    /// Counts of a full photosite.
    pub white: u16,
    /// Bits of a count.
    pub bits: u8,
    /// Electrons of a full photosite at ISO 100.
    pub full_well: f64,
    /// Read noise before the amplifier, electrons.
    pub noise_before: f64,
    /// Read noise after the amplifier, counts.
    pub noise_after: f64,
    /// Masked photosites left of and above the active area; even numbers.
    pub border: [usize; 2],
    /// Photosites around the picture within the active area; even numbers.
    pub margin: usize,
    /// Orientation tag of frames taken upright in portrait: 6 or 8.
    pub portrait_orientation: u16,
    /// Byte order of its files.
    pub order: ByteOrder,
    /// Whether its files carry a small preview before the mosaic.
    pub preview: bool,
    /// Milliseconds by which its clock is ahead.
    pub clock_ahead: i64,
    /// First part of its file names.
    pub prefix: String,
    /// Matrices for its files.
    pub colour: ColourProfile,
    pub(crate) sensitivities: [Spectrum; 3],
}

/// Zone of the show, minutes east of UTC.
pub(crate) const ZONE_MINUTES: i32 = 120;

/// Exposure in lux seconds that fills a photosite at ISO 100: 78/S of ISO 12232:2019, section 6.2.
const FULL_AT_ISO_100: f64 = 78.0 / 100.0;

impl Body {
    /// The body with measured sensitivities: 14 bit, red first.
    pub(crate) fn first(library: &Library) -> Result<Self, SimulatorError> {
        let sensitivities = levelled(library, library.measured_body.clone())?;
        Ok(Self {
            make: "Halm".to_owned(),
            model: "Halm Prompt One".to_owned(),
            serial: "10004417".to_owned(),
            lens: Lens {
                make: "Halm".to_owned(),
                model: "Halm 24-105mm f/2.8".to_owned(),
                shortest: 24,
                longest: 105,
                widest_tenths: 28,
                transmission: 0.86,
                vignetting: 0.16,
            },
            pattern: [[0, 1], [1, 2]],
            black: [[600, 601], [599, 600]],
            white: 15_520,
            bits: 14,
            full_well: 160_000.0,
            noise_before: 2.6,
            noise_after: 2.2,
            border: [16, 8],
            margin: 4,
            portrait_orientation: 8,
            order: ByteOrder::Little,
            preview: false,
            clock_ahead: 0,
            prefix: "one".to_owned(),
            colour: fit(library, &sensitivities)?,
            sensitivities,
        })
    }

    /// The invented second body: 12 bit, green first, big-endian files with a preview.
    pub(crate) fn second(library: &Library) -> Result<Self, SimulatorError> {
        // Shift in nm, Gaussian deviation in nm and height for red, green, blue: invented. Shifts and deviations are sized
        // so that a matrix fits these curves to the observer about as well as it does the measured ones: moved towards the
        // red and broadened twice as much, they were worse than a real sensor. The heights make the multipliers differ.
        let changes = [(-4.0, 6.0, 1.14), (-6.0, 5.0, 1.0), (-5.0, 7.0, 0.86)];
        let mut changed = library.measured_body.clone();
        for (curve, (shift, deviation, height)) in changed.iter_mut().zip(changes) {
            *curve = moved_and_broadened(curve, shift, deviation).scaled(height);
        }
        let sensitivities = levelled(library, changed)?;
        Ok(Self {
            make: "Ordway".to_owned(),
            model: "Ordway Flyman II".to_owned(),
            serial: "F2-20981".to_owned(),
            lens: Lens {
                make: "Ordway".to_owned(),
                model: "Ordway 70-300mm f/2.8".to_owned(),
                shortest: 70,
                longest: 300,
                widest_tenths: 28,
                transmission: 0.8,
                vignetting: 0.1,
            },
            pattern: [[1, 2], [0, 1]],
            black: [[256, 256], [257, 256]],
            white: 3900,
            bits: 12,
            full_well: 110_000.0,
            noise_before: 3.4,
            noise_after: 1.1,
            border: [24, 16],
            margin: 8,
            portrait_orientation: 6,
            order: ByteOrder::Big,
            preview: true,
            clock_ahead: 2_360,
            prefix: "two".to_owned(),
            colour: fit(library, &sensitivities)?,
            sensitivities,
        })
    }

    /// Share of a full photosite, by channel, of one lux of this light on a white surface, at relative exposure
    /// t S / N² = 1: the exposure equation of ISO 12232, H = 0.65 L t / N² with L = E / π, and the lens's loss.
    pub(crate) fn response(&self, light: &Spectrum) -> [f64; 3] {
        const EXPOSURE_CONSTANT: f64 = 0.65;
        let factor = EXPOSURE_CONSTANT * self.lens.transmission
            / (std::f64::consts::PI * FULL_AT_ISO_100 * 100.0);
        camera_rgb(&self.sensitivities, light).map(|value| value * factor)
    }

    /// Electrons of a full photosite at this ISO.
    #[must_use]
    pub fn full_at(&self, iso: u32) -> f64 {
        self.full_well * 100.0 / f64::from(iso)
    }

    /// Noise of a count as variance: `slope` times the signal plus `floor`, both signal and result in counts.
    #[must_use]
    pub fn noise(&self, iso: u32) -> (f64, f64) {
        let range = f64::from(self.white - self.black[0][0]);
        let counts_per_electron = range / self.full_at(iso);
        let before = self.noise_before * counts_per_electron;
        // The rounding to whole counts adds 1/12.
        let floor = before * before + self.noise_after * self.noise_after + 1.0 / 12.0;
        (counts_per_electron, floor)
    }
}

/// Scaled so that one lux of daylight (D55) gives 1 in green.
fn levelled(
    library: &Library,
    sensitivities: [Spectrum; 3],
) -> Result<[Spectrum; 3], SimulatorError> {
    let light = library.light("cie_d55")?;
    let green = sensitivities[1].dot(&light) / xyz(library, &light)[1];
    Ok(sensitivities.map(|curve| curve.scaled(1.0 / green)))
}

fn moved_and_broadened(curve: &Spectrum, shift: f64, deviation: f64) -> Spectrum {
    /// Half width of the kernel in deviations and its steps.
    const REACH: f64 = 3.0;
    const STEPS: i32 = 24;
    Spectrum::from_function(|nanometre| {
        let (mut sum, mut weights) = (0.0, 0.0);
        for step in -STEPS..=STEPS {
            let offset = REACH * f64::from(step) / f64::from(STEPS);
            let weight = libm::exp(-0.5 * offset * offset);
            sum += weight * curve.at(nanometre - shift + offset * deviation);
            weights += weight;
        }
        sum / weights
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::colorimetry::{apply, white_of};

    #[test]
    fn a_white_in_daylight_fills_a_photosite_when_the_standard_says_so() {
        let library = Library::load().unwrap();
        let body = Body::first(&library).unwrap();
        let light = library.light("cie_d55").unwrap();
        let one_lux = light.scaled(1.0 / xyz(&library, &light)[1]);
        // ISO 12232: full at 78 / S lux seconds; H = 0.65 (E / pi) t / N^2, here through a lens that passes 0.86.
        let lux = 78.0 * std::f64::consts::PI / (0.65 * 0.86);
        assert!((body.response(&one_lux)[1] * lux - 1.0).abs() < 1e-9);
    }

    #[test]
    fn the_bodies_see_differently_and_both_profiles_know_it() {
        let library = Library::load().unwrap();
        let (first, second) = (
            Body::first(&library).unwrap(),
            Body::second(&library).unwrap(),
        );
        let neutral = |body: &Body| {
            let rgb = apply(
                &body.colour.under_d65.colour_matrix,
                white_of(crate::colorimetry::D65_XY),
            );
            [rgb[0] / rgb[1], rgb[2] / rgb[1]]
        };
        let (a, b) = (neutral(&first), neutral(&second));
        // More than a tenth apart in both: multipliers of one body are wrong for the other.
        assert!(
            (a[0] / b[0] - 1.0).abs() > 0.1 && (a[1] / b[1] - 1.0).abs() > 0.1,
            "{a:?} {b:?}"
        );
    }
}
