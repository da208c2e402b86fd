//! What a shop has entered of parts: times and cost, until its own record says
//! better.

use std::collections::BTreeMap;

use analytics::history::PartPolicy;
use diesel::prelude::*;
use serde::{Deserialize, Serialize};

use super::write::{About, ShopWrite};
use crate::db::schema::part_policy;
use crate::db::{Answer, Conn};
use crate::domain::money::MOST_MINOR;
use crate::domain::refusal::{FieldFault, Refusal};
use crate::domain::text;
use crate::jobs::parts::MoneyRights;

/// Characters that a part number or name may have.
const LONGEST_PART: usize = 200;
/// Minutes that one entry may have.
const MOST_MINUTES: i32 = 100_000;

/// What the shop entered of one part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct PartTimes {
    /// Part number, else name.
    pub part: String,
    /// To reach the part and to close up again.
    pub access_minutes: Option<i32>,
    pub clean_minutes: Option<i32>,
    /// To fit a new one.
    pub fit_minutes: Option<i32>,
    /// Minor units of the shop's currency; null for who may not see costs.
    pub cost_minor: Option<i64>,
    pub version: i32,
}

impl PartTimes {
    /// Without what the asker may not see.
    #[must_use]
    pub fn for_eyes(mut self, rights: MoneyRights) -> Self {
        if !rights.costs {
            self.cost_minor = None;
        }
        self
    }

    fn of((part, access, clean, fit, cost_minor, version): Stored) -> Self {
        Self {
            part,
            access_minutes: access,
            clean_minutes: clean,
            fit_minutes: fit,
            cost_minor,
            // Rows that are older than versions have the first.
            version: version.unwrap_or(1),
        }
    }
}

type Stored = (String, Option<i32>, Option<i32>, Option<i32>, Option<i64>, Option<i32>);

/// Times and cost as written.
#[derive(Debug, Clone, Default, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PartTimesWritten {
    #[schema(minimum = 0, maximum = 100_000)]
    pub access_minutes: Option<i32>,
    #[schema(minimum = 0, maximum = 100_000)]
    pub clean_minutes: Option<i32>,
    #[schema(minimum = 0, maximum = 100_000)]
    pub fit_minutes: Option<i32>,
    #[schema(minimum = 0, maximum = 1_000_000_000_000_i64)]
    pub cost_minor: Option<i64>,
}

/// By part number, else name.
///
/// # Errors
/// Where the database does not answer.
pub fn policies(conn: &mut Conn, shop_id: i32) -> Answer<BTreeMap<String, PartPolicy>> {
    type Row = (String, Option<i32>, Option<i32>, Option<i32>, Option<i64>);
    let rows: Vec<Row> = part_policy::table
        .filter(part_policy::shop_id.eq(shop_id))
        .select((
            part_policy::part,
            part_policy::access_minutes,
            part_policy::clean_minutes,
            part_policy::fit_minutes,
            part_policy::cost_minor,
        ))
        .load(conn)?;
    Ok(rows
        .into_iter()
        .map(|(part, access, clean, fit, cost_minor)| {
            let policy = PartPolicy {
                access_minutes: access.map(i64::from),
                clean_minutes: clean.map(i64::from),
                fit_minutes: fit.map(i64::from),
                cost_minor,
            };
            (part, policy)
        })
        .collect())
}

/// Every part that the shop entered something of, by part.
///
/// # Errors
/// Where the database does not answer.
pub fn list(conn: &mut Conn, shop_id: i32) -> Answer<Vec<PartTimes>> {
    let rows: Vec<Stored> = part_policy::table
        .filter(part_policy::shop_id.eq(shop_id))
        .select((
            part_policy::part,
            part_policy::access_minutes,
            part_policy::clean_minutes,
            part_policy::fit_minutes,
            part_policy::cost_minor,
            part_policy::version,
        ))
        .load(conn)?;
    let mut parts: Vec<PartTimes> = rows.into_iter().map(PartTimes::of).collect();
    // Databases have their own order of letters.
    parts.sort_by(|a, b| a.part.cmp(&b.part));
    Ok(parts)
}

/// What the shop entered of a part.
///
/// # Errors
/// Where the database does not answer.
pub fn of_part(conn: &mut Conn, shop_id: i32, part: &str) -> Answer<Option<PartTimes>> {
    let row: Option<Stored> = part_policy::table
        .find((shop_id, part))
        .select((
            part_policy::part,
            part_policy::access_minutes,
            part_policy::clean_minutes,
            part_policy::fit_minutes,
            part_policy::cost_minor,
            part_policy::version,
        ))
        .first(conn)
        .optional()?;
    Ok(row.map(PartTimes::of))
}

fn faults(new: &PartTimesWritten) -> Vec<FieldFault> {
    let mut faults = Vec::new();
    for (field, minutes) in [
        ("access_minutes", new.access_minutes),
        ("clean_minutes", new.clean_minutes),
        ("fit_minutes", new.fit_minutes),
    ] {
        if minutes.is_some_and(|minutes| !(0..=MOST_MINUTES).contains(&minutes)) {
            let detail = format!("write minutes between 0 and {MOST_MINUTES}");
            faults.push(FieldFault::new(field, "range", detail));
        }
    }
    if new.cost_minor.is_some_and(|cost| !(0..=MOST_MINOR).contains(&cost)) {
        let detail = format!("write an amount between 0 and {MOST_MINOR}");
        faults.push(FieldFault::new("cost_minor", "range", detail));
    }
    let nothing =
        [new.access_minutes, new.clean_minutes, new.fit_minutes].iter().all(Option::is_none);
    if nothing && new.cost_minor.is_none() {
        faults.push(FieldFault::new("access_minutes", "required", "write a time or a cost"));
    }
    faults
}

/// Writes times and cost of a part, over what stood.
///
/// # Errors
/// Faulty fields.
pub fn put(write: &mut ShopWrite<'_>, part: &str, new: &PartTimesWritten) -> Answer<PartTimes> {
    let mut faults = faults(new);
    let part = text::required("part", part, LONGEST_PART).unwrap_or_else(|fault| {
        faults.insert(0, fault);
        String::new()
    });
    if !faults.is_empty() {
        return Err(Refusal::Invalid(faults).into());
    }
    let before = of_part(write.conn, write.shop.id, &part)?;
    let after = PartTimes {
        part,
        access_minutes: new.access_minutes,
        clean_minutes: new.clean_minutes,
        fit_minutes: new.fit_minutes,
        cost_minor: new.cost_minor,
        version: before.as_ref().map_or(1, |before| before.version + 1),
    };
    store(write.conn, write.shop.id, &after)?;
    let action = if before.is_some() { "changed" } else { "added" };
    write.note(&About::new("part_policy", &after.part), action, before.as_ref(), Some(&after))?;
    Ok(after)
}

/// Takes back what the shop entered of a part: the record says, or nobody does.
///
/// # Errors
/// Not found.
pub fn remove(write: &mut ShopWrite<'_>, part: &str) -> Answer<PartTimes> {
    let before = of_part(write.conn, write.shop.id, part)?.ok_or(Refusal::NotFound)?;
    diesel::delete(part_policy::table.find((write.shop.id, part))).execute(write.conn)?;
    write.note(&About::new("part_policy", part), "removed", Some(&before), None)?;
    Ok(before)
}

fn store(conn: &mut Conn, shop_id: i32, row: &PartTimes) -> Answer<()> {
    diesel::delete(part_policy::table.find((shop_id, &row.part))).execute(conn)?;
    diesel::insert_into(part_policy::table)
        .values((
            part_policy::shop_id.eq(shop_id),
            part_policy::part.eq(&row.part),
            part_policy::access_minutes.eq(row.access_minutes),
            part_policy::clean_minutes.eq(row.clean_minutes),
            part_policy::fit_minutes.eq(row.fit_minutes),
            part_policy::cost_minor.eq(row.cost_minor),
            part_policy::version.eq(Some(row.version)),
        ))
        .execute(conn)?;
    Ok(())
}

/// Writes what a shop that is being made says of a part.
///
/// # Errors
/// Where the database does not answer.
pub fn set(conn: &mut Conn, shop_id: i32, part: &str, policy: &PartPolicy) -> Answer<()> {
    let small = |minutes: Option<i64>| minutes.and_then(|m| i32::try_from(m).ok());
    let row = PartTimes {
        part: part.to_owned(),
        access_minutes: small(policy.access_minutes),
        clean_minutes: small(policy.clean_minutes),
        fit_minutes: small(policy.fit_minutes),
        cost_minor: policy.cost_minor,
        version: 1,
    };
    store(conn, shop_id, &row)
}
