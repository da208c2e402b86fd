//! Who may do what: every route, every role, every shop.

mod expected;
mod matrix;
pub mod routes;
