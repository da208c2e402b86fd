//! The forms of the job's page.

use analytics::words::{
    Activity, CauseState, Disposition, Finding, Outcome, PartRole, Payer, Serviceable, WorkedAs,
};

use super::checks::{self, NewCheck};
use super::close::Closing;
use super::http::money;
use super::labor::{self, NewLabor};
use super::minutes;
use super::operations::{self, NewOperation};
use super::page_act::{Done, Said, act, nothing};
use super::parts::{self, MoneyRights, NewPartUse};
use super::patch::{self, JobPatch};
use super::proofs::{self, NewProof};
use super::{finish, writable};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{CheckId, JobId, LaborId, OperationId, PartUseId, PersonId};
use crate::domain::money::Currency;
use crate::domain::role::Permission;
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader};

/// A check, and whether and since when its minutes are measured.
fn check(fields: &Fields) -> Result<(NewCheck, bool, Option<UtcStamp>), Problem> {
    let mut read = Reader::new(fields);
    let new = NewCheck {
        code: read.text("code").unwrap_or_default(),
        position: read.text("position"),
        finding: read.owed("finding", Finding::parse),
        not_done_reason: read.text("not_done_reason"),
        minutes: read.whole("minutes"),
        reading: read.decimal("reading"),
        unit: read.text("unit"),
        low_limit: read.decimal("low_limit"),
        high_limit: read.decimal("high_limit"),
        limit_source: read.text("limit_source"),
        typed_at_close: read.text("typed_at_close").is_some(),
    };
    let measured = new.minutes.is_none() && fields.holds("measured");
    read.finish(Some((new, measured, tapped(fields))))
}

/// Adds a check.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn add_check(ctx: Ctx, parts: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    type New = (NewCheck, bool, Option<UtcStamp>);
    let work = |write: &mut ShopWrite<'_>, job: &JobId, (new, measured, tapped): &New| {
        let mut new = new.clone();
        if *measured {
            new.minutes = minutes::measured(write, job, *tapped)?;
        }
        checks::add(write, job, &new)
    };
    act(ctx, parts.0.1, form, ("checks", Said::Made("check")), check, work).await
}

/// Takes a check back.
///
/// # Errors
/// As there.
pub async fn remove_check(
    ctx: Ctx,
    address: Parts<(String, JobId, CheckId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let said = Said::Line("check-taken", id.to_string());
    let work =
        move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| checks::remove(write, job, &id);
    act(ctx, job, form, ("checks", said), nothing, work).await
}

fn part(fields: &Fields, money: &Currency) -> Result<NewPartUse, Problem> {
    let mut read = Reader::new(fields);
    let disposition = read.owed("disposition", Disposition::parse);
    let role = read.word("role", PartRole::parse);
    let new = disposition.map(|disposition| NewPartUse {
        part_no: read.text("part_no"),
        name: read.text("name").unwrap_or_default(),
        position: read.text("position"),
        quantity_hundredths: read.hundredths("quantity_hundredths"),
        disposition,
        role,
        serviceable: read.word("serviceable", Serviceable::parse),
        supplier: read.text("supplier"),
        lot: read.text("lot"),
        unit_cost_minor: read.amount("unit_cost_minor", money),
        unit_price_minor: read.amount("unit_price_minor", money),
        bench_reading: read.decimal("bench_reading"),
        bench_unit: read.text("bench_unit"),
        again_reason: read.text("again_reason"),
    });
    read.finish(new)
}

/// One tap says both: what it was held as, and what was done with it.
fn picked(form: Form<Fields>) -> Form<Fields> {
    let pick = form.value.text("pick").unwrap_or_default();
    match pick.split_once(' ') {
        Some((role, done)) => {
            let value = form.value.with("role", role).with("disposition", done);
            Form { value, ..form }
        }
        None => form,
    }
}

/// Adds a part use.
///
/// # Errors
/// As there.
pub async fn add_part(ctx: Ctx, address: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    let form = picked(form);
    let (rights, currency) = (money(&ctx), ctx.shop()?.money());
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, new: &NewPartUse| {
        parts::add(write, job, new, rights)
    };
    let at = ("parts", Said::Made("part"));
    act(ctx, address.0.1, form, at, |fields| part(fields, &currency), work).await
}

/// Takes a part use back.
///
/// # Errors
/// As there.
pub async fn remove_part(
    ctx: Ctx,
    address: Parts<(String, JobId, PartUseId)>,
    form: Form<Fields>,
) -> Done {
    let (Parts((_, job, id)), rights) = (address, money(&ctx));
    let said = Said::Line("part-taken", id.to_string());
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| {
        parts::remove(write, job, &id, rights)
    };
    act(ctx, job, form, ("parts", said), nothing, work).await
}

fn operation(fields: &Fields, money: &Currency) -> Result<NewOperation, Problem> {
    let mut read = Reader::new(fields);
    let new = NewOperation {
        code: read.text("code").unwrap_or_default(),
        flat_rate_hundredths: read.hundredths("flat_rate_hundredths"),
        billed_hundredths: read.hundredths("billed_hundredths"),
        labor_amount_minor: read.amount("labor_amount_minor", money),
        payer: read.word("payer", Payer::parse),
    };
    read.finish(Some(new))
}

/// Adds an operation.
///
/// # Errors
/// As there.
pub async fn add_operation(ctx: Ctx, address: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    let (rights, currency) = (money(&ctx), ctx.shop()?.money());
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, new: &NewOperation| {
        operations::add(write, job, new, rights)
    };
    let at = ("operations", Said::Made("operation"));
    act(ctx, address.0.1, form, at, |fields| operation(fields, &currency), work).await
}

/// Takes an operation back.
///
/// # Errors
/// As there.
pub async fn remove_operation(
    ctx: Ctx,
    address: Parts<(String, JobId, OperationId)>,
    form: Form<Fields>,
) -> Done {
    let (Parts((_, job, id)), rights) = (address, money(&ctx));
    let said = Said::Line("operation-taken", id.to_string());
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| {
        operations::remove(write, job, &id, rights)
    };
    act(ctx, job, form, ("operations", said), nothing, work).await
}

/// When it was tapped, by the browser: entries that were kept there come late.
pub(super) fn tapped(fields: &Fields) -> Option<UtcStamp> {
    fields.text("tapped_at").and_then(|text| UtcStamp::parse(&text))
}

fn labor_start(fields: &Fields, now: UtcStamp) -> Result<NewLabor, Problem> {
    let mut read = Reader::new(fields);
    let new = NewLabor {
        person_id: read.word("person_id", PersonId::parse),
        activity: read.owed("activity", Activity::parse),
        worked_as: read.word("worked_as", WorkedAs::parse),
        supervisor_id: read.word("supervisor_id", PersonId::parse),
        started_at: minutes::late(tapped(fields), now),
        ended_at: None,
    };
    read.finish(Some(new))
}

/// Starts labor: the viewer's own, or, by adviser and manager, somebody's. What
/// runs of theirs ends: one tap changes over.
///
/// # Errors
/// As there.
pub async fn start_labor(ctx: Ctx, address: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    if form.value.text("person_id").is_some_and(|id| id != ctx.asker().person.id.as_str()) {
        ctx.demand(Permission::WriteFront)?;
    }
    let now = ctx.now;
    let parse = |fields: &Fields| labor_start(fields, now);
    act(ctx, address.0.1, form, ("labor", Said::Made("started")), parse, labor::switch).await
}

/// Stops labor.
///
/// # Errors
/// As there.
pub async fn stop_labor(
    ctx: Ctx,
    address: Parts<(String, JobId, LaborId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let anybody = ctx.may(Permission::WriteFront);
    let at = minutes::late(tapped(&form.value), ctx.now);
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| {
        labor::stop(write, job, &id, anybody, at)
    };
    act(ctx, job, form, ("labor", Said::Made("stopped")), nothing, work).await
}

fn proof(fields: &Fields) -> Result<NewProof, Problem> {
    let mut read = Reader::new(fields);
    let passed = read.owed("passed", |text| match text {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    });
    let how = read.owed("how", |text| proofs::WAYS.contains(&text).then(|| text.to_owned()));
    let new = passed.zip(how).map(|(passed, how)| NewProof {
        how,
        passed,
        note: read.text("note"),
        reading: read.decimal("reading"),
        unit: read.text("unit"),
    });
    read.finish(new)
}

/// Adds a proof.
///
/// # Errors
/// As there.
pub async fn add_proof(ctx: Ctx, address: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    act(ctx, address.0.1, form, ("proofs", Said::Made("proof")), proof, proofs::add).await
}

fn closing(fields: &Fields) -> Result<(i32, Closing), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let outcome = read.owed("outcome", Outcome::parse);
    let (cause, cause_how) = (read.text("cause"), read.text("cause_how"));
    let read_all = seen.zip(outcome).map(|(seen, outcome)| {
        let closing = Closing {
            outcome,
            symptom: read.text("symptom"),
            // Saying how is what confirms a cause.
            cause_state: match (&cause, &cause_how) {
                (None, _) => None,
                (Some(_), None) => Some(CauseState::Suspected),
                (Some(_), Some(_)) => Some(CauseState::Confirmed),
            },
            cause,
            cause_how,
            cause_position: read.text("cause_position"),
            correction: read.text("correction").or_else(|| read.text("correction_pick")),
            ..Closing::bare(outcome)
        };
        (seen, closing)
    });
    read.finish(read_all)
}

/// Closes the job; the own clock, where it runs on it, ends with it.
///
/// # Errors
/// As there.
pub async fn close(ctx: Ctx, address: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    let rights: MoneyRights = money(&ctx);
    let at = minutes::late(tapped(&form.value), ctx.now).unwrap_or(ctx.now);
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (seen, closing): &(i32, Closing)| {
        let target = writable::unfinished(write, job)?;
        labor::end_own(write, &target, at)?;
        finish::close(write, job, *seen, closing, rights)
    };
    act(ctx, address.0.1, form, ("close", Said::Word("closed")), closing, work).await
}

/// Who leads, where, and what it is taken to be.
fn plan_of(fields: &Fields) -> Result<(i32, JobPatch), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let patch = JobPatch {
        symptom: Some(read.text("symptom")),
        lead_id: Some(read.word("lead_id", PersonId::parse)),
        bay: Some(read.text("bay")),
        ..JobPatch::default()
    };
    read.finish(seen.map(|seen| (seen, patch)))
}

/// Changes the plan of the job.
///
/// # Errors
/// As there.
pub async fn plan(ctx: Ctx, address: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (seen, wanted): &(i32, JobPatch)| {
        patch::change(write, job, *seen, wanted)
    };
    act(ctx, address.0.1, form, ("plan", Said::Word("plan")), plan_of, work).await
}
