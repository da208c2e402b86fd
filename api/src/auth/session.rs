//! Sessions: random tokens of which the record keeps only the SHA-256.

use chrono::Duration;
use diesel::prelude::*;
use rand::TryRngCore;
use rand::rngs::OsRng;
use sha2::{Digest, Sha256};

use super::reach::{Way, pin_grants};
use super::{tablet, token};
use crate::db::schema::{person, session};
use crate::db::{Answer, Conn, Fault};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{PersonId, TabletId};
use crate::people::model::{Person, grants};
use crate::people::rights::Grant;

/// A page session ends after a shift without use; a token after a week.
pub const IDLE_HOURS: i64 = 12;
const LIFE_DAYS: i64 = 7;
/// Kept of what a browser or program says of itself.
const MOST_AGENT: usize = 300;

/// What a session is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    Page,
    Bearer,
}

impl Kind {
    const fn as_str(self) -> &'static str {
        match self {
            Self::Page => "page",
            Self::Bearer => "bearer",
        }
    }
}

/// What a session is opened from.
#[derive(Debug, Clone, Default)]
pub struct Device {
    agent: Option<String>,
    tablet: Option<TabletId>,
}

impl Device {
    /// A browser or program, by what it says of itself.
    #[must_use]
    pub fn naming(agent: Option<&str>) -> Self {
        let agent = agent.map(|text| text.chars().take(MOST_AGENT).collect());
        Self { agent, tablet: None }
    }

    /// On that tablet of the shop floor.
    #[must_use]
    pub fn on(self, tablet: TabletId) -> Self {
        Self { tablet: Some(tablet), ..self }
    }
}

/// A new session's secrets: told once, to its owner.
#[derive(Clone)]
pub struct NewSession {
    pub token: String,
    pub ends_at: UtcStamp,
}

/// Who asks, with all grants.
#[derive(Debug, Clone)]
pub struct Asker {
    pub person: Person,
    pub grants: Vec<Grant>,
    /// Goes into every form of a page session.
    pub form_token: String,
    pub way: Way,
    /// The hash under which the record keeps the session or token.
    pub token_hash: String,
    /// When its use was last noted.
    pub used_at: Option<UtcStamp>,
    /// When it ends; absent: it does not end by itself.
    pub ends_at: Option<UtcStamp>,
}

/// Random text of 256 bits, with a prefix that leak scanners can find.
///
/// # Errors
/// Where the machine has no random bytes.
pub fn secret(prefix: &str) -> Answer<String> {
    let mut bytes = [0_u8; 32];
    OsRng.try_fill_bytes(&mut bytes).map_err(|error| Fault::Unavailable(error.to_string()))?;
    Ok(format!("{prefix}{}", hex(&bytes)))
}

fn hex(bytes: &[u8]) -> String {
    let digit = |half: u8| char::from_digit(u32::from(half), 16).unwrap_or('0');
    bytes.iter().flat_map(|b| [digit(b >> 4), digit(b & 15)]).collect()
}

/// SHA-256 in hexadecimal.
#[must_use]
pub fn digest(text: &[u8]) -> String {
    hex(&Sha256::digest(text))
}

/// Opens a session.
///
/// # Errors
/// Where the database does not answer.
pub fn open(
    conn: &mut Conn,
    who: &PersonId,
    kind: Kind,
    device: &Device,
    now: UtcStamp,
) -> Answer<NewSession> {
    let token = secret("onetrip_")?;
    let ends_at = UtcStamp::new(now.utc() + Duration::days(LIFE_DAYS));
    diesel::delete(session::table.filter(session::ends_at.lt(now))).execute(conn)?;
    diesel::insert_into(session::table)
        .values((
            session::token_hash.eq(digest(token.as_bytes())),
            session::person_id.eq(who),
            session::kind.eq(kind.as_str()),
            session::form_token.eq(secret("")?),
            session::created_at.eq(now),
            session::seen_at.eq(now),
            session::ends_at.eq(ends_at),
            session::agent.eq(&device.agent),
            session::tablet_id.eq(&device.tablet),
        ))
        .execute(conn)?;
    Ok(NewSession { token, ends_at })
}

/// The last moment at which an unused page session still lives.
pub(super) fn idle_since(now: UtcStamp) -> UtcStamp {
    UtcStamp::new(now.utc() - Duration::hours(IDLE_HOURS))
}

/// Who holds the token of that hash, a session's or, for programs, a named one,
/// where it is alive and the person still works here.
///
/// # Errors
/// Where the database does not answer.
pub fn holder(
    conn: &mut Conn,
    token_hash: String,
    kind: Kind,
    now: UtcStamp,
) -> Answer<Option<Asker>> {
    type Found = (Person, String, UtcStamp, UtcStamp, Option<TabletId>);
    let mut query = session::table
        .inner_join(person::table)
        .filter(session::token_hash.eq(&token_hash))
        .filter(session::kind.eq(kind.as_str()))
        .filter(session::ends_at.gt(now))
        .filter(person::active.eq(true))
        .select((
            Person::as_select(),
            session::form_token,
            session::seen_at,
            session::ends_at,
            session::tablet_id,
        ))
        .into_boxed();
    if kind == Kind::Page {
        query = query.filter(session::seen_at.gt(idle_since(now)));
    }
    let found: Option<Found> = query.first(conn).optional()?;
    let Some((person, form_token, seen_at, ends_at, tablet)) = found else {
        return if kind == Kind::Bearer { token::holder(conn, token_hash, now) } else { Ok(None) };
    };
    let mut grants = grants(conn, &person.id)?;
    let mut way = Way::Password;
    if let Some(tablet) = tablet {
        let Some(shop_id) = tablet::shop_of(conn, &tablet)? else { return Ok(None) };
        grants = pin_grants(&grants, shop_id);
        way = Way::Pin;
    }
    let (used_at, ends_at) = (Some(seen_at), Some(ends_at));
    Ok(Some(Asker { person, grants, form_token, way, token_hash, used_at, ends_at }))
}

/// Notes that the session or token is in use.
///
/// # Errors
/// Where the database does not answer.
pub fn note_use(conn: &mut Conn, way: Way, token_hash: &str, now: UtcStamp) -> Answer<()> {
    if let Way::Token(_) = way {
        return token::touch(conn, token_hash, now);
    }
    diesel::update(session::table.find(token_hash)).set(session::seen_at.eq(now)).execute(conn)?;
    Ok(())
}

/// Ends the session of that hash; nothing happens where there is none.
///
/// # Errors
/// Where the database does not answer.
pub fn close(conn: &mut Conn, token_hash: &str) -> Answer<()> {
    diesel::delete(session::table.find(token_hash)).execute(conn)?;
    Ok(())
}
