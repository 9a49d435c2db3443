//! Opcodes: instructions of a DNG that a reader must carry out, or refuse the file.
//!
//! List 1 is meant for the stored counts of the whole sensor, list 2 for the linear samples of the active area, list 3 for
//! the demosaiced picture. Opcodes that change values are carried out here (of list 3 those that commute with the demosaic:
//! smooth gains); those that bend the picture are left out when the file allows it and refused when not. After list 2 the
//! samples are whole numbers again, on a range of 16 bits.

mod parse;
mod samples;

use super::picture::Picture;
use super::tags;
use crate::base::geometry::Rect;
use crate::raw::decoded::Decoded;
use crate::raw::error::Fault;
use crate::raw::frame::{BlackLevels, Layout};
use crate::raw::source::Source;
use crate::raw::tiff::{Directory, Tiff};
use parse::{Action, Opcode, name};
use samples::Samples;

/// A list of several megabytes holds gain maps or bad photosites; more is a lie.
const MOST_LIST_BYTES: u64 = 64 << 20;

/// Opcode list 1, 2, 3 of a directory.
pub(super) fn lists<S: Source + ?Sized>(
    tiff: &Tiff<'_, S>,
    directory: &Directory,
) -> Result<[Vec<Opcode>; 3], Fault> {
    let mut lists = [const { Vec::new() }; 3];
    for (list, tag) in lists.iter_mut().zip(tags::OPCODE_LISTS) {
        if let Some(entry) = directory.entry(tag) {
            let bytes = tiff
                .bytes(entry, MOST_LIST_BYTES)
                .ok_or_else(|| Fault::damaged("an opcode list cannot be read"))?;
            *list = parse::split(&bytes)?;
        }
    }
    Ok(lists)
}

/// The actions of a list that are carried out; the others noted or refused.
fn actions(
    opcodes: &[Opcode],
    list: u8,
    may: impl Fn(&Action) -> bool,
    notes: &mut Vec<String>,
) -> Result<Vec<Action>, Fault> {
    let mut actions = Vec::new();
    for opcode in opcodes {
        let why = match Action::of(opcode) {
            Ok(Some(action)) if may(&action) => {
                actions.push(action);
                continue;
            }
            Ok(Some(_)) => "at this place".to_owned(),
            Ok(None) => "not carried out here".to_owned(),
            Err(fault) if opcode.is_optional => fault.to_string(),
            Err(fault) => return Err(fault),
        };
        let name = name(opcode.number);
        if !opcode.is_optional {
            return Err(Fault::Opcode {
                list,
                opcode: opcode.number,
                what: format!("{name}, {why}"),
            });
        }
        notes.push(format!(
            "optional opcode {} ({name}) of list {list} left out: {why}",
            opcode.number
        ));
    }
    Ok(actions)
}

/// Carries out list 1 on the stored counts, on a scale of 1 for the largest 16-bit number.
pub(super) fn on_stored(
    opcodes: Vec<Opcode>,
    picture: &mut Picture,
    layout: &Layout,
    active: Rect,
    notes: &mut Vec<String>,
) -> Result<(), Fault> {
    let actions = actions(
        &opcodes,
        1,
        |action| !matches!(action, Action::TrimBounds { .. }),
        notes,
    )?;
    if actions.is_empty() {
        return Ok(());
    }
    // Both patterns repeat after 6: shifting on to a multiple of it is shifting back.
    let back = |offset: usize| (6 - offset % 6) % 6;
    let mut samples = Samples {
        width: picture.width,
        height: picture.height,
        channels: picture.channels,
        layout: layout.shifted(back(active.left), back(active.top)),
        planes_are_colours: false,
        values: picture
            .counts
            .iter()
            .map(|count| f32::from(*count) / 65_535.0)
            .collect(),
    };
    for action in &actions {
        samples.apply(action);
        notes.push(note(action, 1));
    }
    for (count, value) in picture.counts.iter_mut().zip(&samples.values) {
        *count = whole(value * 65_535.0);
    }
    Ok(())
}

/// Carries out list 2, and of list 3 what commutes with the demosaic, on the linear samples of the active area.
pub(super) fn on_linear(
    second: Vec<Opcode>,
    third: Vec<Opcode>,
    mut decoded: Decoded,
) -> Result<Decoded, Fault> {
    let mut notes = std::mem::take(&mut decoded.notes);
    let is_linear = decoded.layout == Layout::Linear;
    let second = actions(&second, 2, |_| true, &mut notes)?;
    let third = actions(
        &third,
        3,
        |action| {
            is_linear
                || matches!(action, Action::FixVignetteRadial { .. })
                || matches!(action, Action::GainMap { area, .. }
                    if (area.row_pitch, area.column_pitch) == (1, 1))
        },
        &mut notes,
    )?;
    if second.is_empty() && third.is_empty() {
        decoded.notes = notes;
        return Ok(decoded);
    }
    let mut work = Work::new(decoded)?;
    for action in &second {
        work.apply(action)?;
        notes.push(note(action, 2));
    }
    work.samples.planes_are_colours = !is_linear;
    for action in &third {
        work.apply(action)?;
        notes.push(note(action, 3));
    }
    let mut decoded = work.finished();
    notes.push(format!(
        "after its opcodes the counts are whole numbers again, black {}, white 65535: an error of at most half a count",
        decoded.black.pattern[0]
    ));
    decoded.notes = notes;
    Ok(decoded)
}

fn note(action: &Action, list: u8) -> String {
    let number = match action {
        Action::FixVignetteRadial { .. } => 3,
        Action::FixBadPixelsConstant { .. } => 4,
        Action::FixBadPixelsList { .. } => 5,
        Action::TrimBounds { .. } => 6,
        Action::MapTable { .. } => 7,
        Action::MapPolynomial { .. } => 8,
        Action::GainMap { .. } => 9,
        Action::PerRow { kind, .. } => match kind {
            parse::PerLine::Delta => 10,
            parse::PerLine::Scale => 12,
        },
        Action::PerColumn { kind, .. } => match kind {
            parse::PerLine::Delta => 11,
            parse::PerLine::Scale => 13,
        },
    };
    format!(
        "opcode {number} ({}) of list {list} carried out",
        name(number)
    )
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to the range of u16"
)]
fn whole(value: f32) -> u16 {
    value.round().max(0.0).min(65_535.0) as u16
}

/// The active area as samples, and what will become of it.
struct Work {
    decoded: Decoded,
    samples: Samples,
    /// Black of the whole numbers to come.
    pedestal: f32,
}

/// Black of the new counts where the old black was not 0: noise below black down to -0.066 of the range stays.
const PEDESTAL: f32 = 4096.0;

impl Work {
    /// Subtracts black and divides by the range above the plane's highest black (specification, chapter "Mapping Raw
    /// Values to Linear Reference Values").
    fn new(mut decoded: Decoded) -> Result<Self, Fault> {
        let channels = if decoded.layout == Layout::Linear {
            3
        } else {
            1
        };
        let black = &decoded.black;
        let highest = |values: &[f32]| values.iter().copied().fold(0.0, f32::max);
        let top = highest(&black.pattern)
            + highest(&black.column_deviation)
            + highest(&black.row_deviation);
        let lowest_white = decoded.white.iter().copied().fold(f32::MAX, f32::min);
        if !(top < lowest_white && lowest_white.is_finite()) {
            return Err(Fault::Levels {
                black: top,
                white: lowest_white,
            });
        }
        let area = decoded.active;
        let stride = decoded.width * channels;
        let mut values = Vec::with_capacity(area.width * area.height * channels);
        for y in 0..area.height {
            let row = &decoded.counts[(area.top + y) * stride..][area.left * channels..]
                [..area.width * channels];
            for (x, pixel) in row.chunks_exact(channels).enumerate() {
                for (channel, count) in pixel.iter().enumerate() {
                    let colour = match &decoded.layout {
                        Layout::Bayer(pattern) => usize::from(pattern[y % 2][x % 2]),
                        Layout::XTrans(pattern) => usize::from(pattern[y % 6][x % 6]),
                        Layout::Linear => channel,
                    };
                    let value = (f32::from(*count) - black.at(x, y, channel))
                        / (decoded.white[colour] - top);
                    values.push(value.min(1.0));
                }
            }
        }
        let has_black = black.pattern.iter().any(|level| *level != 0.0)
            || !black.column_deviation.is_empty()
            || !black.row_deviation.is_empty();
        decoded.counts = Vec::new();
        Ok(Self {
            samples: Samples {
                width: area.width,
                height: area.height,
                channels,
                layout: decoded.layout,
                planes_are_colours: false,
                values,
            },
            decoded,
            pedestal: if has_black { PEDESTAL } else { 0.0 },
        })
    }

    fn apply(&mut self, action: &Action) -> Result<(), Fault> {
        if let Action::TrimBounds {
            top,
            left,
            bottom,
            right,
        } = *action
        {
            return self.trim(top, left, bottom, right);
        }
        self.samples.apply(action);
        Ok(())
    }

    /// Cuts the picture; the crop keeps its place in the scene.
    fn trim(&mut self, top: usize, left: usize, bottom: usize, right: usize) -> Result<(), Fault> {
        let samples = &mut self.samples;
        let area = Rect {
            left,
            top,
            width: right.saturating_sub(left),
            height: bottom.saturating_sub(top),
        };
        if !area.fits(samples.width, samples.height) {
            return Err(Fault::damaged("opcode 6 (TrimBounds) leaves no picture"));
        }
        let channels = samples.channels;
        let mut values = Vec::with_capacity(area.width * area.height * channels);
        for y in top..bottom {
            values.extend_from_slice(
                &samples.values[(y * samples.width + left) * channels..][..area.width * channels],
            );
        }
        samples.values = values;
        samples.width = area.width;
        samples.height = area.height;
        samples.layout = samples.layout.shifted(left, top);
        let crop = &mut self.decoded.crop;
        let inside = |from: usize, length: usize, cut: usize, size: usize| {
            let first = from.saturating_sub(cut).min(size);
            let end = (from + length).saturating_sub(cut).min(size);
            (first, end - first)
        };
        (crop.left, crop.width) = inside(crop.left, crop.width, left, area.width);
        (crop.top, crop.height) = inside(crop.top, crop.height, top, area.height);
        Ok(())
    }

    fn finished(self) -> Decoded {
        let Self {
            decoded,
            samples,
            pedestal,
        } = self;
        let range = 65_535.0 - pedestal;
        Decoded {
            width: samples.width,
            height: samples.height,
            counts: samples
                .values
                .iter()
                .map(|value| whole(pedestal + value * range))
                .collect(),
            layout: samples.layout,
            black: BlackLevels::flat(pedestal, samples.channels),
            white: [65_535.0; 3],
            active: Decoded::whole(samples.width, samples.height),
            ..decoded
        }
    }
}
