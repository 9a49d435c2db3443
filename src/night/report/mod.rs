//! The morning's report as data: what the night did and did not, for a page and for programs. No wording.

mod account;
mod gather;
mod small;

pub use self::account::{ShowAccount, SolvedBy};
pub use self::gather::{FolderReport, Report, ShowReport};
pub use self::small::small_pictures;
