//! Code entries, and how the starting lists come into a new shop.

use analytics::words::{Access, Curable};
use diesel::prelude::*;
use serde::Serialize;

use super::merge::{self, Standing, Standings};
use super::{sources, starting};
use crate::db::schema::code_entry;
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::codes::system_of;
use crate::domain::refusal::Refusal;
use crate::web::words::Pick;

/// Merges that are followed.
const LONGEST_CHAIN: usize = 1000;

/// One entry of a list.
#[derive(Debug, Clone, Queryable, Selectable, Insertable, Serialize, utoipa::ToSchema)]
#[diesel(table_name = code_entry)]
pub struct CodeEntry {
    #[serde(skip)]
    pub shop_id: i32,
    pub list: String,
    pub code: String,
    pub label: String,
    /// System of a symptom.
    pub system: Option<String>,
    /// Kind of a cause (physical, workmanship, supply, none), or what a comeback
    /// reason is put down to.
    pub kind: Option<String>,
    /// Whether cleaning cures a cause.
    #[schema(value_type = Option<Curable>)]
    pub curable: Option<Word<Curable>>,
    /// Of a check.
    pub typical_minutes: Option<i32>,
    /// `starting`, `shop` or `import`.
    pub origin: String,
    /// Where a starting entry comes from.
    pub source: Option<String>,
    /// Since when it is no longer offered; history keeps it.
    pub retired_at: Option<UtcStamp>,
    /// The entry that it counts as now.
    pub merged_into: Option<String>,
    pub version: i32,
    /// What must be open or ready before a check.
    #[schema(value_type = Option<Access>)]
    pub access: Option<Word<Access>>,
}

impl CodeEntry {
    /// An entry with a label and nothing else.
    #[must_use]
    pub fn plain(shop_id: i32, list: &str, code: &str, label: &str, origin: &str) -> Self {
        Self {
            shop_id,
            list: list.to_owned(),
            code: code.to_owned(),
            label: label.to_owned(),
            system: (list == "symptom").then(|| system_of(code).to_owned()),
            kind: None,
            curable: None,
            typical_minutes: None,
            origin: origin.to_owned(),
            source: None,
            retired_at: None,
            merged_into: None,
            version: 1,
            access: None,
        }
    }

    /// Whether it goes into new work.
    #[must_use]
    pub fn is_live(&self) -> bool {
        self.retired_at.is_none() && self.merged_into.is_none()
    }

    /// As a choice.
    #[must_use]
    pub fn pick(&self) -> Pick {
        Pick::new(&*self.code, &*self.label)
    }

    /// How it stands in its list.
    #[must_use]
    pub fn standing(&self) -> Standing {
        Standing { retired: self.retired_at.is_some(), merged_into: self.merged_into.clone() }
    }
}

/// The entries of one list, or of all, by list and code.
///
/// # Errors
/// Where the database does not answer.
pub fn entries(conn: &mut Conn, shop_id: i32, list: Option<&str>) -> Answer<Vec<CodeEntry>> {
    let mut query = code_entry::table
        .filter(code_entry::shop_id.eq(shop_id))
        .order((code_entry::list, code_entry::code))
        .select(CodeEntry::as_select())
        .into_boxed();
    if let Some(list) = list {
        query = query.filter(code_entry::list.eq(list));
    }
    Ok(query.load(conn)?)
}

/// What a code means now: the entry at the end of the chain of merges that it
/// begins; itself where it was never merged.
///
/// # Errors
/// Where the database does not answer.
pub fn meant(conn: &mut Conn, shop_id: i32, list: &str, code: &str) -> Answer<String> {
    let mut at = code.to_owned();
    // A chain never closes; should one ever do, this still ends.
    for _ in 0..LONGEST_CHAIN {
        let next: Option<Option<String>> = code_entry::table
            .find((shop_id, list, &at))
            .select(code_entry::merged_into)
            .first(conn)
            .optional()?;
        match next.flatten() {
            Some(next) => at = next,
            None => break,
        }
    }
    Ok(at)
}

/// What a code means now, as [`meant`], and the system that the list gives it.
///
/// # Errors
/// Where the database does not answer.
pub fn meaning(
    conn: &mut Conn,
    shop_id: i32,
    list: &str,
    code: &str,
) -> Answer<(String, Option<String>)> {
    let mut at = code.to_owned();
    for _ in 0..LONGEST_CHAIN {
        let entry: Option<(Option<String>, Option<String>)> = code_entry::table
            .find((shop_id, list, &at))
            .select((code_entry::merged_into, code_entry::system))
            .first(conn)
            .optional()?;
        match entry {
            Some((Some(next), _)) => at = next,
            Some((None, system)) => return Ok((at, system)),
            None => return Ok((at, None)),
        }
    }
    Ok((at, None))
}

/// One entry.
///
/// # Errors
/// Where the database does not answer.
pub fn find(conn: &mut Conn, shop_id: i32, list: &str, code: &str) -> Answer<Option<CodeEntry>> {
    Ok(code_entry::table
        .find((shop_id, list, code))
        .select(CodeEntry::as_select())
        .first(conn)
        .optional()?)
}

/// How the entries of a list stand.
///
/// # Errors
/// Where the database does not answer.
pub fn standings(conn: &mut Conn, shop_id: i32, list: &str) -> Answer<Standings> {
    let rows = entries(conn, shop_id, Some(list))?;
    Ok(rows.into_iter().map(|entry| (entry.code.clone(), entry.standing())).collect())
}

/// The entry of a code that may go into new work.
///
/// # Errors
/// A fault at `field` where the list does not have it, or it is retired or
/// merged into another.
pub fn usable(
    conn: &mut Conn,
    shop_id: i32,
    list: &str,
    field: &str,
    code: &str,
) -> Answer<CodeEntry> {
    let Some(entry) = find(conn, shop_id, list, code)? else {
        return Err(Refusal::field(
            field,
            "unknown_code",
            format!("'{code}' is not in the shop's list ({list}); choose another or have it added"),
        )
        .into());
    };
    taken(conn, &entry, field)?;
    Ok(entry)
}

/// As [`usable`], for lists that take codes they do not have.
///
/// # Errors
/// A fault at `field` where the entry is retired or merged into another.
pub fn not_barred(
    conn: &mut Conn,
    shop_id: i32,
    list: &str,
    field: &str,
    code: &str,
) -> Answer<()> {
    match find(conn, shop_id, list, code)? {
        Some(entry) => taken(conn, &entry, field),
        None => Ok(()),
    }
}

/// Whether new work takes the entry: the rest of its list is read only where
/// not, to name what to choose instead.
fn taken(conn: &mut Conn, entry: &CodeEntry, field: &str) -> Answer<()> {
    if entry.is_live() {
        return Ok(());
    }
    let list = standings(conn, entry.shop_id, &entry.list)?;
    match merge::barred(&list, &entry.code) {
        Some((word, detail)) => Err(Refusal::field(field, word, detail).into()),
        None => Ok(()),
    }
}

/// Writes an entry's fields over what stands; its version goes on.
///
/// # Errors
/// Where the database does not answer.
pub fn save(conn: &mut Conn, entry: &CodeEntry) -> Answer<CodeEntry> {
    let version = entry.version + 1;
    diesel::update(code_entry::table.find((entry.shop_id, &entry.list, &entry.code)))
        .set((
            code_entry::label.eq(&entry.label),
            code_entry::system.eq(&entry.system),
            code_entry::kind.eq(&entry.kind),
            code_entry::curable.eq(entry.curable),
            code_entry::typical_minutes.eq(entry.typical_minutes),
            code_entry::retired_at.eq(entry.retired_at),
            code_entry::merged_into.eq(&entry.merged_into),
            code_entry::access.eq(entry.access),
            code_entry::version.eq(version),
        ))
        .execute(conn)?;
    Ok(CodeEntry { version, ..entry.clone() })
}

/// The symptoms of a system.
///
/// # Errors
/// Where the database does not answer.
pub fn symptoms_of(conn: &mut Conn, shop_id: i32, system: &str) -> Answer<Vec<CodeEntry>> {
    Ok(code_entry::table
        .filter(code_entry::shop_id.eq(shop_id).and(code_entry::list.eq("symptom")))
        .filter(code_entry::system.eq(system))
        .order(code_entry::code)
        .select(CodeEntry::as_select())
        .load(conn)?)
}

/// Adds an entry.
///
/// # Errors
/// A conflict where the list has the code.
pub fn add(conn: &mut Conn, entry: &CodeEntry) -> Answer<()> {
    diesel::insert_into(code_entry::table).values(entry).execute(conn)?;
    Ok(())
}

/// Writes the starting lists into a new shop.
///
/// # Errors
/// Where the database does not answer.
pub fn write_starting(conn: &mut Conn, shop_id: i32) -> Answer<()> {
    let plain = |list: &str, code: &str, label: &str| CodeEntry {
        source: Some(sources::of_entry(list, code)),
        ..CodeEntry::plain(shop_id, list, code, label, "starting")
    };
    let mut all = Vec::new();
    all.extend(starting::SYSTEMS.iter().map(|c| plain("system", c.code, c.label)));
    all.extend(starting::WHENS.iter().map(|c| plain("when", c.code, c.label)));
    all.extend(starting::SYMPTOMS.iter().map(|c| CodeEntry {
        system: Some(c.system.to_owned()),
        ..plain("symptom", c.code, c.label)
    }));
    all.extend(starting::CAUSES.iter().map(|c| CodeEntry {
        kind: Some(c.kind.to_owned()),
        curable: Some(Word(c.curable)),
        ..plain("cause", c.code, c.label)
    }));
    all.extend(starting::CHECKS.iter().map(|c| CodeEntry {
        typical_minutes: Some(c.minutes),
        access: Some(Word(c.access)),
        ..plain("check", c.code, c.label)
    }));
    all.extend(starting::COMEBACK_REASONS.iter().map(|c| CodeEntry {
        kind: Some(c.attribution.to_owned()),
        ..plain("comeback_reason", c.code, c.label)
    }));
    for entry in &all {
        add(conn, entry)?;
    }
    Ok(())
}
