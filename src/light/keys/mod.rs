//! The key of every cue: its white and its level, pooled over the cue's frames and bodies.
//!
//! The white is the one under which the cue's colours, cleared of what washes add to them, are the anchor's (`unmix`); the
//! level is told by the same surfaces (`level`). Whites pass between bodies only as chromaticities, colours only
//! adapted to their white (`eyes`).

mod anchors;
mod brightest;
mod eyes;
mod hues;
mod level;
mod map;
mod pool;
#[cfg(test)]
mod tests;
mod unmix;

use crate::base::units::{Chromaticity, Stops};
use crate::light::keys::anchors::Ready;
use crate::light::keys::brightest::brightest;
use crate::light::keys::eyes::{DUVS, Eye, Eyes, MIRED_STEP, white_at};
use crate::light::keys::level::{Counts, Evidence, Hints, together};
use crate::light::keys::map::Map;
use crate::light::keys::pool::Pool;
use crate::light::keys::unmix::{Likelihoods, Seen, explain, maps};
use crate::light::locus;
use crate::light::reading::{FrameLight, TRUSTED_CONFIDENCE};
use crate::light::sheet::{
    Anchor, AnchorSource, BodyKey, CueSheet, KeyLevel, KeySheet, KeySource, KeyWhite, RunKind,
};

/// Standard deviation of what is likely along the locus, in mired, at which an answer is worth half.
const HALF_SURE: f64 = 25.0;
/// More frames of one cue and body than this say nothing new; they are thinned evenly.
const MOST_FRAMES: usize = 60;
/// Anchors beside the reference whose white was read with less confidence than this explain no cue.
const CREDIBLE: f64 = TRUSTED_CONFIDENCE;
/// Fewer lit colours than this tell no white.
const LEAST_COLOURS: usize = 12;

/// Everything that cues are solved with.
struct Solver<'a> {
    frames: &'a [FrameLight],
    sheet: &'a CueSheet,
    /// By body.
    eyes: Vec<Eyes<'a>>,
    anchors: Vec<Ready>,
    /// The anchors' colours as each body would see them: by anchor, then by body.
    maps: Vec<Vec<Vec<Option<Map>>>>,
    /// The cue that each anchor stands in.
    homes: Vec<Option<usize>>,
    /// How much brighter each anchor's key is than the first's, in nats: levels are held to the first, whichever explains a cue.
    above_first: Vec<Option<f64>>,
}

/// Solves the key of every cue against the anchors; the first is the reference's.
#[must_use]
pub fn solve_keys(frames: &[FrameLight], sheet: &CueSheet, anchors: &[Anchor]) -> KeySheet {
    let solver = Solver::new(frames, sheet, anchors);
    let cues = (0..sheet.cues).map(|cue| solver.cue(cue)).collect();
    KeySheet {
        anchors: solver
            .anchors
            .into_iter()
            .map(|ready| ready.solved)
            .collect(),
        cues,
    }
}

impl<'a> Solver<'a> {
    fn new(frames: &'a [FrameLight], sheet: &'a CueSheet, anchors: &[Anchor]) -> Self {
        let eyes: Vec<Eyes> = (0..sheet.clocks.len())
            .filter_map(|body| sheet.places.iter().position(|place| place.body == body))
            .map(|frame| Eyes::of(&frames[frame].colour))
            .collect();
        let mut solver = Self {
            frames,
            sheet,
            eyes,
            anchors: Vec::new(),
            maps: Vec::new(),
            homes: Vec::new(),
            above_first: Vec::new(),
        };
        for anchor in anchors {
            let (ready, home) = solver.ready(anchor);
            solver.maps.push(
                solver
                    .eyes
                    .iter()
                    .map(|eyes| maps(eyes, &ready.solved.memory.palette))
                    .collect(),
            );
            let above = match solver.anchors.first() {
                None => Some(0.0),
                Some(first) => level::above(first, &ready),
            };
            solver.above_first.push(above);
            solver.anchors.push(ready);
            solver.homes.push(home);
        }
        solver
    }

    /// Reads an anchor, and the cue that it stands in.
    fn ready(&self, anchor: &Anchor) -> (Ready, Option<usize>) {
        match &anchor.source {
            AnchorSource::Frame(at) => {
                let place = &self.sheet.places[*at];
                let cue = self.sheet.runs[place.run].cue;
                let pool = self.pool(cue, place.body);
                let estimate = own_estimate(&self.frames[*at]);
                let eyes = &self.eyes[place.body];
                let others: Vec<(Pool, &Eyes)> = (0..self.eyes.len())
                    .filter(|body| *body != place.body)
                    .map(|body| (self.pool(cue, body), &self.eyes[body]))
                    .collect();
                let ready = Ready::seen(&pool, eyes, &others, anchor.white, estimate);
                (ready, Some(cue))
            }
            AnchorSource::Outside(light) => {
                let alone = || std::iter::once(light.as_ref());
                let eyes = Eyes::of(&light.colour);
                let estimate = own_estimate(light);
                let ready = Ready::seen(&Pool::of(alone()), &eyes, &[], anchor.white, estimate);
                (ready, None)
            }
            AnchorSource::Memory(memory) => (Ready::remembered(memory, anchor.white), None),
        }
    }

    /// The frames of a cue that a body took outside cross-fades.
    fn members(&self, cue: usize, body: usize) -> impl Iterator<Item = &'a FrameLight> {
        self.sheet
            .runs
            .iter()
            .filter(move |run| run.cue == cue)
            .flat_map(|run| &run.frames)
            .filter(move |&&at| {
                let place = &self.sheet.places[at];
                place.body == body && place.fade.is_none()
            })
            .map(|&at| &self.frames[at])
    }

    fn pool(&self, cue: usize, body: usize) -> Pool {
        Pool::of(self.thinned(cue, body).into_iter())
    }

    /// The frames of a cue and body that speak for it.
    fn thinned(&self, cue: usize, body: usize) -> Vec<&'a FrameLight> {
        let members: Vec<&FrameLight> = self.members(cue, body).collect();
        let step = members.len().div_ceil(MOST_FRAMES).max(1);
        members.into_iter().step_by(step).collect()
    }

    /// The keys of a cue, by body.
    fn cue(&self, cue: usize) -> Vec<Option<BodyKey>> {
        // A key is credible where any of the cue's runs shows one.
        let keyed =
            (self.sheet.runs.iter()).any(|run| run.cue == cue && matches!(run.kind, RunKind::Key));
        let pools: Vec<Pool> = (0..self.eyes.len())
            .map(|body| self.pool(cue, body))
            .collect();
        let colours: Vec<_> = pools.iter().map(Pool::colours).collect();
        let seen: Vec<Seen> = (pools.iter().zip(&self.eyes).enumerate())
            .map(|(body, (pool, eyes))| Seen {
                glow: pool.glow,
                strongest: hues::strongest(&self.thinned(cue, body), eyes),
            })
            .collect();
        // For each anchor what it makes of each body's part; the anchor that explains the cue best is taken.
        let views = |anchor: usize| -> Vec<Option<Likelihoods>> {
            (0..self.eyes.len())
                .map(|body| {
                    (colours[body].len() >= LEAST_COLOURS).then(|| {
                        explain(
                            &self.eyes[body],
                            &self.maps[anchor][body],
                            &colours[body],
                            seen[body],
                        )
                    })
                })
                .collect()
        };
        let best = (0..self.anchors.len())
            .filter(|&anchor| {
                let credible = anchor == 0 || self.anchors[anchor].solved.confidence >= CREDIBLE;
                keyed && self.anchors[anchor].usable && credible
            })
            .map(|anchor| (anchor, views(anchor)))
            .max_by(|a, b| fit(&a.1).total_cmp(&fit(&b.1)));
        let found = best.and_then(|(anchor, views)| {
            let summit = summit(&joint(&views)?)?;
            let level = self.level(cue, anchor, &views, &summit, &pools);
            Some((anchor, views, summit, level))
        });
        (0..self.eyes.len())
            .map(|body| {
                let here = self
                    .sheet
                    .runs
                    .iter()
                    .filter(|run| run.cue == cue)
                    .flat_map(|run| &run.frames)
                    .any(|&at| self.sheet.places[at].body == body);
                here.then(|| {
                    let key = found.as_ref().and_then(|(anchor, views, summit, level)| {
                        let source = match views[body] {
                            Some(_) => KeySource::Palette,
                            None => KeySource::OtherBody,
                        };
                        Some(BodyKey {
                            white: Some(self.white(
                                cue,
                                body,
                                *anchor,
                                summit,
                                source,
                                pools[body].count,
                            )?),
                            level: *level,
                        })
                    });
                    key.unwrap_or(BodyKey {
                        white: None,
                        level: None,
                    })
                })
            })
            .collect()
    }

    /// The level of a cue's key against the first anchor's: one for all bodies that saw it.
    fn level(
        &self,
        cue: usize,
        anchor: usize,
        views: &[Option<Likelihoods>],
        summit: &Summit,
        pools: &[Pool],
    ) -> Option<KeyLevel> {
        let ready = &self.anchors[anchor];
        let known = ready.counts.as_ref()?;
        let above = self.above_first[anchor]?;
        let home = self.homes[anchor] == Some(cue);
        let evidence: Vec<Evidence> = (0..self.eyes.len())
            .filter_map(|body| {
                let view = views[body].as_ref()?;
                let (white, wash) = if home {
                    (ready.solved.white, unmix::Wash::default())
                } else {
                    (
                        white_at(summit.mired, summit.duv),
                        view.washes[summit.point],
                    )
                };
                let eye = Eye::of(self.eyes[body].colour, white)?;
                let own = Counts::of(&level::surfaces(&pools[body], &eye, &wash))?;
                Some(Evidence::of(
                    known,
                    &own,
                    Hints {
                        brightest: brightest(&pools[body], eye.chroma)
                            .zip(ready.brightest)
                            .map(|(own, known)| own - known),
                        settings: level::expected(ready.exposure, pools[body].exposure),
                    },
                ))
            })
            .collect();
        let (nats, confidence) = together(&evidence)?;
        // The anchor's own cue is its level by definition.
        let nats = if home { 0.0 } else { nats };
        Some(KeyLevel {
            stops: Stops((nats + above) / std::f64::consts::LN_2),
            confidence,
        })
    }

    /// The white of a cue's key as a body sees it.
    fn white(
        &self,
        cue: usize,
        body: usize,
        anchor: usize,
        summit: &Summit,
        source: KeySource,
        voters: u32,
    ) -> Option<KeyWhite> {
        let known = &self.anchors[anchor].solved;
        let (white, confidence) = if self.homes[anchor] == Some(cue) {
            (known.white, known.confidence)
        } else {
            (white_at(summit.mired, summit.duv), summit.confidence)
        };
        let eye = Eye::of(self.eyes[body].colour, white)?;
        Some(KeyWhite {
            white: eye.white,
            neutral: locus::neutral_of(eye.chroma),
            source,
            confidence,
            voters,
            anchor,
        })
    }
}

/// What a frame tells of its own white, and how sure that is.
fn own_estimate(frame: &FrameLight) -> Option<(Chromaticity, f64)> {
    let estimate = frame.reading.as_ref()?.estimate.as_ref()?;
    Some((estimate.white, estimate.confidence))
}

/// How well an anchor's colours explain a cue: the best body's.
fn fit(views: &[Option<Likelihoods>]) -> f32 {
    views
        .iter()
        .flatten()
        .map(|view| view.fit)
        .fold(f32::NEG_INFINITY, f32::max)
}

/// What all bodies that saw a cue find likely: it is one key.
fn joint(views: &[Option<Likelihoods>]) -> Option<Vec<f32>> {
    let mut views = views.iter().flatten();
    let mut sum = views.next()?.scores.clone();
    for view in views {
        for (sum, score) in sum.iter_mut().zip(&view.scores) {
            *sum += score;
        }
    }
    Some(sum)
}

/// The whites that are likely, as one: a place of the grid between its points, with the point of most likelihood and how sharp
/// the answer is, 0 to 1.
struct Summit {
    point: usize,
    mired: f64,
    duv: f64,
    confidence: f64,
}

/// The mean of what is likely: it errs less than the best point where several whites explain a cue almost alike.
fn summit(scores: &[f32]) -> Option<Summit> {
    let point = (0..scores.len())
        .filter(|&at| scores[at].is_finite())
        .max_by(|&a, &b| scores[a].total_cmp(&scores[b]))?;
    let (mut total, mut mired, mut square, mut duv) = (0.0, 0.0, 0.0, 0.0);
    for (at, score) in scores.iter().enumerate() {
        let weight = f64::from(score - scores[point]).exp();
        let (row, column) = ((at / DUVS) as f64, (at % DUVS) as f64);
        total += weight;
        mired += weight * row;
        square += weight * row * row;
        duv += weight * column;
    }
    let (mired, duv) = (mired / total, duv / total);
    let spread = (square / total - mired * mired).max(0.0).sqrt() * MIRED_STEP;
    Some(Summit {
        point,
        mired,
        duv,
        confidence: 1.0 / (1.0 + spread / HALF_SURE),
    })
}
