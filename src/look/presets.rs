//! The looks that ship with the program, as the files under `presets/`.

use crate::look::file::{Look, LookError};

/// Names and texts of the presets, the default first.
pub const PRESETS: [(&str, &str); 5] = [
    ("stage", include_str!("../../presets/stage.toml")),
    ("faithful", include_str!("../../presets/faithful.toml")),
    ("cellar", include_str!("../../presets/cellar.toml")),
    ("meadow", include_str!("../../presets/meadow.toml")),
    ("limelight", include_str!("../../presets/limelight.toml")),
];

/// The preset used when none is named.
pub const DEFAULT: &str = "stage";

/// A preset by name.
///
/// # Errors
/// When no preset has this name.
pub fn preset(name: &str) -> Result<Look, LookError> {
    let (_, text) = PRESETS
        .iter()
        .find(|(known, _)| *known == name)
        .ok_or_else(|| LookError::Unknown {
            name: name.to_owned(),
            presets: PRESETS.map(|(known, _)| known).join(", "),
        })?;
    Look::from_text(text).map_err(|source| LookError::Content {
        origin: format!("preset \"{name}\""),
        source,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::look::correction::{Curve, Levels};
    use crate::look::file::{ExposurePolicy, LevelsPolicy};

    #[test]
    fn every_preset_reads_and_is_named_after_its_file() {
        for (name, text) in PRESETS {
            let look = preset(name).expect("a preset reads");
            assert_eq!(look.name, name);
            assert!(look.reference.is_none() && look.white.is_none(), "{name}");
            assert!(!look.note.is_empty(), "{name} says what it is for");
            assert_eq!(
                look.to_text(),
                text,
                "{name} stands in presets/ as the program would write it"
            );
        }
    }

    #[test]
    fn faithful_is_neutral_in_every_field() {
        let look = preset("faithful").expect("a preset reads");
        let named = Look {
            name: look.name.clone(),
            note: look.note.clone(),
            ..Look::default()
        };
        assert_eq!(look, named);
        assert_eq!(look.exposure.policy, ExposurePolicy::AsShot);
        assert_eq!(look.levels.policy, LevelsPolicy::Fixed);
        assert_eq!(look.levels.fixed, Levels::NEUTRAL);
        assert_eq!(look.curve, Curve::Straight);
    }

    #[test]
    fn an_unknown_name_lists_the_presets() {
        let said = preset("cave").expect_err("no such preset").to_string();
        assert!(
            said.contains("stage, faithful, cellar, meadow, limelight"),
            "{said}"
        );
    }
}
