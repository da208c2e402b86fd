//! `onetrip import`: history files into the record.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use chrono::NaiveDate;
use indicatif::{ProgressBar, ProgressStyle};

use crate::db::{Db, Place};
use crate::domain::clock::Clock;
use crate::domain::money::Currency;
use crate::domain::zone::Zone;
use crate::import::folder::{self, FileSet, ImportError};
use crate::import::store::{NewShops, Options};
use crate::import::summary::Summary;
use crate::import::told;

/// Some rows were turned away; the others are in.
const SOME_REJECTED: u8 = 3;
/// The files, or what was asked for, cannot be taken; nothing was written.
const REFUSED: u8 = 2;

/// Brings history files (orders.csv, jobs.csv and, where there are any,
/// operations.csv, checks.csv, parts.csv, labor.csv) into the record. Running
/// the same import again changes nothing.
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
    let new_shops = match new_shops(args) {
        Ok(new) => new,
        Err(why) => return refuse(&why),
    };
    let sets = match folder::survey(&args.folder) {
        Ok(sets) => sets,
        Err(faults) => {
            for fault in &faults {
                eprintln!("{fault}");
            }
            return refuse("nothing was imported");
        }
    };
    let rejects = match rejects_path(args) {
        Ok(path) => path,
        Err(why) => return refuse(&why),
    };
    let db = match Db::open(place) {
        Ok(db) => db,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::FAILURE;
        }
    };
    let options = Options {
        update: args.update,
        dry_run: args.dry_run,
        new_shops,
        links_from: args.links_from,
    };
    let bar = progress_bar(&sets);
    let outcome = folder::import_sets(&db, &sets, &options, clock.now(), &rejects, &|bytes| {
        bar.set_position(bytes);
    });
    bar.finish_and_clear();
    match outcome {
        Ok(summary) => tell(&summary, args, &options.new_shops, &rejects),
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

fn tell(summary: &Summary, args: &ImportArgs, new: &NewShops, rejects: &Path) -> ExitCode {
    if args.dry_run {
        eprintln!("dry run: nothing was written (part returns are worked out when it is)");
    }
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
        "{} rows were rejected; mend them by {} and run the import again",
        summary.rejected(),
        rejects.display()
    );
    ExitCode::from(SOME_REJECTED)
}
