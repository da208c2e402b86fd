//! `onetrip serve`.

use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;

use super::fail;
use crate::app::{App, bind, file_clock};
use crate::config::{Config, Flags};
use crate::db::{Claim, Db};
use crate::domain::clock::Clock;
use crate::metrics::{self, Metrics};

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

/// Opens the record and serves it until it is told to stop.
pub fn run(args: &RunArgs, config: &Config, clock: Clock) -> ExitCode {
    let clock = match args.clock_file.clone().map_or(Ok(clock), file_clock) {
        Ok(clock) => clock,
        Err(error) => return fail(error),
    };
    let place = config.place();
    let claim = match Claim::take(&place) {
        Ok(claim) => claim,
        Err(error) => return fail(error),
    };
    let db = match Db::open(&place) {
        Ok(db) => db,
        Err(error) => return fail(error),
    };
    match serve(App::new(db, clock), config, |address| {
        println!("http://{address}/");
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
    let counted = config.metrics().map(|address| (Arc::new(Metrics::default()), address));
    app.metrics = counted.as_ref().map(|(metrics, _)| Arc::clone(metrics));
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
