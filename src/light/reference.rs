//! Reading a reference frame: its white, and its light under that white.

use crate::base::units::Chromaticity;
use crate::light::choice::choose_patches;
use crate::light::patch::{Patch, PatchError, PatchMeasure, measure_patches};
use crate::light::read::read_light;
use crate::light::reading::Reading;
pub use crate::light::reading::{ChosenWhite, Reference, TRUSTED_CONFIDENCE, WhiteSource};
use crate::raw::frame::Frame;

/// Reads a reference frame: with patches their white; without, the estimate where it can be trusted, else what the body
/// took for white.
///
/// # Errors
/// When a patch gives no white; never without patches.
pub fn read_reference(frame: &Frame, patches: &[Patch]) -> Result<Reference, PatchError> {
    let measured = match patches {
        [] => None,
        patches => Some(measure_patches(frame, patches)?),
    };
    let (white, reading) = match &measured {
        Some(measure) => (of_patches(measure), read_light(frame, Some(measure.white))),
        None => {
            let reading = read_light(frame, None);
            (choose(&reading), reading)
        }
    };
    Ok(Reference {
        facts: frame.facts.clone(),
        white,
        patches: measured,
        choice: None,
        reading,
        colour: frame.colour.without_hue_maps(),
    })
}

/// Reads a reference frame with neutral patches that are found in it (see [`crate::light::choice`]); where none can be
/// believed, as [`read_reference`] does without patches. [`Reference::choice`] says how it went.
#[must_use]
pub fn read_reference_by_itself(frame: &Frame) -> Reference {
    let reading = read_light(frame, None);
    let (patches, choice) = choose_patches(frame, &reading);
    let (white, reading) = match &patches {
        Some(measure) => (of_patches(measure), read_light(frame, Some(measure.white))),
        None => (choose(&reading), reading),
    };
    Reference {
        facts: frame.facts.clone(),
        white,
        patches,
        choice: Some(choice),
        reading,
        colour: frame.colour.without_hue_maps(),
    }
}

fn of_patches(measure: &PatchMeasure) -> ChosenWhite {
    ChosenWhite {
        white: measure.white,
        source: WhiteSource::Patches {
            count: measure.patches.len(),
            disagreement: measure.disagreement,
        },
    }
}

/// The white of a reading that was taken without one: what [`read_light`] measured the levels under.
#[must_use]
pub fn choose(reading: &Reading) -> ChosenWhite {
    let confidence = reading
        .estimate
        .as_ref()
        .map_or(0.0, |estimate| estimate.confidence);
    match (&reading.estimate, reading.as_shot) {
        (Some(estimate), _) if confidence >= TRUSTED_CONFIDENCE => ChosenWhite {
            white: estimate.white,
            source: WhiteSource::Estimate { confidence },
        },
        (_, Some(white)) => ChosenWhite {
            white,
            source: WhiteSource::AsShot { confidence },
        },
        _ => ChosenWhite {
            white: Chromaticity::D65,
            source: WhiteSource::Daylight { confidence },
        },
    }
}
