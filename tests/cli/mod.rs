//! The program on the command line.

mod arguments;
mod import;
mod stories;
