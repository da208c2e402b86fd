//! `onetrip serve`.

use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use super::{REFUSED, fail, print};
use crate::app::{App, bind, file_clock};
use crate::backups::Backups;
use crate::config::{Config, Flags};
use crate::db::{Claim, Db, Place};
use crate::domain::clock::Clock;
use crate::import::told;
use crate::metrics::{self, Metrics};
use crate::people::model as people;
use crate::web::answer;

#[derive(clap::Args)]
pub struct ServeArgs {
    /// Address and port to listen on; port 0 takes a free one [env:
    /// ONETRIP_LISTEN] [default: 127.0.0.1:8437]
    #[arg(long, value_name = "ADDRESS")]
    listen: Option<String>,
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
    /// What is logged, such as warn or info [env: RUST_LOG] [default: warn]
    #[arg(long, value_name = "FILTER")]
    log: Option<String>,
    /// Log lines full or compact [env: ONETRIP_LOG_FORM] [default: full]
    #[arg(long, value_name = "FORM")]
    log_form: Option<String>,
}

impl ServeArgs {
    /// Adds what was said to the flags.
    #[must_use]
    pub fn over(&self, base: Flags) -> Flags {
        Flags {
            listen: self.listen.clone(),
            metrics: self.metrics.clone(),
            secure_cookies: self.secure_cookies,
            backup_to: self.backup_to.clone(),
            backup_minutes: self.backup_minutes.clone(),
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

/// What is said where the way in is still to be made.
const NOBODY: &str = "\
Nobody can sign in yet. On this machine, with the same --data:
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

/// Opens the record and serves it until it is told to stop.
pub fn run(args: &RunArgs, config: &Config, clock: Clock) -> ExitCode {
    let clock = match args.clock_file.clone().map_or(Ok(clock), file_clock) {
        Ok(clock) => clock,
        Err(error) => return fail(error),
    };
    if let Err(why) = address(config.listen()) {
        eprintln!("onetrip: {why}");
        return ExitCode::from(REFUSED);
    }
    let place = config.place();
    if let Err(why) = backups(config) {
        eprintln!("onetrip: {why}");
        return ExitCode::from(REFUSED);
    }
    let claim = match Claim::take(&place) {
        Ok(claim) => claim,
        Err(error) => return fail(error),
    };
    let db = match Db::open(&place) {
        Ok(db) => db,
        Err(error) => return fail(error),
    };
    match db.read(people::everybody) {
        Ok(all) if all.iter().any(|person| person.active && person.password_hash.is_some()) => {}
        Ok(_) => eprintln!("{NOBODY}"),
        Err(fault) => return fail(told(&fault)),
    }
    match serve(App::new(db, clock), config, |address| {
        print(format!("http://{address}/\n").as_bytes());
    }) {
        Ok(()) => {
            drop(claim);
            ExitCode::SUCCESS
        }
        Err(error) => fail(error),
    }
}

/// Binds, tells the address, and runs to the end.
///
/// # Errors
/// Where an address cannot be bound or the server breaks.
pub fn serve(
    mut app: App,
    config: &Config,
    tell: impl FnOnce(std::net::SocketAddr),
) -> std::io::Result<()> {
    begin_log(config);
    app.secure_cookies = config.secure_cookies();
    app.backups = begin_backups(config, app.clock)?;
    forget_answers(app.db.clone(), app.clock)?;
    let counted = config.metrics().map(|address| (Arc::new(Metrics::default()), address));
    app.metrics = counted.as_ref().map(|(metrics, _)| Arc::clone(metrics));
    // Before the address is told: who asks at once is told that reports will come.
    app.live.begin(&app.db).map_err(|fault| std::io::Error::other(told(&fault)))?;
    actix_web::rt::System::new().block_on(async move {
        let bound = bind(app, config.listen())?;
        let beside =
            counted.map(|(metrics, address)| metrics::bind(metrics, address)).transpose()?;
        let stop = beside.as_ref().map(actix_web::dev::Server::handle);
        if let Some(beside) = beside {
            actix_web::rt::spawn(beside);
        }
        tell(bound.address);
        let served = bound.server.await;
        if let Some(stop) = stop {
            stop.stop(false).await;
        }
        served
    })
}

fn begin_log(config: &Config) {
    let filter = tracing_subscriber::EnvFilter::try_new(config.log())
        .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("warn"));
    let log = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_ansi(std::io::IsTerminal::is_terminal(&std::io::stderr()))
        .with_writer(std::io::stderr);
    // A second log in one process is refused, and that is well.
    drop(if config.compact_log() { log.compact().try_init() } else { log.try_init() });
}
