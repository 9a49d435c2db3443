//! The light of a calibration: by its number, or by the data that a file gives for a light without one.
//!
//! Digital Negative specification 1.6, tags IlluminantData1 to IlluminantData3: a 16-bit type, then for type 0 the
//! chromaticity as two rationals, for type 1 a 32-bit number of samples, the first wavelength and the step in nanometres
//! as rationals, and each sample as a rational; in the file's byte order.

use super::tags;
use crate::base::units::{Chromaticity, Kelvin};
use crate::colour::camera::light_source_temperature;
use crate::colour::observer::{CIE_1931, FIRST_NM};
use crate::colour::temperature::robertson;
use crate::raw::source::Source;
use crate::raw::tiff::{ByteOrder, Directory, Tiff};

/// The number that says: look into the data (EXIF, LightSource: other).
const OTHER: u32 = 255;
/// Most samples of a spectrum (the specification's limit).
const MOST_SAMPLES: usize = 1000;

/// The temperature of calibration light `index`; `None` when the file does not say.
pub(super) fn temperature<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    places: &[&Directory],
    index: usize,
) -> Option<Kelvin> {
    let number = places
        .iter()
        .find_map(|place| tiff.integer_of(place, tags::CALIBRATION_ILLUMINANT[index]))?;
    if number != OTHER {
        return light_source_temperature(u16::try_from(number).ok()?);
    }
    let data = places.iter().find_map(|place| {
        let entry = place.entry(tags::ILLUMINANT_DATA[index])?;
        tiff.bytes(entry, 2 + 4 + 8 * (MOST_SAMPLES as u64 + 2))
    })?;
    let white = chromaticity(&data, tiff.order)?;
    let temperature = robertson(white)?.kelvin;
    temperature.0.is_finite().then_some(temperature)
}

/// The chromaticity of a light's data.
fn chromaticity(data: &[u8], order: ByteOrder) -> Option<Chromaticity> {
    let (kind, rest) = data.split_first_chunk::<2>()?;
    let rational = |at: usize| {
        let bytes = rest.get(at..at + 8)?;
        let part = |from: usize| {
            let part: [u8; 4] = bytes.get(from..from + 4)?.try_into().ok()?;
            Some(f64::from(order.u32(part)))
        };
        let value = part(0)? / part(4)?;
        value.is_finite().then_some(value)
    };
    let white = match order.u16(*kind) {
        0 => Chromaticity {
            x: rational(0)?,
            y: rational(8)?,
        },
        1 => {
            let count = order.u32(*rest.first_chunk::<4>()?) as usize;
            if !(2..=MOST_SAMPLES).contains(&count) {
                return None;
            }
            let (first, step) = (rational(4)?, rational(12)?);
            let samples: Vec<f64> = (0..count)
                .map(|index| rational(20 + 8 * index))
                .collect::<Option<_>>()?;
            Chromaticity::from_xyz(tristimulus(first, step, &samples)?)?
        }
        _ => return None,
    };
    white.is_plausible_white().then_some(white)
}

/// XYZ of a spectrum, in any scale: straight lines between its samples, nothing beyond them.
fn tristimulus(first: f64, step: f64, samples: &[f64]) -> Option<[f64; 3]> {
    if step <= 0.0 {
        return None;
    }
    let mut sum = [0.0; 3];
    for (index, observer) in CIE_1931.iter().enumerate() {
        let place = (FIRST_NM + index as f64 - first) / step;
        if place < 0.0 {
            continue;
        }
        let left = place as usize;
        let share = place - left as f64;
        let power = match (samples.get(left), samples.get(left + 1)) {
            (Some(left), Some(right)) => left + share * (right - left),
            (Some(only), None) if share == 0.0 => *only,
            _ => break,
        };
        for (sum, value) in sum.iter_mut().zip(observer) {
            *sum += power * value;
        }
    }
    Some(sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rationals(order: ByteOrder, values: &[(u32, u32)]) -> Vec<u8> {
        let bytes = |value: u32| match order {
            ByteOrder::Little => value.to_le_bytes(),
            ByteOrder::Big => value.to_be_bytes(),
        };
        values
            .iter()
            .flat_map(|(over, under)| [bytes(*over), bytes(*under)].concat())
            .collect()
    }

    fn header(order: ByteOrder, kind: u16) -> Vec<u8> {
        match order {
            ByteOrder::Little => kind.to_le_bytes().to_vec(),
            ByteOrder::Big => kind.to_be_bytes().to_vec(),
        }
    }

    /// CIE 015: an equal-energy spectrum has x = y = 1/3; D65 is 0.3127, 0.3290.
    #[test]
    fn a_light_is_read_by_chromaticity_and_by_spectrum_in_both_byte_orders() {
        for order in [ByteOrder::Little, ByteOrder::Big] {
            let mut by_xy = header(order, 0);
            by_xy.extend(rationals(order, &[(3127, 10_000), (3290, 10_000)]));
            assert_eq!(
                chromaticity(&by_xy, order),
                Some(Chromaticity {
                    x: 0.3127,
                    y: 0.329
                })
            );
            let mut flat = header(order, 1);
            flat.extend(match order {
                ByteOrder::Little => 43_u32.to_le_bytes(),
                ByteOrder::Big => 43_u32.to_be_bytes(),
            });
            flat.extend(rationals(order, &[(360, 1), (10, 1)]));
            flat.extend(rationals(order, &[(7, 10); 43]));
            let white = chromaticity(&flat, order).expect("a light");
            assert!((white.x - 1.0 / 3.0).abs() < 1e-4 && (white.y - 1.0 / 3.0).abs() < 1e-4);
            // Cut anywhere it is no light, and no panic.
            for length in 0..flat.len() {
                assert_eq!(chromaticity(&flat[..length], order), None, "{length}");
            }
        }
    }

    #[test]
    fn nonsense_is_no_light() {
        let order = ByteOrder::Little;
        for values in [[(0, 0), (1, 3)], [(1, 3), (0, 1)], [(9, 1), (1, 3)]] {
            let mut data = header(order, 0);
            data.extend(rationals(order, &values));
            assert_eq!(chromaticity(&data, order), None);
        }
        assert_eq!(chromaticity(&header(order, 2), order), None);
        assert_eq!(tristimulus(400.0, 0.0, &[1.0, 1.0]), None);
    }
}
