//! One connection to either database, and how each kind is set up.

use diesel::connection::SimpleConnection;
use diesel::pg::PgConnection;
use diesel::prelude::*;
use diesel::r2d2::ManageConnection;
use diesel::sqlite::SqliteConnection;

/// A connection to whichever database the record lives in.
#[derive(diesel::MultiConnection)]
pub enum Conn {
    Sqlite(SqliteConnection),
    Postgres(PgConnection),
}

/// How a connection will be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Use {
    Read,
    Write,
}

/// Opens the SQLite file of a folder.
pub(super) fn sqlite(path: &str, purpose: Use) -> ConnectionResult<SqliteConnection> {
    let mut conn = SqliteConnection::establish(path)?;
    let query_only = if purpose == Use::Read { "ON" } else { "OFF" };
    // The wait comes first: switching to WAL while others open fails at once
    // without it. FULL, since a box switched off at the wall must lose nothing.
    conn.batch_execute(&format!(
        "PRAGMA busy_timeout = 5000; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; \
         PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON; \
         PRAGMA secure_delete = ON; \
         PRAGMA journal_size_limit = 67108864; PRAGMA cache_size = -65536; \
         PRAGMA query_only = {query_only};"
    ))
    .map_err(ConnectionError::CouldntSetupConfiguration)?;
    Ok(conn)
}

/// Opens a PostgreSQL connection whose sessions speak UTC.
pub(super) fn postgres(url: &str) -> ConnectionResult<PgConnection> {
    let mut conn = PgConnection::establish(url)?;
    conn.batch_execute("SET TIME ZONE 'UTC'; SET client_min_messages = warning;")
        .map_err(ConnectionError::CouldntSetupConfiguration)?;
    Ok(conn)
}

/// Makes the pool's connections.
#[derive(Debug, Clone)]
pub(super) enum Manager {
    Sqlite { path: String },
    Postgres { url: String },
}

impl ManageConnection for Manager {
    type Connection = Conn;
    type Error = diesel::r2d2::Error;

    fn connect(&self) -> Result<Conn, Self::Error> {
        match self {
            Self::Sqlite { path } => sqlite(path, Use::Read).map(Conn::Sqlite),
            Self::Postgres { url } => postgres(url).map(Conn::Postgres),
        }
        .map_err(diesel::r2d2::Error::ConnectionError)
    }

    fn is_valid(&self, conn: &mut Conn) -> Result<(), Self::Error> {
        conn.batch_execute("SELECT 1").map_err(diesel::r2d2::Error::QueryError)
    }

    fn has_broken(&self, conn: &mut Conn) -> bool {
        // A transaction left open (a panic inside it) must not reach the next
        // borrower.
        match conn {
            Conn::Sqlite(inner) => !matches!(inner.batch_execute("BEGIN; ROLLBACK"), Ok(())),
            Conn::Postgres(_) => std::thread::panicking(),
        }
    }
}
