//! Check plans: how the shop checks a symptom, version by version.

pub mod change;
pub mod evidence;
pub mod facts;
pub mod http;
pub mod job;
pub mod model;
pub mod page_job;
pub mod propose;
pub mod sound;
pub mod starting;
pub mod step;
pub mod walk;
