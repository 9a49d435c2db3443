//! Adding shows, frames and wishes.

use super::ids::{JobId, ShowId};
use super::ranks::{position, rank_anew};
use super::solving::{reopen, settle, wishes};
use super::wishes::{Added, LOWEST_PRIORITY, NewFrame, NewShow, OutputWish, USUAL_PRIORITY};
use super::{Queue, QueueError, ShowState, rows};
use crate::night::engine::{Engine, EngineError, Value};

impl Queue {
    /// Adds a show, or adds frames and wishes to the show of that name. A show that gets anything new is solved again when
    /// its new frames are metered; until then its pictures are not made.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn add(&mut self, new: &NewShow) -> Result<Added, QueueError> {
        self.writing(|engine| add(engine, new))
    }
}

fn add(engine: &mut dyn Engine, new: &NewShow) -> Result<Added, QueueError> {
    let KnownShow {
        show,
        is_new,
        is_asked_anew,
        was_dropped,
    } = show_of(engine, new)?;
    let mut has_changed = is_new || is_asked_anew || was_dropped;
    let mut new_wishes = 0;
    for wish in &new.wishes {
        new_wishes += u64::from(add_wish(engine, show, wish)?);
    }
    let last = engine.query(
        "SELECT COALESCE(max(position), -1) FROM jobs WHERE show = $1",
        &[show.into()],
    )?;
    let last = last.first().map_or(Ok(-1), |row| row.whole(0))?;
    let mut next = usize::try_from(last + 1).unwrap_or(0);
    let mut frames = 0;
    let mut firsts_changed = false;
    for frame in &new.frames {
        match add_frame(engine, show, frame, next)? {
            Joined::New => {
                frames += 1;
                next += 1;
            }
            Joined::Known { is_first_now } => firsts_changed |= is_first_now,
        }
    }
    has_changed |= frames > 0 || new_wishes > 0;
    if has_changed {
        reopen(engine, show)?;
        settle(engine, show)?;
    }
    if has_changed || firsts_changed {
        rank_anew(engine, show)?;
    }
    Ok(Added {
        show,
        is_new,
        frames,
        known_frames: new.frames.len() - frames,
        is_asked_anew,
        wishes: usize::try_from(new_wishes).unwrap_or(usize::MAX),
    })
}

/// The show of a name.
struct KnownShow {
    show: ShowId,
    is_new: bool,
    /// What a person asks of it has changed.
    is_asked_anew: bool,
    was_dropped: bool,
}

/// The show of this name, made where there is none.
fn show_of(engine: &mut dyn Engine, new: &NewShow) -> Result<KnownShow, QueueError> {
    let known = engine.query(
        "SELECT id, asked, priority, state FROM shows WHERE name = $1 {for update}",
        &[new.name.as_str().into()],
    )?;
    let priority = new
        .priority
        .map(|priority| i64::from(priority.min(LOWEST_PRIORITY)));
    let Some(row) = known.first() else {
        let values: [Value; 5] = [
            new.name.as_str().into(),
            new.asked.as_deref().unwrap_or("{}").into(),
            priority.unwrap_or(i64::from(USUAL_PRIORITY)).into(),
            ShowState::ToMeter.word().into(),
            rows::now().into(),
        ];
        let made = engine.query(
            "INSERT INTO shows (name, asked, priority, state, paused, revision, added)
             VALUES ($1, $2, $3, $4, 0, 0, $5) RETURNING id",
            &values,
        )?;
        let id = made
            .first()
            .ok_or_else(|| EngineError::Unexpected("a new show got no number".to_owned()))?;
        return Ok(KnownShow {
            show: ShowId(id.whole(0)?),
            is_new: true,
            is_asked_anew: false,
            was_dropped: false,
        });
    };
    let show = ShowId(row.whole(0)?);
    let is_asked_anew = (new.asked.as_deref()).is_some_and(|asked| row.text(1) != Ok(asked));
    let was_dropped = row.text(3)? == ShowState::Dropped.word();
    let is_moved = priority.is_some_and(|priority| row.whole(2) != Ok(priority));
    if is_asked_anew || is_moved {
        engine.execute(
            "UPDATE shows SET asked = COALESCE($2, asked), priority = COALESCE($3, priority) WHERE id = $1",
            &[show.into(), new.asked.as_deref().into(), priority.into()],
        )?;
        rank_anew(engine, show)?;
    }
    Ok(KnownShow {
        show,
        is_new: false,
        is_asked_anew: is_asked_anew && !was_dropped,
        was_dropped,
    })
}

/// Whether a wish is new to its show. One that is known for a folder that was made anew since gets that folder's mark.
fn add_wish(engine: &mut dyn Engine, show: ShowId, wish: &OutputWish) -> Result<bool, QueueError> {
    let text = rows::json(wish)?;
    for (id, known) in wishes(engine, show)? {
        if known.is_same_but_for_the_mark(wish) {
            engine.execute(
                "UPDATE wishes SET wish = $2 WHERE id = $1",
                &[id.into(), text.into()],
            )?;
            return Ok(false);
        }
    }
    engine.execute(
        "INSERT INTO wishes (show, wish) VALUES ($1, $2)",
        &[show.into(), text.into()],
    )?;
    Ok(true)
}

/// Whether a frame was new to its show.
enum Joined {
    New,
    Known { is_first_now: bool },
}

fn add_frame(
    engine: &mut dyn Engine,
    show: ShowId,
    frame: &NewFrame,
    at: usize,
) -> Result<Joined, QueueError> {
    let values: [Value; 5] = [
        show.into(),
        frame.frame.as_path().into(),
        rows::size(frame.bytes),
        position(at),
        frame.is_first.into(),
    ];
    let made = engine.query(
        "INSERT INTO jobs (show, frame, bytes, position, is_first, rank, state, losses)
         VALUES ($1, $2, $3, $4, $5, 0, 'to-meter', 0)
         ON CONFLICT (show, frame) DO NOTHING RETURNING id",
        &values,
    )?;
    if let Some(row) = made.first() {
        engine.execute(
            "INSERT INTO details (job, shown, changed) VALUES ($1, $2, $3)",
            &[
                JobId(row.whole(0)?).into(),
                frame.shown.as_path().into(),
                rows::now().into(),
            ],
        )?;
        return Ok(Joined::New);
    }
    let revived = engine.execute(
        "UPDATE jobs SET state = 'to-meter', losses = 0, bytes = $3 WHERE show = $1 AND frame = $2 AND state = 'dropped'",
        &values[..3],
    )?;
    let is_first_now = frame.is_first
        && engine.execute(
            "UPDATE jobs SET is_first = 1 WHERE show = $1 AND frame = $2 AND is_first = 0",
            &values[..2],
        )? > 0;
    Ok(if revived > 0 {
        Joined::New
    } else {
        Joined::Known { is_first_now }
    })
}
