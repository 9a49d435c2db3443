//! Fields that several of the night's objects of JSON have alike.

use crate::night::outlook::Counts;
use crate::night::queue::RunId;
use serde_json::{Value, json};

/// How far frames are, and more.
pub(super) fn counted(counts: &Counts, mut more: Value) -> Value {
    let fields = [
        ("frames", counts.frames),
        ("metered", counts.metered),
        ("made", counts.made),
        ("set_aside", counts.set_aside),
    ];
    for (name, count) in fields {
        more[name] = json!(count);
    }
    more
}

/// The same with the share of the work that is done.
pub(super) fn counted_with_share(counts: &Counts, mut more: Value) -> Value {
    more["share"] = json!(counts.share_done());
    counted(counts, more)
}

/// Which run it is, and more. `began`: UTC, milliseconds since 1970.
pub(super) fn of_run(run: RunId, host: &str, process: u32, began: i64, mut more: Value) -> Value {
    more["run"] = json!(run.0);
    more["host"] = json!(host);
    more["process"] = json!(process);
    more["began"] = json!(began);
    more
}
