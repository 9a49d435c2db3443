//! Frames of one body under one setting of its clock.
//!
//! A clock can be set anew during a show: a flat battery sends it back to the year its maker began with, a photographer
//! remembers the time zone. The order of file names within a body is then the better witness, and the list that is read is
//! in that order. But names can be out of order too (counting begins anew after 9999, files were renamed) and a folder can
//! hold several nights, so times are doubted only where they are impossible: stretches that overlap, or that lie months
//! apart.

use crate::light::reading::FrameLight;
use std::collections::BTreeMap;

/// Times of frames that are read together lie within this: a festival, not the year that a clock begins with. Seconds.
const NIGHTS: f64 = 60.0 * 86_400.0;
/// Steps back in the order of names that rounding explains. Seconds.
const ROUNDING: f64 = 1.5;
/// More steps back than this share of a body's frames: its names tell no order.
const SHUFFLED: f64 = 0.05;

/// Frames of one body whose times fit each other.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stretch {
    /// Index of the body in order of first frames.
    pub body: usize,
    /// The frames that have a time, in the order of the list.
    pub frames: Vec<usize>,
    /// Whether these are the body's own clock, rather than a setting that went astray.
    pub is_base: bool,
}

/// Seconds of a frame's own clock since 1970; `None` without a time.
#[must_use]
pub(super) fn clock_seconds(frame: &FrameLight) -> Option<f64> {
    let origin = jiff::civil::date(1970, 1, 1).at(0, 0, 0, 0);
    let captured = frame.facts.captured.as_ref()?;
    Some(captured.civil.duration_since(origin).as_secs_f64())
}

/// Parts every body's frames into stretches; the body's base first. `bodies` gives each frame's body, `times` its clock.
#[must_use]
pub(super) fn stretches(bodies: &[usize], times: &[Option<f64>]) -> Vec<Stretch> {
    let mut by_body = BTreeMap::<usize, Vec<(usize, f64)>>::new();
    for (at, (&body, time)) in bodies.iter().zip(times).enumerate() {
        if let Some(time) = *time {
            by_body.entry(body).or_default().push((at, time));
        }
    }
    by_body
        .into_iter()
        .flat_map(|(body, frames)| of_body(body, &frames))
        .collect()
}

/// A piece of a body's list in which time runs forward.
struct Piece {
    frames: Vec<usize>,
    times: Vec<f64>,
    first: f64,
    last: f64,
}

fn of_body(body: usize, frames: &[(usize, f64)]) -> Vec<Stretch> {
    let (pieces, copies) = without_copies(pieces(frames));
    let whole = |is_base| Stretch {
        body,
        frames: frames.iter().map(|(at, _)| *at).collect(),
        is_base,
    };
    let shuffled = (pieces.len() - 1) as f64 > 3.0_f64.max(SHUFFLED * frames.len() as f64);
    let fits = fits_together(&pieces) && !overlap(&pieces);
    if shuffled || fits {
        return vec![whole(true)];
    }
    let base = base(&pieces);
    let mut own = Vec::new();
    let mut astray = Vec::<Stretch>::new();
    let mut before = None;
    for (at, piece) in pieces.into_iter().enumerate() {
        if base.contains(&at) {
            own.extend(piece.frames);
            before = None;
            continue;
        }
        // Pieces that follow each other under one wrong setting stay together.
        let joined = before.is_some_and(|last: f64| (0.0..NIGHTS).contains(&(piece.first - last)));
        before = Some(piece.last);
        match astray.last_mut() {
            Some(last) if joined => last.frames.extend(piece.frames),
            _ => astray.push(Stretch {
                body,
                frames: piece.frames,
                is_base: false,
            }),
        }
    }
    let own = Stretch {
        body,
        frames: own,
        is_base: true,
    };
    let mut all: Vec<Stretch> = std::iter::once(own).chain(astray).collect();
    for (copy, original) in copies {
        if let Some(stretch) = all.iter_mut().find(|one| one.frames.contains(&original)) {
            stretch.frames.push(copy);
        }
    }
    for stretch in &mut all {
        stretch.frames.sort_unstable();
    }
    all
}

/// Takes out pieces that only repeat times of pieces before them: the same frames in another folder, not a clock that was
/// set back, which would have to meet the very same times. For each of their frames also the original.
fn without_copies(pieces: Vec<Piece>) -> (Vec<Piece>, Vec<(usize, usize)>) {
    let mut known = BTreeMap::<u64, usize>::new();
    let mut copies = Vec::new();
    let mut kept = Vec::<Piece>::new();
    for piece in pieces {
        let originals: Option<Vec<(usize, usize)>> = piece
            .frames
            .iter()
            .zip(&piece.times)
            .map(|(&at, time)| Some((at, *known.get(&time.to_bits())?)))
            .collect();
        if let Some(originals) = originals {
            copies.extend(originals);
            continue;
        }
        for (&at, time) in piece.frames.iter().zip(&piece.times) {
            known.entry(time.to_bits()).or_insert(at);
        }
        kept.push(piece);
    }
    (kept, copies)
}

fn pieces(frames: &[(usize, f64)]) -> Vec<Piece> {
    let mut pieces = Vec::<Piece>::new();
    for &(at, time) in frames {
        match pieces.last_mut() {
            Some(piece) if (-ROUNDING..NIGHTS).contains(&(time - piece.last)) => {
                piece.frames.push(at);
                piece.times.push(time);
                piece.last = piece.last.max(time);
            }
            _ => pieces.push(Piece {
                frames: vec![at],
                times: vec![time],
                first: time,
                last: time,
            }),
        }
    }
    pieces
}

fn fits_together(pieces: &[Piece]) -> bool {
    let first = pieces.iter().map(|p| p.first).fold(f64::INFINITY, f64::min);
    let last = pieces
        .iter()
        .map(|p| p.last)
        .fold(f64::NEG_INFINITY, f64::max);
    last - first < NIGHTS
}

fn overlap(pieces: &[Piece]) -> bool {
    let mut spans: Vec<(f64, f64)> = pieces.iter().map(|p| (p.first, p.last)).collect();
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    spans.windows(2).any(|pair| pair[1].0 < pair[0].1)
}

/// The chain of pieces with the most frames in which time runs forward.
fn base(pieces: &[Piece]) -> Vec<usize> {
    let mut best: Vec<(usize, Vec<usize>)> = Vec::new();
    for (at, piece) in pieces.iter().enumerate() {
        let before = best
            .iter()
            .filter(|(_, chain)| {
                let (first, last) = (chain[0], chain[chain.len() - 1]);
                piece.first >= pieces[last].last && piece.last - pieces[first].first < NIGHTS
            })
            .max_by_key(|(frames, chain)| (*frames, std::cmp::Reverse(chain[0])));
        let mut chain = before.map_or(Vec::new(), |(_, chain)| chain.clone());
        let frames = before.map_or(0, |(frames, _)| *frames) + piece.frames.len();
        chain.push(at);
        best.push((frames, chain));
    }
    best.into_iter()
        .max_by_key(|(frames, chain)| (*frames, std::cmp::Reverse(chain[0])))
        .map_or(Vec::new(), |(_, chain)| chain)
}
