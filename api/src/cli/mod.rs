//! The command line. Data goes to stdout, words to stderr. Exit codes: 0 done,
//! 1 failed, 2 the command cannot be taken as written, 3 some rows rejected.

mod backup;
mod check;
mod codes;
mod config;
mod copy;
mod demo;
mod erase;
mod export;
mod healthcheck;
mod import;
mod list;
mod manual;
mod report;
mod serve;
mod user;

pub use report::histories_of;

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::app::system_clock;
use crate::config::{Config, Flags};
use crate::db::{Db, Place};

/// What was asked for cannot be done as written.
const REFUSED: u8 = 2;

const EXIT_CODES: &str = "\
Exit codes: 0 done; 1 failed (or a check found a fault); 2 the command cannot be taken as written, or the files \
cannot be used; 3 some rows of an import were rejected.

Settings: a flag goes before the environment, the environment before the settings file (--config), the file before \
the default. `onetrip config show` tells each with where it comes from.";

/// The repair-order and comeback service of a vehicle repair shop.
#[derive(Parser)]
#[command(name = "onetrip", version, about, after_help = EXIT_CODES)]
struct Cli {
    /// Where the record lives: a folder, or a postgres:// URL [env:
    /// ONETRIP_DATA, or a file named by ONETRIP_DATA_FILE] [default:
    /// onetrip-data]
    #[arg(long, global = true, value_name = "PLACE")]
    data: Option<String>,
    /// A file of settings (TOML) [env: ONETRIP_CONFIG]
    #[arg(long, global = true, value_name = "FILE")]
    config: Option<PathBuf>,
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Subcommand)]
enum Verb {
    /// Serve the record over HTTP.
    Serve(serve::RunArgs),
    /// Make the demo shop, and serve it.
    Demo(demo::DemoArgs),
    /// Take history files in, or a whole copy.
    Import(Box<import::ImportArgs>),
    /// Write history files out, or a whole copy.
    Export(export::ExportArgs),
    /// Make a report, without a server.
    Report(Box<report::ReportArgs>),
    /// Print code lists: of a shop, or those that every shop starts with.
    Codes(codes::CodesArgs),
    /// List check plans, shop rules, and what is due or open.
    List(list::ListArgs),
    /// People who sign in.
    User(user::UserArgs),
    /// Write the whole record into one file, also while a server runs.
    Backup(backup::BackupArgs),
    /// Put a backup into an empty place.
    Restore(backup::RestoreArgs),
    /// Erase a customer's personal data.
    Erase(erase::EraseArgs),
    /// Look whether the record is sound.
    Check,
    /// Ask a running server whether it answers.
    Healthcheck(healthcheck::HealthcheckArgs),
    /// The settings.
    Config(config::ConfigArgs),
    /// Print a shell's completions.
    Completions(manual::CompletionsArgs),
    /// Print the manual page, of the program or of one command.
    Man(manual::ManArgs),
    /// Print the API document.
    Openapi,
}

/// Runs the program with the process's arguments.
#[must_use]
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    let config = match Config::load(&flags(&cli)) {
        Ok(config) => config,
        Err(why) => {
            eprintln!("onetrip: {why}");
            return ExitCode::from(REFUSED);
        }
    };
    let place = config.place();
    let clock = system_clock();
    match cli.verb {
        Verb::Serve(args) => serve::run(&args, &config, clock),
        Verb::Demo(args) => demo::run(&args, &config, clock),
        Verb::Import(args) => import::run(&args, &place, clock),
        Verb::Export(args) => export::run(&args, &place, clock),
        Verb::Report(args) => report::run(*args, &place, clock),
        Verb::Codes(args) => codes::run(&args, &place),
        Verb::List(args) => list::run(&args, &place, clock),
        Verb::User(args) => user::run(&args, &config, clock),
        Verb::Backup(args) => backup::backup(&args, &place, clock),
        Verb::Restore(args) => backup::restore(&args, &place),
        Verb::Erase(args) => erase::run(&args, &place, clock),
        Verb::Check => check::run(&place, clock),
        Verb::Healthcheck(args) => healthcheck::run(&args, &config),
        Verb::Config(_) => config::run(&config),
        Verb::Completions(args) => manual::completions(&args),
        Verb::Man(args) => manual::man(&args),
        Verb::Openapi => print(crate::openapi::json().as_bytes()),
    }
}

/// What the command line says of the settings.
fn flags(cli: &Cli) -> Flags {
    let base = Flags { config: cli.config.clone(), data: cli.data.clone(), ..Flags::default() };
    match &cli.verb {
        Verb::Serve(args) => args.serve.over(base),
        Verb::Demo(args) => args.serve.over(base),
        Verb::Config(args) => args.over(base),
        _ => base,
    }
}

/// Writes data to standard output. Whoever reads may stop early; that is no
/// fault.
fn print(text: &[u8]) -> ExitCode {
    let mut out = std::io::stdout().lock();
    match out.write_all(text).and_then(|()| out.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => fail(error),
        _ => ExitCode::SUCCESS,
    }
}

/// Whether nothing was ever written to the place. A database server is asked by
/// opening it.
fn is_bare(place: &Place) -> bool {
    match place {
        Place::Folder(folder) => !folder.join(crate::db::FILE).is_file(),
        Place::Url(_) => false,
    }
}

/// The record of a place: asking must not make one where there is none.
///
/// # Errors
/// The exit code, told already.
fn standing(place: &Place) -> Result<Db, ExitCode> {
    if is_bare(place) {
        eprintln!("onetrip: there is no record in {}", place.show());
        return Err(ExitCode::from(REFUSED));
    }
    Db::open(place).map_err(fail)
}

/// Says what went wrong and fails.
fn fail(error: impl std::fmt::Display) -> ExitCode {
    eprintln!("onetrip: {error}");
    ExitCode::FAILURE
}
