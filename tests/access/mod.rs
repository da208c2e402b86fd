//! Who may do what: every route, every role, every shop.

mod expected;
mod foreign;
mod forged;
mod looking;
mod matrix;
pub mod routes;
mod walls;
mod ways;
