//! Builds and runs the server.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::Duration;

use actix_tls::accept::rustls_0_23::TlsStream;
use actix_web::dev::Server;
use actix_web::middleware::{Compress, from_fn};
use actix_web::rt::net::TcpStream;
use actix_web::{App as Actix, HttpServer, web};
use chrono::{DateTime, Utc};
use ipnet::IpNet;
use rustls::ServerConfig;
use tokio::sync::Semaphore;

use crate::auth::door::Line;
use crate::auth::first::First;
use crate::auth::known::Lately;
use crate::auth::password::Cost;
use crate::auth::throttle::Addresses;
use crate::backups::Backups;
use crate::db::Db;
use crate::domain::clock::Clock;
use crate::metrics::{self, Metrics};
use crate::reports::live::Live;
use crate::web::flight::Flight;
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
    /// Where those wait who have something hashed and were here before.
    pub hashing: Line,
    /// Where strangers wait, who may be a flood.
    pub strangers: Line,
    /// What a hash costs.
    pub cost: Cost,
    /// Sign-in tries by address.
    pub addresses: Addresses,
    /// Reports take a core: one at a time beside the writes.
    pub counting: Semaphore,
    /// Cookies are for encrypted connections alone, whatever this one is.
    pub secure_cookies: bool,
    /// Backups by schedule; absent: none.
    pub backups: Option<Backups>,
    /// The way to the first account.
    pub first: First,
    /// Requests that are being answered, and how many may be at once.
    pub flight: Flight,
    pub most_requests: usize,
    /// How long a body may take to arrive, and what is sent may stay untaken.
    pub body_patience: Duration,
    /// Web servers that are believed whom they speak for.
    pub trusted_proxies: Vec<IpNet>,
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
            hashing: Line::default(),
            strangers: Line::default(),
            cost: Cost::LEAST,
            addresses: Addresses::default(),
            counting: Semaphore::new(2),
            secure_cookies: false,
            backups: None,
            first: First::default(),
            flight: Flight::default(),
            most_requests: usize::MAX,
            body_patience: Duration::from_secs(30),
            trusted_proxies: Vec::new(),
            metrics: None,
        }
    }
}

const WORKERS: usize = 2;
/// Connections that a worker holds at most.
const MOST_CONNECTIONS: usize = 6_000;
/// Descriptors kept for files, the database and whatever else is opened.
const KEPT_DESCRIPTORS: u64 = 300;

/// Connections that a worker may hold: with as many descriptors as the process may
/// have, and some left over, so that a crowd of connections never keeps the record
/// from being opened.
fn connections_each() -> usize {
    let most = rlimit::increase_nofile_limit(u64::MAX).unwrap_or(1_024);
    let each = most.saturating_sub(KEPT_DESCRIPTORS) / WORKERS as u64;
    usize::try_from(each).unwrap_or(MOST_CONNECTIONS).clamp(1, MOST_CONNECTIONS)
}

/// Whoever asks and does not take the answer for so long is let go by the machine.
fn limit_reader(connection: &dyn std::any::Any, patience: Duration) {
    let plain = connection.downcast_ref::<TcpStream>();
    let secret = connection.downcast_ref::<TlsStream<TcpStream>>();
    if let Some(stream) = plain.or_else(|| secret.map(|secret| secret.get_ref().0))
        && let Err(error) = socket2::SockRef::from(stream).set_tcp_user_timeout(Some(patience))
    {
        tracing::warn!(%error, "a connection cannot be given a limit");
    }
}

/// A server that is bound and not yet running.
pub struct Bound {
    pub server: Server,
    pub address: SocketAddr,
}

/// Binds the address; port 0 takes a free one. With `tls` it speaks https.
///
/// # Errors
/// Where the address cannot be bound.
pub fn bind(app: App, address: &str, tls: Option<ServerConfig>) -> std::io::Result<Bound> {
    let patience = app.body_patience;
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
    .workers(WORKERS)
    .client_request_timeout(Duration::from_secs(5))
    .keep_alive(Duration::from_secs(15))
    .max_connections(connections_each())
    .shutdown_timeout(SHUTDOWN_SECONDS)
    .on_connect(move |connection, _| limit_reader(connection, patience));
    let server = match tls {
        Some(tls) => server.bind_rustls_0_23(address, tls)?,
        None => server.bind(address)?,
    };
    let address = server
        .addrs()
        .first()
        .copied()
        .ok_or_else(|| std::io::Error::other("no address was bound"))?;
    Ok(Bound { server: server.run(), address })
}
