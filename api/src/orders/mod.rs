//! Repair orders: one visit of a vehicle each, numbered without gaps.

pub mod http;
pub mod http_batch;
pub mod model;
pub mod page;
pub mod page_front;
pub mod page_write_up;
