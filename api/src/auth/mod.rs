//! Who is asking: passwords, sessions of pages, bearer tokens of programs.

pub mod http;
pub mod page;
pub mod password;
pub mod session;
pub mod throttle;
