//! Sessions: random tokens of which the record keeps only the SHA-256.

use std::net::IpAddr;

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
#[derive(Debug, Clone)]
pub struct Device {
    agent: Option<String>,
    tablet: Option<TabletId>,
    /// For the log and for counting tries; the record does not keep it.
    pub from: IpAddr,
    /// What the browser keeps of having been signed in with before.
    pub known: Option<String>,
}

impl Device {
    /// A browser or program, by what it says of itself.
    #[must_use]
    pub fn naming(agent: Option<&str>, from: IpAddr, known: Option<String>) -> Self {
        let agent = agent.map(|text| text.chars().take(MOST_AGENT).collect());
        Self { agent, tablet: None, from, known }
    }

    /// Whether it is a tablet of the shop floor.
    #[must_use]
    pub fn is_tablet(&self) -> bool {
        self.tablet.is_some()
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
    /// What the browser is to keep of having been signed in with.
    pub device: Option<String>,
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
    /// When it was opened, where it is a session.
    pub opened_at: Option<UtcStamp>,
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
    // Those that a clock gone wrong opened end, too.
    let dead = session::ends_at.lt(now).or(session::created_at.gt(ends_at));
    diesel::delete(session::table.filter(dead)).execute(conn)?;
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
    Ok(NewSession { token, ends_at, device: None })
}

/// The moments that say how long a session lives.
#[derive(Debug, Clone, Copy)]
pub struct Span {
    pub opened_at: UtcStamp,
    pub used_at: UtcStamp,
    pub ends_at: UtcStamp,
}

impl Span {
    /// Whether a session lives. A clock that was set back leaves moments to come:
    /// those of a small step are borne with, but no session is older or longer
    /// unused than it may be by the clock, whichever way that was moved.
    #[must_use]
    pub fn lives(&self, kind: Kind, now: UtcStamp) -> bool {
        let within = |at: UtcStamp, most: Duration| (now.utc() - at.utc()).abs() < most;
        let used = kind == Kind::Bearer || within(self.used_at, Duration::hours(IDLE_HOURS));
        self.ends_at > now && within(self.opened_at, Duration::days(LIFE_DAYS)) && used
    }
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
    type Found = (Person, String, (UtcStamp, UtcStamp, UtcStamp), Option<TabletId>);
    let found: Option<Found> = session::table
        .inner_join(person::table)
        .filter(session::token_hash.eq(&token_hash))
        .filter(session::kind.eq(kind.as_str()))
        .filter(person::active.eq(true))
        .select((
            Person::as_select(),
            session::form_token,
            (session::created_at, session::seen_at, session::ends_at),
            session::tablet_id,
        ))
        .first(conn)
        .optional()?;
    let Some((person, form_token, (opened_at, used_at, ends_at), tablet)) = found else {
        return if kind == Kind::Bearer { token::holder(conn, token_hash, now) } else { Ok(None) };
    };
    if !(Span { opened_at, used_at, ends_at }).lives(kind, now) {
        return Ok(None);
    }
    let mut grants = grants(conn, &person.id)?;
    let mut way = Way::Password;
    if let Some(tablet) = tablet {
        let Some(shop_id) = tablet::shop_of(conn, &tablet)? else { return Ok(None) };
        grants = pin_grants(&grants, shop_id);
        way = Way::Pin;
    }
    let (used_at, ends_at, opened_at) = (Some(used_at), Some(ends_at), Some(opened_at));
    Ok(Some(Asker { person, grants, form_token, way, token_hash, used_at, ends_at, opened_at }))
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

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn at(text: &str) -> UtcStamp {
        UtcStamp::parse(text).unwrap()
    }

    #[test]
    fn no_step_of_the_clock_makes_a_session_live_on() {
        let opened_at = at("2026-10-12T08:00:00Z");
        let used_at = at("2026-10-12T20:00:00Z");
        let span = Span { opened_at, used_at, ends_at: at("2026-10-19T08:00:00Z") };
        for (now, page, bearer) in [
            ("2026-10-12T20:00:00Z", true, true),
            ("2026-10-13T07:59:59Z", true, true),
            ("2026-10-13T08:00:00Z", false, true),
            ("2026-10-19T07:59:59Z", false, true),
            ("2026-10-19T08:00:00Z", false, false),
            ("2036-10-12T20:00:00Z", false, false),
            // Set back by an hour, by a day, by years.
            ("2026-10-12T19:00:00Z", true, true),
            ("2026-10-11T20:00:00Z", false, true),
            ("2026-10-05T07:59:59Z", false, false),
            ("1970-01-01T00:00:00Z", false, false),
        ] {
            let lives = [Kind::Page, Kind::Bearer].map(|kind| span.lives(kind, at(now)));
            assert_eq!(lives, [page, bearer], "{now}");
        }
    }
}
