//! Enquiries into comebacks, and the corrective actions that come of them.

pub mod action;
pub mod action_write;
pub mod closure;
pub mod findings;
pub mod http;
pub mod http_action;
pub mod in_use;
pub mod model;
pub mod page;
pub mod page_action;
pub mod quarter;
pub mod reason;
pub mod trend;
pub mod view;
pub mod week;
