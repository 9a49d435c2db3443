//! The worker's side: a line in, the work, a line out, until there are no more lines.
//!
//! What decoders print goes nowhere near the answers: standard output is moved aside for them first, and whatever is
//! printed to it afterwards joins standard error. When the supervisor dies, the worker's tasks end; a thread that only
//! reads them notices that in the middle of a task too, and ends the process.

use super::hands::Hands;
use super::limits::limit_this_process;
use super::task::{Answer, Cause, Task, TaskError};
use std::ffi::OsString;
use std::io::{BufRead, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;
use std::sync::mpsc::channel;

/// Exit code of a worker that was started wrongly or cannot limit itself.
const CANNOT_WORK: u8 = 70;

/// Works until the supervisor has no more tasks. `arguments` are those after [`super::WORKER_ARGUMENT`]: the memory limit
/// in bytes.
#[must_use]
pub fn run(mut arguments: impl Iterator<Item = OsString>) -> ExitCode {
    let memory_bytes = arguments
        .next()
        .and_then(|text| text.to_str().and_then(|text| text.parse::<u64>().ok()));
    let Some(memory_bytes) = memory_bytes else {
        return ExitCode::from(CANNOT_WORK);
    };
    die_with_the_supervisor();
    let Ok(mut answers) = move_answers_aside() else {
        return ExitCode::from(CANNOT_WORK);
    };
    if limit_this_process(memory_bytes).is_err() {
        return ExitCode::from(CANNOT_WORK);
    }
    let (sender, tasks) = channel::<Vec<u8>>();
    std::thread::spawn(move || {
        let mut input = std::io::stdin().lock();
        loop {
            let mut line = Vec::new();
            match input.read_until(b'\n', &mut line) {
                Ok(1..) => {
                    if sender.send(line).is_err() {
                        return;
                    }
                }
                // No supervisor, no work: also in the middle of a task, whose unfinished file the next run removes.
                _ => std::process::exit(0),
            }
        }
    });
    let mut hands = Hands::default();
    for line in tasks {
        let outcome = match serde_json::from_slice::<Task>(&line) {
            Ok(task) => perform(&mut hands, &task),
            Err(error) => Err(TaskError {
                cause: Cause::Defect,
                reason: format!("a task that cannot be read: {error}"),
                next_step: Some("report it".to_owned()),
            }),
        };
        let Ok(mut line) = serde_json::to_vec(&outcome) else {
            return ExitCode::from(CANNOT_WORK);
        };
        line.push(b'\n');
        if answers.write_all(&line).is_err() {
            break;
        }
    }
    ExitCode::SUCCESS
}

/// Does a task; what panics inside becomes an error, and the panic's text stays in the worker's standard error.
fn perform(hands: &mut Hands, task: &Task) -> Result<Answer, TaskError> {
    catch_unwind(AssertUnwindSafe(|| hands.perform(task))).unwrap_or_else(|_| {
        Err(TaskError {
            cause: Cause::Defect,
            reason: format!(
                "{}: the work stopped inside itself",
                task.frame().display()
            ),
            next_step: Some(
                "the file is probably damaged; copy it from the card again, and report it if it opens elsewhere".to_owned(),
            ),
        })
    })
}

#[cfg(unix)]
fn move_answers_aside() -> std::io::Result<std::fs::File> {
    let aside = rustix::io::dup(std::io::stdout())?;
    rustix::stdio::dup2_stdout(std::io::stderr())?;
    Ok(std::fs::File::from(aside))
}

#[cfg(not(unix))]
fn move_answers_aside() -> std::io::Result<std::io::Stdout> {
    Ok(std::io::stdout())
}

fn die_with_the_supervisor() {
    #[cfg(target_os = "linux")]
    // Where this is refused the end of the tasks does the same a little later.
    let _ = rustix::process::set_parent_process_death_signal(Some(rustix::process::Signal::KILL));
}
