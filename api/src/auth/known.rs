//! Who asks, kept in memory as long as the record says that nothing of it changed:
//! most requests come from somebody who asked a moment ago.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use diesel::prelude::*;

use super::session::{Asker, Kind, Span, holder};
use crate::db::schema::access_stamp;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::role::Role;
use crate::shops::model::{self as shops, Shop};

/// More are not kept: a sign-in is small, and this many sign in nowhere.
const MOST: usize = 4096;

/// Somebody signed in, with the shops of the group that they have a role in.
pub struct Known {
    pub asker: Asker,
    pub shops: Vec<Shop>,
}

/// The roles that somebody has in a shop.
pub fn roles_in<'a>(asker: &'a Asker, shop: &'a Shop) -> impl Iterator<Item = Role> + 'a {
    asker.grants.iter().filter(|(_, at)| at.is_none_or(|id| id == shop.id)).map(|(role, _)| *role)
}

/// The number that the database moves with whatever decides who may do what.
///
/// # Errors
/// Where the database does not answer.
pub fn stamp(conn: &mut Conn) -> Answer<i64> {
    Ok(access_stamp::table.find(1).select(access_stamp::moved).first(conn)?)
}

/// Reads who holds a token, with the stamp that it is true under.
///
/// # Errors
/// Where the database does not answer.
pub fn look_up(
    conn: &mut Conn,
    token_hash: &str,
    kind: Kind,
    now: UtcStamp,
) -> Answer<(i64, Option<Known>)> {
    let stamp = stamp(conn)?;
    let Some(asker) = holder(conn, token_hash.to_owned(), kind, now)? else {
        return Ok((stamp, None));
    };
    let mut shops = shops::of_group(conn, &asker.person.group_id)?;
    shops.retain(|shop| roles_in(&asker, shop).next().is_some());
    Ok((stamp, Some(Known { asker, shops })))
}

/// Those who asked lately, by the hash of their token and what it is for.
#[derive(Default)]
pub struct Lately(Mutex<HashMap<(String, Kind), Kept>>);

struct Kept {
    stamp: i64,
    known: Arc<Known>,
    /// When its use was last noted.
    used_at: Option<UtcStamp>,
}

impl Lately {
    fn locked(&self) -> MutexGuard<'_, HashMap<(String, Kind), Kept>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Who holds the token, with when its use was last noted, if that was known
    /// under the same stamp and the clock has not ended it. What is not known
    /// here the record may know.
    pub fn find(
        &self,
        token_hash: &str,
        kind: Kind,
        stamp: i64,
        now: UtcStamp,
    ) -> Option<(Arc<Known>, Option<UtcStamp>)> {
        let held = self.locked();
        let kept = held.get(&(token_hash.to_owned(), kind)).filter(|kept| kept.stamp == stamp)?;
        let asker = &kept.known.asker;
        let lives = match (asker.opened_at, kept.used_at, asker.ends_at) {
            (Some(opened_at), Some(used_at), Some(ends_at)) => {
                Span { opened_at, used_at, ends_at }.lives(kind, now)
            }
            // A named token ends where it was made to.
            (_, _, ends_at) => ends_at.is_none_or(|end| end > now),
        };
        lives.then(|| (Arc::clone(&kept.known), kept.used_at))
    }

    /// Keeps what was read.
    pub fn keep(&self, token_hash: &str, kind: Kind, stamp: i64, known: &Arc<Known>) {
        let mut held = self.locked();
        if held.len() >= MOST {
            held.clear();
        }
        let used_at = known.asker.used_at;
        let kept = Kept { stamp, known: Arc::clone(known), used_at };
        held.insert((token_hash.to_owned(), kind), kept);
    }

    /// Takes down that the use of a token was noted.
    pub fn used(&self, token_hash: &str, kind: Kind, now: UtcStamp) {
        if let Some(kept) = self.locked().get_mut(&(token_hash.to_owned(), kind)) {
            kept.used_at = Some(now);
        }
    }
}
