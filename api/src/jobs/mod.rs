//! Jobs: one complaint (or maintenance, preparation, recall item) each, with
//! the work on it. The job is the unit of every rate.

pub mod brief;
pub mod cautions;
pub mod checks;
pub mod cleaned;
pub mod cleanings;
pub mod close;
pub mod correct;
pub mod crew;
pub mod http;
pub mod http_change;
pub mod http_labor;
pub mod http_people;
pub mod http_sublets;
pub mod http_work;
pub mod labor;
pub mod model;
pub mod operations;
pub mod page;
pub mod page_correct;
pub mod page_crew;
pub mod page_forms;
pub mod page_labor;
pub mod part_patch;
pub mod parts;
pub mod patch;
pub mod people;
pub mod proofs;
pub mod reach;
pub mod stretch;
pub mod sublets;
pub mod view;
pub mod view_lines;
pub mod waits;
pub mod whole;
pub mod writable;
