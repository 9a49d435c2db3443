//! Whether stores that were away answer again: asked on a line of its own, while the work goes on. A question to a store that
//! is away takes many seconds, and whoever waited for it would keep everything else waiting.

use super::line::{Answer, Line, Opens};
use crate::base::progress::StopWish;
use crate::night::depot::{Address, Depot, DepotError};
use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::mpsc::TryRecvError;

/// What is known of a store.
#[derive(Debug)]
enum Inquiry {
    UnderWay(Answer<()>),
    /// Whether it answers: for this look only.
    Answered(bool),
}

/// Questions by bucket: of many shows that wait for one, the first asks for all.
#[derive(Debug)]
pub(super) struct Inquiries {
    line: Line,
    of: HashMap<String, Inquiry>,
}

impl Inquiries {
    pub(super) fn new(stop: StopWish, opens: Opens) -> Self {
        Self {
            line: Line::new(stop, opens),
            of: HashMap::new(),
        }
    }

    /// Begins a look: answers of the last one are forgotten, and those that came since are known.
    pub(super) fn begin(&mut self) {
        let Self { line, of } = self;
        of.retain(|_, inquiry| match inquiry {
            Inquiry::Answered(_) => false,
            Inquiry::UnderWay(answer) => {
                match answer.try_recv() {
                    Ok(answer) => *inquiry = Inquiry::Answered(answer.is_ok()),
                    Err(TryRecvError::Empty) => {}
                    Err(TryRecvError::Disconnected) => {
                        // An error like any other.
                        let _ = line.ended();
                        *inquiry = Inquiry::Answered(false);
                    }
                }
                true
            }
        });
    }

    /// Whether a store is known to answer; if nothing is, it is asked.
    pub(super) fn answers(&mut self, address: &Path) -> bool {
        let Ok(Address::Stored { bucket, .. }) = Address::of(address) else {
            return false;
        };
        match self.of.get(&bucket) {
            Some(Inquiry::Answered(answers)) => *answers,
            Some(Inquiry::UnderWay(_)) => false,
            None => {
                let (of_object, of_bucket) = (
                    address.to_path_buf(),
                    PathBuf::from(format!("s3://{bucket}")),
                );
                let sent = self
                    .line
                    .send(move |depot| does_answer(depot, &of_object, &of_bucket));
                if let Ok(answer) = sent {
                    self.of.insert(bucket, Inquiry::UnderWay(answer));
                }
                false
            }
        }
    }
}

/// An object that is not there is an answer, unless its bucket is not there either.
fn does_answer(depot: &mut Depot, object: &Path, bucket: &Path) -> Result<(), DepotError> {
    match depot.outline(object) {
        Ok(_) => Ok(()),
        Err(DepotError::Absent { .. }) => match depot.lets_in(bucket) {
            // Who may fetch need not be one who may list.
            Ok(()) | Err(DepotError::Refused { .. } | DepotError::NotNamed { .. }) => Ok(()),
            Err(error) => Err(error),
        },
        Err(error) => Err(error),
    }
}
