//! The published tables that the show is made of, compiled in; each file's head names its source and licence.

use crate::SimulatorError;
use crate::spectrum::{Spectrum, Table};

/// Reflectances, lights, observer and sensitivities.
#[derive(Clone, Debug)]
pub(crate) struct Library {
    /// CIE 1931 2 degree observer: x̄, ȳ, z̄.
    pub(crate) observer: [Spectrum; 3],
    /// Red, green, blue sensitivity of the measured body.
    pub(crate) measured_body: [Spectrum; 3],
    lights: Table,
    chart: Table,
    skin_and_grey: Table,
}

impl Library {
    /// Reads the tables.
    pub(crate) fn load() -> Result<Self, SimulatorError> {
        let observer = Table::parse(include_str!("../spectra/observer_cie_1931.csv"))?;
        let body = Table::parse(include_str!("../spectra/camera_nikon_d5100.csv"))?;
        Ok(Self {
            observer: [observer.get("x")?, observer.get("y")?, observer.get("z")?],
            measured_body: [body.get("red")?, body.get("green")?, body.get("blue")?],
            lights: Table::parse(include_str!("../spectra/lights.csv"))?,
            chart: Table::parse(include_str!("../spectra/reflectance_colorchecker24.csv"))?,
            skin_and_grey: Table::parse(include_str!("../spectra/reflectance_pmc.csv"))?,
        })
    }

    /// A light of the table, by its column's name.
    pub(crate) fn light(&self, name: &str) -> Result<Spectrum, SimulatorError> {
        self.lights.get(name)
    }

    /// A reflectance of either table, by its column's name.
    pub(crate) fn reflectance(&self, name: &str) -> Result<Spectrum, SimulatorError> {
        self.chart
            .get(name)
            .or_else(|_| self.skin_and_grey.get(name))
    }

    /// The 24 patches of the chart, row by row from the top left.
    pub(crate) fn chart(&self) -> impl Iterator<Item = (&str, &Spectrum)> {
        self.chart.all()
    }
}
