//! The lists of codes that a shop keeps: symptoms, causes, checks and so on.

pub mod http;
pub mod lists;
pub mod model;
pub mod starting;
