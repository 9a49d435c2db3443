//! A white as a person writes it: a chromaticity, a temperature, or where it comes from.

use crate::base::units::{Chromaticity, Kelvin};
use crate::colour::temperature;
use crate::look::keys::Key;
use serde::{Deserialize, Serialize};
use std::fmt;

/// A white that a person asks for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum WhiteWish {
    /// What the body took for white in each frame.
    AsShot,
    /// The reference's.
    Reference,
    /// That of a key by its name.
    Key {
        /// The name.
        name: String,
    },
    /// This light.
    Light {
        /// Its chromaticity.
        white: Chromaticity,
    },
}

/// Temperatures that a white may be given with, kelvin, and greatest distance from the locus, Duv: beyond, no light is called
/// white (a candle, the bluest sky; ANSI C78.377 ends at a Duv of 0.03 either way on the widest scale in use).
const TEMPERATURES: (f64, f64) = (1500.0, 25_000.0);
const MOST_DUV: f64 = 0.03;

/// What a white looks like in a file.
pub(super) const WANTED: &str = "\"4200 K\", \"4200 K, Duv +0.003\", \"x 0.3805, y 0.3768\", \"as shot\", \"reference\", or \"key NAME\" \
     with the name of a pinned frame or of a key of the look";

impl WhiteWish {
    /// Reads a white; `None` when the text is none.
    pub(super) fn parse(text: &str) -> Option<Self> {
        let text = text.trim();
        match text {
            "as shot" => return Some(Self::AsShot),
            "reference" => return Some(Self::Reference),
            _ => {}
        }
        if let Some(name) = text.strip_prefix("key ") {
            let name = name.trim().to_owned();
            return (!name.is_empty()).then_some(Self::Key { name });
        }
        let parts: Vec<&str> = text.split(',').map(str::trim).collect();
        let after = |part: &str, word: &str| -> Option<f64> {
            let number = part.strip_prefix(word)?.trim().parse().ok()?;
            Some(number).filter(|number: &f64| number.is_finite())
        };
        let white = match parts[..] {
            [x, y] if x.starts_with('x') => Chromaticity {
                x: after(x, "x")?,
                y: after(y, "y")?,
            },
            [kelvin] => of_temperature(kelvin, 0.0)?,
            [kelvin, duv] => of_temperature(kelvin, after(duv, "Duv")?)?,
            _ => return None,
        };
        white.is_plausible_white().then_some(Self::Light { white })
    }

    /// The chromaticity, where it is the same for all frames of a cue; `None` for as shot and for a key that is not known.
    #[must_use]
    pub fn of_cue(&self, reference: Chromaticity, keys: &[Key]) -> Option<Chromaticity> {
        match self {
            Self::AsShot => None,
            Self::Reference => Some(reference),
            Self::Key { name } => keys
                .iter()
                .find(|key| key.name == *name)
                .map(|key| key.white),
            Self::Light { white } => Some(*white),
        }
    }
}

fn of_temperature(text: &str, duv: f64) -> Option<Chromaticity> {
    let kelvin: f64 = text.strip_suffix('K')?.trim().parse().ok()?;
    let is_right = (TEMPERATURES.0..=TEMPERATURES.1).contains(&kelvin) && duv.abs() <= MOST_DUV;
    is_right.then(|| temperature::with_duv(Kelvin(kelvin), duv))
}

impl fmt::Display for WhiteWish {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::AsShot => write!(formatter, "as shot"),
            Self::Reference => write!(formatter, "reference"),
            Self::Key { name } => write!(formatter, "key {name}"),
            Self::Light { white } => write!(formatter, "x {:.4}, y {:.4}", white.x, white.y),
        }
    }
}
