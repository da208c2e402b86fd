//! Opening the record: a folder with a SQLite file, or a PostgreSQL URL.

use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use diesel::RunQueryDsl;
use diesel::connection::SimpleConnection;
use diesel::r2d2::{Pool, PooledConnection};
use diesel::sqlite::{Sqlite, SqliteConnection};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

use super::conn::{Manager, Use, postgres, sqlite};
use super::reach::Reach;
use super::snapshot::{self, FILE};
use super::writer::Line;
use super::{Answer, Conn, Fault};

const SQLITE_STEPS: EmbeddedMigrations = embed_migrations!("../migrations/sqlite");
const POSTGRES_STEPS: EmbeddedMigrations = embed_migrations!("../migrations/postgres");

/// SQLite before 3.51.3 can lose committed work when a checkpoint and a write
/// meet (sqlite.org, "WAL-reset bug").
const OLDEST_SQLITE: i32 = 3_051_003;

/// Connections for reading.
const READERS: u32 = 8;

/// Where the record lives.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// A folder; the record is the file `onetrip.sqlite` in it.
    Folder(PathBuf),
    /// A `postgres://` URL.
    Url(String),
}

impl Place {
    /// Reads what the user wrote.
    #[must_use]
    pub fn parse(text: &str) -> Self {
        if text.starts_with("postgres://") || text.starts_with("postgresql://") {
            Self::Url(text.to_owned())
        } else {
            Self::Folder(PathBuf::from(text))
        }
    }

    /// For messages: never shows a password.
    #[must_use]
    pub fn show(&self) -> String {
        match self {
            Self::Folder(path) => path.display().to_string(),
            Self::Url(url) => {
                let after = url.rsplit_once('@').map_or(url.as_str(), |(_, rest)| rest);
                format!("postgres://{}", after.trim_start_matches("postgres://"))
            }
        }
    }
}

/// Why the record could not be opened.
#[derive(Debug)]
pub enum OpenError {
    Folder(PathBuf, std::io::Error),
    OldSqlite(i32),
    Connect(String),
    Migrate(String),
    /// Made by a newer program.
    Newer(String),
    /// Another server runs on the same folder.
    InUse(PathBuf),
    /// The database server has a setting that loses work when the power goes.
    Careless(String),
}

impl std::fmt::Display for OpenError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Folder(path, error) => {
                write!(f, "cannot use the folder {}: {error}", path.display())
            }
            Self::OldSqlite(found) => write!(
                f,
                "SQLite {found} is too old: 3.51.3 or newer is needed, older ones can lose work"
            ),
            Self::Connect(reason) => write!(f, "cannot open the record: {reason}"),
            Self::Migrate(reason) => write!(f, "cannot bring the record up to date: {reason}"),
            Self::Newer(stamp) => {
                write!(f, "the record was made by a newer onetrip (step {stamp}); use that one")
            }
            Self::Careless(setting) => {
                write!(f, "PostgreSQL runs with {setting} = off and would lose work; turn it on")
            }
            Self::InUse(path) => {
                write!(f, "another onetrip serves {} already; stop it first", path.display())
            }
        }
    }
}

impl std::error::Error for OpenError {}

/// The right to serve a folder, held until it is dropped: a second server on
/// the same file would be a second writer.
pub struct Claim {
    _lock: Option<std::fs::File>,
}

impl Claim {
    /// Takes it; PostgreSQL serves many processes and needs none.
    ///
    /// # Errors
    /// Where another server holds it, or the folder cannot be used.
    pub fn take(place: &Place) -> Result<Self, OpenError> {
        let Place::Folder(folder) = place else {
            return Ok(Self { _lock: None });
        };
        let broken = |error| OpenError::Folder(folder.clone(), error);
        std::fs::create_dir_all(folder).map_err(broken)?;
        let file = std::fs::File::create(folder.join("serving.lock")).map_err(broken)?;
        match file.try_lock() {
            Ok(()) => Ok(Self { _lock: Some(file) }),
            Err(std::fs::TryLockError::WouldBlock) => Err(OpenError::InUse(folder.clone())),
            Err(std::fs::TryLockError::Error(error)) => Err(broken(error)),
        }
    }
}

/// The record, open.
#[derive(Clone)]
pub struct Db {
    pool: Pool<Manager>,
    /// SQLite's one writer; PostgreSQL writes through the pool.
    line: Option<Line>,
    reach: Reach,
}

impl Db {
    /// Opens the record, makes it where there is none, and brings it up to date.
    ///
    /// # Errors
    /// See [`OpenError`].
    pub fn open(place: &Place) -> Result<Self, OpenError> {
        match place {
            Place::Folder(folder) => Self::open_folder(folder),
            Place::Url(url) => Self::open_url(url),
        }
    }

    fn open_folder(folder: &Path) -> Result<Self, OpenError> {
        std::fs::create_dir_all(folder).map_err(|e| OpenError::Folder(folder.to_owned(), e))?;
        let found = linked_sqlite();
        if found < OLDEST_SQLITE {
            return Err(OpenError::OldSqlite(found));
        }
        let path = folder.join(FILE).display().to_string();
        let mut writer =
            sqlite(&path, Use::Write).map_err(|e| OpenError::Connect(e.to_string()))?;
        keep_before(&mut writer, folder)?;
        migrate(&mut writer, SQLITE_STEPS)?;
        let carrier = sqlite(&path, Use::Write).map_err(|e| OpenError::Connect(e.to_string()))?;
        let line = Line::start(Conn::Sqlite(writer), Conn::Sqlite(carrier))
            .map_err(|e| OpenError::Connect(e.to_string()))?;
        Ok(Self { pool: pool(Manager::Sqlite { path })?, line: Some(line), reach: Reach::All })
    }

    fn open_url(url: &str) -> Result<Self, OpenError> {
        let mut conn = postgres(url).map_err(|e| OpenError::Connect(e.to_string()))?;
        // Several processes may start at once: one migrates, the others wait.
        // A step is for the rows of all shops.
        conn.batch_execute("SELECT pg_advisory_lock(7230511); SET onetrip.shop = 'all'")
            .map_err(|e| OpenError::Migrate(e.to_string()))?;
        let outcome = refuse_careless(&mut conn).and_then(|()| migrate(&mut conn, POSTGRES_STEPS));
        conn.batch_execute("SELECT pg_advisory_unlock(7230511)")
            .map_err(|e| OpenError::Migrate(e.to_string()))?;
        outcome?;
        let pool = pool(Manager::Postgres { url: url.to_owned() })?;
        Ok(Self { pool, line: None, reach: Reach::All })
    }

    /// The same record, for a request in one shop.
    #[must_use]
    pub fn of_shop(&self, shop_id: i32) -> Self {
        Self { reach: Reach::Shop(shop_id), ..self.clone() }
    }

    fn reader(&self) -> Answer<PooledConnection<Manager>> {
        Ok(self.pool.get()?)
    }

    /// Reads one moment of the record. Blocks: call it off the async threads.
    ///
    /// # Errors
    /// What `work` answers, or [`Fault::Unavailable`].
    pub fn read<T>(&self, work: impl FnOnce(&mut Conn) -> Answer<T>) -> Answer<T> {
        let mut conn = self.reader()?;
        let begin = match &*conn {
            Conn::Sqlite(_) => "BEGIN".to_owned(),
            Conn::Postgres(_) => self.reach.begin("REPEATABLE READ READ ONLY"),
        };
        within(&mut conn, &begin, work)
    }

    /// Reads one row by its key. On SQLite that takes less time than to hand it to
    /// another thread, so where a connection is free it is done on this one.
    ///
    /// # Errors
    /// What `work` answers, or [`Fault::Unavailable`].
    pub async fn glance<T: Send + 'static>(&self, work: fn(&mut Conn) -> Answer<T>) -> Answer<T> {
        if self.line.is_some()
            && let Some(mut conn) = self.pool.try_get()
        {
            return work(&mut conn);
        }
        let db = self.clone();
        actix_web::web::block(move || work(&mut *db.reader()?))
            .await
            .unwrap_or_else(|_| Err(Fault::Unavailable("a reader has stopped".into())))
    }

    /// Writes in one transaction and returns after its commit. `work` may run
    /// more than once on PostgreSQL, where two writes met.
    ///
    /// # Errors
    /// What `work` answers (then nothing is written), [`Fault::Busy`] or
    /// [`Fault::Unavailable`].
    pub fn write_blocking<T: Send + 'static>(
        &self,
        work: impl Fn(&mut Conn) -> Answer<T> + Send + 'static,
    ) -> Answer<T> {
        match &self.line {
            Some(line) => line.submit(work)?.blocking_recv().unwrap_or_else(|_| Err(stopped())),
            None => self.write_postgres(&work),
        }
    }

    /// As [`Self::write_blocking`], without blocking the async thread.
    ///
    /// # Errors
    /// As there.
    pub async fn write<T: Send + 'static>(
        &self,
        work: impl Fn(&mut Conn) -> Answer<T> + Send + 'static,
    ) -> Answer<T> {
        match &self.line {
            Some(line) => line.submit(work)?.await.unwrap_or_else(|_| Err(stopped())),
            None => {
                let db = self.clone();
                actix_web::web::block(move || db.write_postgres(&work))
                    .await
                    .unwrap_or_else(|_| Err(stopped()))
            }
        }
    }

    /// Does the work and takes it back: the answer is what a write would have
    /// answered, and the record is as before.
    ///
    /// # Errors
    /// As [`Self::write`].
    pub async fn rehearse<T: Send + 'static>(
        &self,
        work: impl Fn(&mut Conn) -> Answer<T> + Send + 'static,
    ) -> Answer<T> {
        let aside = Arc::new(Mutex::new(None));
        let place = Arc::clone(&aside);
        let told = self
            .write(move |conn| {
                let made = work(conn)?;
                *place.lock().unwrap_or_else(PoisonError::into_inner) = Some(made);
                // A fault takes everything back.
                Err::<(), Fault>(Fault::Unavailable("this was a trial".into()))
            })
            .await;
        let made = aside.lock().unwrap_or_else(PoisonError::into_inner).take();
        match (told, made) {
            (_, Some(made)) => Ok(made),
            (Err(fault), None) => Err(fault),
            (Ok(()), None) => Err(stopped()),
        }
    }

    fn write_postgres<T>(&self, work: &impl Fn(&mut Conn) -> Answer<T>) -> Answer<T> {
        let mut tries = 0;
        let begin = self.reach.begin("READ COMMITTED");
        loop {
            let mut conn = self.reader()?;
            let answer = within(&mut conn, &begin, work);
            tries += 1;
            match answer {
                Err(Fault::Unavailable(reason)) if tries < 5 && met_another(&reason) => {
                    std::thread::sleep(Duration::from_millis(5 * tries));
                }
                other => return other,
            }
        }
    }
}

fn stopped() -> Fault {
    Fault::Unavailable("the writer has stopped".into())
}

/// PostgreSQL's words for SQLSTATE 40001 and 40P01, after which the same
/// transaction may be run again.
fn met_another(reason: &str) -> bool {
    reason.contains("deadlock detected") || reason.contains("could not serialize")
}

/// Begins, works, and commits where the answer is good. A panic rolls back and
/// goes on to the caller.
fn within<T>(conn: &mut Conn, begin: &str, work: impl FnOnce(&mut Conn) -> Answer<T>) -> Answer<T> {
    conn.batch_execute(begin)?;
    let answer = match catch_unwind(AssertUnwindSafe(|| work(conn))) {
        Ok(answer) => answer,
        Err(panic) => {
            drop(conn.batch_execute("ROLLBACK"));
            resume_unwind(panic);
        }
    };
    match answer {
        Ok(value) => {
            conn.batch_execute("COMMIT").map_err(|error| Fault::Unavailable(error.to_string()))?;
            Ok(value)
        }
        Err(fault) => {
            drop(conn.batch_execute("ROLLBACK"));
            Err(fault)
        }
    }
}

fn pool(manager: Manager) -> Result<Pool<Manager>, OpenError> {
    let pool = Pool::builder().max_size(READERS);
    // A file does not hang up; a server may. A folder that has come to be read-only
    // lets no connection be opened any more: those that are open stay.
    let pool = match manager {
        Manager::Postgres { .. } => {
            pool.min_idle(Some(1)).connection_timeout(Duration::from_secs(3))
        }
        Manager::Sqlite { .. } => pool
            .test_on_check_out(false)
            .min_idle(Some(READERS))
            .max_lifetime(None)
            .idle_timeout(None)
            .connection_timeout(Duration::from_secs(10)),
    };
    pool.build(manager).map_err(|e| OpenError::Connect(e.to_string()))
}

/// A server that does not wait for its disk would lose what was acknowledged.
fn refuse_careless(conn: &mut diesel::pg::PgConnection) -> Result<(), OpenError> {
    #[derive(diesel::QueryableByName)]
    struct Setting {
        #[diesel(sql_type = diesel::sql_types::Text)]
        name: String,
    }
    let off: Vec<Setting> = diesel::sql_query(
        "SELECT name FROM pg_settings WHERE setting = 'off' \
         AND name IN ('fsync', 'full_page_writes', 'synchronous_commit') ORDER BY name",
    )
    .load(conn)
    .map_err(|e| OpenError::Connect(e.to_string()))?;
    match off.first() {
        None => Ok(()),
        Some(setting) => Err(OpenError::Careless(setting.name.clone())),
    }
}

/// Before a record that is in use takes a step, a copy of it as it stands is kept
/// beside it: the way back, should the step or the new program be no good.
fn keep_before(conn: &mut SqliteConnection, folder: &Path) -> Result<(), OpenError> {
    let taken: Vec<String> = MigrationHarness::<Sqlite>::applied_migrations(conn)
        .map_err(|e| OpenError::Migrate(e.to_string()))?
        .iter()
        .map(ToString::to_string)
        .collect();
    let known = steps();
    let Some(next) = known.iter().find(|step| !taken.contains(step)) else { return Ok(()) };
    // Who made it must make the way back from it, too.
    if taken.is_empty() || taken.iter().any(|step| !known.contains(step)) {
        return Ok(());
    }
    let kept = folder.join(format!("before-{next}.sqlite"));
    if kept.exists() {
        return Ok(());
    }
    let broken = |why| OpenError::Migrate(format!("no copy could be kept before it: {why}"));
    snapshot::written(conn, &kept).map_err(broken)?;
    tracing::warn!(copy = %kept.display(), "the record takes a step; a copy of it as it was is kept");
    Ok(())
}

/// Runs the missing steps; refuses a record with steps this program lacks.
fn migrate<DB, C>(conn: &mut C, steps: EmbeddedMigrations) -> Result<(), OpenError>
where
    DB: diesel::backend::Backend,
    C: MigrationHarness<DB>,
{
    let fail = |e: Box<dyn std::error::Error + Send + Sync>| OpenError::Migrate(e.to_string());
    let known: Vec<String> = diesel::migration::MigrationSource::<DB>::migrations(&steps)
        .map_err(fail)?
        .iter()
        .map(|step| step.name().version().to_string())
        .collect();
    for applied in conn.applied_migrations().map_err(fail)? {
        let stamp = applied.to_string();
        if !known.contains(&stamp) {
            return Err(OpenError::Newer(stamp));
        }
    }
    conn.run_pending_migrations(steps).map_err(fail)?;
    Ok(())
}

/// The steps that this program brings a record up to, in their order.
#[must_use]
pub fn steps() -> Vec<String> {
    let steps =
        diesel::migration::MigrationSource::<diesel::sqlite::Sqlite>::migrations(&SQLITE_STEPS);
    let mut stamps: Vec<String> =
        steps.iter().flatten().map(|step| step.name().version().to_string()).collect();
    stamps.sort();
    stamps
}

/// The last of them.
#[must_use]
pub fn last_step() -> String {
    steps().pop().unwrap_or_default()
}

/// The version of the SQLite that is linked in, as 3053002 for 3.53.2.
#[expect(unsafe_code, reason = "a plain C function without arguments, safe to call at any time")]
fn linked_sqlite() -> i32 {
    // SAFETY: sqlite3_libversion_number only returns a constant.
    unsafe { libsqlite3_sys::sqlite3_libversion_number() }
}
