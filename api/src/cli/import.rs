//! `onetrip import`: history files into the record.

use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

use chrono::NaiveDate;
use indicatif::{ProgressBar, ProgressStyle};

use super::{REFUSED, copy};
use crate::db::{Db, Place};
use crate::domain::clock::Clock;
use crate::domain::money::Currency;
use crate::domain::zone::Zone;
use crate::import::folder::{self, FileSet, ImportError};
use crate::import::map::{self, Map};
use crate::import::source::Refused;
use crate::import::store::{NewShops, Options};
use crate::import::summary::Summary;
use crate::import::told;

/// Some rows were turned away; the others are in.
const SOME_REJECTED: u8 = 3;

/// Brings history files (orders.csv, jobs.csv and, where there are any,
/// operations.csv, checks.csv, parts.csv, labor.csv) into the record. Running
/// the same import again changes nothing; one that was stopped goes on where it
/// stopped. With --map, another program's files; with --all, a whole copy.
#[derive(Debug, clap::Args)]
pub struct ImportArgs {
    /// The folder with the files, or with one subfolder a shop
    pub folder: PathBuf,
    /// Write rows that differ from the record over it
    #[arg(long)]
    pub update: bool,
    /// Look everything through and say what would happen; write nothing
    #[arg(long)]
    pub dry_run: bool,
    /// Where rejected rows go [default: FOLDER-rejected.csv, beside the folder]
    #[arg(long, value_name = "FILE")]
    pub rejects: Option<PathBuf>,
    /// How another program's files are read (TOML; see --guess-map)
    #[arg(long, value_name = "FILE")]
    pub map: Option<PathBuf>,
    /// Look at the folder's files and write a map with guesses, to be finished
    /// by hand; imports nothing
    #[arg(long, value_name = "FILE", conflicts_with_all = ["map", "dry_run", "update", "rejects"])]
    pub guess_map: Option<PathBuf>,
    /// Take in what export --all wrote; the place must be empty
    #[arg(long, conflicts_with_all = ["map", "guess_map", "dry_run", "update", "rejects",
          "links_from", "zone", "currency", "labor_cost"])]
    pub all: bool,
    /// From when on the old system recorded comebacks: jobs closed before enter
    /// no comeback share
    #[arg(long, value_name = "DATE")]
    pub links_from: Option<NaiveDate>,
    /// Time zone of shops that are new, such as America/Chicago [default: UTC]
    #[arg(long, value_name = "ZONE")]
    pub zone: Option<String>,
    /// Currency of shops that are new [default: USD]
    #[arg(long, value_name = "CODE")]
    pub currency: Option<String>,
    /// What an hour of labor costs shops that are new, such as 90.00 [default: 0]
    #[arg(long, value_name = "AMOUNT")]
    pub labor_cost: Option<String>,
    /// Comeback window of shops that are new, in days
    #[arg(long, value_name = "DAYS", default_value_t = 90,
          value_parser = clap::value_parser!(i32).range(1..=400))]
    pub window: i32,
}

/// Runs the import. Words go to stderr; nothing to stdout.
#[must_use]
pub fn run(args: &ImportArgs, place: &Place, clock: Clock) -> ExitCode {
    if args.all {
        return copy::import(&args.folder, place);
    }
    if let Some(file) = &args.guess_map {
        return guess(&args.folder, file);
    }
    match prepare(args, clock) {
        Ok(prepared) => import(args, &prepared, place, clock),
        Err(faults) => {
            for fault in &faults {
                eprintln!("{fault}");
            }
            refuse("nothing was imported")
        }
    }
}

/// What is found good before the record is opened.
struct Prepared {
    sets: Vec<FileSet>,
    rejects: PathBuf,
    options: Options,
}

fn prepare(args: &ImportArgs, clock: Clock) -> Result<Prepared, Vec<String>> {
    let new_shops = new_shops(args).map_err(|why| vec![why])?;
    if let Some(day) = args.links_from.filter(|day| *day > latest_day(clock)) {
        return Err(vec![format!(
            "--links-from {day} is in the future; write the day since when comebacks were recorded"
        )]);
    }
    let map = args.map.as_deref().map(Map::load).transpose()?.map(Arc::new);
    let told = |faults: Vec<Refused>| faults.iter().map(ToString::to_string).collect::<Vec<_>>();
    let sets = folder::survey(&args.folder, map.as_ref()).map_err(told)?;
    let rejects = rejects_path(args).map_err(|why| vec![why])?;
    if let Some(map) = map {
        eprintln!("map: {}", map.name);
    }
    let options = Options {
        update: args.update,
        dry_run: args.dry_run,
        new_shops,
        links_from: args.links_from,
    };
    Ok(Prepared { sets, rejects, options })
}

/// Today where the day begins first.
fn latest_day(clock: Clock) -> NaiveDate {
    let first = Zone::parse("Pacific/Kiritimati").unwrap_or(Zone::UTC);
    first.day(clock.now())
}

fn guess(folder: &Path, file: &Path) -> ExitCode {
    let text = match map::guess::guess(folder) {
        Ok(text) => text,
        Err(why) => return refuse(&why),
    };
    let written = std::fs::File::create_new(file)
        .and_then(|mut made| made.write_all(text.as_bytes()).and_then(|()| made.sync_all()));
    match written {
        Ok(()) => {
            eprintln!("{}: read it through and fill in what is empty", file.display());
            ExitCode::SUCCESS
        }
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {
            refuse(&format!("{} is there already; name another file", file.display()))
        }
        Err(error) => super::fail(format!("{}: {error}", file.display())),
    }
}

fn import(args: &ImportArgs, prepared: &Prepared, place: &Place, clock: Clock) -> ExitCode {
    let Prepared { sets, rejects, options } = prepared;
    let db = match Db::open(place) {
        Ok(db) => db,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::FAILURE;
        }
    };
    let bar = progress_bar(sets);
    let outcome = folder::import_sets(&db, sets, options, clock.now(), rejects, &|bytes| {
        bar.set_position(bytes);
    });
    bar.finish_and_clear();
    match outcome {
        Ok((summary, first)) => {
            if args.dry_run {
                eprintln!("dry run: nothing was written (part returns are worked out when it is)");
                for fault in first {
                    eprintln!("{fault}");
                }
            }
            tell(&summary, &options.new_shops, rejects)
        }
        Err(error) => fail(error),
    }
}

fn refuse(why: &str) -> ExitCode {
    eprintln!("{why}");
    ExitCode::from(REFUSED)
}

fn fail(error: ImportError) -> ExitCode {
    match error {
        ImportError::Refused(faults) => {
            for fault in faults {
                eprintln!("{fault}");
            }
        }
        ImportError::Record(fault) => eprintln!("{}", told(&fault)),
        ImportError::Rejects(path, error) => {
            eprintln!("the rejected rows cannot be written to {}: {error}", path.display());
        }
    }
    eprintln!("the import ended before its end; run it again, it goes on where it stopped");
    ExitCode::FAILURE
}

fn new_shops(args: &ImportArgs) -> Result<NewShops, String> {
    let zone = args.zone.as_deref().unwrap_or("UTC");
    let zone = Zone::parse(zone)
        .ok_or_else(|| format!("'{zone}' is no time zone; write one such as America/Chicago"))?;
    let currency = args.currency.as_deref().unwrap_or("USD");
    let currency = Currency::parse(currency)
        .ok_or_else(|| format!("'{currency}' is no currency; write three letters such as USD"))?;
    let cost = args.labor_cost.as_deref().unwrap_or("0");
    let labor_cost_minor =
        currency.parse_amount(cost).map_err(|e| format!("--labor-cost '{cost}': {e}"))?;
    if labor_cost_minor < 0 {
        return Err(format!("--labor-cost '{cost}': is below zero"));
    }
    Ok(NewShops { zone, currency, labor_cost_minor, window_days: args.window })
}

/// Beside the folder, which the import leaves as it is.
fn rejects_path(args: &ImportArgs) -> Result<PathBuf, String> {
    if let Some(path) = &args.rejects {
        return Ok(path.clone());
    }
    let folder = std::fs::canonicalize(&args.folder)
        .map_err(|e| format!("{}: {e}", args.folder.display()))?;
    let name = folder.file_name().ok_or_else(|| {
        "say with --rejects where rejected rows go: this folder has no place beside it".to_owned()
    })?;
    let mut name = name.to_owned();
    name.push("-rejected.csv");
    Ok(folder.with_file_name(name))
}

fn progress_bar(sets: &[FileSet]) -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(sets.iter().map(|set| set.bytes).sum());
    match ProgressStyle::with_template("{wide_bar} {bytes}/{total_bytes} {eta}") {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}

fn tell(summary: &Summary, new: &NewShops, rejects: &Path) -> ExitCode {
    for code in &summary.shops {
        eprintln!(
            "new shop {code}: time zone {}, currency {}, labor cost {} an hour, comeback window {} days; set otherwise with --zone, --currency, --labor-cost, --window before, or in its settings after",
            new.zone.name(),
            new.currency.code(),
            new.currency.format_amount(new.labor_cost_minor),
            new.window_days,
        );
    }
    eprint!("{summary}");
    if summary.rejected() == 0 {
        return ExitCode::SUCCESS;
    }
    eprintln!(
        "{} rows were rejected; correct them by {} and run the import again",
        summary.rejected(),
        rejects.display()
    );
    ExitCode::from(SOME_REJECTED)
}
