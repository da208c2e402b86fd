//! The program on the command line.

mod arguments;
mod backup;
mod commands;
mod copy;
mod import;
mod sisters;
mod standing;
mod stories;
