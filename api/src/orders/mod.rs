//! Repair orders: one visit of a vehicle each, numbered without gaps.

pub mod authorize;
pub mod change;
pub mod charges;
pub mod earlier;
pub mod erase;
pub mod http;
pub mod http_batch;
pub mod look_up;
pub mod model;
pub mod odometer;
pub mod page_forms;
pub mod page_front;
pub mod page_job;
pub mod page_order;
pub mod page_paper;
pub mod page_today;
pub mod page_write_up;
pub mod planned;
pub mod readings;
pub mod view;
pub mod void;
pub mod waiting;
pub mod write_up;
