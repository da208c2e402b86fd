//! From a row's fields to its record, one function per file.

use std::borrow::Cow;

use analytics::words::{
    Activity, CauseState, Disposition, Finding, JobKind, Outcome, PartRole, Payer, Serviceable,
    WorkedAs,
};

use super::fields::{Fault, Fields, LONG_TEXT};
use super::records::{CheckRecord, JobRecord, LaborRecord, OrderRecord, PartRecord};
use super::source::{Header, Raw};
use crate::domain::money::{Currency, line_fits};
use crate::domain::{codes, odometer, text, vin};

/// A further operation of a job: a line of `operations.csv`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OperationRecord {
    pub order_no: String,
    pub job_no: i32,
    /// From two up: the first stands with the job.
    pub line: i32,
    pub operation: String,
    /// Hundredths of an hour.
    pub flat_rate_hundredths: Option<i64>,
    pub billed_hundredths: Option<i64>,
    /// Minor units of the shop's currency.
    pub labor_amount_minor: Option<i64>,
    pub payer: Option<Payer>,
}

/// A job, with how sure its cause is (absent: confirmed).
#[derive(Debug, Clone, PartialEq)]
pub struct JobLine {
    pub job: JobRecord,
    pub cause_state: Option<CauseState>,
}

/// A check, and whether its order and minutes were only typed in at close.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckLine {
    pub check: CheckRecord,
    pub typed_at_close: bool,
}

/// What a row parses to.
pub type Parsed<T> = Result<T, Vec<Fault>>;

const MOST_LINES: i32 = 1_000_000;

/// The order that a row names; `None` where the row is no good anyway.
#[must_use]
pub fn order_named<'a>(header: &Header, raw: &'a Raw) -> Option<Cow<'a, str>> {
    if raw.fields.len() != header.width {
        return None;
    }
    let named = raw.fields.get(header.place("order_no")?)?.trim();
    match text::is_plain(named, 60) && !named.starts_with('\'') {
        true => Some(Cow::Borrowed(named)),
        false => Fields::new(header, raw).text("order_no", 60).map(Cow::Owned),
    }
}

/// The job that a row names; `None` where the row is no good anyway.
#[must_use]
pub fn job_named<'a>(header: &Header, raw: &'a Raw) -> Option<(Cow<'a, str>, i32)> {
    let order_no = order_named(header, raw)?;
    let job_no = raw.fields.get(header.place("job_no")?)?.trim().parse().ok()?;
    (1..=MOST_LINES).contains(&job_no).then_some((order_no, job_no))
}

fn order_key(f: &mut Fields<'_>) -> Option<String> {
    let order_no = f.text("order_no", 60);
    f.needed("order_no", order_no)
}

fn job_key(f: &mut Fields<'_>) -> (Option<String>, Option<i32>) {
    let order_no = order_key(f);
    let job_no = f.small("job_no", 1, MOST_LINES);
    (order_no, f.needed("job_no", job_no))
}

/// A row of `orders.csv`.
///
/// # Errors
/// Every fault of the row.
pub fn order(header: &Header, raw: &Raw) -> Parsed<OrderRecord> {
    let mut f = Fields::new(header, raw);
    let order_no = order_key(&mut f);
    let shop = f.text("shop", 40);
    if let Some(Err(fault)) = shop.as_deref().map(|code| codes::parse("shop", code)) {
        f.fault("shop", fault.detail);
    }
    let shop = f.needed("shop", shop);
    let vin = f.text("vin", 40).map(|text| vin::normalize(&text)).filter(|text| !text.is_empty());
    let make = f.text("make", 100);
    let model = f.text("model", 100);
    let model_year = f.small("model_year", 1880, 2200);
    let engine = f.text("engine", 100);
    let odometer_in = f.whole("odometer_in", 0, 100_000_000);
    let odometer_out = f.whole("odometer_out", 0, 100_000_000);
    let odometer_unit = f.text("odometer_unit", 20);
    let unit = odometer_unit.as_deref().map(odometer::parse_unit);
    if unit == Some(None) {
        f.fault("odometer_unit", format!("write one of: {}", odometer::UNITS.join(", ")));
    }
    let opened_at = f.time("opened_at");
    let opened_at = f.needed("opened_at", opened_at);
    let closed_at = f.time("closed_at");
    let read = order_no.zip(shop).zip(opened_at).map(|((order_no, shop), opened_at)| OrderRecord {
        order_no,
        shop,
        vin,
        make,
        model,
        model_year,
        engine,
        odometer_in,
        odometer_out,
        odometer_unit: unit.flatten().map(str::to_owned),
        opened_at,
        closed_at,
    });
    f.finish(read)
}

/// A row of `jobs.csv`.
///
/// # Errors
/// Every fault of the row.
pub fn job(header: &Header, raw: &Raw, currency: &Currency) -> Parsed<JobLine> {
    let mut f = Fields::new(header, raw);
    let (order_no, job_no) = job_key(&mut f);
    let rest = JobRecord {
        order_no: String::new(),
        job_no: 0,
        kind: f.word("kind", JobKind::WORDS),
        symptom: f.code("symptom"),
        complaint: f.text("complaint", LONG_TEXT),
        outcome: f.word("outcome", Outcome::WORDS),
        cause: f.code("cause"),
        cause_position: f.text("cause_position", 100),
        correction: f.text("correction", LONG_TEXT),
        technician: f.text("technician", 200),
        operation: f.code("operation"),
        flat_rate_hundredths: f.hours("flat_rate_hours"),
        billed_hundredths: f.hours("billed_hours"),
        labor_amount_minor: f.money("labor_amount", currency),
        payer: f.word("payer", Payer::WORDS),
        returned_from_order: f.text("returned_from_order", 60),
        returned_from_job: f.small("returned_from_job", 1, MOST_LINES),
        comeback_reason: f.code("comeback_reason"),
    };
    let cause_state = f.word("cause_state", CauseState::WORDS);
    let read = order_no.zip(job_no).map(|(order_no, job_no)| JobLine {
        job: JobRecord { order_no, job_no, ..rest },
        cause_state,
    });
    f.finish(read)
}

/// A row of `operations.csv`.
///
/// # Errors
/// Every fault of the row.
pub fn operation(header: &Header, raw: &Raw, currency: &Currency) -> Parsed<OperationRecord> {
    let mut f = Fields::new(header, raw);
    let (order_no, job_no) = job_key(&mut f);
    let line = f.small("line", 2, MOST_LINES);
    let line = f.needed("line", line);
    let code = f.code("operation");
    let code = f.needed("operation", code);
    let flat_rate_hundredths = f.hours("flat_rate_hours");
    let billed_hundredths = f.hours("billed_hours");
    let labor_amount_minor = f.money("labor_amount", currency);
    let payer = f.word("payer", Payer::WORDS);
    let keys = order_no.zip(job_no).zip(line).zip(code);
    let read = keys.map(|(((order_no, job_no), line), operation)| OperationRecord {
        order_no,
        job_no,
        line,
        operation,
        flat_rate_hundredths,
        billed_hundredths,
        labor_amount_minor,
        payer,
    });
    f.finish(read)
}

/// A row of `checks.csv`.
///
/// # Errors
/// Every fault of the row.
pub fn check(header: &Header, raw: &Raw) -> Parsed<CheckLine> {
    let mut f = Fields::new(header, raw);
    let (order_no, job_no) = job_key(&mut f);
    let seq = f.small("seq", 1, MOST_LINES);
    let seq = f.needed("seq", seq);
    let code = f.code("check");
    let code = f.needed("check", code);
    let position = f.text("position", 100);
    let finding = f.word("finding", Finding::WORDS);
    let minutes = f.small("minutes", 0, 10_000);
    let reading = f.reading("reading");
    let unit = f.text("unit", 40);
    let typed_at_close = f.flag("typed_at_close").unwrap_or(false);
    let keys = order_no.zip(job_no).zip(seq).zip(code);
    let read = keys.map(|(((order_no, job_no), seq), check)| CheckLine {
        check: CheckRecord {
            order_no,
            job_no,
            seq,
            check,
            position,
            finding,
            minutes,
            reading,
            unit,
        },
        typed_at_close,
    });
    f.finish(read)
}

/// A row of `parts.csv`.
///
/// # Errors
/// Every fault of the row.
pub fn part(header: &Header, raw: &Raw, currency: &Currency) -> Parsed<PartRecord> {
    let mut f = Fields::new(header, raw);
    let (order_no, job_no) = job_key(&mut f);
    let name = f.text("name", 200);
    let name = f.needed("name", name);
    let disposition: Option<Disposition> = f.word("disposition", Disposition::WORDS);
    let disposition = f.needed("disposition", disposition);
    let role = part_role(&mut f);
    let line = f.small("line", 1, MOST_LINES);
    let part_no = f.text("part_no", 80);
    let position = f.text("position", 100);
    let quantity_hundredths = f.quantity("quantity");
    let serviceable = f.word("serviceable", Serviceable::WORDS);
    let supplier = f.text("supplier", 200);
    let lot = f.text("lot", 80);
    let unit_cost_minor = f.money("unit_cost", currency);
    let unit_price_minor = f.money("unit_price", currency);
    let quantity = quantity_hundredths.unwrap_or(100);
    if [unit_cost_minor, unit_price_minor].iter().flatten().any(|m| !line_fits(*m, quantity)) {
        f.fault("quantity", "so many at that price are too much; look at the points");
    }
    let bench_reading = f.reading("bench_reading");
    let bench_unit = f.text("bench_unit", 40);
    let keys = order_no.zip(job_no).zip(name).zip(disposition);
    let read = keys.map(|(((order_no, job_no), name), disposition)| PartRecord {
        order_no,
        job_no,
        line,
        part_no,
        name,
        position,
        quantity_hundredths,
        disposition,
        role,
        serviceable,
        supplier,
        lot,
        unit_cost_minor,
        unit_price_minor,
        bench_reading,
        bench_unit,
    });
    f.finish(read)
}

/// A part's role, or what older files say instead: whether it was the suspect.
fn part_role(f: &mut Fields<'_>) -> Option<PartRole> {
    let role: Option<PartRole> = f.word("role", PartRole::WORDS);
    let suspect = f.flag("suspect");
    match (role, suspect) {
        (Some(PartRole::Suspect), Some(false)) => {
            f.fault("suspect", "role says suspect; leave one of the two empty");
            None
        }
        (Some(role), Some(true)) if role != PartRole::Suspect => {
            f.fault("suspect", format!("role says {role}; leave one of the two empty"));
            None
        }
        (None, Some(true)) => Some(PartRole::Suspect),
        (role, _) => role,
    }
}

/// A row of `labor.csv`.
///
/// # Errors
/// Every fault of the row.
pub fn labor(header: &Header, raw: &Raw) -> Parsed<LaborRecord> {
    let mut f = Fields::new(header, raw);
    let (order_no, job_no) = job_key(&mut f);
    let technician = f.text("technician", 200);
    let technician = f.needed("technician", technician);
    let activity: Option<Activity> = f.word("activity", Activity::WORDS);
    let started_at = f.time("started_at");
    let started_at = f.needed("started_at", started_at);
    let ended_at = f.time("ended_at");
    let ended_at = f.needed("ended_at", ended_at);
    let worked_as = f.word("as", WorkedAs::WORDS);
    let keys = order_no.zip(job_no).zip(technician).zip(started_at).zip(ended_at);
    let read = keys.map(|((((order_no, job_no), technician), started_at), ended_at)| LaborRecord {
        order_no,
        job_no,
        technician,
        activity,
        started_at,
        ended_at,
        worked_as,
    });
    f.finish(read)
}
