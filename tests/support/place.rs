//! Where a record lives, and what stands in it beside the program's back.

use std::sync::OnceLock;

use diesel::connection::SimpleConnection;
use diesel::pg::PgConnection;
use diesel::prelude::*;
use diesel::sql_types::Text;
use diesel::sqlite::SqliteConnection;

use super::folder::Folder;
use super::postgres::Database;
use super::program::Program;
use super::shops;

/// The demo shop's last day, a Sunday.
pub const DEMO_END: &str = "2026-10-11";

/// A place for one record.
pub enum Place {
    Sqlite(Folder),
    Postgres(Database),
}

#[derive(QueryableByName)]
struct Line {
    #[diesel(sql_type = Text)]
    line: String,
}

impl Place {
    /// A folder with the tests' shops in it.
    pub fn sqlite() -> Self {
        static MODEL: OnceLock<Place> = OnceLock::new();
        let model = MODEL.get_or_init(|| {
            let place = Self::empty_sqlite();
            shops::furnish(&place);
            place
        });
        model.copied()
    }

    /// The same record once more; nobody may be at work on it.
    pub fn copied(&self) -> Self {
        match self {
            Self::Sqlite(from) => {
                let to = Folder::new();
                for entry in std::fs::read_dir(from.path()).unwrap() {
                    let entry = entry.unwrap();
                    std::fs::copy(entry.path(), to.path().join(entry.file_name())).unwrap();
                }
                Self::Sqlite(to)
            }
            Self::Postgres(model) => Self::Postgres(Database::copy_of(model)),
        }
    }

    /// A database with the tests' shops in it; `None` where no server answers.
    pub fn postgres() -> Option<Self> {
        static MODEL: OnceLock<Option<Place>> = OnceLock::new();
        let model = MODEL.get_or_init(|| {
            let place = Self::empty_postgres()?;
            shops::furnish(&place);
            Some(place)
        });
        model.as_ref().map(Self::copied)
    }

    /// The demo shop, made once, up to a fixed day.
    pub fn demo() -> &'static Self {
        static DEMO: OnceLock<Place> = OnceLock::new();
        DEMO.get_or_init(|| Self::empty_sqlite().with_demo())
    }

    /// An empty place with the demo shop in it.
    pub fn with_demo(self) -> Self {
        Program::new(&self, &["demo", "--prepare-only", "--end", DEMO_END]).must("");
        self
    }

    pub fn empty_sqlite() -> Self {
        Self::Sqlite(Folder::new())
    }

    pub fn empty_postgres() -> Option<Self> {
        Database::empty().map(Self::Postgres)
    }

    /// What `--data` takes.
    pub fn data(&self) -> String {
        match self {
            Self::Sqlite(folder) => folder.path().display().to_string(),
            Self::Postgres(database) => database.owner_url(),
        }
    }

    /// The rows of a query whose one column is a text named `line`.
    pub fn lines(&self, sql: &str) -> Vec<String> {
        let rows: Vec<Line> = match self {
            Self::Sqlite(folder) => {
                let file = folder.path().join("onetrip.sqlite").display().to_string();
                let mut conn = SqliteConnection::establish(&file).unwrap();
                // The server may just be putting its log in order.
                conn.batch_execute("PRAGMA busy_timeout = 5000").unwrap();
                diesel::sql_query(sql).load(&mut conn)
            }
            Self::Postgres(database) => {
                let mut conn = PgConnection::establish(&database.url()).unwrap();
                diesel::sql_query(sql).load(&mut conn)
            }
        }
        .unwrap();
        rows.into_iter().map(|row| row.line).collect()
    }

    /// Runs statements behind the program's back.
    pub fn run(&self, sql: &str) {
        match self {
            Self::Sqlite(folder) => {
                let file = folder.path().join("onetrip.sqlite").display().to_string();
                let mut conn = SqliteConnection::establish(&file).unwrap();
                conn.batch_execute(&format!("PRAGMA busy_timeout = 5000; {sql}"))
            }
            Self::Postgres(database) => {
                PgConnection::establish(&database.url()).unwrap().batch_execute(sql)
            }
        }
        .unwrap();
    }

    /// The number of rows that a `FROM ...` has.
    pub fn count(&self, from: &str) -> i64 {
        let lines = self.lines(&format!("SELECT CAST(count(*) AS TEXT) AS line {from}"));
        lines[0].parse().unwrap()
    }
}
