//! Numbers by which the queue knows its things. Each kind is a type of its own, so that they cannot be mixed up.

use serde::{Deserialize, Serialize};

/// Makes a number's type.
macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub struct $name(pub i64);
    };
}

id!(
    /// Of a show.
    ShowId
);
id!(
    /// Of an output wish of a show.
    WishId
);
id!(
    /// Of a job: one frame of one show.
    JobId
);
id!(
    /// Of an output: one picture of one job.
    OutputId
);
id!(
    /// Of a run: one `night run`.
    RunId
);
