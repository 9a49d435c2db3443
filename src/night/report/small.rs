//! Small pictures of the cues, rendered from the raws as they were made.

use super::{Report, ShowReport};
use crate::base::progress::{Progress, StopWish};
use crate::crew::Workforce;
use crate::crew::task::{Answer, Task};
use crate::night::depot::is_stored;
use crate::night::queue::JobId;
use crate::show::meter::{SMALL_LONG_EDGE, quick};
use crate::show::metering::ask_each;
use std::collections::BTreeMap;

/// Frames of the whole night that are shown: so a page has a few megabytes whatever the night has.
const MOST: usize = 200;

/// JPEG files in base64 (RFC 4648), by job. Frames of which none can be made, because a drive is away, are missing, and so are
/// those in object stores: a page is not worth fetching gigabytes.
pub fn small_pictures(
    report: &Report,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    progress: &dyn Progress,
) -> BTreeMap<JobId, String> {
    let of_a_show = (MOST / report.shows.len().max(1)).max(1);
    let mut jobs = Vec::new();
    let mut tasks = Vec::new();
    for show in &report.shows {
        for (job, task) in tasks_of(show, of_a_show) {
            tasks.push((jobs.len(), task));
            jobs.push(job);
        }
    }
    let mut pictures = BTreeMap::new();
    ask_each(
        tasks,
        "small pictures",
        workforce,
        stop,
        progress,
        &mut |at, outcome| {
            if let (Ok(Answer::Small(small)), Some(&job)) = (outcome, jobs.get(at))
                && let Some(picture) = small.into_iter().next()
            {
                pictures.insert(job, picture);
            }
        },
    );
    pictures
}

fn tasks_of(show: &ShowReport, most: usize) -> Vec<(JobId, Task)> {
    let Some(account) = &show.account else {
        return Vec::new();
    };
    let known: BTreeMap<JobId, _> = show.frames.iter().map(|frame| (frame.job, frame)).collect();
    let shown = account.shown(most).into_iter();
    shown
        .filter_map(|light| {
            let job = JobId(*account.jobs.get(light)?);
            let frame = known.get(&job).filter(|frame| !is_stored(&frame.frame))?;
            let task = Task::Small {
                frame: frame.frame.clone(),
                corrections: vec![quick(frame.correction.clone()?)],
                long_edge: SMALL_LONG_EDGE,
            };
            Some((job, task))
        })
        .collect()
}
