//! The standing figures: five questions that are asked of all work at any time,
//! of one shop or of a whole group at once. What is known of a job as soon as it
//! is entered stands beside its row (`entry.rs`), so that a tally only counts.
//!
//! Figures are those of the reports on comebacks, reuse, paths and labor; they
//! are counted here into dense columns, and a test holds them to be equal.

mod entry;
mod estimate;
mod pool;
mod report;
mod tally;

pub use report::{
    CohortLine, EfficiencyLine, OrderLine, PartShares, ShareLine, Shares, ShopOfStanding, ShopSeen,
    Standing, StandingHead, StandingReport, standing,
};

pub(crate) use entry::Entry;
