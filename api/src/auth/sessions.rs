//! The sessions of a person: seen and ended by the person, or by whoever keeps
//! the account.

use diesel::prelude::*;
use serde::Serialize;

use super::device;
use super::session::{Kind, Span};
use crate::db::schema::{person, session, tablet};
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{GroupId, PersonId, TabletId};
use crate::domain::refusal::Refusal;

/// Enough of a session's hash to name it.
const NAMING: usize = 16;

/// A session that is alive.
#[derive(Debug, Clone, Serialize, utoipa::ToSchema)]
pub struct Session {
    /// The first 16 hexadecimal digits of the session's hash.
    pub id: String,
    /// `page` or `bearer`.
    pub kind: String,
    pub opened_at: UtcStamp,
    /// When it was last in use, to about ten minutes.
    pub seen_at: UtcStamp,
    pub ends_at: UtcStamp,
    /// What the browser or program says of itself.
    pub agent: Option<String>,
    /// The tablet of the shop floor that it was opened on by PIN.
    pub tablet: Option<String>,
    /// Whether it is the one that asks.
    pub current: bool,
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = session)]
struct Row {
    token_hash: String,
    kind: String,
    created_at: UtcStamp,
    seen_at: UtcStamp,
    ends_at: UtcStamp,
    agent: Option<String>,
    tablet_id: Option<TabletId>,
}

fn id_of(token_hash: &str) -> String {
    token_hash.chars().take(NAMING).collect()
}

impl Row {
    fn lives(&self, now: UtcStamp) -> bool {
        let kind = if self.kind == "page" { Kind::Page } else { Kind::Bearer };
        let (opened_at, used_at, ends_at) = (self.created_at, self.seen_at, self.ends_at);
        Span { opened_at, used_at, ends_at }.lives(kind, now)
    }
}

/// A row as a session; `current` is the hash of the one that asks.
fn told(conn: &mut Conn, row: Row, current: &str) -> Answer<Session> {
    let on = match &row.tablet_id {
        Some(id) => {
            tablet::table.filter(tablet::id.eq(id)).select(tablet::name).first(conn).optional()?
        }
        None => None,
    };
    Ok(Session {
        id: id_of(&row.token_hash),
        kind: row.kind,
        opened_at: row.created_at,
        seen_at: row.seen_at,
        ends_at: row.ends_at,
        agent: row.agent,
        tablet: on,
        current: row.token_hash == current,
    })
}

/// A person's living sessions, the latest used first; `current` is the hash of
/// the one that asks.
///
/// # Errors
/// Where the database does not answer.
pub fn of_person(
    conn: &mut Conn,
    person: &PersonId,
    current: &str,
    now: UtcStamp,
) -> Answer<Vec<Session>> {
    let rows: Vec<Row> = session::table
        .filter(session::person_id.eq(person).and(session::ends_at.gt(now)))
        .order((session::seen_at.desc(), session::token_hash))
        .select(Row::as_select())
        .load(conn)?;
    rows.into_iter().filter(|row| row.lives(now)).map(|row| told(conn, row, current)).collect()
}

/// The living sessions of a group with whose they are, the latest used first.
///
/// # Errors
/// Where the database does not answer.
pub fn of_group(
    conn: &mut Conn,
    group: &GroupId,
    current: &str,
    now: UtcStamp,
) -> Answer<Vec<(PersonId, Session)>> {
    let rows: Vec<(PersonId, Row)> = session::table
        .inner_join(person::table.on(person::id.eq(session::person_id)))
        .filter(person::group_id.eq(group).and(session::ends_at.gt(now)))
        .order((session::seen_at.desc(), session::token_hash))
        .select((session::person_id, Row::as_select()))
        .load(conn)?;
    let living = rows.into_iter().filter(|(_, row)| row.lives(now));
    living.map(|(whose, row)| Ok((whose, told(conn, row, current)?))).collect()
}

/// Ends one session of somebody in the group.
///
/// # Errors
/// Not found.
pub fn end_in_group(conn: &mut Conn, group: &GroupId, id: &str) -> Answer<()> {
    let hashes: Vec<String> = session::table
        .inner_join(person::table.on(person::id.eq(session::person_id)))
        .filter(person::group_id.eq(group))
        .select(session::token_hash)
        .load(conn)?;
    end_one(conn, hashes, id)
}

/// Ends one session of the person.
///
/// # Errors
/// Not found.
pub fn end(conn: &mut Conn, person: &PersonId, id: &str) -> Answer<()> {
    let hashes: Vec<String> = session::table
        .filter(session::person_id.eq(person))
        .select(session::token_hash)
        .load(conn)?;
    end_one(conn, hashes, id)
}

/// Ends that one of the sessions which the id names.
fn end_one(conn: &mut Conn, hashes: Vec<String>, id: &str) -> Answer<()> {
    let Some(hash) = hashes.into_iter().find(|hash| id_of(hash) == id) else {
        return Err(Refusal::NotFound.into());
    };
    diesel::delete(session::table.find(hash)).execute(conn)?;
    Ok(())
}

/// Ends every session of the person but the one of that hash, and forgets the
/// browsers that the person has signed in with.
///
/// # Errors
/// Where the database does not answer.
pub fn end_all(conn: &mut Conn, person: &PersonId, but: Option<&str>) -> Answer<()> {
    let kept = but.unwrap_or_default();
    diesel::delete(
        session::table.filter(session::person_id.eq(person).and(session::token_hash.ne(kept))),
    )
    .execute(conn)?;
    device::forget(conn, person)
}

/// Ends what the person opened with a PIN.
///
/// # Errors
/// Where the database does not answer.
pub fn end_by_pin(conn: &mut Conn, person: &PersonId) -> Answer<()> {
    diesel::delete(
        session::table.filter(session::person_id.eq(person).and(session::tablet_id.is_not_null())),
    )
    .execute(conn)?;
    Ok(())
}

/// Ends what was opened on a tablet.
///
/// # Errors
/// Where the database does not answer.
pub fn end_on(conn: &mut Conn, tablet: &TabletId) -> Answer<()> {
    diesel::delete(session::table.filter(session::tablet_id.eq(tablet))).execute(conn)?;
    Ok(())
}
