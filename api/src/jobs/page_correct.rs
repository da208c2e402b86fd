//! The forms for a job that has ended: corrected, or reopened.

use analytics::words::{CauseState, Outcome};

use super::http::money;
use super::page_act::{Done, Said, act};
use super::patch::{self, JobPatch};
use super::whole::{self, WholeJob};
use crate::domain::ids::{JobId, PersonId};
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader};

/// The form as the job stands.
#[must_use]
pub fn blank(whole: &WholeJob) -> Fields {
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    let job = &whole.job;
    Fields::of(&[
        ("lead_id", job.lead_id.as_ref().map(ToString::to_string).unwrap_or_default()),
        ("outcome", job.outcome.map(|word| word.0.as_str().to_owned()).unwrap_or_default()),
        ("symptom", text(&job.symptom)),
        ("cause", text(&job.cause)),
        ("cause_state", job.cause_state.map(|word| word.0.as_str().to_owned()).unwrap_or_default()),
        ("cause_how", text(&job.cause_how)),
        ("cause_position", text(&job.cause_position)),
        ("correction", text(&job.correction)),
    ])
}

fn correction(fields: &Fields) -> Result<(i32, JobPatch), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let cause = read.text("cause");
    let patch = JobPatch {
        outcome: read.owed("outcome", Outcome::parse).map(Some),
        symptom: Some(read.text("symptom")),
        cause_state: cause.as_ref().map(|_| read.word("cause_state", CauseState::parse)),
        cause: Some(cause),
        cause_how: Some(read.text("cause_how")),
        cause_position: Some(read.text("cause_position")),
        correction: Some(read.text("correction")),
        lead_id: fields.holds("lead_id").then(|| read.word("lead_id", PersonId::parse)),
        ..JobPatch::default()
    };
    read.finish(seen.map(|seen| (seen, patch)))
}

/// Corrects a job that has ended.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn correct(ctx: Ctx, address: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (seen, wanted): &(i32, JobPatch)| {
        patch::change(write, job, *seen, wanted)
    };
    act(ctx, address.0.1, form, ("correct", Said::Word("corrected")), correction, work).await
}

fn version(fields: &Fields) -> Result<i32, Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    read.finish(seen)
}

/// Reopens a job before the vehicle is handed over.
///
/// # Errors
/// As there.
pub async fn reopen(ctx: Ctx, address: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    let rights = money(&ctx);
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, seen: &i32| {
        whole::reopen(write, job, *seen, rights)
    };
    act(ctx, address.0.1, form, ("reopen", Said::Word("reopened")), version, work).await
}
