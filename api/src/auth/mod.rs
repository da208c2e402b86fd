//! Who is asking: passwords, sessions of pages and programs, named tokens,
//! PINs on the shop's tablets.

pub mod cookie;
pub mod cost;
pub mod device;
pub mod door;
pub mod first;
pub mod http;
pub mod http_own;
pub mod http_tablet;
pub mod http_token;
pub mod known;
pub mod own;
pub mod page;
pub mod page_access;
pub mod page_first;
pub mod page_own;
pub mod page_tablet;
pub mod password;
pub mod pin;
pub mod reach;
pub mod session;
pub mod sessions;
pub mod tablet;
pub mod throttle;
pub mod token;
