//! Remarks in words: what happened in the night beside the pictures.

use super::times::{size, span};
use crate::night::depot::is_stored;
use crate::night::queue::{DatedRemark, LostPicture, Remark};
use std::path::Path;

/// Pictures by name, as the end of a sentence.
fn lost(pictures: u64, named: &[LostPicture]) -> String {
    if named.is_empty() {
        return String::new();
    }
    let names = named.iter().map(|lost| {
        let place = lost.place.display();
        match lost.is_changed {
            true => format!("{place} (changed)"),
            false => place.to_string(),
        }
    });
    let mut words = format!(": {}", names.collect::<Vec<_>>().join(", "));
    let more = pictures.saturating_sub(named.len() as u64);
    if more > 0 {
        words += &format!(" and {more} more");
    }
    words
}

/// A reason without the frame, with which most begin.
fn without_frame<'a>(reason: &'a str, frame: &Path) -> &'a str {
    let rest = reason.strip_prefix(&frame.display().to_string());
    rest.and_then(|rest| rest.strip_prefix(": "))
        .unwrap_or(reason)
}

/// The reason of a worker's loss, without its frame.
fn loss(dated: &DatedRemark) -> Option<&str> {
    match &dated.remark {
        Remark::WorkerLost { frame, reason } => Some(without_frame(reason, frame)),
        _ => None,
    }
}

/// Remarks in words, each with the first that it tells of: workers of a show that were lost one after another for the same
/// reason are one.
pub(super) fn together(remarks: &[DatedRemark]) -> Vec<(&DatedRemark, String)> {
    let is_more_of_it = |a: &DatedRemark, b: &DatedRemark| {
        a.show == b.show && loss(a).is_some() && loss(a) == loss(b)
    };
    let told = remarks.chunk_by(is_more_of_it);
    told.filter_map(|alike| {
        let first = alike.first()?;
        let words = match &first.remark {
            Remark::WorkerLost { frame, reason } if alike.len() > 1 => format!(
                "{} workers were lost, the first over {}: {}",
                alike.len(),
                frame.display(),
                without_frame(reason, frame)
            ),
            remark => in_words(remark),
        };
        Some((first, words))
    })
    .collect()
}

/// A remark in words.
pub(super) fn in_words(remark: &Remark) -> String {
    match remark {
        Remark::Slept { seconds } => format!("the machine slept for {}", span(*seconds)),
        Remark::ClockSet { seconds } => format!(
            "the machine's clock was set {} {}",
            if *seconds < 0.0 { "back by" } else { "on by" },
            span(seconds.abs())
        ),
        Remark::Away { folder, .. } if is_stored(folder) => format!(
            "{} is away or cannot be used: what needs it waits, the rest goes on",
            folder.display()
        ),
        Remark::Away {
            folder,
            is_source: true,
        } => format!(
            "{} is away or holds other frames: the show whose frames lie there waits, the rest goes on; houselights night drop \
             --show NAME if it will not come back",
            folder.display()
        ),
        Remark::RawsAway { pictures } => format!(
            "{pictures} {} removed or changed since, and cannot be made again while their raws are away: left as they are",
            if *pictures == 1 {
                "picture was"
            } else {
                "pictures were"
            }
        ),
        Remark::NotSeen { reason } => format!(
            "what is in a store could not be looked at, and is taken to stand as it was made: {reason}"
        ),
        Remark::Away { folder, .. } => format!(
            "{} is away or cannot be used: what needs it waits, the rest goes on. If it was removed for good, houselights night \
             retry makes an output folder again",
            folder.display()
        ),
        Remark::Back { folder, seconds } => {
            format!("{} came back after {}", folder.display(), span(*seconds))
        }
        Remark::BatteryLow { charge } => format!(
            "the battery fell to {:.0} %: waited for mains",
            100.0 * charge
        ),
        Remark::BatteryBack { seconds } => {
            format!("went on after {} without enough charge", span(*seconds))
        }
        Remark::Paused => "paused by a person".to_owned(),
        Remark::Resumed => "went on by a person's word".to_owned(),
        Remark::WorkerLost { frame, reason } => {
            let reason = without_frame(reason, frame);
            format!("a worker was lost over {}: {reason}", frame.display())
        }
        Remark::RunDied {
            host,
            process,
            jobs,
        } => format!(
            "the run of process {process} on {host} died; {jobs} {} went back into the queue",
            if *jobs == 1 { "frame" } else { "frames" }
        ),
        Remark::ShortOfSpace {
            folder,
            free,
            wanted,
        } => format!(
            "{} ran short of space: {} free, {} wanted; make room, and run the night again",
            folder.display(),
            size(*free),
            size(*wanted)
        ),
        Remark::Remade { pictures, named } => format!(
            "{pictures} {} removed or changed since: made again{}",
            if *pictures == 1 {
                "picture was"
            } else {
                "pictures were"
            },
            lost(*pictures, named)
        ),
        Remark::Replaced { frame, others: 0 } => format!(
            "{} is another file than the one that was metered: metered again",
            frame.display()
        ),
        Remark::Replaced { frame, others } => format!(
            "{} and {others} more of its show are other files than those that were metered: metered again",
            frame.display()
        ),
        Remark::Warning { text } => text.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn workers_that_were_lost_one_after_another_are_told_once() {
        let dated = |remark| DatedRemark {
            run: None,
            show: None,
            at: 0,
            remark,
        };
        let lost = |name: &str| {
            dated(Remark::WorkerLost {
                frame: name.into(),
                reason: format!("{name}: its worker stopped"),
            })
        };
        let remarks = [
            lost("1.nef"),
            lost("2.nef"),
            dated(Remark::Paused),
            lost("3.nef"),
        ];
        let told = together(&remarks).into_iter();
        let words: Vec<String> = told.map(|(_, words)| words).collect();
        assert_eq!(
            words,
            [
                "2 workers were lost, the first over 1.nef: its worker stopped",
                "paused by a person",
                "a worker was lost over 3.nef: its worker stopped",
            ]
        );
    }
}
