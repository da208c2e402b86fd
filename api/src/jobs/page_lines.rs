//! The forms that change one line of a job: a check, a part, an operation.

use analytics::words::{Disposition, Finding, PartRole, Payer, Serviceable};

use super::checks::{self, Check, CheckPatch};
use super::http::money;
use super::operations::{self, Operation, OperationPatch};
use super::page_forms::{Done, act};
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

fn check(fields: &Fields) -> Result<(i32, CheckPatch), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let patch = CheckPatch {
        code: Some(read.text("code")),
        position: Some(read.text("position")),
        finding: Some(read.word("finding", Finding::parse)),
        not_done_reason: Some(read.text("not_done_reason")),
        minutes: Some(read.whole("minutes")),
        reading: Some(read.decimal("reading")),
        unit: Some(read.text("unit")),
        low_limit: Some(read.decimal("low_limit")),
        high_limit: Some(read.decimal("high_limit")),
        limit_source: Some(read.text("limit_source")),
        typed_at_close: None,
    };
    read.finish(seen.map(|seen| (seen, patch)))
}

/// An amount that the form shows; to who may not see it, it shows none.
fn amount(
    read: &mut Reader<'_>,
    fields: &Fields,
    name: &str,
    money: &Currency,
) -> Option<Option<i64>> {
    fields.holds(name).then(|| read.amount(name, money))
}

fn part(fields: &Fields, money: &Currency) -> Result<(i32, PartUsePatch), Problem> {
    let mut read = Reader::new(fields);
    let seen = read.owed("version", |text| text.parse().ok());
    let patch = PartUsePatch {
        part_no: Some(read.text("part_no")),
        name: Some(read.text("name")),
        position: Some(read.text("position")),
        quantity_hundredths: Some(read.hundredths("quantity_hundredths")),
        disposition: Some(read.word("disposition", Disposition::parse)),
        role: Some(read.word("role", PartRole::parse)),
        serviceable: Some(read.word("serviceable", Serviceable::parse)),
        supplier: Some(read.text("supplier")),
        lot: Some(read.text("lot")),
        unit_cost_minor: amount(&mut read, fields, "unit_cost_minor", money),
        unit_price_minor: amount(&mut read, fields, "unit_price_minor", money),
        bench_reading: Some(read.decimal("bench_reading")),
        bench_unit: Some(read.text("bench_unit")),
        again_reason: Some(read.text("again_reason")),
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
        labor_amount_minor: amount(&mut read, fields, "labor_amount_minor", money),
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
    act(ctx, job, form, "check-lines", check, work).await
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
    act(ctx, job, form, "part-lines", |fields| part(fields, &currency), work).await
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
    act(ctx, job, form, "operation-lines", |fields| operation(fields, &currency), work).await
}
