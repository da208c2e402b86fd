//! What the database is, and how large it has become.

use diesel::prelude::*;

use super::sound::Told;
use super::{Answer, Conn, Db, Fault};

/// The database under the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct State {
    pub kind: &'static str,
    pub version: String,
    /// Its pages on disk, without what waits to be written into them.
    pub bytes: i64,
}

const SQLITE: [&str; 2] = [
    "SELECT sqlite_version() AS told",
    "SELECT CAST(page_count * page_size AS TEXT) AS told \
     FROM pragma_page_count() CROSS JOIN pragma_page_size()",
];
const POSTGRES: [&str; 2] = [
    "SELECT current_setting('server_version') AS told",
    "SELECT CAST(pg_database_size(current_database()) AS TEXT) AS told",
];

impl Db {
    /// Kind, version and size.
    ///
    /// # Errors
    /// Where it does not answer.
    pub fn state(&self) -> Answer<State> {
        self.read(|conn| {
            let (kind, asks) = match conn {
                Conn::Sqlite(_) => ("SQLite", SQLITE),
                Conn::Postgres(_) => ("PostgreSQL", POSTGRES),
            };
            let [version, bytes] = asks.map(|ask| one(conn, ask));
            let bytes = bytes?.parse().map_err(|_| Fault::Unavailable("no size".to_owned()))?;
            Ok(State { kind, version: version?, bytes })
        })
    }
}

fn one(conn: &mut Conn, ask: &str) -> Answer<String> {
    let asked = diesel::sql_query(ask);
    let told: Told = match conn {
        Conn::Sqlite(inner) => asked.get_result(inner)?,
        Conn::Postgres(inner) => asked.get_result(inner)?,
    };
    Ok(told.told)
}
