//! The lists of codes that a shop keeps: symptoms, causes, checks and so on.

pub mod change;
pub mod http;
pub mod lists;
pub mod merge;
pub mod model;
pub mod page;
pub mod page_forms;
pub mod sources;
pub mod starting;
pub mod uses;
mod whens;
