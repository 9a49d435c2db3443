//! The frame to measure on as a file: tiles of 256 x 256 in lossless JPEG, as converters make them.
#![allow(dead_code, reason = "each bench takes what it needs")]

use houselights::raw::frame::Frame;
use stage_simulator::{ByteOrder, Exposed, Exposure, Moment, Storage, demo_show, write_dng};

/// The file's bytes: the frame's counts in a file of the demo show's first body. `None` where that show cannot be made.
pub(crate) fn dng_of(frame: &Frame) -> Option<Vec<u8>> {
    let mosaic = &frame.mosaic;
    let (width, height) = (mosaic.counts.width(), mosaic.counts.height());
    let exposed = Exposed {
        counts: mosaic.counts.values().to_vec(),
        width,
        height,
        active: [0, 0, width, height],
        crop: [0, 0, width, height],
        orientation: 1,
        moment: Moment {
            date: [2026, 5, 9],
            milliseconds: 0,
            zone_minutes: 0,
        },
        exposure: Exposure {
            time: (1, 250),
            f_number_tenths: 28,
            iso: 6400,
        },
        focal_length: 85,
        as_shot_neutral: [0.5, 1.0, 0.65],
        preview: None,
    };
    let show = demo_show().ok()?;
    let body = show.bodies().first()?;
    Some(write_dng(
        &exposed,
        body,
        Storage::LosslessJpeg,
        ByteOrder::Little,
    ))
}
