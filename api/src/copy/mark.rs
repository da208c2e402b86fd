//! When whole copies were written: kept in the record, and in no copy of it.

use diesel::prelude::*;

use super::manifest::Manifest;
use crate::db::schema::copy_made;
use crate::db::{Answer, Conn, Db};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::CopyId;

/// A whole copy that was written.
#[derive(Debug, Clone, Queryable, Selectable, Insertable)]
#[diesel(table_name = copy_made)]
pub struct Mark {
    id: CopyId,
    pub made_at: UtcStamp,
    #[diesel(column_name = row_count)]
    pub rows: i64,
    pub with_secrets: bool,
    /// The program that wrote it.
    pub written_by: String,
}

/// Notes a copy that is whole.
///
/// # Errors
/// Where the database does not answer.
pub fn mark(db: &Db, manifest: &Manifest, now: UtcStamp) -> Answer<()> {
    let mark = Mark {
        id: CopyId::make(),
        made_at: now,
        rows: i64::try_from(manifest.rows()).unwrap_or(i64::MAX),
        with_secrets: manifest.with_secrets,
        written_by: manifest.written_by.clone(),
    };
    db.write_blocking(move |conn| {
        diesel::insert_into(copy_made::table).values(&mark).execute(conn)?;
        Ok(())
    })
}

/// The last copy that was written of this record.
///
/// # Errors
/// Where the database does not answer.
pub fn last_mark(conn: &mut Conn) -> Answer<Option<Mark>> {
    Ok(copy_made::table
        .order((copy_made::made_at.desc(), copy_made::id.desc()))
        .select(Mark::as_select())
        .first(conn)
        .optional()?)
}
