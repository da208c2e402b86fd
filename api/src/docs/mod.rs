//! The reference for people who write programs: made from the API document,
//! the route table and the examples.

mod example;
mod kind;
mod model;
pub mod page;
