//! Shops and their settings, and the change numbers that every write to a shop
//! takes.

pub mod http;
pub mod http_parts;
pub mod model;
pub mod page;
pub mod page_parts;
pub mod part_policy;
pub mod sound;
pub mod write;
