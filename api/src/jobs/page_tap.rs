//! One-tap forms of the job's page: the cause, and what was taken back.

use analytics::words::CauseState;

use super::http::money;
use super::page_act::{Done, Said, act, nothing};
use super::patch::{self, JobPatch};
use super::{proofs, put_back, writable};
use crate::domain::ids::{CheckId, JobId, OperationId, PartUseId, ProofId};
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader};

/// A cause, how it was confirmed, or both. Saying how is what confirms it, and
/// another cause has not been confirmed yet.
fn cause(fields: &Fields) -> Result<JobPatch, Problem> {
    let mut read = Reader::new(fields);
    if !fields.holds("cause") {
        read.require("cause_how", "say how the cause was confirmed");
    }
    let named = fields.holds("cause").then(|| read.text("cause"));
    let how = read.text("cause_how");
    let state = if how.is_some() { CauseState::Confirmed } else { CauseState::Suspected };
    let none = named.as_ref().is_some_and(Option::is_none);
    let patch = JobPatch {
        cause_state: Some((!none).then_some(state)),
        cause_how: Some(how.filter(|_| !none)),
        cause_position: fields.holds("cause_position").then(|| read.text("cause_position")),
        cause: named,
        ..JobPatch::default()
    };
    read.finish(Some(patch))
}

/// Names the cause while the job is open. A tap is a word said now: it stands on
/// whatever the job says at the moment.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn name_cause(ctx: Ctx, address: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    // Taking back goes by what was shown then; a tap by what stands now.
    let shown: Option<i32> = form.value.text("version").and_then(|text| text.parse().ok());
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, wanted: &JobPatch| {
        let now = writable::unfinished(write, job)?.version;
        patch::change(write, job, shown.unwrap_or(now), wanted)
    };
    act(ctx, address.0.1, form, ("cause", Said::Word("cause")), cause, work).await
}

/// Puts a check back that was taken back.
///
/// # Errors
/// As there.
pub async fn return_check(
    ctx: Ctx,
    address: Parts<(String, JobId, CheckId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let work =
        move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| put_back::check(write, job, &id);
    act(ctx, job, form, ("checks", Said::Made("check")), nothing, work).await
}

/// Puts a part use back that was taken back.
///
/// # Errors
/// As there.
pub async fn return_part(
    ctx: Ctx,
    address: Parts<(String, JobId, PartUseId)>,
    form: Form<Fields>,
) -> Done {
    let (Parts((_, job, id)), rights) = (address, money(&ctx));
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| {
        put_back::part(write, job, &id, rights)
    };
    act(ctx, job, form, ("parts", Said::Made("part")), nothing, work).await
}

/// Puts an operation back that was taken back.
///
/// # Errors
/// As there.
pub async fn return_operation(
    ctx: Ctx,
    address: Parts<(String, JobId, OperationId)>,
    form: Form<Fields>,
) -> Done {
    let (Parts((_, job, id)), rights) = (address, money(&ctx));
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| {
        put_back::operation(write, job, &id, rights)
    };
    act(ctx, job, form, ("operations", Said::Made("operation")), nothing, work).await
}

/// Takes a proof back.
///
/// # Errors
/// As there.
pub async fn remove_proof(
    ctx: Ctx,
    address: Parts<(String, JobId, ProofId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let work =
        move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| proofs::remove(write, job, &id);
    act(ctx, job, form, ("proofs", Said::Word("proof-taken")), nothing, work).await
}
