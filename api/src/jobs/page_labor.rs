//! The forms that change labor entries on the job's page.

use analytics::words::Activity;

use super::labor_change::{self, LaborPatch};
use super::page_act::{Done, Said, act, nothing};
use crate::domain::ids::{JobId, LaborId};
use crate::domain::role::Permission;
use crate::orders::page_write_up::local_time;
use crate::problem::Problem;
use crate::shops::model::Shop;
use crate::shops::write::ShopWrite;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader};

/// The times as they were shown go with the form: a time shows its minute, and
/// what nobody touched keeps its seconds.
fn times(fields: &Fields, shop: &Shop) -> Result<(i32, LaborPatch), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let mut time = |name: &str, shown: &str| {
        let touched = fields.text(name) != fields.text(shown);
        if touched { read.owed(name, |text| local_time(shop, text)) } else { None }
    };
    let (started_at, ended_at) = (time("started_at", "from_shown"), time("ended_at", "to_shown"));
    let activity = read.word("activity", Activity::parse);
    let patch =
        LaborPatch { activity: activity.map(Some), started_at, ended_at, ..LaborPatch::default() };
    read.finish(seen.map(|seen| (seen, patch)))
}

/// Changes the times of a labor entry.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn change(
    ctx: Ctx,
    address: Parts<(String, JobId, LaborId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let (anybody, shop) = (ctx.may(Permission::WriteFront), ctx.shop()?.clone());
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (seen, patch): &(i32, LaborPatch)| {
        labor_change::change(write, job, &id, *seen, (patch, anybody))
    };
    let at = ("labor", Said::Word("labor-changed"));
    act(ctx, job, form, at, |fields| times(fields, &shop), work).await
}

/// Takes a labor entry back.
///
/// # Errors
/// As there.
pub async fn remove(
    ctx: Ctx,
    address: Parts<(String, JobId, LaborId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let anybody = ctx.may(Permission::WriteFront);
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (): &()| {
        labor_change::remove(write, job, &id, anybody)
    };
    act(ctx, job, form, ("labor", Said::Word("labor-taken")), nothing, work).await
}
