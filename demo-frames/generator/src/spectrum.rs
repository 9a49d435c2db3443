//! Spectra on one grid: 400 to 700 nm in steps of 5 nm, as the published tables beside this crate are.
//!
//! Every quantity of light in this crate is a spectrum until it meets a sensor or the standard observer. An integral is
//! a plain sum over the grid (CIE 015:2018, section 7, sums at 5 nm). What lies outside 400 to 700 nm is left out: the
//! tables end there, and the white of CIE illuminants A and D65 moves by less than 0.0006 in x and y (see the tests).

use crate::SimulatorError;

/// Samples of the grid.
pub(crate) const SAMPLES: usize = 61;
/// Wavelength of the first sample, nm.
pub(crate) const FIRST_NANOMETRE: f64 = 400.0;
/// Distance of the samples, nm.
pub(crate) const STEP_NANOMETRES: f64 = 5.0;

/// A spectrum on the grid: relative power, reflectance or sensitivity.
#[derive(Clone, Debug, PartialEq)]
pub struct Spectrum(pub(crate) [f64; SAMPLES]);

impl Spectrum {
    /// From a function of the wavelength in nm.
    pub fn from_function(value: impl Fn(f64) -> f64) -> Self {
        let mut samples = [0.0; SAMPLES];
        for (index, sample) in samples.iter_mut().enumerate() {
            *sample = value(FIRST_NANOMETRE + STEP_NANOMETRES * index as f64);
        }
        Self(samples)
    }

    /// The same value everywhere.
    #[must_use]
    pub fn flat(value: f64) -> Self {
        Self([value; SAMPLES])
    }

    /// The samples, 400 nm first.
    #[must_use]
    pub fn samples(&self) -> &[f64] {
        &self.0
    }

    /// Every sample times a factor.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self(self.0.map(|sample| sample * factor))
    }

    /// Sample by sample sum.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        let mut samples = self.0;
        for (sample, addend) in samples.iter_mut().zip(other.0) {
            *sample += addend;
        }
        Self(samples)
    }

    /// Sample by sample product.
    #[must_use]
    pub fn times(&self, other: &Self) -> Self {
        let mut samples = self.0;
        for (sample, factor) in samples.iter_mut().zip(other.0) {
            *sample *= factor;
        }
        Self(samples)
    }

    /// Sum over the grid.
    #[must_use]
    pub fn sum(&self) -> f64 {
        self.0.iter().sum()
    }

    /// Sum of the product of two spectra.
    #[must_use]
    pub fn dot(&self, other: &Self) -> f64 {
        self.0.iter().zip(other.0).map(|(a, b)| a * b).sum()
    }

    /// Value at any wavelength in nm by linear interpolation, 0 outside the grid.
    #[must_use]
    pub fn at(&self, nanometre: f64) -> f64 {
        let place = (nanometre - FIRST_NANOMETRE) / STEP_NANOMETRES;
        if !(0.0..=(SAMPLES - 1) as f64).contains(&place) {
            return 0.0;
        }
        let below = (place as usize).min(SAMPLES - 2);
        let share = place - below as f64;
        self.0[below] * (1.0 - share) + self.0[below + 1] * share
    }
}

/// A table of named spectra.
#[derive(Clone, Debug)]
pub(crate) struct Table {
    columns: Vec<(String, Spectrum)>,
}

impl Table {
    /// From comma-separated text: lines that begin with `#` are its source, then one line of names, then one line a
    /// wavelength.
    pub(crate) fn parse(text: &str) -> Result<Self, SimulatorError> {
        let broken = |what: &str| SimulatorError::Table(what.to_owned());
        let mut lines = text.lines().filter(|line| !line.starts_with('#'));
        let names: Vec<&str> = lines
            .next()
            .ok_or_else(|| broken("no line of names"))?
            .split(',')
            .skip(1)
            .collect();
        let mut columns: Vec<(String, Spectrum)> = names
            .iter()
            .map(|name| ((*name).to_owned(), Spectrum::flat(0.0)))
            .collect();
        let mut rows = 0;
        for (row, line) in lines.enumerate() {
            let cells: Vec<&str> = line.split(',').collect();
            let expected = FIRST_NANOMETRE + STEP_NANOMETRES * row as f64;
            let cell = |index: usize| {
                cells
                    .get(index)
                    .and_then(|cell| cell.trim().parse::<f64>().ok())
            };
            if row >= SAMPLES || cell(0) != Some(expected) {
                return Err(broken("a wavelength off the grid"));
            }
            for (index, (_, spectrum)) in columns.iter_mut().enumerate() {
                let value = cell(index + 1).filter(|value| value.is_finite());
                // Fits of measured curves dip below zero by rounding; light does not.
                spectrum.0[row] = value
                    .ok_or_else(|| broken("a cell that is no number"))?
                    .max(0.0);
            }
            rows += 1;
        }
        if rows != SAMPLES {
            return Err(broken("rows are missing"));
        }
        Ok(Self { columns })
    }

    /// The spectrum of this name.
    pub(crate) fn get(&self, name: &str) -> Result<Spectrum, SimulatorError> {
        self.columns
            .iter()
            .find(|(known, _)| known == name)
            .map(|(_, spectrum)| spectrum.clone())
            .ok_or_else(|| SimulatorError::Table(format!("no column {name}")))
    }

    /// All spectra in the order of the table.
    pub(crate) fn all(&self) -> impl Iterator<Item = (&str, &Spectrum)> {
        self.columns
            .iter()
            .map(|(name, spectrum)| (name.as_str(), spectrum))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn interpolation_meets_the_samples_and_ends_at_the_grid() {
        let spectrum = Spectrum::from_function(|nanometre| nanometre * 2.0);
        assert_eq!(spectrum.at(400.0), 800.0);
        assert_eq!(spectrum.at(402.5), 805.0);
        assert_eq!(spectrum.at(700.0), 1400.0);
        assert_eq!(spectrum.at(399.0), 0.0);
        assert_eq!(spectrum.at(701.0), 0.0);
    }

    #[test]
    fn a_table_off_the_grid_is_refused() {
        assert!(Table::parse("wavelength_nm,a\n400,1\n410,2\n").is_err());
        assert!(Table::parse("wavelength_nm,a\n400,1\n").is_err());
        assert!(Table::parse("").is_err());
    }
}
