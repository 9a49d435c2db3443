//! Space: what is free on a drive, and what the rest of the queue will take, learned from the pictures that are made.

use crate::crew::task::Delivery;
use crate::deliver::Format;
use crate::night::depot::is_stored;
use crate::night::queue::{JobState, OutputState, Queue, QueueError, ShowStatus, WishId};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Bytes that are free to this user in a folder; `None` where the system does not say, and for a store, which has no end.
#[must_use]
pub fn free(folder: &Path) -> Option<u64> {
    if is_stored(folder) {
        return None;
    }
    #[cfg(unix)]
    {
        let about = rustix::fs::statvfs(folder).ok()?;
        Some(about.f_bavail.saturating_mul(about.f_frsize))
    }
    #[cfg(not(unix))]
    {
        let _ = folder;
        None
    }
}

/// The drive of a folder, as far as the system tells drives apart.
fn drive_of(folder: &Path) -> Option<u64> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        std::fs::metadata(folder).ok().map(|about| about.dev())
    }
    #[cfg(not(unix))]
    {
        let _ = folder;
        None
    }
}

/// What the rest of the queue wants of one drive.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Want {
    /// One of the drive's output folders.
    pub folder: PathBuf,
    /// Pictures that are to be made.
    pub pictures: u64,
    /// Bytes that they will take.
    pub bytes: u64,
    /// Bytes that are free.
    pub free: u64,
    /// Whether pictures of every kind were measured already; guessed otherwise.
    pub is_measured: bool,
}

/// What one picture takes, before any of its kind was made: from the size of its raw. Common practice for stage frames, no
/// source: high sensitivities make raws and JPEGs large alike.
pub(super) fn guessed(delivery: &Delivery, raw_bytes: f64) -> f64 {
    /// Bytes of a raw for each pixel.
    const RAW: f64 = 1.2;
    /// Bytes of a JPEG for each pixel at quality 92.
    const JPEG: f64 = 0.5;
    /// Three channels of 16 bits.
    const TIFF: f64 = 6.0;
    let whole = raw_bytes / RAW;
    let pixels = match delivery.long_edge {
        // Frames are three to two.
        Some(edge) => whole.min(f64::from(edge) * f64::from(edge) * 2.0 / 3.0),
        None => whole,
    };
    pixels
        * match delivery.wish.format {
            Format::Jpeg => JPEG,
            Format::Tiff => TIFF,
        }
}

/// What pictures of a wish take.
struct Size {
    bytes: f64,
    is_measured: bool,
}

/// What the rest of the queue wants, by drive. Drives that are away are left out.
///
/// # Errors
/// When the queue cannot be read.
pub fn wants(queue: &mut Queue) -> Result<Vec<Want>, QueueError> {
    let status = queue.status()?;
    let mut wants: BTreeMap<Option<u64>, Want> = BTreeMap::new();
    for show in &status.shows {
        let waiting = show.jobs_in(&[
            JobState::ToMeter,
            JobState::Metering,
            JobState::Metered,
            JobState::ToMake,
            JobState::Making,
        ]);
        for (wish, of_wish) in queue.wishes(show.show)? {
            let planned = planned(show, wish);
            let pictures = planned.unwrap_or(waiting);
            let Some(free) = free(&of_wish.folder).filter(|_| pictures > 0) else {
                continue;
            };
            let size = size(show, wish, &of_wish.delivery);
            let want = wants.entry(drive_of(&of_wish.folder)).or_insert(Want {
                folder: of_wish.folder.clone(),
                pictures: 0,
                bytes: 0,
                free,
                is_measured: true,
            });
            want.pictures += pictures;
            want.bytes += (size.bytes * pictures as f64) as u64;
            want.is_measured &= size.is_measured;
        }
    }
    Ok(wants.into_values().collect())
}

/// Pictures of a wish that are to be made, once its show was solved.
fn planned(show: &ShowStatus, wish: WishId) -> Option<u64> {
    let of_wish = || show.outputs.iter().filter(move |count| count.wish == wish);
    of_wish().next()?;
    let open = of_wish().filter(|count| count.state == OutputState::ToMake);
    Some(open.map(|count| count.outputs).sum())
}

fn size(show: &ShowStatus, wish: WishId, delivery: &Delivery) -> Size {
    let made = show.outputs.iter().filter(|count| count.wish == wish);
    let (sized, bytes) = made.fold((0, 0), |(sized, bytes), count| {
        (sized + count.sized, bytes + count.bytes)
    });
    if sized > 0 {
        return Size {
            bytes: bytes as f64 / sized as f64,
            is_measured: true,
        };
    }
    let (frames, bytes) = (show.jobs.iter()).fold((0, 0), |(frames, bytes), count| {
        (frames + count.jobs, bytes + count.bytes)
    });
    Size {
        bytes: guessed(delivery, bytes as f64 / frames.max(1) as f64),
        is_measured: false,
    }
}
