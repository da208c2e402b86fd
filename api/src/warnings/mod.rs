//! Early warnings: groups of late jobs that came back too often, and those that
//! nobody needs to hear of any more.

pub mod decide;
pub mod http;
pub mod page;
pub mod planned;
pub mod silence;
