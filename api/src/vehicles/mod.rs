//! Vehicles: they carry the history across customers.

pub mod change;
pub mod http;
pub mod model;
pub mod odometer_reset;
pub mod page;
pub mod view;
pub mod visits;
