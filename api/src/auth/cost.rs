//! What a password's hash costs in this record: measured once, when the first one
//! is made, and kept, so that all take as long to try.

use diesel::prelude::*;

use super::password::Cost;
use crate::config::{Config, PasswordCost};
use crate::db::schema::password_cost;
use crate::db::{Answer, Conn, Db};

fn kept(conn: &mut Conn) -> Answer<Option<Cost>> {
    let found: Option<(i32, i32)> = password_cost::table
        .find(1)
        .select((password_cost::memory_kib, password_cost::passes))
        .first(conn)
        .optional()?;
    let number = |value| u32::try_from(value).unwrap_or_default();
    Ok(found.map(|(memory, passes)| Cost { memory_kib: number(memory), passes: number(passes) }))
}

/// The cost as the settings and the record say; it is measured where neither does.
///
/// # Errors
/// Where the database does not answer.
pub fn of(db: &Db, config: &Config) -> Answer<Cost> {
    if config.password_cost() == PasswordCost::Least {
        return Ok(Cost::LEAST);
    }
    if let Some(cost) = db.read(kept)? {
        return Ok(cost);
    }
    let cost = Cost::measured();
    let number = |value| i32::try_from(value).unwrap_or(i32::MAX);
    db.write_blocking(move |conn| {
        if let Some(other) = kept(conn)? {
            return Ok(other);
        }
        diesel::insert_into(password_cost::table)
            .values((
                password_cost::id.eq(1),
                password_cost::memory_kib.eq(number(cost.memory_kib)),
                password_cost::passes.eq(number(cost.passes)),
            ))
            .execute(conn)?;
        Ok(cost)
    })
}
