//! The house: the group's shops, the record they are kept in, and its copies.

pub mod model;
pub mod page;
