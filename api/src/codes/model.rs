//! Code entries, and how the starting lists come into a new shop.

use analytics::words::Curable;
use diesel::prelude::*;
use serde::Serialize;

use super::starting;
use crate::db::schema::code_entry;
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::codes::system_of;

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
        }
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
    let plain = |list: &str, code: &str, label: &str| {
        CodeEntry::plain(shop_id, list, code, label, "starting")
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
