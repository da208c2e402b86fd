//! Check plans: how the shop checks a symptom, version by version.

pub mod change;
pub mod decide;
pub mod evidence;
pub mod facts;
pub mod http;
pub mod job;
pub mod model;
pub mod named;
pub mod page;
pub mod page_act;
pub mod page_form;
pub mod page_job;
pub mod page_list;
pub mod page_proposal;
pub mod page_week;
pub mod propose;
pub mod skipped;
pub mod sound;
pub mod starting;
pub mod step;
pub mod walk;
