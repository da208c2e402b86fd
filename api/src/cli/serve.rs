//! `onetrip serve`.

use std::process::ExitCode;

use super::fail;
use crate::app::{App, bind};
use crate::db::{Claim, Db, Place};
use crate::domain::clock::Clock;

#[derive(clap::Args)]
pub struct ServeArgs {
    /// Address and port to listen on; port 0 takes a free one.
    #[arg(long, env = "ONETRIP_LISTEN", default_value = "127.0.0.1:8437")]
    pub listen: String,
    /// Browsers send our cookies over encrypted connections alone: for a server
    /// that stands behind one that speaks https.
    #[arg(long, env = "ONETRIP_SECURE_COOKIES")]
    pub secure_cookies: bool,
}

/// Opens the record and serves it until it is told to stop.
pub fn run(args: &ServeArgs, place: &Place, clock: Clock) -> ExitCode {
    let claim = match Claim::take(place) {
        Ok(claim) => claim,
        Err(error) => return fail(error),
    };
    let db = match Db::open(place) {
        Ok(db) => db,
        Err(error) => return fail(error),
    };
    let app = App { secure_cookies: args.secure_cookies, ..App::new(db, clock) };
    match serve(app, &args.listen, |address| {
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
