//! Slows down guessing. By account: after five tries in a row a name waits 1, 2, 4
//! ... seconds, at most a quarter of an hour, until it signs in; the record keeps
//! that, so that a new start forgets nothing. By address: ten at once, then one in
//! six seconds, for browsers that nobody has signed in with before, so that a shop
//! behind one address never waits for somebody's flood at its own machines.

use std::net::IpAddr;
use std::num::NonZeroU32;
use std::time::Duration;

use diesel::prelude::*;
use governor::clock::{Clock, DefaultClock};
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};
use ipnet::{Ipv4Net, Ipv6Net};

use super::session::digest;
use crate::db::schema::sign_in_try;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::problem::{Kind, Problem};

const FREE: i32 = 5;
const LONGEST_SECONDS: i64 = 900;
/// Keys remembered at most, and how long one that is not tried any more.
const MOST_KEYS: i64 = 10_000;
const FORGOTTEN_HOURS: i64 = 24;

/// Tries from one address: so many at once, then one each so often.
const BURST: NonZeroU32 = NonZeroU32::MIN.saturating_add(9);
const EACH: Duration = Duration::from_secs(6);
/// Addresses remembered before those that may try again are forgotten.
const MOST_ADDRESSES: usize = 10_000;

/// Tries by address.
pub struct Addresses(DefaultKeyedRateLimiter<IpAddr>);

impl Default for Addresses {
    fn default() -> Self {
        let quota = Quota::with_period(EACH).unwrap_or_else(|| Quota::per_minute(BURST));
        Self(RateLimiter::keyed(quota.allow_burst(BURST)))
    }
}

impl Addresses {
    /// Counts a try, or refuses it. This machine itself is not counted: behind its
    /// address stands a web server that nobody said to trust, with everybody.
    ///
    /// # Errors
    /// Too many tries, with the seconds to wait.
    pub fn admit(&self, from: IpAddr) -> Result<(), Problem> {
        if from.is_loopback() {
            return Ok(());
        }
        if self.0.len() > MOST_ADDRESSES {
            self.0.retain_recent();
        }
        self.0.check_key(&network(from)).map_err(|not_yet| {
            let wait = not_yet.wait_time_from(DefaultClock::default().now());
            too_many(i64::try_from(wait.as_secs()).unwrap_or(LONGEST_SECONDS) + 1)
        })
    }
}

/// What one holds who has an address: of IPv6 64 bits of them.
fn network(from: IpAddr) -> IpAddr {
    match from {
        IpAddr::V4(one) => IpAddr::V4(Ipv4Net::from(one).network()),
        IpAddr::V6(one) => Ipv6Net::new_assert(one, 64).network().into(),
    }
}

/// Too many tries.
#[must_use]
pub fn too_many(wait: i64) -> Problem {
    let left = u32::try_from(wait).unwrap_or(1).max(1);
    let mut problem = Problem::new(Kind::TOO_MANY, format!("wait {}", seconds(left)));
    problem.retry_after_seconds = Some(left);
    problem
}

/// How long a key still waits after so many tries, the last at `last`. A clock that
/// was set back makes no wait longer than it is.
fn waits(tries: i32, last: UtcStamp, now: UtcStamp) -> Option<i64> {
    if tries < FREE {
        return None;
    }
    let wait = wait_seconds(tries);
    let passed = (now.utc() - last.utc()).num_seconds();
    (passed.abs() < wait).then(|| wait - passed.max(0))
}

fn wait_seconds(tries: i32) -> i64 {
    let doublings = tries.saturating_sub(FREE).clamp(0, 20);
    (1_i64 << doublings).min(LONGEST_SECONDS)
}

/// Counts a try for each of the keys, or answers the seconds to wait.
///
/// # Errors
/// Where the database does not answer.
pub fn admit(conn: &mut Conn, keys: &[String], now: UtcStamp) -> Answer<Option<i64>> {
    // Tries stand in one line, on both databases: of two at once one is the sixth.
    diesel::update(sign_in_try::table.find("")).set(sign_in_try::last_at.eq(now)).execute(conn)?;
    let mut found = Vec::with_capacity(keys.len());
    for key in keys {
        // A name may be long, and anybody may send it: its digest is kept.
        let hash = digest(key.as_bytes());
        let before: Option<(i32, UtcStamp)> = sign_in_try::table
            .find(&hash)
            .select((sign_in_try::tries, sign_in_try::last_at))
            .first(conn)
            .optional()?;
        // Where one of them waits, none is counted.
        if let Some(wait) = before.and_then(|(tries, last)| waits(tries, last, now)) {
            return Ok(Some(wait));
        }
        found.push((hash, before.map(|(tries, _)| tries)));
    }
    for (hash, before) in found {
        count(conn, &hash, before, now)?;
    }
    Ok(None)
}

fn count(conn: &mut Conn, hash: &str, before: Option<i32>, now: UtcStamp) -> Answer<()> {
    if let Some(tries) = before {
        diesel::update(sign_in_try::table.find(hash))
            .set((sign_in_try::tries.eq(tries.saturating_add(1)), sign_in_try::last_at.eq(now)))
            .execute(conn)?;
        return Ok(());
    }
    make_room(conn, now)?;
    diesel::insert_into(sign_in_try::table)
        .values((
            sign_in_try::key_hash.eq(hash),
            sign_in_try::tries.eq(1),
            sign_in_try::last_at.eq(now),
        ))
        .execute(conn)?;
    Ok(())
}

/// Whoever sends many names that nobody has must not make it forget the one that
/// is being guessed at: those with few tries go first, then those tried long ago.
fn make_room(conn: &mut Conn, now: UtcStamp) -> Answer<()> {
    let held: i64 = sign_in_try::table.count().get_result(conn)?;
    if held <= MOST_KEYS {
        return Ok(());
    }
    let old = UtcStamp::new(now.utc() - chrono::Duration::hours(FORGOTTEN_HOURS));
    let named = sign_in_try::key_hash.ne("");
    let gone = diesel::delete(sign_in_try::table.filter(named.and(sign_in_try::last_at.lt(old))))
        .execute(conn)?;
    if gone > 0 {
        return Ok(());
    }
    let first: Vec<String> = sign_in_try::table
        .filter(named)
        .order((sign_in_try::tries.ge(FREE), sign_in_try::last_at, sign_in_try::key_hash))
        .select(sign_in_try::key_hash)
        .limit(MOST_KEYS / 4)
        .load(conn)?;
    for hashes in first.chunks(500) {
        diesel::delete(sign_in_try::table.filter(sign_in_try::key_hash.eq_any(hashes)))
            .execute(conn)?;
    }
    Ok(())
}

/// Forgets the tries of keys that have come in.
///
/// # Errors
/// Where the database does not answer.
pub fn forget(conn: &mut Conn, keys: &[String]) -> Answer<()> {
    for key in keys {
        diesel::delete(sign_in_try::table.find(digest(key.as_bytes()))).execute(conn)?;
    }
    Ok(())
}

/// A wait in words.
#[must_use]
pub fn seconds(count: u32) -> String {
    if count == 1 { "1 second".to_owned() } else { format!("{count} seconds") }
}

#[cfg(test)]
mod tests;
