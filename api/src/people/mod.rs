//! The people of a group: who they are, which roles they hold where.

pub mod account;
pub mod agent;
pub mod http;
pub mod http_account;
pub mod model;
pub mod page;
pub mod page_account;
pub mod rights;
pub mod roles;
