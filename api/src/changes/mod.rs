//! Who changed what, when, before and after.

pub mod differ;
pub mod fields;
pub mod http;
pub mod model;
pub mod page;
pub mod query;
pub mod told;
