//! What a shop has entered of parts: times and cost, until its own record says
//! better.

use std::collections::BTreeMap;

use analytics::history::PartPolicy;
use diesel::prelude::*;

use crate::db::schema::part_policy;
use crate::db::{Answer, Conn};

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

/// Writes what the shop says of a part, over what stood before.
///
/// # Errors
/// Where the database does not answer.
pub fn set(conn: &mut Conn, shop_id: i32, part: &str, policy: &PartPolicy) -> Answer<()> {
    let small = |minutes: Option<i64>| minutes.and_then(|m| i32::try_from(m).ok());
    let place =
        part_policy::table.filter(part_policy::shop_id.eq(shop_id).and(part_policy::part.eq(part)));
    diesel::delete(place).execute(conn)?;
    diesel::insert_into(part_policy::table)
        .values((
            part_policy::shop_id.eq(shop_id),
            part_policy::part.eq(part),
            part_policy::access_minutes.eq(small(policy.access_minutes)),
            part_policy::clean_minutes.eq(small(policy.clean_minutes)),
            part_policy::fit_minutes.eq(small(policy.fit_minutes)),
            part_policy::cost_minor.eq(policy.cost_minor),
        ))
        .execute(conn)?;
    Ok(())
}
