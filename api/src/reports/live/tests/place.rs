//! Where a test's record lies: a folder, or a database of a PostgreSQL server.

use std::path::PathBuf;
use std::sync::{Mutex, PoisonError};

use diesel::connection::SimpleConnection;
use diesel::pg::PgConnection;
use diesel::prelude::*;

use crate::db::Place;
use crate::domain::ids::OrderId;

/// Dropped with this.
pub enum Ground {
    Folder(PathBuf),
    Database(String),
}

/// One statement at a time: making two databases of one model at once fails.
fn run(sql: &str) -> Option<()> {
    static TURN: Mutex<()> = Mutex::new(());
    let _turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
    let url = super::postgres();
    match PgConnection::establish(&url) {
        Ok(mut conn) => conn.batch_execute(sql).map(Some).unwrap(),
        Err(error) => {
            assert!(!super::in_ci(), "PostgreSQL does not answer: {error}");
            eprintln!("skipped: PostgreSQL does not answer: {error}");
            None
        }
    }
}

impl Ground {
    pub fn folder() -> Self {
        let name = format!("onetrip-live-{}", OrderId::make());
        Self::Folder(super::temp_dir().join(name))
    }

    /// `None` where no server answers.
    pub fn database() -> Option<Self> {
        let own = OrderId::make().to_string().replace('-', "");
        // The name tells the black-box tests whose it was, should this break off.
        let name = format!("onetrip_test_{}_{own}", std::process::id());
        run(&format!(
            "CREATE DATABASE {name} TEMPLATE template0 LC_COLLATE 'C' LC_CTYPE 'C' ENCODING 'UTF8'"
        ))?;
        Some(Self::Database(name))
    }

    pub fn place(&self) -> Place {
        match self {
            Self::Folder(folder) => Place::Folder(folder.clone()),
            Self::Database(name) => {
                let admin = super::postgres();
                let (address, options) = admin.split_once('?').unwrap_or((&admin, ""));
                let (server, _) = address.rsplit_once('/').unwrap();
                let url = format!("{server}/{name}?{options}");
                Place::Url(url.trim_end_matches('?').to_owned())
            }
        }
    }
}

impl Drop for Ground {
    fn drop(&mut self) {
        match self {
            Self::Folder(folder) => drop(std::fs::remove_dir_all(folder)),
            Self::Database(name) => {
                run(&format!("DROP DATABASE IF EXISTS {name} WITH (FORCE)"));
            }
        }
    }
}
