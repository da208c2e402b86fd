//! Part uses: what was touched, why, and what was done with it.

use analytics::words::{Disposition, PartRole, Serviceable};
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::model::{no_faults, open_job, optional};
use crate::db::schema::part_use;
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::ids::{JobId, PartUseId};
use crate::domain::money::MOST_MINOR;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::shops::write::ShopWrite;

/// A part touched on a job. Costs and prices are of one, in minor units of the
/// shop's currency; who may not see them gets null.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = part_use)]
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
}

/// What the asker may do with money.
#[derive(Debug, Clone, Copy)]
pub struct MoneyRights {
    pub costs: bool,
    pub prices: bool,
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

fn faults(new: &NewPartUse, rights: MoneyRights) -> Vec<FieldFault> {
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
    if new.unit_cost_minor.is_some() && !rights.costs {
        say("unit_cost_minor", "forbidden", "leave the cost to the service manager");
    }
    if new.unit_price_minor.is_some() && !rights.prices {
        say("unit_price_minor", "forbidden", "leave the price to the adviser");
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
    faults
}

/// Adds a part use.
///
/// # Errors
/// Faulty fields; a conflict where the job is finished.
pub fn add(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    new: &NewPartUse,
    rights: MoneyRights,
) -> Answer<PartUse> {
    open_job(write, job)?;
    no_faults(faults(new, rights))?;
    let Some(name) = optional("name", Some(&new.name), 200)? else {
        return Err(Refusal::field("name", "required", "name the part").into());
    };
    let last: Option<i32> = part_use::table
        .filter(part_use::shop_id.eq(write.shop.id).and(part_use::job_id.eq(job)))
        .select(diesel::dsl::max(part_use::line))
        .first(write.conn)?;
    let row = PartUse {
        shop_id: write.shop.id,
        id: PartUseId::make(),
        job_id: job.clone(),
        line: last.unwrap_or(0) + 1,
        part_no: optional("part_no", new.part_no.as_deref(), 80)?,
        name,
        position: optional("position", new.position.as_deref(), 100)?,
        quantity_hundredths: new.quantity_hundredths.unwrap_or(100),
        disposition: Word(new.disposition),
        role: new.role.map(Word),
        serviceable: new.serviceable.map(Word),
        supplier: optional("supplier", new.supplier.as_deref(), 200)?,
        lot: optional("lot", new.lot.as_deref(), 80)?,
        unit_cost_minor: new.unit_cost_minor,
        unit_price_minor: new.unit_price_minor,
        bench_reading: new.bench_reading,
        bench_unit: optional("bench_unit", new.bench_unit.as_deref(), 40)?,
        version: 1,
        again_reason: None,
    };
    diesel::insert_into(part_use::table).values(&row).execute(write.conn)?;
    write.stamp_job(job)?;
    Ok(row.for_eyes(rights))
}

/// Takes a part use back.
///
/// # Errors
/// Not found; a conflict where the job is finished.
pub fn remove(write: &mut ShopWrite<'_>, job: &JobId, id: &PartUseId) -> Answer<()> {
    open_job(write, job)?;
    let place = part_use::table
        .filter(part_use::shop_id.eq(write.shop.id))
        .filter(part_use::job_id.eq(job).and(part_use::id.eq(id)));
    let hit = diesel::delete(place).execute(write.conn)?;
    if hit == 0 {
        return Err(Refusal::NotFound.into());
    }
    write.stamp_job(job)
}
