//! How the project is put together: read from its own files.

mod copy;
mod document;
mod imports;
pub mod migrations;
mod promises;
mod source;
mod top;
mod vendored;
