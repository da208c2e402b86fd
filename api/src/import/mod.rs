//! History files: what a shop brings from elsewhere, and what it can take away
//! again.

mod alone;
mod changes;
mod differ;
mod drive;
pub mod export;
mod feed;
pub mod fields;
pub mod files;
pub mod folder;
mod guard;
mod known;
pub mod labels;
mod links;
pub mod map;
mod parse;
mod place_jobs;
mod place_labor;
mod place_lines;
mod place_orders;
pub mod records;
mod rejects;
mod rows;
pub mod sheets;
pub mod source;
mod state;
pub mod store;
pub mod summary;
#[cfg(test)]
mod tests;
pub mod visits;
mod words;

use crate::db::Fault;
use crate::domain::refusal::Refusal;

/// A fault of the record, for people.
#[must_use]
pub fn told(fault: &Fault) -> String {
    match fault {
        Fault::Refused(Refusal::Conflict(why)) => why.clone(),
        Fault::Refused(other) => format!("the record refuses: {other:?}"),
        Fault::Busy => "the record is busy; run the import again".to_owned(),
        Fault::NotReady(how_far) => how_far.clone(),
        Fault::Unavailable(why) => format!("the record did not answer: {why}"),
    }
}
