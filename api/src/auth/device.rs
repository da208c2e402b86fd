//! Browsers that somebody has signed in with before. Guessing elsewhere does not
//! hold up who signs in there: such a browser has tries of its own.

use chrono::Duration;
use diesel::prelude::*;

use super::session::{digest, secret};
use crate::db::schema::known_device;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::PersonId;

/// Not used for so long, a browser is a stranger's again.
const KEPT_DAYS: i64 = 90;

/// Whether the person has signed in with the browser that keeps this token.
///
/// # Errors
/// Where the database does not answer.
pub fn knows(conn: &mut Conn, token: &str, who: &PersonId, now: UtcStamp) -> Answer<bool> {
    let found: Option<UtcStamp> = known_device::table
        .find((digest(token.as_bytes()), who))
        .select(known_device::seen_at)
        .first(conn)
        .optional()?;
    let within = |at: UtcStamp| (now.utc() - at.utc()).abs() < Duration::days(KEPT_DAYS);
    Ok(found.is_some_and(within))
}

/// Notes that the person has signed in with the browser: answers the token that it
/// is to keep, which is the one it brought where that is one of ours.
///
/// # Errors
/// Where the database does not answer.
pub fn note(
    conn: &mut Conn,
    brought: Option<&str>,
    who: &PersonId,
    now: UtcStamp,
) -> Answer<String> {
    let old = UtcStamp::new(now.utc() - Duration::days(KEPT_DAYS));
    diesel::delete(known_device::table.filter(known_device::seen_at.lt(old))).execute(conn)?;
    let of = |token: &str| known_device::token_hash.eq(digest(token.as_bytes()));
    let ours = match brought {
        Some(token) => known_device::table.filter(of(token)).count().get_result::<i64>(conn)? > 0,
        None => false,
    };
    let token = match brought.filter(|_| ours) {
        Some(token) => token.to_owned(),
        None => secret("onetrip_device_")?,
    };
    let line = known_device::table.find((digest(token.as_bytes()), who));
    if diesel::update(line).set(known_device::seen_at.eq(now)).execute(conn)? == 0 {
        diesel::insert_into(known_device::table)
            .values((of(&token), known_device::person_id.eq(who), known_device::seen_at.eq(now)))
            .execute(conn)?;
    }
    Ok(token)
}

/// Forgets the person's browsers.
///
/// # Errors
/// Where the database does not answer.
pub fn forget(conn: &mut Conn, who: &PersonId) -> Answer<()> {
    diesel::delete(known_device::table.filter(known_device::person_id.eq(who))).execute(conn)?;
    Ok(())
}
