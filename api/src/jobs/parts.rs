//! Part uses: what was touched, why, and what was done with it.

use analytics::words::{Disposition, LinkState, PartRole, Serviceable};
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::cleanings::Known;
use super::model::{Job, gather, no_faults, optional};
use super::part_patch::PartUsePatch;
use super::writable::Writable;
use super::{cleanings, writable};
use crate::db::schema::{part_return, part_use};
use crate::db::types::Word;
use crate::db::{Answer, Conn, insert_rows};
use crate::domain::ids::{JobId, PartUseId};
use crate::domain::money::{MOST_MINOR, line_fits};
use crate::domain::refusal::{FieldFault, Refusal};
use crate::shops::write::{About, ShopWrite};

/// A part touched on a job. Costs and prices are of one, in minor units of the
/// shop's currency; who may not see them gets null.
#[derive(
    Debug, Clone, Queryable, Selectable, Insertable, AsChangeset, Serialize, utoipa::ToSchema,
)]
#[diesel(table_name = part_use, primary_key(shop_id, id), treat_none_as_null = true)]
pub struct PartUse {
    #[serde(skip)]
    pub shop_id: i32,
    pub id: PartUseId,
    pub job_id: JobId,
    pub line: i32,
    pub part_no: Option<String>,
    pub name: String,
    /// Cylinder, corner, bank.
    pub position: Option<String>,
    pub quantity_hundredths: i64,
    #[schema(value_type = Disposition)]
    pub disposition: Word<Disposition>,
    #[schema(value_type = Option<PartRole>)]
    pub role: Option<Word<PartRole>>,
    #[schema(value_type = Option<Serviceable>)]
    pub serviceable: Option<Word<Serviceable>>,
    pub supplier: Option<String>,
    pub lot: Option<String>,
    pub unit_cost_minor: Option<i64>,
    pub unit_price_minor: Option<i64>,
    /// Reading of the bench test after cleaning.
    pub bench_reading: Option<f64>,
    pub bench_unit: Option<String>,
    pub version: i32,
    /// Why a part that was cleaned before is cleaned again.
    pub again_reason: Option<String>,
}

/// A part use as recorded.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NewPartUse {
    pub part_no: Option<String>,
    pub name: String,
    pub position: Option<String>,
    /// Absent: 100, one piece.
    #[schema(minimum = 1, maximum = 100_000_000)]
    pub quantity_hundredths: Option<i64>,
    pub disposition: Disposition,
    pub role: Option<PartRole>,
    pub serviceable: Option<Serviceable>,
    pub supplier: Option<String>,
    pub lot: Option<String>,
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub unit_cost_minor: Option<i64>,
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub unit_price_minor: Option<i64>,
    pub bench_reading: Option<f64>,
    pub bench_unit: Option<String>,
    /// Owed where a part is cleaned and put back that was cleaned before.
    pub again_reason: Option<String>,
}

/// A part use with what the vehicle's record says of the part.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct PartOnJob {
    #[serde(flatten)]
    pub part: PartUse,
    /// How often the part was cleaned and put back on this vehicle before,
    /// since it was last replaced.
    pub times_cleaned_before: u32,
}

impl PartOnJob {
    /// Without what the asker may not see.
    #[must_use]
    pub fn for_eyes(self, rights: MoneyRights) -> Self {
        Self { part: self.part.for_eyes(rights), ..self }
    }
}

/// What the asker may do with money.
#[derive(Debug, Clone, Copy)]
pub struct MoneyRights {
    pub costs: bool,
    pub prices: bool,
}

impl MoneyRights {
    /// Refuses to take a line away that carries amounts which the asker may not
    /// write: nobody loses by accident what another has entered.
    ///
    /// # Errors
    /// A conflict that says who can.
    pub fn may_take(self, cost: Option<i64>, price: Option<i64>) -> Answer<()> {
        let hidden = (cost.is_some() && !self.costs) || (price.is_some() && !self.prices);
        if !hidden {
            return Ok(());
        }
        let why =
            "the line carries amounts that you do not see: ask the service manager to take it back";
        Err(Refusal::Conflict(why.to_owned()).into())
    }
}

impl PartUse {
    /// Part number, else name: what counts as the same part.
    #[must_use]
    pub fn key(&self) -> &str {
        self.part_no.as_deref().unwrap_or(&self.name)
    }

    /// Without what the asker may not see.
    #[must_use]
    pub fn for_eyes(mut self, rights: MoneyRights) -> Self {
        if !rights.costs {
            self.unit_cost_minor = None;
        }
        if !rights.prices {
            self.unit_price_minor = None;
        }
        self
    }
}

/// A job's part uses, by line.
///
/// # Errors
/// Where the database does not answer.
pub fn of_job(conn: &mut Conn, shop_id: i32, job: &JobId) -> Answer<Vec<PartUse>> {
    Ok(part_use::table
        .filter(part_use::shop_id.eq(shop_id).and(part_use::job_id.eq(job)))
        .order(part_use::line)
        .select(PartUse::as_select())
        .load(conn)?)
}

fn faults(new: &NewPartUse) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    let mut say = |field: &str, code: &'static str, detail: &str| {
        faults.push(FieldFault::new(field, code, detail));
    };
    if new.quantity_hundredths.is_some_and(|q| !(1..=100_000_000).contains(&q)) {
        say("quantity_hundredths", "range", "write hundredths between 1 and 100000000");
    }
    if new.unit_cost_minor.is_some_and(|m| !(0..=MOST_MINOR).contains(&m)) {
        say("unit_cost_minor", "range", "write a cost between zero and 1000000000000");
    }
    if new.unit_price_minor.is_some_and(|m| !(0..=MOST_MINOR).contains(&m)) {
        say("unit_price_minor", "range", "write a price between zero and 1000000000000");
    }
    if new.bench_reading.is_some() && new.bench_unit.as_deref().unwrap_or("").trim().is_empty() {
        say("bench_unit", "required", "give the reading's unit (1 where it has none)");
    }
    if new.serviceable == Some(Serviceable::NotServiceable)
        && matches!(new.disposition, Disposition::CleanedReused | Disposition::RepairedReused)
    {
        say(
            "disposition",
            "not_serviceable",
            "a part that is not serviceable is not opened: replace it or leave it",
        );
    }
    let (quantity, money) =
        (new.quantity_hundredths.unwrap_or(100), [new.unit_cost_minor, new.unit_price_minor]);
    if faults.is_empty() && money.iter().flatten().any(|minor| !line_fits(*minor, quantity)) {
        let detail = "so many at that price come to more than 1000000000000";
        faults.push(FieldFault::new("quantity_hundredths", "range", detail));
    }
    faults
}

/// Costs and prices are not for everybody to write.
fn money_faults(cost: bool, price: bool, rights: MoneyRights) -> Vec<FieldFault> {
    [
        (cost && !rights.costs, "unit_cost_minor", "leave the cost to the service manager"),
        (price && !rights.prices, "unit_price_minor", "leave the price to the adviser"),
    ]
    .into_iter()
    .filter(|(wrong, ..)| *wrong)
    .map(|(_, field, detail)| FieldFault::new(field, "forbidden", detail))
    .collect()
}

fn fill(row: &mut PartUse, new: &NewPartUse) -> Answer<()> {
    no_faults(faults(new))?;
    let Some(name) = optional("name", Some(&new.name), 200)? else {
        return Err(Refusal::field("name", "required", "name the part").into());
    };
    row.name = name;
    row.part_no = optional("part_no", new.part_no.as_deref(), 80)?;
    row.position = optional("position", new.position.as_deref(), 100)?;
    row.quantity_hundredths = new.quantity_hundredths.unwrap_or(100);
    row.disposition = Word(new.disposition);
    row.role = new.role.map(Word);
    row.serviceable = new.serviceable.map(Word);
    row.supplier = optional("supplier", new.supplier.as_deref(), 200)?;
    row.lot = optional("lot", new.lot.as_deref(), 80)?;
    row.unit_cost_minor = new.unit_cost_minor;
    row.unit_price_minor = new.unit_price_minor;
    row.bench_reading = new.bench_reading;
    row.bench_unit = optional("bench_unit", new.bench_unit.as_deref(), 40)?;
    row.again_reason = optional("again_reason", new.again_reason.as_deref(), 1000)?;
    Ok(())
}

/// Adds a part use.
///
/// # Errors
/// Faulty fields; a second cleaning without its reason; a conflict where the
/// job has ended and the writer may not correct it.
pub fn add(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    new: &NewPartUse,
    rights: MoneyRights,
) -> Answer<PartOnJob> {
    let target = writable::open(write, job)?;
    no_faults(money_faults(new.unit_cost_minor.is_some(), new.unit_price_minor.is_some(), rights))?;
    insert(write, &target, PartUseId::make(), new, rights)
}

/// As [`add`], under that id, and whoever writes the amounts.
///
/// # Errors
/// As there.
pub(super) fn insert(
    write: &mut ShopWrite<'_>,
    target: &Writable,
    id: PartUseId,
    new: &NewPartUse,
    rights: MoneyRights,
) -> Answer<PartOnJob> {
    let job = &target.job.id;
    let mut row = blank(&target.job, id, new.disposition);
    fill(&mut row, new)?;
    let times = cleanings::owed(write.conn, &target.job, &row)?;
    let last: Option<i32> = part_use::table
        .filter(part_use::shop_id.eq(write.shop.id).and(part_use::job_id.eq(job)))
        .select(diesel::dsl::max(part_use::line))
        .first(write.conn)?;
    row.line = last.unwrap_or(0) + 1;
    diesel::insert_into(part_use::table).values(&row).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("part_use", &row.id), "added", None, Some(&row))?;
    target.propose(write)?;
    Ok(PartOnJob { part: row.for_eyes(rights), times_cleaned_before: times })
}

fn blank(job: &Job, id: PartUseId, disposition: Disposition) -> PartUse {
    PartUse {
        shop_id: job.shop_id,
        id,
        job_id: job.id.clone(),
        line: 0,
        part_no: None,
        name: String::new(),
        position: None,
        quantity_hundredths: 100,
        disposition: Word(disposition),
        role: None,
        serviceable: None,
        supplier: None,
        lot: None,
        unit_cost_minor: None,
        unit_price_minor: None,
        bench_reading: None,
        bench_unit: None,
        version: 1,
        again_reason: None,
    }
}

/// The rows of part uses that are written at close, behind those that stand;
/// faults are pointed at in the list `parts`.
///
/// # Errors
/// What is no fault of a field.
pub(super) fn at_close(
    (job, last): (&Job, i32),
    known: &Known,
    rights: MoneyRights,
    (new, faults): (&[NewPartUse], &mut Vec<FieldFault>),
) -> Answer<Vec<PartOnJob>> {
    let mut rows = Vec::with_capacity(new.len());
    for ((place, new), line) in new.iter().enumerate().zip(last + 1..) {
        let base = format!("/parts/{place}");
        let mut part = PartUse { line, ..blank(job, PartUseId::make(), new.disposition) };
        let (cost, price) = (new.unit_cost_minor.is_some(), new.unit_price_minor.is_some());
        gather(no_faults(money_faults(cost, price, rights)), &base, faults)?;
        let judged = fill(&mut part, new).and_then(|()| known.owed(job, &part));
        if let Some(times_cleaned_before) = gather(judged, &base, faults)? {
            rows.push(PartOnJob { part, times_cleaned_before });
        }
    }
    Ok(rows)
}

/// Inserts new part uses of a job and notes each; the job's stamp is the
/// caller's.
///
/// # Errors
/// Where the database does not answer.
pub(super) fn insert_all(write: &mut ShopWrite<'_>, job: &Job, rows: &[PartOnJob]) -> Answer<()> {
    insert_rows!(&mut *write.conn, part_use, rows.iter().map(|row| &row.part));
    let about = |row: &PartUse| About::new("part_use", &row.id).job(&job.id).order(&job.order_id);
    write.note_new("added", rows.iter().map(|row| (about(&row.part), &row.part)))
}

fn of(write: &mut ShopWrite<'_>, job: &JobId, id: &PartUseId) -> Answer<PartUse> {
    Ok(part_use::table
        .find((write.shop.id, id))
        .filter(part_use::job_id.eq(job))
        .select(PartUse::as_select())
        .first(write.conn)?)
}

/// What a further cleaning is told by, and why it was made.
fn cleaned_as(row: &PartUse) -> (Disposition, &str, Option<&str>, Option<&str>) {
    (row.disposition.0, row.key(), row.position.as_deref(), row.again_reason.as_deref())
}

/// Applies a merge patch to a part use, on the job's version.
///
/// # Errors
/// Not found, stale, faulty fields, a second cleaning without its reason, a
/// conflict where the job has ended and the writer may not correct it.
pub fn change(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &PartUseId,
    seen: i32,
    (change, rights): (PartUsePatch, MoneyRights),
) -> Answer<PartOnJob> {
    let target = writable::open(write, job)?;
    target.seen(seen)?;
    let before = of(write, job, id)?;
    no_faults(money_faults(
        change.unit_cost_minor.is_some(),
        change.unit_price_minor.is_some(),
        rights,
    ))?;
    let mut row = before.clone();
    fill(&mut row, &change.over(&before)?)?;
    // Who changes the supplier of an old line owes no reason for its cleaning.
    let times = if cleaned_as(&row) == cleaned_as(&before) {
        cleanings::times(write.conn, &target.job, &row)?
    } else {
        cleanings::owed(write.conn, &target.job, &row)?
    };
    row.version += 1;
    diesel::update(part_use::table.find((row.shop_id, &row.id))).set(&row).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("part_use", &row.id), "changed", Some(&before), Some(&row))?;
    target.propose(write)?;
    Ok(PartOnJob { part: row.for_eyes(rights), times_cleaned_before: times })
}

/// That a part came back, as the record of changes keeps it.
#[derive(Queryable, Selectable, Serialize)]
#[diesel(table_name = part_return)]
struct ToldReturn {
    part_use_id: PartUseId,
    later_job_id: JobId,
    state: Word<LinkState>,
}

/// Takes a part use back, and with it what was told of its return.
///
/// # Errors
/// Not found; a conflict where the job has ended and the writer may not correct
/// it.
pub fn remove(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    id: &PartUseId,
    rights: MoneyRights,
) -> Answer<()> {
    let target = writable::open(write, job)?;
    let row = of(write, job, id)?;
    rights.may_take(row.unit_cost_minor, row.unit_price_minor)?;
    let returns = part_return::table
        .filter(part_return::shop_id.eq(write.shop.id).and(part_return::part_use_id.eq(id)));
    let told: Vec<ToldReturn> = returns.select(ToldReturn::as_select()).load(write.conn)?;
    diesel::delete(returns).execute(write.conn)?;
    for told in &told {
        let about = target.about("part_return", format!("{id}/{}", told.later_job_id));
        write.note(&about, "removed", Some(told), None)?;
        write.stamp_job(&told.later_job_id)?;
    }
    diesel::delete(part_use::table.find((row.shop_id, &row.id))).execute(write.conn)?;
    target.stamp(write)?;
    write.note(&target.about("part_use", &row.id), "removed", Some(&row), None)?;
    target.propose(write)
}
