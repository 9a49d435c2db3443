//! Solving a show: from the light of its frames to one correction a frame, with reasons. Numbers only, no pixel.
//!
//! The one way from lights to corrections, for whoever makes pictures of them, prints them or explains them: the
//! reference settles the look, the show is cut into cues whose keys are read against the anchors (the reference, what a
//! person pinned, what the look remembers), and the look is carried over the cues, as far as nobody overrules it.

mod known;

pub use self::known::{KnownFrame, ask_known};

use crate::light::cues::GivenClock;
use crate::light::read_show;
use crate::light::reading::FrameLight;
use crate::light::sheet::{Anchor, AnchorSource, KeyMemory, ShowLight};
use crate::look::carry::{Carried, Follow, NotSolved, carry};
use crate::look::file::Look;
use crate::look::reason::Reason;
use crate::look::solve::{Solved, solve};

/// What a person gives to the solving of a show.
#[derive(Clone, Debug)]
pub struct SolveWish {
    /// The look: with a reference it is solved anew, without one it must be solved already.
    pub look: Look,
    /// The reference frame, where one is named.
    pub reference: Option<KnownFrame>,
    /// Further frames whose keys a person knows.
    pub pins: Vec<KnownFrame>,
    /// Clocks that a person set.
    pub clocks: Vec<GivenClock>,
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
    /// How the reference's own numbers came about.
    pub reasons: Vec<Reason>,
    /// What a person should know and can do about it.
    pub warnings: Vec<String>,
}

/// Solves a show. The reference is marked among the frames.
///
/// # Errors
/// When there is neither a reference nor a solved look.
pub fn solve_show(frames: &mut [FrameLight], wish: &SolveWish) -> Result<SolvedShow, NotSolved> {
    let Solved {
        look,
        reasons,
        warnings,
    } = match &wish.reference {
        Some(known) => solve(&wish.look, &known.name, &known.reference),
        None if wish.look.is_solved() => Solved {
            look: wish.look.clone(),
            reasons: Vec::new(),
            warnings: Vec::new(),
        },
        None => return Err(NotSolved),
    };
    let place = wish.reference.as_ref().and_then(|known| known.place);
    for (at, frame) in frames.iter_mut().enumerate() {
        frame.is_reference = place == Some(at);
    }
    let light = read_show(frames, &wish.clocks, &anchors(&look, wish));
    let carried = carry(&look, frames, &light, wish.follow)?;
    Ok(SolvedShow {
        look,
        light,
        carried,
        reasons,
        warnings,
    })
}

/// The lights that are known, the reference's first.
fn anchors(look: &Look, wish: &SolveWish) -> Vec<Anchor> {
    let reference = match &wish.reference {
        Some(known) => known.anchor(),
        None => Anchor {
            name: look
                .reference
                .as_ref()
                .map(|known| known.frame.clone())
                .unwrap_or_default(),
            white: look.white,
            source: AnchorSource::Memory(KeyMemory::default()),
        },
    };
    let pins = wish.pins.iter().map(KnownFrame::anchor);
    std::iter::once(reference).chain(pins).collect()
}
