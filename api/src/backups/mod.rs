//! Backups by schedule: made while the server runs, looked through, and kept closer
//! together the younger they are.

pub mod keep;
pub mod schedule;

pub use schedule::{Backups, Standing};
