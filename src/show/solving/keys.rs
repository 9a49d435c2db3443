//! The keys that a show is solved against, and those that its look remembers afterwards.

use super::{KnownFrame, SolveWish};
use crate::base::robust;
use crate::base::units::Stops;
use crate::light::sheet::{Anchor, AnchorSource, KeyMemory, ShowLight};
use crate::look::file::Look;
use crate::look::keys::{Key, MOST_KEYS};

/// The lights that are known, the reference's first; then the pinned frames', then what the look remembers. A name that was
/// taken already is passed over in what the look remembers: tonight's frames know better.
pub(super) fn anchors(look: &Look, wish: &SolveWish) -> Vec<Anchor> {
    let mut remembered = look.keys.iter().map(of_memory);
    let mut anchors: Vec<Anchor> = match &wish.reference {
        Some(known) => vec![known.anchor()],
        None => vec![remembered.next().unwrap_or_else(|| {
            Anchor {
                // A look of before there were keys knows its white and nothing else.
                name: look
                    .reference
                    .as_ref()
                    .map(|known| known.frame.clone())
                    .unwrap_or_default(),
                white: look.white,
                source: AnchorSource::Memory(KeyMemory::default()),
            }
        })],
    };
    anchors.extend(wish.pins.iter().map(KnownFrame::anchor));
    for anchor in remembered {
        if !anchors.iter().any(|known| known.name == anchor.name) {
            anchors.push(anchor);
        }
    }
    anchors.truncate(MOST_KEYS);
    anchors
}

fn of_memory(key: &Key) -> Anchor {
    Anchor {
        name: key.name.clone(),
        white: Some(key.white),
        source: AnchorSource::Memory(key.memory.clone()),
    }
}

/// The keys as they were solved. What is remembered only is kept as it was, but for its level, which is against tonight's
/// reference where there is one.
pub(super) fn solved_keys(
    look: &Look,
    anchors: &[Anchor],
    light: &ShowLight,
    has_reference: bool,
) -> Vec<Key> {
    let mut keys: Vec<Key> = Vec::new();
    for (at, anchor) in anchors.iter().enumerate() {
        let level = match &anchor.source {
            _ if at == 0 => Some(Stops(0.0)),
            AnchorSource::Frame(frame) => light
                .key_of(*frame)
                .and_then(|key| key.level)
                .map(|level| level.stops),
            AnchorSource::Outside(_) | AnchorSource::Memory(_) => level_of_cues(light, at),
        };
        let key = match (&anchor.source, light.keys.anchors.get(at)) {
            (AnchorSource::Memory(memory), _) => {
                let known = look.keys.iter().find(|key| key.name == anchor.name);
                let Some(white) = anchor.white else { continue };
                let kept = known.and_then(|key| key.level);
                Key {
                    name: anchor.name.clone(),
                    white,
                    level: if has_reference { level } else { kept },
                    memory: memory.clone(),
                }
            }
            (_, Some(solved)) => {
                // An anchor in which nothing could be read keeps what its frame was read with by itself.
                let kept = if at == 0 { look.white } else { anchor.white };
                let white = match kept {
                    Some(kept) if solved.confidence <= 0.0 => kept,
                    _ => solved.white,
                };
                Key::new(anchor.name.clone(), white, level, &solved.memory)
            }
            (_, None) => continue,
        };
        keys.push(renamed(key, &keys));
    }
    keys
}

/// The level of the cues that were found by an anchor.
fn level_of_cues(light: &ShowLight, anchor: usize) -> Option<Stops> {
    let mut levels: Vec<f64> = light
        .keys
        .cues
        .iter()
        .flatten()
        .flatten()
        .filter(|key| key.white.is_some_and(|white| white.anchor == anchor))
        .filter_map(|key| key.level.map(|level| level.stops.0))
        .collect();
    robust::median(&mut levels).map(Stops)
}

/// Two frames of one name on two cards: the second key is told from the first.
fn renamed(mut key: Key, known: &[Key]) -> Key {
    let plain = key.name.clone();
    let mut count = 1;
    while known.iter().any(|other| other.name == key.name) {
        count += 1;
        key.name = format!("{plain} {count}");
    }
    key
}
