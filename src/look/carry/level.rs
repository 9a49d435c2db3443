//! How much a cue's level is changed.

use super::{Show, trust};
use crate::base::robust;
use crate::base::units::Stops;
use crate::look::reason::Reason;

/// With unknown settings the level may have to make up for them too: least limit then. Stops.
const MOST_WITHOUT_SETTINGS: f64 = 3.0;
/// How sure a level is that was read from the frames' own lit regions, for a look that remembers no surfaces.
const OWN_CONFIDENCE: f64 = 0.3;

/// A lit region of which more than this share is a wash's tells nothing of a key's level.
const MOST_WASHED: f64 = 0.5;

/// A cue's level against the reference's.
#[derive(Clone, Copy, Debug)]
pub(super) struct CueLevel {
    /// How much brighter, exposure settings evened out.
    pub(super) difference: f64,
    /// How far that is followed, 0 to 1.
    pub(super) share: f64,
}

impl CueLevel {
    /// The key's as it was solved, or else what the frames of the cue show by themselves.
    pub(super) fn of(
        show: &Show<'_>,
        members: &[usize],
        solved: Option<(Stops, f64)>,
    ) -> Option<Self> {
        if let Some((stops, confidence)) = solved {
            return Some(Self {
                difference: stops.0,
                share: trust::share(confidence),
            });
        }
        let remembers_surfaces = show
            .light
            .keys
            .anchors
            .first()
            .is_some_and(|anchor| !anchor.memory.surfaces.is_empty());
        if remembers_surfaces {
            return None;
        }
        let reference = show.reference.key_level? / show.reference.relative_exposure?;
        let mut levels: Vec<f64> = members
            .iter()
            .filter_map(|&at| {
                let frame = &show.frames[at];
                let lit = frame.reading.as_ref()?.lit?;
                let level = lit.key_level.filter(|_| lit.washed_share < MOST_WASHED)?;
                Some((level / frame.facts.relative_exposure()? / reference).log2())
            })
            .filter(|level| level.is_finite())
            .collect();
        Some(Self {
            difference: robust::median(&mut levels)?,
            share: trust::share(OWN_CONFIDENCE),
        })
    }

    /// A single frame's, of its bare sensor levels: all there is when the settings are not known.
    pub(super) fn without_settings(show: &Show<'_>, at: usize) -> Option<Self> {
        let level = show.frames[at].reading.as_ref()?.lit?.key_level?;
        let difference = (level / show.reference.key_level?).log2();
        difference.is_finite().then_some(Self {
            difference,
            share: 1.0,
        })
    }

    /// What is applied against it, with the reason.
    pub(super) fn held(self, show: &Show<'_>, has_settings: bool) -> (Stops, Reason) {
        let most = show.look.exposure.most_correction.0;
        let limit = if has_settings {
            most
        } else {
            most.max(MOST_WITHOUT_SETTINGS)
        };
        let asked = -self.difference * self.share * (1.0 - show.look.exposure.kept_difference);
        let applied = asked.max(-limit).min(limit);
        let reason = Reason::LevelHeld {
            difference: Stops(self.difference),
            applied: Stops(applied),
            limited: applied != asked,
        };
        (Stops(applied), reason)
    }
}
