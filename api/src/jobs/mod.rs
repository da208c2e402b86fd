//! Jobs: one complaint (or maintenance, preparation, recall item) each, with
//! the work on it. The job is the unit of every rate.

pub mod brief;
pub mod cautions;
pub mod checks;
pub mod close;
pub mod http;
pub mod http_work;
pub mod labor;
pub mod model;
pub mod operations;
pub mod page;
pub mod page_forms;
pub mod parts;
pub mod proofs;
pub mod view;
pub mod whole;
