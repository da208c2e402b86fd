//! The command line. Data goes to stdout, words to stderr. Exit codes: 0 done,
//! 1 failed, 2 the command cannot be taken as written, 3 some rows rejected.

mod demo;
mod export;
mod import;
mod report;
mod serve;
mod user;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::app::system_clock;
use crate::db::Place;

/// The repair-order and comeback service of a vehicle repair shop.
#[derive(Parser)]
#[command(name = "onetrip", version, about)]
struct Cli {
    /// Where the record lives: a folder, or a postgres:// URL.
    #[arg(
        long,
        global = true,
        env = "ONETRIP_DATA",
        default_value = "onetrip-data",
        hide_env_values = true
    )]
    data: String,
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Subcommand)]
enum Verb {
    /// Serve the record over HTTP.
    Serve(serve::RunArgs),
    /// Make the demo shop, and serve it.
    Demo(demo::DemoArgs),
    /// Take history files in.
    Import(import::ImportArgs),
    /// Write history files out.
    Export(export::ExportArgs),
    /// Make a report, without a server.
    Report(Box<report::ReportArgs>),
    /// People who sign in.
    User(user::UserArgs),
    /// Print the API document.
    Openapi,
}

/// Runs the program with the process's arguments.
#[must_use]
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    let place = Place::parse(&cli.data);
    let clock = system_clock();
    match cli.verb {
        Verb::Serve(args) => serve::run(&args, &place, clock),
        Verb::Demo(args) => demo::run(&args, &place, clock),
        Verb::Import(args) => import::run(&args, &place, clock),
        Verb::Export(args) => export::run(&args, &place),
        Verb::Report(args) => report::run(*args, &place, clock),
        Verb::User(args) => user::run(&args, &place, clock),
        Verb::Openapi => {
            print!("{}", crate::openapi::json());
            ExitCode::SUCCESS
        }
    }
}

/// Says what went wrong and fails.
fn fail(error: impl std::fmt::Display) -> ExitCode {
    eprintln!("onetrip: {error}");
    ExitCode::FAILURE
}
