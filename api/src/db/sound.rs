//! What a database says of its own soundness.

use diesel::prelude::*;
use diesel::sql_types::Text;
use diesel::sqlite::SqliteConnection;

use super::{Answer, Conn, Db};

#[derive(QueryableByName)]
pub(super) struct Told {
    #[diesel(sql_type = Text)]
    pub told: String,
}

/// Both checks answer no row, or `ok`, where all is well.
const SQLITE: [&str; 2] = [
    "SELECT integrity_check AS told FROM pragma_integrity_check",
    "SELECT \"table\" || ' row ' || coalesce(rowid, 0) || ' names a row of ' || parent \
     || ' that is not there' AS told FROM pragma_foreign_key_check",
];

impl Db {
    /// The faults that the database finds in its own pages and references.
    /// PostgreSQL keeps watch over its pages itself and answers none.
    ///
    /// # Errors
    /// Where it does not answer.
    pub fn faults(&self) -> Answer<Vec<String>> {
        self.read(|conn| match conn {
            Conn::Sqlite(inner) => Ok(sqlite_faults(inner)?),
            Conn::Postgres(_) => Ok(Vec::new()),
        })
    }
}

impl Db {
    /// Whether the database itself keeps the shops apart; a superuser walks through
    /// its walls, and SQLite has none.
    ///
    /// # Errors
    /// Where it does not answer.
    pub fn walled(&self) -> Answer<bool> {
        self.read(|conn| match conn {
            Conn::Sqlite(_) => Ok(false),
            Conn::Postgres(inner) => {
                let walking: Vec<Told> = diesel::sql_query(
                    "SELECT rolname::text AS told FROM pg_roles \
                     WHERE rolname = current_user AND (rolsuper OR rolbypassrls)",
                )
                .load(inner)?;
                Ok(walking.is_empty())
            }
        })
    }
}

/// The faults of a SQLite file.
pub(super) fn sqlite_faults(conn: &mut SqliteConnection) -> QueryResult<Vec<String>> {
    let mut faults = Vec::new();
    for check in SQLITE {
        let rows: Vec<Told> = diesel::sql_query(check).load(conn)?;
        faults.extend(rows.into_iter().map(|row| row.told).filter(|told| told != "ok"));
    }
    Ok(faults)
}

/// How many steps a SQLite file has taken to what it is.
pub(super) fn steps_taken(conn: &mut SqliteConnection) -> QueryResult<usize> {
    let rows: Vec<Told> =
        diesel::sql_query("SELECT version AS told FROM __diesel_schema_migrations").load(conn)?;
    Ok(rows.len())
}
