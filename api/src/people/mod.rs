//! The people of a group: who they are, which roles they hold where.

pub mod http;
pub mod model;
pub mod page;
