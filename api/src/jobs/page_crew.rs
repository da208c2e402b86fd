//! The forms of the job's page for people, waits and sublets.

use analytics::words::{Payer, WorkedAs};
use chrono::NaiveDate;

use super::http::money;
use super::model::WAITS;
use super::page_act::{Done, Said, act, nothing};
use super::people::{self, NewJobPerson};
use super::sublets::{self, NewSublet, SubletPatch};
use super::waits::{self, NewWait};
use crate::domain::ids::{JobId, PersonId, SubletId, WaitId};
use crate::domain::money::Currency;
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader};

fn person(fields: &Fields) -> Result<NewJobPerson, Problem> {
    let mut read = Reader::new(fields);
    let person = read.owed("person_id", PersonId::parse);
    let worked_as = read.owed("worked_as", WorkedAs::parse);
    let supervisor_id = read.word("supervisor_id", PersonId::parse);
    let new = person.zip(worked_as).map(|(person_id, worked_as)| NewJobPerson {
        person_id,
        worked_as,
        supervisor_id,
    });
    read.finish(new)
}

/// Puts a person on the job.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn assign(ctx: Ctx, address: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    act(ctx, address.0.1, form, ("people", Said::Word("person")), person, people::assign).await
}

/// Takes a person off the job.
///
/// # Errors
/// As there.
pub async fn unassign(
    ctx: Ctx,
    address: Parts<(String, JobId, PersonId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let work =
        move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| people::unassign(write, job, &id);
    act(ctx, job, form, ("people", Said::Word("person-off")), nothing, work).await
}

fn wait(fields: &Fields) -> Result<NewWait, Problem> {
    let mut read = Reader::new(fields);
    let word = read.owed("waiting_for", |text| WAITS.contains(&text).then(|| text.to_owned()));
    let note = read.text("note");
    let expected_on = read.word("expected_on", |text| text.parse::<NaiveDate>().ok());
    read.finish(word.map(|waiting_for| NewWait { waiting_for, note, expected_on }))
}

/// Starts a wait.
///
/// # Errors
/// As there.
pub async fn start_wait(ctx: Ctx, address: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    let work = |write: &mut ShopWrite<'_>, job: &JobId, new: &NewWait| {
        waits::start(write, job, new.clone())
    };
    act(ctx, address.0.1, form, ("waits", Said::Word("waits")), wait, work).await
}

/// Ends a wait.
///
/// # Errors
/// As there.
pub async fn end_wait(
    ctx: Ctx,
    address: Parts<(String, JobId, WaitId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| waits::end(write, job, &id);
    act(ctx, job, form, ("waits", Said::Word("waits-ended")), nothing, work).await
}

fn day(read: &mut Reader<'_>, name: &str) -> Option<NaiveDate> {
    read.word(name, |text| text.parse::<NaiveDate>().ok())
}

fn sublet(fields: &Fields, money: &Currency) -> Result<NewSublet, Problem> {
    let mut read = Reader::new(fields);
    let new = NewSublet {
        business: read.text("business").unwrap_or_default(),
        work: read.text("work").unwrap_or_default(),
        sent_on: day(&mut read, "sent_on"),
        due_on: day(&mut read, "due_on"),
        back_on: None,
        cost_minor: read.amount("cost_minor", money),
        price_minor: read.amount("price_minor", money),
        payer: read.word("payer", Payer::parse),
    };
    read.finish(Some(new))
}

/// Adds a sublet.
///
/// # Errors
/// As there.
pub async fn add_sublet(ctx: Ctx, address: Parts<(String, JobId)>, form: Form<Fields>) -> Done {
    let (rights, currency) = (money(&ctx), ctx.shop()?.money());
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, new: &NewSublet| {
        sublets::add(write, job, new, rights)
    };
    let at = ("sublets", Said::Word("sublet"));
    act(ctx, address.0.1, form, at, |fields| sublet(fields, &currency), work).await
}

/// When it came back, and the money of it; a field left empty says nothing.
fn returned(fields: &Fields, money: &Currency) -> Result<(i32, SubletPatch), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let patch = SubletPatch {
        back_on: day(&mut read, "back_on").map(Some),
        cost_minor: read.amount("cost_minor", money).map(Some),
        price_minor: read.amount("price_minor", money).map(Some),
        ..SubletPatch::default()
    };
    read.finish(seen.map(|seen| (seen, patch)))
}

/// Says when a sublet came back, and what it cost.
///
/// # Errors
/// As there.
pub async fn change_sublet(
    ctx: Ctx,
    address: Parts<(String, JobId, SubletId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let (rights, currency) = (money(&ctx), ctx.shop()?.money());
    let work =
        move |write: &mut ShopWrite<'_>, job: &JobId, (seen, wanted): &(i32, SubletPatch)| {
            sublets::change(write, job, &id, *seen, (wanted.clone(), rights))
        };
    let at = ("sublets", Said::Word("sublet-changed"));
    act(ctx, job, form, at, |fields| returned(fields, &currency), work).await
}

/// Takes a sublet back.
///
/// # Errors
/// As there.
pub async fn remove_sublet(
    ctx: Ctx,
    address: Parts<(String, JobId, SubletId)>,
    form: Form<Fields>,
) -> Done {
    let (Parts((_, job, id)), rights) = (address, money(&ctx));
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| {
        sublets::remove(write, job, &id, rights)
    };
    act(ctx, job, form, ("sublets", Said::Word("sublet-taken")), nothing, work).await
}
