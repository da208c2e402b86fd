//! `onetrip serve`.

use std::net::ToSocketAddrs;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use super::{REFUSED, fail, print};
use crate::app::{App, bind, file_clock};
use crate::auth::cost;
use crate::backups::Backups;
use crate::config::{Config, Flags, LogForm};
use crate::db::{Claim, Db, Place};
use crate::domain::clock::Clock;
use crate::import::told;
use crate::log;
use crate::metrics::{self, Metrics};
use crate::tls;
use crate::web::answer;

#[derive(clap::Args)]
pub struct ServeArgs {
    /// Address and port to listen on; port 0 takes a free one [env:
    /// ONETRIP_LISTEN] [default: 127.0.0.1:8437]
    #[arg(long, value_name = "ADDRESS")]
    listen: Option<String>,
    /// Speak https with this certificate, with those that vouch for it behind it
    /// (a PEM file) [env: ONETRIP_TLS_CERTIFICATE] [default: plain http]
    #[arg(long, value_name = "FILE")]
    tls_certificate: Option<String>,
    /// The certificate's key (a PEM file) [env: ONETRIP_TLS_KEY]
    #[arg(long, value_name = "FILE")]
    tls_key: Option<String>,
    /// Speak plain http to other machines, too: where something else encrypts
    /// what passes [env: ONETRIP_PLAIN_HTTP]
    #[arg(long)]
    plain_http: bool,
    /// Address and port for metrics (Prometheus text at /metrics) [env:
    /// ONETRIP_METRICS] [default: off]
    #[arg(long, value_name = "ADDRESS")]
    metrics: Option<String>,
    /// Page sessions only over https: set it where a web server that speaks
    /// TLS stands in front [env: ONETRIP_SECURE_COOKIES]
    #[arg(long)]
    secure_cookies: bool,
    /// Folder for backups by schedule: best one on another disk [env:
    /// ONETRIP_BACKUP_TO] [default: off]
    #[arg(long, value_name = "FOLDER")]
    backup_to: Option<String>,
    /// Minutes from one backup to the next [env: ONETRIP_BACKUP_MINUTES]
    /// [default: 60]
    #[arg(long, value_name = "MINUTES")]
    backup_minutes: Option<String>,
    /// Addresses or networks of web servers in front, with commas between: they
    /// are believed whom they speak for [env: ONETRIP_TRUSTED_PROXIES] [default:
    /// none]
    #[arg(long, value_name = "ADDRESSES")]
    trusted_proxies: Option<String>,
    /// What is logged, such as warn or info [env: RUST_LOG] [default: warn]
    #[arg(long, value_name = "FILTER")]
    log: Option<String>,
    /// Log lines full, compact, or json: one object each [env:
    /// ONETRIP_LOG_FORM] [default: full]
    #[arg(long, value_name = "FORM")]
    log_form: Option<String>,
}

impl ServeArgs {
    /// Adds what was said to the flags.
    #[must_use]
    pub fn over(&self, base: Flags) -> Flags {
        Flags {
            listen: self.listen.clone(),
            tls_certificate: self.tls_certificate.clone(),
            tls_key: self.tls_key.clone(),
            plain_http: self.plain_http,
            metrics: self.metrics.clone(),
            secure_cookies: self.secure_cookies,
            backup_to: self.backup_to.clone(),
            backup_minutes: self.backup_minutes.clone(),
            trusted_proxies: self.trusted_proxies.clone(),
            log: self.log.clone(),
            log_form: self.log_form.clone(),
            ..base
        }
    }
}

#[derive(clap::Args)]
pub struct RunArgs {
    #[command(flatten)]
    pub serve: ServeArgs,
    /// Read the time (RFC 3339) from this file in place of the machine's clock.
    #[arg(long, hide = true)]
    clock_file: Option<PathBuf>,
}

/// What is said where the way in is still to be made, before the link.
const NOBODY: &str = "\
Nobody can sign in yet. Make the first account here, within an hour; the link is good once:";
/// And behind it.
const OR_SO: &str = "\
or on this machine, with the same --data:
  onetrip user add --role administrator --name NAME --sign-in NAME --password-stdin";

/// Whether an address to listen on has its port.
fn address(listen: &str) -> Result<(), String> {
    let port = listen.rsplit_once(':').and_then(|(host, port)| (!host.is_empty()).then_some(port));
    match port.map(str::parse::<u16>) {
        Some(Ok(_)) => Ok(()),
        _ => {
            Err(format!("listen is '{listen}': write an address and port, such as 127.0.0.1:8437"))
        }
    }
}

/// The schedule, where one is set, and the record's folder.
fn backups(config: &Config) -> Result<Option<(Backups, PathBuf)>, String> {
    match (config.backups()?, config.place()) {
        (None, _) => Ok(None),
        (Some((to, minutes)), Place::Folder(record)) => {
            Ok(Some((Backups::new(to, minutes), record)))
        }
        (Some(_), Place::Url(_)) => Err(super::backup::OF_SERVER.to_owned()),
    }
}

/// Makes backups from now on.
fn begin_backups(config: &Config, clock: Clock) -> std::io::Result<Option<Backups>> {
    let Some((backups, record)) = backups(config).map_err(std::io::Error::other)? else {
        return Ok(None);
    };
    let told = |error| std::io::Error::other(format!("{}: {error}", backups.folder.display()));
    backups.begin(record, clock).map_err(told)?;
    Ok(Some(backups))
}

/// Between two looks for answers that are kept no longer.
const FORGET_EVERY: Duration = Duration::from_secs(3_600);

/// Lets old answers go while the server runs.
fn forget_answers(db: Db, clock: Clock) -> std::io::Result<()> {
    let forget = move || {
        loop {
            let now = clock.now();
            if let Err(fault) = db.write_blocking(move |conn| answer::forget_old(conn, now)) {
                tracing::warn!(why = told(&fault), "old answers were not let go");
            }
            std::thread::sleep(FORGET_EVERY);
        }
    };
    std::thread::Builder::new().name("old-answers".to_owned()).spawn(forget)?;
    Ok(())
}

/// Whether another machine can reach an address. One that is nowhere is refused
/// when it is bound.
fn is_open(listen: &str) -> bool {
    listen.to_socket_addrs().is_ok_and(|mut found| found.any(|at| !at.ip().is_loopback()))
}

/// What https is spoken with; `None`: plain http, to this machine alone unless the
/// settings say otherwise. The other settings of the server are looked through, too.
///
/// # Errors
/// Settings that do not go together, or files that cannot be used.
pub fn encryption(config: &Config) -> Result<Option<rustls::ServerConfig>, String> {
    address(config.listen())?;
    config.trusted_proxies()?;
    match (config.tls_certificate(), config.tls_key()) {
        (Some(certificate), Some(key)) => tls::server(certificate, key).map(Some),
        (None, None) if is_open(config.listen()) && !config.plain_http() => Err(format!(
            "listen is '{}', which other machines reach, and plain http shows passwords to whoever \
             listens between: set tls_certificate and tls_key, or listen on 127.0.0.1 behind a web \
             server that speaks TLS; where something else encrypts what passes, say --plain-http",
            config.listen()
        )),
        (None, None) => Ok(None),
        _ => Err("tls_certificate and tls_key go together: set both or neither".to_owned()),
    }
}

/// Opens the record and serves it until it is told to stop.
pub fn run(args: &RunArgs, config: &Config, clock: Clock) -> ExitCode {
    let clock = match args.clock_file.clone().map_or(Ok(clock), file_clock) {
        Ok(clock) => clock,
        Err(error) => return fail(error),
    };
    let tls = match encryption(config) {
        Ok(tls) => tls,
        Err(why) => return refused(&why),
    };
    let place = config.place();
    if let Err(why) = backups(config) {
        return refused(&why);
    }
    let claim = match Claim::take(&place) {
        Ok(claim) => claim,
        Err(error) => return fail(error),
    };
    let db = match Db::open(&place) {
        Ok(db) => db,
        Err(error) => return fail(error),
    };
    let app = App::new(db, clock);
    let first = match app.first.offer(&app.db, app.clock.now()) {
        Ok(first) => first,
        Err(fault) => return fail(told(&fault)),
    };
    match serve(app, config, tls, |base| {
        print(format!("{base}/\n").as_bytes());
        let words = first.map(|path| format!("{NOBODY}\n  {base}{path}\n{OR_SO}\n"));
        match words {
            // Standard error is the log's alone, where programs read that.
            Some(words) if config.log_form() == LogForm::Json => drop(print(words.as_bytes())),
            Some(words) => eprint!("{words}"),
            None => {}
        }
    }) {
        Ok(()) => {
            drop(claim);
            ExitCode::SUCCESS
        }
        Err(error) => fail(error),
    }
}

/// The command cannot be taken as the settings are.
pub fn refused(why: &str) -> ExitCode {
    eprintln!("onetrip: {why}");
    ExitCode::from(REFUSED)
}

/// Binds, tells the address with its scheme, and runs to the end.
///
/// # Errors
/// Where an address cannot be bound or the server breaks.
pub fn serve(
    mut app: App,
    config: &Config,
    tls: Option<rustls::ServerConfig>,
    tell: impl FnOnce(&str),
) -> std::io::Result<()> {
    log::begin(config);
    let broken = |fault| std::io::Error::other(told(&fault));
    app.cost = cost::of(&app.db, config).map_err(broken)?;
    app.most_requests = config.most_requests();
    app.body_patience = config.body_patience();
    app.secure_cookies = config.secure_cookies();
    app.trusted_proxies = config.trusted_proxies().map_err(std::io::Error::other)?;
    app.backups = begin_backups(config, app.clock)?;
    forget_answers(app.db.clone(), app.clock)?;
    let counted = config.metrics().map(|address| (Arc::new(Metrics::default()), address));
    app.metrics = counted.as_ref().map(|(metrics, _)| Arc::clone(metrics));
    // Before the address is told: who asks at once is told that reports will come.
    app.live.begin(&app.db).map_err(broken)?;
    actix_web::rt::System::new().block_on(async move {
        let scheme = if tls.is_some() { "https" } else { "http" };
        let bound = bind(app, config.listen(), tls)?;
        let beside =
            counted.map(|(metrics, address)| metrics::bind(metrics, address)).transpose()?;
        let stop = beside.as_ref().map(actix_web::dev::Server::handle);
        if let Some(beside) = beside {
            actix_web::rt::spawn(beside);
        }
        tell(&format!("{scheme}://{}", bound.address));
        let served = bound.server.await;
        if let Some(stop) = stop {
            stop.stop(false).await;
        }
        served
    })
}
