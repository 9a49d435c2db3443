//! Reflectances that bodies are calibrated on: smooth ones made by formula, and measured skin.
//!
//! Neither the chart of the demo's stage nor its costumes are among them, as a maker does not know what will be
//! photographed. Pigments and dyes have smooth reflectances, low on one side of an edge and high on the other, or with one
//! band that they reflect or swallow; their slopes and widths here are of the order of published ones, mixed with grey by
//! chance.

use crate::SimulatorError;
use crate::chance::Chance;
use crate::library::Library;
use crate::spectrum::Spectrum;

/// Reflectances by formula.
const MADE: usize = 1200;
/// How often each measured skin counts: together about a sixteenth, because makers care for skin.
const SKIN_COUNTS: usize = 20;
/// Where the stream of numbers begins; a constant, so that a body is the same in every show.
const SEED: u64 = 20_260_301;

/// The whole set.
pub(crate) fn reflectances(library: &Library) -> Result<Vec<Spectrum>, SimulatorError> {
    let mut chance = Chance::new(SEED, 0);
    let mut set: Vec<Spectrum> = (0..MADE).map(|kind| made(kind % 4, &mut chance)).collect();
    for skin in [
        "skin_caucasian",
        "skin_east_asian",
        "skin_south_asian",
        "skin_african",
    ] {
        let skin = library.reflectance(skin)?;
        set.extend(std::iter::repeat_n(skin, SKIN_COUNTS));
    }
    Ok(set)
}

/// One of four kinds: an edge, two edges, a band reflected, a band swallowed.
fn made(kind: usize, chance: &mut Chance) -> Spectrum {
    let (low, high) = (chance.between(0.02, 0.25), chance.between(0.2, 0.9));
    let shape = if kind < 2 {
        let first = edge(chance);
        let second = edge(chance);
        Spectrum::from_function(|nanometre| {
            let one = low + (high - low) * first(nanometre);
            if kind == 0 {
                one
            } else {
                one * (0.3 + 0.7 * second(nanometre))
            }
        })
    } else {
        let middle = chance.between(400.0, 700.0);
        let width = chance.between(25.0, 90.0);
        Spectrum::from_function(|nanometre| {
            let offset = (nanometre - middle) / width;
            let band = libm::exp(-0.5 * offset * offset);
            if kind == 2 {
                low + (high - low) * band
            } else {
                high - (high - low) * band
            }
        })
    };
    let grey = chance.between(0.0, 0.6);
    let flat = Spectrum::flat(chance.between(0.03, 0.7));
    shape.scaled(1.0 - grey).plus(&flat.scaled(grey))
}

/// A rise or fall somewhere in the spectrum, 0 to 1.
fn edge(chance: &mut Chance) -> impl Fn(f64) -> f64 + use<> {
    let middle = chance.between(430.0, 680.0);
    let width = chance.between(10.0, 40.0);
    let rises = chance.one_of(2) == 0;
    move |nanometre| {
        let along = (nanometre - middle) / width;
        1.0 / (1.0 + libm::exp(if rises { -along } else { along }))
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn reflectances_are_possible_and_none_is_a_patch_of_the_chart() {
        let library = Library::load().unwrap();
        let set = reflectances(&library).unwrap();
        assert_eq!(set, reflectances(&library).unwrap());
        for one in &set {
            assert!(
                one.samples()
                    .iter()
                    .all(|value| (0.0..=1.0).contains(value))
            );
            for (name, patch) in library.chart() {
                let most = one.samples().iter().zip(patch.samples());
                let most = most.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
                assert!(most > 0.005, "{name}");
            }
        }
    }
}
