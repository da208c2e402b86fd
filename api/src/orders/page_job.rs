//! A job as it is written up on a page, alone or with its order: what there is
//! to choose, and how the form is read.

use analytics::words::JobKind;
use chrono::{Duration, NaiveTime};

use super::http::may_add_job;
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, PersonId};
use crate::domain::role::Role;
use crate::jobs::model::NewJob;
use crate::jobs::view::Words;
use crate::people::model as people;
use crate::problem::Problem;
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader};
use crate::web::words::{Pick, PickGroup, Shown};

/// How customers agree to an amount, most often.
const WAYS: &[&str] = &["in writing", "in person", "by telephone", "by message"];
/// Times of day that customers come for their vehicle.
const HOURS: &[u32] = &[12, 17];
/// Days ahead of which such a time is offered.
const DAYS_AHEAD: i64 = 2;
/// A promise that is nearer is none to choose.
const LEAST_MINUTES: i64 = 60;

/// The choices of a job that is written up.
pub struct JobPicks {
    pub kinds: Vec<Pick>,
    pub symptoms: Vec<PickGroup>,
    pub whens: Vec<Pick>,
    pub technicians: Vec<Pick>,
}

impl JobPicks {
    /// From the shop's lists and people.
    ///
    /// # Errors
    /// Where the database does not answer.
    pub fn load(conn: &mut Conn, words: &Words) -> Answer<Self> {
        let technicians = people::of_shop(conn, words.shop.id)?
            .into_iter()
            .filter(|(person, role)| person.active && *role == Role::Technician)
            .map(|(person, _)| Pick::new(person.id.as_str(), person.name))
            .collect();
        Ok(Self {
            kinds: JobKind::picks(),
            symptoms: words.lists.symptoms(),
            whens: words.lists.picks("when"),
            technicians,
        })
    }
}

/// What a form for a job holds before anybody has typed.
#[must_use]
pub fn blank() -> Fields {
    Fields::of(&[("kind", JobKind::Complaint.as_str().to_owned())])
}

/// Reads a job as written up.
///
/// # Errors
/// Forbidden, where somebody links an earlier job who may not.
pub fn new_job(ctx: &Ctx, read: &mut Reader<'_>) -> Result<NewJob, Problem> {
    let kind = read.word("kind", JobKind::parse);
    // A program may send the symptom alone; at the counter the customer is there to ask.
    if kind.is_none_or(|kind| kind == JobKind::Complaint) {
        read.require("complaint", "write the complaint in the customer's words");
    }
    let new = NewJob {
        kind,
        symptom: read.text("symptom"),
        complaint: read.text("complaint"),
        happens_when: read.all("happens_when"),
        lead_id: read.word("lead_id", PersonId::parse),
        bay: read.text("bay"),
        in_before_job_id: read.word("in_before_job_id", JobId::parse),
        second_visit_of_job_id: read.word("second_visit_of_job_id", JobId::parse),
    };
    may_add_job(ctx, &new)?;
    Ok(new)
}

/// Times to promise, as the form wants them: on the shop's wall.
#[must_use]
pub fn promises(words: &Words) -> Vec<Pick> {
    let zone = words.shop.zone();
    let today = zone.day(words.now);
    let mut picks = Vec::new();
    for ahead in 0..=DAYS_AHEAD {
        for hour in HOURS {
            let day = today + Duration::days(ahead);
            let Some(local) = NaiveTime::from_hms_opt(*hour, 0, 0).map(|time| day.and_time(time))
            else {
                continue;
            };
            let soon = |at: &_| words.now.minutes_since(*at) <= -LEAST_MINUTES;
            if let Some(at) = zone.instant(local).filter(soon) {
                let value = local.format("%Y-%m-%dT%H:%M").to_string();
                picks.push(Pick::new(value, words.moment(at)));
            }
        }
    }
    picks
}

/// Ways to agree to an amount, as choices.
#[must_use]
pub fn ways_to_agree() -> Vec<Pick> {
    WAYS.iter().map(|way| Pick::new(*way, *way)).collect()
}

/// What was typed, else what was chosen beside it.
#[must_use]
pub fn typed_or_picked(fields: &Fields, name: &str, pick: &str) -> Option<String> {
    fields.text(name).or_else(|| fields.text(pick))
}
