//! Enquiries into comebacks, and the corrective actions that come of them.

pub mod action;
