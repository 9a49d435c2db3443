//! Remarks in words: what happened in the night beside the pictures.

use super::times::{size, span};
use crate::night::depot::is_stored;
use crate::night::queue::{LostPicture, Remark};

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
            // Most reasons begin with the frame.
            let frame = frame.display().to_string();
            let rest = reason.strip_prefix(&frame);
            let rest = rest.and_then(|rest| rest.strip_prefix(": "));
            format!("a worker was lost over {frame}: {}", rest.unwrap_or(reason))
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
