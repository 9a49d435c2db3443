//! Reading a frame as a worker does, after others.

use houselights::base::geometry::Rect;
use houselights::base::plane::Plane;
use houselights::raw::frame::{BlackLevels, Layout, Mosaic};
use houselights::raw::{Frame, RawError, Reader};
use std::path::Path;

/// Reads a frame, and once more into memory that other frames left behind, smaller and larger: it must not show.
pub fn read_frame(path: &Path) -> Result<Frame, RawError> {
    let fresh = houselights::raw::read_frame(path);
    for side in [3, 90] {
        let mut reader = Reader::default();
        reader.take_back(Mosaic {
            counts: Plane::filled(side, side, 0xabcd),
            layout: Layout::Bayer([[0, 1], [1, 2]]),
            black: BlackLevels::flat(0.0, 1),
            white: [1.0; 3],
            crop: Rect {
                left: 0,
                top: 0,
                width: side,
                height: side,
            },
        });
        match (&fresh, reader.read(path, |_| ())) {
            (Ok(fresh), Ok(frame)) => assert_eq!(fresh.mosaic.counts, frame.mosaic.counts),
            (Err(error), Err(other)) => assert_eq!(error.to_string(), other.to_string()),
            (fresh, other) => panic!("{fresh:?}, then {other:?}"),
        }
    }
    fresh
}
