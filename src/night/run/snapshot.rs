//! What a person asks for a show, kept in the queue: looks and overrule files as they were when the show was added, so that
//! what is done with those files later changes nothing of this night.

use crate::look::carry::Follow;
use crate::look::file::Look;
use crate::look::overrule::Overrules;
use crate::night::depot::is_stored;
use crate::show::solving::{Asked, ClockWish, NamedFrame};
use serde::{Deserialize, Serialize};

/// What a person asks, in a form that lasts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Snapshot {
    /// The look, as look files are written.
    look: String,
    /// The reference frame, from the root.
    reference: Option<NamedFrame>,
    /// Pinned frames, from the root; those of the overrule file among them.
    pins: Vec<NamedFrame>,
    /// Clocks.
    clocks: Vec<ClockWish>,
    /// The overrule file, as it was.
    overrules: Option<String>,
    /// What is solved anew for each frame.
    follow: Follow,
}

/// Why a snapshot cannot be read back.
#[derive(Debug, thiserror::Error)]
#[error(
    "what was asked for the show cannot be read ({0}); another version of this program wrote it: add the show again with the same options"
)]
pub struct SnapshotError(String);

impl Snapshot {
    /// Of what is asked. `overrules` is the text that its overrules were read from. Frames become paths from the root, so that
    /// a run that is started elsewhere finds them.
    ///
    /// # Errors
    /// When the current folder is gone.
    pub fn of(asked: &Asked, overrules: Option<String>) -> std::io::Result<Self> {
        let settled = |named: &NamedFrame| -> std::io::Result<NamedFrame> {
            Ok(NamedFrame {
                frame: match is_stored(&named.frame) {
                    true => named.frame.clone(),
                    false => std::path::absolute(&named.frame)?,
                },
                ..named.clone()
            })
        };
        Ok(Self {
            look: asked.look.to_text(),
            reference: asked.reference.as_ref().map(settled).transpose()?,
            pins: asked.pins.iter().map(settled).collect::<Result<_, _>>()?,
            clocks: asked.clocks.clone(),
            overrules,
            follow: asked.follow,
        })
    }

    /// As the queue keeps it.
    #[must_use]
    pub fn to_text(&self) -> String {
        serde_json::to_string(self).unwrap_or_default()
    }

    /// Reads it back.
    ///
    /// # Errors
    /// When another version of the program wrote it, or somebody changed it.
    pub fn asked(text: &str) -> Result<Asked, SnapshotError> {
        let kept: Self =
            serde_json::from_str(text).map_err(|error| SnapshotError(error.to_string()))?;
        let look = Look::from_text(&kept.look).map_err(|error| SnapshotError(error.to_string()))?;
        let overrules = kept
            .overrules
            .as_deref()
            .map(Overrules::from_text)
            .transpose();
        Ok(Asked {
            look,
            reference: kept.reference,
            pins: kept.pins,
            clocks: kept.clocks,
            overrules: overrules
                .map_err(|error| SnapshotError(error.to_string()))?
                .unwrap_or_default(),
            follow: kept.follow,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::look::presets;
    use crate::show::solving::Neutral;
    use std::path::Path;

    #[test]
    fn what_is_asked_comes_back_as_it_was() {
        let overrules = "version = 1\n[[cue]]\nnumber = 2\nstops = \"+0.3 stops\"\n";
        for (name, _) in presets::PRESETS {
            let asked = Asked {
                look: presets::preset(name).expect("a preset"),
                reference: Some(NamedFrame {
                    frame: "/card/a.nef".into(),
                    name: None,
                    neutral: Neutral::Found,
                }),
                pins: vec![NamedFrame {
                    frame: "b.nef".into(),
                    name: Some("front wash".to_owned()),
                    neutral: Neutral::Patches(Vec::new()),
                }],
                clocks: Vec::new(),
                overrules: Overrules::from_text(overrules).expect("overrules"),
                follow: Follow::Exposure,
            };
            let kept = Snapshot::of(&asked, Some(overrules.to_owned())).expect("kept");
            let back = Snapshot::asked(&kept.to_text()).expect("read back");
            assert_eq!(back.look, asked.look, "{name}");
            assert_eq!(
                (&back.reference, &back.overrules, back.follow),
                (&asked.reference, &asked.overrules, asked.follow)
            );
            assert!(
                back.pins[0].frame.is_absolute()
                    && back.pins[0].frame.ends_with(Path::new("b.nef"))
            );
        }
        assert!(Snapshot::asked("{}").is_err());
    }
}
