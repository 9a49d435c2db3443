//! Pass A of carrying a look: the light of every frame, as it was kept or as the workers read it.

use super::CarryJob;
use crate::base::progress::StopWish;
use crate::crew::Workforce;
use crate::crew::task::{Answer, Metered, Task, TaskError};
use crate::light::reading::FrameLight;
use crate::look::carry::Follow;
use crate::show::batch::Batch;
use crate::show::metering::{ask_each, not_reached, unexpected};
use crate::show::outcome::{Fate, FrameOutcome, Watcher};
use crate::show::readings::Readings;

/// A frame's light and what its reader noted; absent for frames whose outcome is told already.
pub(super) type Lights = Vec<Option<(FrameLight, Vec<String>)>>;

/// Pass A.
pub(super) fn meter_frames(
    job: &CarryJob,
    batch: &Batch,
    workforce: &mut dyn Workforce,
    stop: &StopWish,
    watcher: &mut dyn Watcher,
) -> Lights {
    let mut lights: Lights = vec![None; batch.frames.len()];
    if job.asked.follow == Follow::None {
        // Nothing of a frame is needed to copy the reference's numbers.
        let nothing = || {
            let light = FrameLight {
                facts: Default::default(),
                reading: None,
                colour: Default::default(),
                is_reference: false,
            };
            Some((light, Vec::new()))
        };
        lights.fill_with(nothing);
        return lights;
    }
    let mut readings = Readings::open(&job.readings, &job.program);
    let mut tasks = Vec::new();
    for (index, frame) in batch.frames.iter().enumerate() {
        let path = frame.shown.clone();
        // Copies are hashed below, which may take long on a slow drive; of the rest the workers tell that it was not reached.
        if stop.is_raised() {
            tasks.push((index, Task::Meter { frame: path }));
            continue;
        }
        if !job.asked.follow.needs_reading() {
            tasks.push((index, Task::Facts { frame: path }));
            continue;
        }
        let known = frame
            .outline
            .and_then(|outline| readings.find(&frame.real, outline));
        match known {
            Some(known) => lights[index] = Some(light_and_notes(known)),
            None => tasks.push((index, Task::Meter { frame: path })),
        }
    }
    let mut errors: Vec<Option<TaskError>> = vec![None; batch.frames.len()];
    for (index, _) in &tasks {
        errors[*index] = Some(not_reached());
    }
    ask_each(
        tasks,
        "metering",
        workforce,
        stop,
        &*watcher,
        &mut |index, outcome| {
            let frame = &batch.frames[index];
            errors[index] = match outcome {
                Ok(Answer::Facts(facts)) => {
                    let light = FrameLight {
                        facts: *facts,
                        reading: None,
                        colour: Default::default(),
                        is_reference: false,
                    };
                    lights[index] = Some((light, Vec::new()));
                    None
                }
                Ok(Answer::Metered(metered)) => {
                    readings.keep(&frame.real, &metered);
                    lights[index] = Some(light_and_notes(*metered));
                    None
                }
                Ok(_) => Some(unexpected(&frame.shown)),
                Err(error) => Some(error),
            };
        },
    );
    readings.finish();
    for remark in readings.take_remarks() {
        watcher.say(&remark);
    }
    for (index, error) in errors.into_iter().enumerate() {
        if let Some(error) = error {
            watcher.frame(&FrameOutcome {
                frame: batch.frames[index].shown.clone(),
                picture: batch.picture_path(&batch.frames[index]),
                fate: Fate::of_error(error),
                outside: None,
                notes: Vec::new(),
            });
        }
    }
    lights
}

fn light_and_notes(metered: Metered) -> (FrameLight, Vec<String>) {
    let light = FrameLight {
        facts: metered.facts,
        reading: Some(metered.reading),
        colour: metered.colour,
        is_reference: false,
    };
    (light, metered.notes)
}
