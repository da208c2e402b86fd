//! Sessions: random tokens of which the record keeps only the SHA-256.

use chrono::Duration;
use diesel::prelude::*;
use rand::TryRngCore;
use rand::rngs::OsRng;
use sha2::{Digest, Sha256};

use crate::db::schema::{person, session};
use crate::db::{Answer, Conn, Fault};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::PersonId;
use crate::people::model::{Grant, Person, grants};

/// A page session ends after a shift without use; a token after a week.
const IDLE_HOURS: i64 = 12;
const LIFE_DAYS: i64 = 7;

/// What a session is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
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
}

/// Random text of 256 bits, with a prefix that leak scanners can find.
fn secret(prefix: &str) -> Answer<String> {
    let mut bytes = [0_u8; 32];
    OsRng.try_fill_bytes(&mut bytes).map_err(|error| Fault::Unavailable(error.to_string()))?;
    Ok(format!("{prefix}{}", hex(&bytes)))
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
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
pub fn open(conn: &mut Conn, who: &PersonId, kind: Kind, now: UtcStamp) -> Answer<NewSession> {
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
        ))
        .execute(conn)?;
    Ok(NewSession { token, ends_at })
}

/// Who holds the token, where it is alive and the person still works here.
///
/// # Errors
/// Where the database does not answer.
pub fn holder(conn: &mut Conn, token: &str, kind: Kind, now: UtcStamp) -> Answer<Option<Asker>> {
    let idle = UtcStamp::new(now.utc() - Duration::hours(IDLE_HOURS));
    let mut query = session::table
        .inner_join(person::table)
        .filter(session::token_hash.eq(digest(token.as_bytes())))
        .filter(session::kind.eq(kind.as_str()))
        .filter(session::ends_at.gt(now))
        .filter(person::active.eq(true))
        .select((Person::as_select(), session::form_token))
        .into_boxed();
    if kind == Kind::Page {
        query = query.filter(session::seen_at.gt(idle));
    }
    let found: Option<(Person, String)> = query.first(conn).optional()?;
    let Some((person, form_token)) = found else {
        return Ok(None);
    };
    let grants = grants(conn, &person.id)?;
    Ok(Some(Asker { person, grants, form_token }))
}

/// Notes that the session is in use.
///
/// # Errors
/// Where the database does not answer.
pub fn touch(conn: &mut Conn, token_hash: &str, now: UtcStamp) -> Answer<()> {
    diesel::update(session::table.find(token_hash)).set(session::seen_at.eq(now)).execute(conn)?;
    Ok(())
}

/// When the session was last noted as in use.
///
/// # Errors
/// Where the database does not answer.
pub fn seen_at(conn: &mut Conn, token_hash: &str) -> Answer<Option<UtcStamp>> {
    Ok(session::table.find(token_hash).select(session::seen_at).first(conn).optional()?)
}

/// Ends a session; nothing happens where there is none.
///
/// # Errors
/// Where the database does not answer.
pub fn close(conn: &mut Conn, token: &str) -> Answer<()> {
    diesel::delete(session::table.find(digest(token.as_bytes()))).execute(conn)?;
    Ok(())
}
