//! Solving a show: from the light of its frames to one correction a frame, with reasons. Numbers only, no pixel.
//!
//! The one way from lights to corrections, for whoever makes pictures of them, prints them or explains them: the
//! reference settles the look, the show is cut into cues whose keys are read against the anchors (the reference, what a
//! person pinned, what the look remembers), and the look is carried over the cues, as far as nobody overrules it.

mod clocks;
mod keys;
mod known;
mod proposal;
mod remarks;

pub use self::clocks::{ClockError, ClockWish};
pub use self::known::{KnownError, KnownFrame, NamedFrame, Neutral, reference_of};
pub use self::proposal::Proposal;

use self::clocks::given_clocks;
use self::keys::{anchors, solved_keys};
use self::proposal::propose;
use self::remarks::{remarks, spoken_of_twice, unsure_white};
use crate::light::read_show;
use crate::light::reading::{FrameLight, WhiteSource};
use crate::light::sheet::ShowLight;
use crate::look::carry::{Carried, Follow, NotSolved, carry};
use crate::look::file::Look;
use crate::look::overrule::{Overrules, Overruling, SettleError};
use crate::look::reason::Reason;
use crate::look::solve::{Solved, solve};
use std::path::PathBuf;

/// What a person asks for, before any frame is read.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The look: with a reference it is solved anew, without one it is carried as it was kept.
    pub look: Look,
    /// The reference frame, where one is named.
    pub reference: Option<NamedFrame>,
    /// Further frames whose keys a person knows.
    pub pins: Vec<NamedFrame>,
    /// Clocks that a person set.
    pub clocks: Vec<ClockWish>,
    /// What a person says about single cues.
    pub overrules: Overrules,
    /// What is solved anew for each frame.
    pub follow: Follow,
}

/// What a person asks for, with the frames read that were named: everything that solving needs beside the show's light.
#[derive(Clone, Debug)]
pub struct SolveWish {
    /// The look: with a reference it is solved anew, without one it must be solved already.
    pub look: Look,
    /// The reference frame, where one is named.
    pub reference: Option<KnownFrame>,
    /// Further frames whose keys a person knows.
    pub pins: Vec<KnownFrame>,
    /// Clocks that a person set.
    pub clocks: Vec<ClockWish>,
    /// What a person says about single cues.
    pub overrules: Overrules,
    /// What is solved anew for each frame.
    pub follow: Follow,
}

/// A show, solved.
#[derive(Clone, Debug)]
pub struct SolvedShow {
    /// The look that was carried, solved.
    pub look: Look,
    /// The show's cues and their keys.
    pub light: ShowLight,
    /// One correction a frame, in their order.
    pub carried: Vec<Carried>,
    /// What a person's words mean for it.
    pub overruling: Overruling,
    /// How the reference's own numbers came about.
    pub reasons: Vec<Reason>,
    /// What a person should know and can do about it.
    pub warnings: Vec<String>,
    /// The frame that was taken for the reference because nobody named one.
    pub proposal: Option<Proposal>,
}

/// Why a show cannot be solved.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SolveError {
    /// Neither a reference nor a solved look.
    #[error(transparent)]
    NotSolved(#[from] NotSolved),
    /// A clock that a person set.
    #[error(transparent)]
    Clock(#[from] ClockError),
    /// A person's word about cues.
    #[error(transparent)]
    Overrule(#[from] SettleError),
}

/// Solves a show. The reference is marked among the frames; `paths` are the frames' own, in their order.
///
/// # Errors
/// When there is neither a reference nor a solved look, and when a person speaks of bodies, cues or frames that the show
/// does not have.
pub fn solve_show(
    frames: &mut [FrameLight],
    paths: &[PathBuf],
    wish: &SolveWish,
) -> Result<SolvedShow, SolveError> {
    let proposed = proposed_reference(frames, paths, wish);
    let proposal = proposed.as_ref().map(|(proposal, _)| *proposal);
    let wish = &match proposed {
        Some((_, known)) => SolveWish {
            reference: Some(known),
            ..wish.clone()
        },
        None => wish.clone(),
    };
    let Solved {
        mut look,
        mut reasons,
        mut warnings,
    } = match &wish.reference {
        Some(known) => solve(&wish.look, &known.name, &known.reference),
        None if wish.look.is_solved() => Solved {
            look: wish.look.clone(),
            reasons: Vec::new(),
            warnings: Vec::new(),
        },
        None => return Err(NotSolved.into()),
    };
    let place = wish.reference.as_ref().and_then(|known| known.place);
    for (at, frame) in frames.iter_mut().enumerate() {
        frame.is_reference = place == Some(at);
    }
    let clocks = given_clocks(&wish.clocks, frames)?;
    let anchors = anchors(&look, wish);
    let light = read_show(frames, &clocks, &anchors);
    if wish.follow == Follow::Light {
        look.keys = solved_keys(&look, &anchors, &light, wish.reference.is_some());
        if let (Some(key), Some(known)) = (look.keys.first(), &wish.reference) {
            look.white = Some(key.white);
            if let Some(confidence) = read_unsurely(known, &light) {
                reasons.retain(|reason| !matches!(reason, Reason::WhiteSolved { .. }));
                reasons.insert(0, Reason::WhiteRead { confidence });
                // What the body took for white was not taken after all.
                warnings.retain(|warning| {
                    Some(warning) != known.reference.white.source.warning().as_ref()
                });
                warnings.push(unsure_white(confidence));
            }
        }
    }
    let is_guessed = proposal.is_none()
        && wish
            .reference
            .as_ref()
            .is_some_and(|known| is_unread(&known.reference.white.source));
    warnings.extend(remarks(frames, paths, wish, &clocks, &light, is_guessed));
    let overruling = wish
        .overrules
        .settle(&light.sheet, frames, paths, &look.keys)?;
    warnings.extend(spoken_of_twice(&overruling));
    let carried = carry(&look, frames, &light, wish.follow, &overruling)?;
    Ok(SolvedShow {
        look,
        light,
        carried,
        overruling,
        reasons,
        warnings,
        proposal,
    })
}

/// Whether a reference's white was read neither from patches nor from its picture with confidence.
fn is_unread(source: &WhiteSource) -> bool {
    matches!(
        source,
        WhiteSource::AsShot { .. } | WhiteSource::Daylight { .. }
    )
}

/// How sure the white is that its picture gives a reference whose own could not be read with confidence; `None` where it
/// could, and where the picture gives none at all.
fn read_unsurely(known: &KnownFrame, light: &ShowLight) -> Option<f64> {
    let solved = light
        .keys
        .anchors
        .first()
        .filter(|_| is_unread(&known.reference.white.source))?;
    Some(solved.confidence).filter(|confidence| *confidence > 0.0)
}

/// The frame that is taken for the reference where nobody named one and the look remembers none.
fn proposed_reference(
    frames: &[FrameLight],
    paths: &[PathBuf],
    wish: &SolveWish,
) -> Option<(Proposal, KnownFrame)> {
    if wish.reference.is_some() || wish.look.is_solved() || wish.follow != Follow::Light {
        return None;
    }
    let proposal = propose(frames)?;
    let known = KnownFrame {
        name: name_of(paths, proposal.light),
        place: Some(proposal.light),
        reference: reference_of(frames.get(proposal.light)?)?,
    };
    Some((proposal, known))
}

fn name_of(paths: &[PathBuf], at: usize) -> String {
    let name = paths.get(at).and_then(|path| path.file_name());
    name.unwrap_or_default().to_string_lossy().into_owned()
}
