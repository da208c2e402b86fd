//! Shop rules: decisions of the shop with what they were taken on, whether jobs
//! keep them, and what changed after.

pub mod answers;
pub mod ask;
pub mod decide;
pub mod http;
pub mod http_job;
pub mod http_settle;
pub mod model;
pub mod on_job;
pub mod page;
pub mod page_act;
pub mod page_new;
pub mod page_one;
pub mod settle;
pub mod told;
pub mod week;
