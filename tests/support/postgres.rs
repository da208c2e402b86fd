//! Databases of a PostgreSQL server, made and dropped by tests.

use std::sync::{Mutex, OnceLock, PoisonError};

use diesel::connection::SimpleConnection;
use diesel::pg::PgConnection;
use diesel::prelude::*;

use super::folder::{maker_runs, serial};

const USUAL: &str = "postgres://postgres@127.0.0.1:5432/test";

#[derive(QueryableByName)]
struct Name {
    #[diesel(sql_type = diesel::sql_types::Text)]
    name: String,
}

/// Who owns the tests' databases: as in a shop's house nobody special, so that the
/// walls between shops stand.
const OWNER: &str = "onetrip_test";

const EMPTY: &str = "template0 LC_COLLATE 'C' LC_CTYPE 'C' ENCODING 'UTF8'";

fn role() -> String {
    format!("CREATE ROLE {OWNER} LOGIN PASSWORD '{OWNER}' NOSUPERUSER")
}

/// A database of its own, dropped with this.
pub struct Database {
    name: String,
    admin: String,
}

/// The server's administrator, where it answers.
#[expect(
    clippy::disallowed_methods,
    reason = "where the test server is, only the environment knows"
)]
fn admin_url() -> Option<&'static str> {
    static URL: OnceLock<Option<String>> = OnceLock::new();
    let found = URL.get_or_init(|| {
        let url = std::env::var("ONETRIP_TEST_POSTGRES").unwrap_or_else(|_| USUAL.to_owned());
        match PgConnection::establish(&url) {
            Ok(mut conn) => {
                sweep(&mut conn);
                // Another process may be making the role.
                drop(conn.batch_execute(&role()));
                Some(url)
            }
            Err(error) => {
                assert!(std::env::var("CI").is_err(), "PostgreSQL does not answer: {error}");
                eprintln!("skipped: PostgreSQL does not answer: {error}");
                None
            }
        }
    });
    found.as_deref()
}

/// One statement at a time: making two databases of one model at once fails.
fn run(url: &str, sql: &str) {
    static TURN: Mutex<()> = Mutex::new(());
    let _turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
    PgConnection::establish(url).unwrap().batch_execute(sql).unwrap();
}

fn sweep(conn: &mut PgConnection) {
    let names: Vec<Name> = diesel::sql_query(
        "SELECT datname::text AS name FROM pg_database WHERE datname LIKE 'onetrip\\_test\\_%'",
    )
    .load(conn)
    .unwrap();
    for Name { name } in names {
        let left_by = name.trim_start_matches("onetrip_test_").split('_').next();
        if left_by.is_some_and(|pid| !maker_runs(pid)) {
            drop(conn.batch_execute(&format!("DROP DATABASE {name}")));
        }
    }
}

impl Database {
    /// An empty one; `None` where no server answers.
    pub fn empty() -> Option<Self> {
        Some(Self::make(admin_url()?, EMPTY))
    }

    /// An empty one of another server, by its administrator's address.
    pub fn in_cluster(admin: &str) -> Self {
        PgConnection::establish(admin).unwrap().batch_execute(&role()).unwrap();
        Self::make(admin, EMPTY)
    }

    /// A copy; nobody may be connected to the model.
    pub fn copy_of(model: &Self) -> Self {
        Self::make(&model.admin, &model.name)
    }

    fn make(admin: &str, from: &str) -> Self {
        let name = format!("onetrip_test_{}_{}", std::process::id(), serial());
        run(admin, &format!("CREATE DATABASE {name} OWNER {OWNER} TEMPLATE {from}"));
        Self { name, admin: admin.to_owned() }
    }

    /// The address for the owner, as the program gets it.
    pub fn owner_url(&self) -> String {
        let url = self.url();
        let (scheme, rest) = url.split_once("://").expect("an address has a scheme");
        let server = rest.rsplit_once('@').map_or(rest, |(_, server)| server);
        format!("{scheme}://{OWNER}:{OWNER}@{server}")
    }

    /// The administrator's address with this database in place of its own.
    pub fn url(&self) -> String {
        let admin = &self.admin;
        let (address, options) = admin.split_once('?').unwrap_or((admin.as_str(), ""));
        let (server, _) = address.rsplit_once('/').expect("an address names a database");
        format!("{server}/{}?{options}", self.name).trim_end_matches('?').to_owned()
    }
}

impl Drop for Database {
    fn drop(&mut self) {
        run(&self.admin, &format!("DROP DATABASE IF EXISTS {} WITH (FORCE)", self.name));
    }
}
