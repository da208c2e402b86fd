//! Calls some days after the hand-over.

pub mod due;
pub mod http;
pub mod model;
pub mod page;
pub mod summary;
