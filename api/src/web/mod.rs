//! What every handler stands on: who asks and where, bodies and parameters
//! parsed with pointers to their faults, answers with their headers.

pub mod answer;
pub mod asked;
pub mod assets;
pub mod body;
pub mod client;
pub mod csv;
pub mod ctx;
pub mod docs;
pub mod edge;
pub mod flight;
pub mod form;
pub mod menu;
pub mod notice;
pub mod page;
pub mod plain;
mod reply;
pub mod schema;
pub mod words;
