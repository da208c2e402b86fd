//! Vehicles: they carry the history across customers.

pub mod http;
pub mod model;
