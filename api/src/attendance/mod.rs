//! Attendance: how long people were there for work, a line a person and day.

pub mod day;
pub mod http;
pub mod model;
pub mod page;
