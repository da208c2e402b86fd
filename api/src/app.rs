//! Builds and runs the server.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicUsize;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::Duration;

use actix_web::dev::Server;
use actix_web::middleware::{Compress, from_fn};
use actix_web::{App as Actix, HttpServer, web};
use chrono::{DateTime, Utc};
use tokio::sync::Semaphore;

use crate::auth::known::Lately;
use crate::auth::throttle::Tries;
use crate::backups::Backups;
use crate::db::Db;
use crate::domain::clock::Clock;
use crate::metrics::{self, Metrics};
use crate::reports::live::Live;
use crate::{routes, web as edge};

/// How long answers under way may still take when the server is told to stop.
const SHUTDOWN_SECONDS: u64 = 8;

/// What every handler stands on.
pub struct App {
    pub db: Db,
    pub clock: Clock,
    pub live: Live,
    /// Who asked lately.
    pub lately: Lately,
    /// Password hashing takes a core and 19 MiB: two at a time.
    pub hashing: Semaphore,
    /// How many wait for it.
    pub hashing_waits: AtomicUsize,
    /// Sign-in tries by name.
    pub tries: Tries,
    /// Tries with PINs and with one's own password: strangers cannot make the
    /// program forget these.
    pub known_tries: Tries,
    /// Reports take a core: one at a time beside the writes.
    pub counting: Semaphore,
    /// Cookies are for encrypted connections alone, whatever this one is.
    pub secure_cookies: bool,
    /// Backups by schedule; absent: none.
    pub backups: Option<Backups>,
    /// Where requests are counted; absent: they are not.
    pub metrics: Option<Arc<Metrics>>,
}

/// The machine's clock. Nothing else asks it.
#[must_use]
#[expect(clippy::disallowed_methods, reason = "the one place that makes the clock")]
pub fn system_clock() -> Clock {
    Clock::new(chrono::Utc::now)
}

/// A file that holds the time, and the last time that was read from it.
static CLOCK_FILE: OnceLock<(PathBuf, Mutex<DateTime<Utc>>)> = OnceLock::new();

/// A clock that is moved by whoever writes the file: a test lets weeks pass in
/// seconds. A file that cannot be read for a moment leaves the time standing.
///
/// # Errors
/// Where the file holds no RFC 3339 time.
pub fn file_clock(path: PathBuf) -> std::io::Result<Clock> {
    let first = written_time(&path)?;
    CLOCK_FILE
        .set((path, Mutex::new(first)))
        .map_err(|_| std::io::Error::other("one process has one clock"))?;
    Ok(Clock::new(file_time))
}

fn written_time(path: &Path) -> std::io::Result<DateTime<Utc>> {
    let text = std::fs::read_to_string(path)?;
    DateTime::parse_from_rfc3339(text.trim())
        .map(|at| at.to_utc())
        .map_err(|error| std::io::Error::other(format!("{}: {error}", path.display())))
}

fn file_time() -> DateTime<Utc> {
    let Some((path, last)) = CLOCK_FILE.get() else { return DateTime::UNIX_EPOCH };
    let mut last = last.lock().unwrap_or_else(PoisonError::into_inner);
    if let Ok(now) = written_time(path) {
        *last = now;
    }
    *last
}

impl App {
    /// The app on an open record.
    #[must_use]
    pub fn new(db: Db, clock: Clock) -> Self {
        Self {
            db,
            clock,
            live: Live::default(),
            lately: Lately::default(),
            hashing: Semaphore::new(2),
            hashing_waits: AtomicUsize::new(0),
            tries: Tries::default(),
            known_tries: Tries::default(),
            counting: Semaphore::new(2),
            secure_cookies: false,
            backups: None,
            metrics: None,
        }
    }
}

/// A server that is bound and not yet running.
pub struct Bound {
    pub server: Server,
    pub address: SocketAddr,
}

/// Binds the address; port 0 takes a free one.
///
/// # Errors
/// Where the address cannot be bound.
pub fn bind(app: App, address: &str) -> std::io::Result<Bound> {
    let app = web::Data::new(app);
    let server = HttpServer::new(move || {
        Actix::new()
            .app_data(app.clone())
            .wrap(from_fn(edge::edge::guard))
            .wrap(Compress::default())
            .wrap(from_fn(edge::edge::tag_packed))
            .wrap(from_fn(metrics::measure))
            .configure(routes::configure)
            .default_service(web::to(edge::edge::nowhere))
    })
    .workers(2)
    .client_request_timeout(Duration::from_secs(5))
    .keep_alive(Duration::from_secs(15))
    .shutdown_timeout(SHUTDOWN_SECONDS)
    .bind(address)?;
    let address = server
        .addrs()
        .first()
        .copied()
        .ok_or_else(|| std::io::Error::other("no address was bound"))?;
    Ok(Bound { server: server.run(), address })
}
