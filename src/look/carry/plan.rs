//! What every cue gets, as each body sees it.

use super::drift::Drift;
use super::level::CueLevel;
use super::{Show, is_as_shot, points, trust};
use crate::base::units::{Chromaticity, Stops};
use crate::light::sheet::{BodyKey, KeyWhite};
use crate::look::correction::Levels;
use crate::look::overrule::{CueWish, WhiteWish};
use crate::look::reason::Reason;
use std::collections::BTreeMap;

/// What a cue's frames of one body get.
struct Plan {
    /// The white, and why.
    white: (Chromaticity, Reason),
    /// The level, where known.
    level: Option<CueLevel>,
    /// Black and white point, and why.
    points: (Levels, Option<Reason>),
}

/// Every cue's plans.
pub(super) struct Plans {
    /// By cue and body.
    cues: BTreeMap<(usize, usize), Plan>,
    /// What moves within a run, by run and body.
    drifts: BTreeMap<(usize, usize), Drift>,
}

/// What one frame gets of a cue.
#[derive(Clone, Debug)]
pub(super) struct Setting {
    pub(super) white: Chromaticity,
    /// On top of the evened settings.
    pub(super) stops: Stops,
    pub(super) levels: Levels,
    /// The level of the light, where known: what it weighs in a mixture.
    pub(super) level: Option<CueLevel>,
    /// A person's stops, which are part of `stops`.
    pub(super) wished: Stops,
    /// Whether the gain is the body's own.
    pub(super) as_shot: bool,
    pub(super) reasons: Vec<Reason>,
}

impl Plans {
    pub(super) fn of(show: &Show<'_>) -> Self {
        let sheet = &show.light.sheet;
        let mut members: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        let mut bodies: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
        for (at, place) in sheet.places.iter().enumerate().take(show.frames.len()) {
            // A frame in a cross-fade shows two cues and speaks for none.
            if let Some(run) = sheet.runs.get(place.run) {
                bodies.entry((run.cue, place.body)).or_default().push(at);
                if place.fade.is_none() {
                    members.entry(run.cue).or_default().push(at);
                }
            }
        }
        let reference = show
            .frames
            .iter()
            .position(|frame| frame.is_reference)
            .and_then(|at| {
                let place = sheet.places.get(at)?;
                Some((sheet.runs.get(place.run)?.cue, place.body))
            });
        let drifts = drifts(show);
        let plans = bodies.into_iter().map(|((cue, body), of_body)| {
            let of_cue = members.get(&cue).map_or(&of_body[..], Vec::as_slice);
            let is_references = reference.is_some_and(|(known, _)| known == cue);
            let plan = Plan::of(
                show,
                show.light.key(cue, body),
                of_cue,
                &of_body,
                is_references,
                reference == Some((cue, body)),
            );
            ((cue, body), plan)
        });
        let cues = plans.collect();
        Self { cues, drifts }
    }

    /// What a frame gets of a cue.
    pub(super) fn setting(&self, show: &Show<'_>, at: usize, cue: usize, body: usize) -> Setting {
        // A body that took no frame of a cue fades out of it all the same: another body's white is a chromaticity too.
        let of_another = || self.cues.range((cue, 0)..=(cue, usize::MAX)).next();
        let plan = self
            .cues
            .get(&(cue, body))
            .or_else(|| of_another().map(|(_, plan)| plan));
        let mut setting = match plan {
            Some(plan) => plan.setting(show, at),
            None => Setting::of_reference(show),
        };
        self.follow_drift(show, at, &mut setting);
        if let Some(wish) = show.overruling.cues.get(&cue) {
            setting.overrule(show, at, wish);
        }
        setting
    }
}

impl Plans {
    /// Moves the white with what drifts within the frame's run.
    fn follow_drift(&self, show: &Show<'_>, at: usize, setting: &mut Setting) {
        let Some(place) = show.light.sheet.places.get(at) else {
            return;
        };
        let is_of_a_key = setting.reasons.iter().any(Reason::is_of_a_key);
        let drift = self.drifts.get(&(place.run, place.body));
        let (Some(drift), Some(seconds), true, None) =
            (drift, place.seconds, is_of_a_key, place.fade)
        else {
            return;
        };
        let [red, blue] = drift.at(seconds);
        let colour = &show.frames[at].colour;
        let moved = colour.neutral_of_white(setting.white).and_then(|neutral| {
            colour.white_of_neutral([neutral[0] * red.exp(), neutral[1], neutral[2] * blue.exp()])
        });
        if let Ok(white) = moved {
            setting.white = white;
            setting.reasons.push(Reason::WhiteDrifted {
                moved: red.hypot(blue),
            });
        }
    }
}

/// The drifts of all runs that have one.
fn drifts(show: &Show<'_>) -> BTreeMap<(usize, usize), Drift> {
    let mut by_body: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
    for (at, place) in show.light.sheet.places.iter().enumerate() {
        if at < show.frames.len() && place.fade.is_none() {
            by_body.entry((place.run, place.body)).or_default().push(at);
        }
    }
    by_body
        .into_iter()
        .filter_map(|(key, frames)| Some((key, Drift::of(show, &frames)?)))
        .collect()
}

impl Plan {
    fn of(
        show: &Show<'_>,
        key: Option<&BodyKey>,
        of_cue: &[usize],
        of_body: &[usize],
        is_references_cue: bool,
        is_references_body: bool,
    ) -> Self {
        let white = if is_references_body {
            (show.base.white, Reason::WhiteOfReference)
        } else {
            white(show, key.and_then(|key| key.white), of_body)
        };
        let solved = key.and_then(|key| key.level);
        let level = if is_references_body {
            // The reference frame's own level is what the others are held to.
            Some(CueLevel {
                difference: 0.0,
                share: 1.0,
            })
        } else {
            CueLevel::of(
                show,
                of_body,
                solved.map(|level| (level.stops, level.confidence)),
            )
        };
        let points = if is_references_cue {
            (show.base.levels, None)
        } else {
            let (applied, remaining) = level.map_or((0.0, 0.0), |level| {
                let (applied, _) = level.held(show, true);
                (applied.0, level.difference + applied.0)
            });
            points::of_cue(show, of_cue, applied, remaining)
        };
        Self {
            white,
            level,
            points,
        }
    }

    fn setting(&self, show: &Show<'_>, at: usize) -> Setting {
        let has_settings = show.evened(at).is_some();
        let level = if has_settings {
            self.level
        } else {
            CueLevel::without_settings(show, at)
        };
        let (stops, of_level) = level.map_or((Stops(0.0), Reason::LevelWithoutLit), |level| {
            level.held(show, has_settings)
        });
        let (levels, of_points) = &self.points;
        let mut reasons = vec![self.white.1.clone(), of_level];
        reasons.extend(of_points.clone());
        Setting {
            white: self.white.0,
            stops,
            levels: *levels,
            level,
            wished: Stops(0.0),
            as_shot: false,
            reasons,
        }
    }
}

/// The white of a cue for one body: as far from the reference's to the key's as its confidence carries.
fn white(show: &Show<'_>, key: Option<KeyWhite>, of_body: &[usize]) -> (Chromaticity, Reason) {
    let kept = show.base.white;
    let Some(key) = key else {
        return (kept, Reason::WhiteKept { confidence: None });
    };
    let share = trust::share(key.confidence);
    let reason = if share > 0.0 {
        Reason::WhiteOfCue {
            source: key.source,
            key: show
                .look
                .keys
                .get(key.anchor)
                .map(|key| key.name.clone())
                .filter(|name| !name.is_empty()),
            confidence: key.confidence,
            share,
        }
    } else {
        Reason::WhiteKept {
            confidence: Some(key.confidence),
        }
    };
    let white = if share >= 1.0 {
        key.white
    } else if share <= 0.0 {
        kept
    } else {
        let colour = of_body.first().map(|&at| &show.frames[at].colour);
        colour
            .and_then(|colour| {
                let from = colour.neutral_of_white(kept).ok()?;
                let neutral = [0, 1, 2].map(|channel| {
                    let (from, to): (f64, f64) = (from[channel], key.neutral[channel]);
                    ((1.0 - share) * from.ln() + share * to.ln()).exp()
                });
                colour.white_of_neutral(neutral).ok()
            })
            .unwrap_or(kept)
    };
    (white, reason)
}

impl Setting {
    /// For a frame of which nothing is known: the reference's.
    pub(super) fn of_reference(show: &Show<'_>) -> Self {
        Self {
            white: show.base.white,
            stops: Stops(0.0),
            levels: show.base.levels,
            level: None,
            wished: Stops(0.0),
            as_shot: false,
            reasons: vec![
                Reason::WhiteKept { confidence: None },
                Reason::LevelWithoutLit,
            ],
        }
    }

    /// Takes a person's word.
    pub(super) fn overrule(&mut self, show: &Show<'_>, at: usize, wish: &CueWish) {
        let colour = &show.frames[at].colour;
        let as_shot = || {
            let of_file = colour.as_shot_neutral?;
            colour.white_of_neutral(of_file).ok()
        };
        if is_as_shot(Some(wish)) {
            self.white = as_shot().unwrap_or(self.white);
            self.levels = show.look.levels.fixed;
            self.as_shot = true;
            self.reasons = vec![Reason::LeftAsShot];
            return;
        }
        self.as_shot = false;
        if let Some(wanted) = &wish.white {
            let white = match wanted {
                WhiteWish::AsShot => as_shot(),
                other => other.of_cue(show.base.white, &show.look.keys),
            };
            if let Some(white) = white {
                self.white = white;
                self.reasons.retain(|reason| !reason.is_about_the_white());
                self.reasons.push(Reason::WhiteOverruled {
                    wish: wanted.clone(),
                });
            }
        }
        if let Some(stops) = wish.stops {
            self.stops = Stops(self.stops.0 - self.wished.0 + stops.0);
            self.wished = stops;
            self.reasons
                .retain(|reason| !matches!(reason, Reason::StopsOverruled { .. }));
            self.reasons.push(Reason::StopsOverruled { stops });
        }
    }
}
