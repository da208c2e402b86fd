//! `onetrip serve`.

use std::path::PathBuf;
use std::process::ExitCode;

use super::fail;
use crate::app::{App, bind, file_clock};
use crate::db::{Claim, Db, Place};
use crate::domain::clock::Clock;

#[derive(clap::Args)]
pub struct ServeArgs {
    /// Address and port to listen on; port 0 takes a free one.
    #[arg(long, env = "ONETRIP_LISTEN", default_value = "127.0.0.1:8437")]
    pub listen: String,
}

#[derive(clap::Args)]
pub struct RunArgs {
    #[command(flatten)]
    serve: ServeArgs,
    /// Read the time (RFC 3339) from this file in place of the machine's clock.
    #[arg(long, hide = true)]
    clock_file: Option<PathBuf>,
}

/// Opens the record and serves it until it is told to stop.
pub fn run(args: &RunArgs, place: &Place, clock: Clock) -> ExitCode {
    let clock = match args.clock_file.clone().map_or(Ok(clock), file_clock) {
        Ok(clock) => clock,
        Err(error) => return fail(error),
    };
    let claim = match Claim::take(place) {
        Ok(claim) => claim,
        Err(error) => return fail(error),
    };
    let db = match Db::open(place) {
        Ok(db) => db,
        Err(error) => return fail(error),
    };
    match serve(App::new(db, clock), &args.serve.listen, |address| {
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
/// Where the address cannot be bound or the server breaks.
pub fn serve(
    app: App,
    listen: &str,
    tell: impl FnOnce(std::net::SocketAddr),
) -> std::io::Result<()> {
    let filter = tracing_subscriber::EnvFilter::try_from_default_env()
        .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("warn"));
    drop(tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).try_init());
    actix_web::rt::System::new().block_on(async move {
        let bound = bind(app, listen)?;
        tell(bound.address);
        bound.server.await
    })
}
