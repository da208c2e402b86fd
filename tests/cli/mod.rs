//! The program on the command line.

mod arguments;
mod backup;
mod commands;
pub mod copy;
mod erase;
mod import;
mod schedule;
mod sisters;
mod standing;
mod stories;
