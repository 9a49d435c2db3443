//! One show's batch: which frames there are, what their pictures are called, what is already made, and the three passes.
//!
//! Pass A ([`metering`]) has the workers meter every frame; pass B ([`carry`]) solves the show in this thread in
//! milliseconds, without a pixel; pass C ([`making`]) has the workers make the pictures. Workers answer in any order, so
//! everything after them is keyed by frame: the same bytes come out with one worker or eight. What was read is kept for every
//! later run ([`readings`]); what was made is noted in a [`ledger`] in the output folder after each frame, and a later
//! run goes on from there.

pub mod batch;
pub mod carry;
pub mod eye;
pub mod folder;
pub mod gather;
pub mod ledger;
pub mod making;
pub mod meter;
pub mod metering;
pub mod names;
pub mod outcome;
pub mod readings;
pub mod runs;
pub mod solving;
