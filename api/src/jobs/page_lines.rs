//! The forms that change one line of a job: a check, a part, an operation.

use analytics::words::{Disposition, Finding, PartRole, Payer, Serviceable};

use super::checks::{self, Check, CheckPatch};
use super::http::money;
use super::operations::{self, Operation, OperationPatch};
use super::page_act::{Done, Said, act};
use super::part_patch::PartUsePatch;
use super::parts::{self, PartUse};
use super::whole::WholeJob;
use crate::domain::decimal::format_hundredths;
use crate::domain::ids::{CheckId, JobId, OperationId, PartUseId};
use crate::domain::money::Currency;
use crate::problem::Problem;
use crate::shops::write::ShopWrite;
use crate::web::body::{Form, Parts};
use crate::web::ctx::Ctx;
use crate::web::form::{Fields, Reader};

/// The lines' forms as the lines stand, by the id of the line.
#[must_use]
pub fn blanks(whole: &WholeJob, money: &Currency) -> Vec<(String, Fields)> {
    let checks = whole.checks.iter().map(|row| (row.id.to_string(), check_fields(row)));
    let parts =
        whole.parts.iter().map(|row| (row.part.id.to_string(), part_fields(&row.part, money)));
    let operations =
        whole.operations.iter().map(|row| (row.id.to_string(), operation_fields(row, money)));
    checks.chain(parts).chain(operations).collect()
}

fn text(value: Option<impl ToString>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

fn check_fields(row: &Check) -> Fields {
    Fields::of(&[
        ("code", row.code.clone()),
        ("position", text(row.position.as_deref())),
        ("finding", text(row.finding.map(|word| word.0.as_str()))),
        ("not_done_reason", text(row.not_done_reason.as_deref())),
        ("minutes", text(row.minutes)),
        ("reading", text(row.reading)),
        ("unit", text(row.unit.as_deref())),
        ("low_limit", text(row.low_limit)),
        ("high_limit", text(row.high_limit)),
        ("limit_source", text(row.limit_source.as_deref())),
    ])
}

fn part_fields(row: &PartUse, money: &Currency) -> Fields {
    let amount = |minor: Option<i64>| text(minor.map(|minor| money.format_amount(minor)));
    Fields::of(&[
        ("name", row.name.clone()),
        ("part_no", text(row.part_no.as_deref())),
        ("position", text(row.position.as_deref())),
        ("quantity_hundredths", format_hundredths(row.quantity_hundredths)),
        ("disposition", row.disposition.0.as_str().to_owned()),
        ("role", text(row.role.map(|word| word.0.as_str()))),
        ("serviceable", text(row.serviceable.map(|word| word.0.as_str()))),
        ("supplier", text(row.supplier.as_deref())),
        ("lot", text(row.lot.as_deref())),
        ("unit_cost_minor", amount(row.unit_cost_minor)),
        ("unit_price_minor", amount(row.unit_price_minor)),
        ("bench_reading", text(row.bench_reading)),
        ("bench_unit", text(row.bench_unit.as_deref())),
        ("again_reason", text(row.again_reason.as_deref())),
    ])
}

fn operation_fields(row: &Operation, money: &Currency) -> Fields {
    Fields::of(&[
        ("code", row.code.clone()),
        ("flat_rate_hundredths", text(row.flat_rate_hundredths.map(format_hundredths))),
        ("billed_hundredths", text(row.billed_hundredths.map(format_hundredths))),
        (
            "labor_amount_minor",
            text(row.labor_amount_minor.map(|minor| money.format_amount(minor))),
        ),
        ("payer", text(row.payer.map(|word| word.0.as_str()))),
    ])
}

/// A field that the form has: a short form changes what it shows and nothing
/// else.
fn shown<T>(
    fields: &Fields,
    name: &str,
    read: impl FnOnce(&str) -> Option<T>,
) -> Option<Option<T>> {
    fields.holds(name).then(|| read(name))
}

fn check(fields: &Fields) -> Result<(i32, CheckPatch), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let patch = CheckPatch {
        code: shown(fields, "code", |name| read.text(name)),
        position: shown(fields, "position", |name| read.text(name)),
        finding: shown(fields, "finding", |name| read.word(name, Finding::parse)),
        not_done_reason: shown(fields, "not_done_reason", |name| read.text(name)),
        minutes: shown(fields, "minutes", |name| read.whole(name)),
        reading: shown(fields, "reading", |name| read.decimal(name)),
        unit: shown(fields, "unit", |name| read.text(name)),
        low_limit: shown(fields, "low_limit", |name| read.decimal(name)),
        high_limit: shown(fields, "high_limit", |name| read.decimal(name)),
        limit_source: shown(fields, "limit_source", |name| read.text(name)),
        typed_at_close: None,
    };
    read.finish(seen.map(|seen| (seen, patch)))
}

fn part(fields: &Fields, money: &Currency) -> Result<(i32, PartUsePatch), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let patch = PartUsePatch {
        part_no: shown(fields, "part_no", |name| read.text(name)),
        name: shown(fields, "name", |name| read.text(name)),
        position: shown(fields, "position", |name| read.text(name)),
        quantity_hundredths: shown(fields, "quantity_hundredths", |name| read.hundredths(name)),
        disposition: shown(fields, "disposition", |name| read.word(name, Disposition::parse)),
        role: shown(fields, "role", |name| read.word(name, PartRole::parse)),
        serviceable: shown(fields, "serviceable", |name| read.word(name, Serviceable::parse)),
        supplier: shown(fields, "supplier", |name| read.text(name)),
        lot: shown(fields, "lot", |name| read.text(name)),
        // To who may not see amounts the form shows none.
        unit_cost_minor: shown(fields, "unit_cost_minor", |name| read.amount(name, money)),
        unit_price_minor: shown(fields, "unit_price_minor", |name| read.amount(name, money)),
        bench_reading: shown(fields, "bench_reading", |name| read.decimal(name)),
        bench_unit: shown(fields, "bench_unit", |name| read.text(name)),
        again_reason: shown(fields, "again_reason", |name| read.text(name)),
    };
    read.finish(seen.map(|seen| (seen, patch)))
}

fn operation(fields: &Fields, money: &Currency) -> Result<(i32, OperationPatch), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let patch = OperationPatch {
        code: Some(read.text("code")),
        flat_rate_hundredths: Some(read.hundredths("flat_rate_hundredths")),
        billed_hundredths: Some(read.hundredths("billed_hundredths")),
        labor_amount_minor: shown(fields, "labor_amount_minor", |name| read.amount(name, money)),
        payer: Some(read.word("payer", Payer::parse)),
    };
    read.finish(seen.map(|seen| (seen, patch)))
}

/// Changes a check.
///
/// # Errors
/// Forbidden, or the record does not answer.
pub async fn change_check(
    ctx: Ctx,
    address: Parts<(String, JobId, CheckId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let work = move |write: &mut ShopWrite<'_>, job: &JobId, (seen, wanted): &(i32, CheckPatch)| {
        checks::change(write, job, &id, *seen, wanted.clone())
    };
    act(ctx, job, form, ("check-lines", Said::Made("check-changed")), check, work).await
}

/// Changes a part use.
///
/// # Errors
/// As there.
pub async fn change_part(
    ctx: Ctx,
    address: Parts<(String, JobId, PartUseId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let (rights, currency) = (money(&ctx), ctx.shop()?.money());
    let work =
        move |write: &mut ShopWrite<'_>, job: &JobId, (seen, wanted): &(i32, PartUsePatch)| {
            parts::change(write, job, &id, *seen, (wanted.clone(), rights))
        };
    let at = ("part-lines", Said::Made("part-changed"));
    act(ctx, job, form, at, |fields| part(fields, &currency), work).await
}

/// Changes an operation.
///
/// # Errors
/// As there.
pub async fn change_operation(
    ctx: Ctx,
    address: Parts<(String, JobId, OperationId)>,
    form: Form<Fields>,
) -> Done {
    let Parts((_, job, id)) = address;
    let (rights, currency) = (money(&ctx), ctx.shop()?.money());
    let work =
        move |write: &mut ShopWrite<'_>, job: &JobId, (seen, wanted): &(i32, OperationPatch)| {
            operations::change(write, job, &id, *seen, (wanted.clone(), rights))
        };
    let at = ("operation-lines", Said::Made("operation-changed"));
    act(ctx, job, form, at, |fields| operation(fields, &currency), work).await
}
