//! The morning's report as data: what the night did and did not, for a page and for programs. No wording.

mod account;

pub use self::account::{ShowAccount, SolvedBy};
