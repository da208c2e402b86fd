//! `onetrip import`: history files into the record.

use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

use chrono::NaiveDate;
use indicatif::{ProgressBar, ProgressStyle};

use super::{REFUSED, copy, is_bare};
use crate::db::{Db, Place};
use crate::domain::clock::Clock;
use crate::domain::money::{Currency, MOST_MINOR};
use crate::domain::text;
use crate::domain::zone::Zone;
use crate::import::folder::{self, FileSet, ImportError};
use crate::import::map::{self, Map};
use crate::import::source::Refused;
use crate::import::store::{NewShops, Options, shop_of_code};
use crate::import::summary::Summary;
use crate::import::told;
use crate::shops::model::Shop;

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
          "links_from", "zone", "currency", "labor_cost", "rate", "window", "name"])]
    pub all: bool,
    /// From when on the old system recorded comebacks: jobs closed before enter
    /// no comeback share
    #[arg(long, value_name = "DATE")]
    pub links_from: Option<NaiveDate>,
    /// Time zone of shops that are new, such as America/Chicago; set once, needed
    /// where a shop is new and the map states none
    #[arg(long, value_name = "ZONE")]
    pub zone: Option<String>,
    /// Currency of shops that are new; set once [default: USD]
    #[arg(long, value_name = "CODE")]
    pub currency: Option<String>,
    /// What an hour of labor costs shops that are new, such as 90.00 [default: 0]
    #[arg(long, value_name = "AMOUNT")]
    pub labor_cost: Option<String>,
    /// What an hour of labor is posted at in shops that are new, such as 140.00
    /// [default: the labor cost]
    #[arg(long, value_name = "AMOUNT")]
    pub rate: Option<String>,
    /// Comeback window of shops that are new, in days [default: 90]
    #[arg(long, value_name = "DAYS", value_parser = clap::value_parser!(i32).range(1..=400))]
    pub window: Option<i32>,
    /// Name of the shop that is new [default: its code]
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
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
    /// Where shops that are new are, was said.
    zone_said: bool,
}

fn prepare(args: &ImportArgs, clock: Clock) -> Result<Prepared, Vec<String>> {
    let mut new_shops = new_shops(args).map_err(|why| vec![why])?;
    if let Some(day) = args.links_from.filter(|day| *day > latest_day(clock)) {
        return Err(vec![format!(
            "--links-from {day} is in the future; write the day since when comebacks were recorded"
        )]);
    }
    let map = args.map.as_deref().map(Map::load).transpose()?.map(Arc::new);
    let told = |faults: Vec<Refused>| faults.iter().map(ToString::to_string).collect::<Vec<_>>();
    let sets = folder::survey(&args.folder, map.as_ref()).map_err(told)?;
    let rejects = rejects_path(args).map_err(|why| vec![why])?;
    let mut zone_said = args.zone.is_some();
    if let Some(map) = map {
        eprintln!("map: {}", map.name);
        if let (false, Some(zone)) = (zone_said, map.zone()) {
            new_shops.zone = zone;
            zone_said = true;
        }
    }
    let options = Options {
        update: args.update,
        dry_run: args.dry_run,
        new_shops,
        links_from: args.links_from,
    };
    Ok(Prepared { sets, rejects, options, zone_said })
}

/// Today where the day begins first.
fn latest_day(clock: Clock) -> NaiveDate {
    let first = Zone::parse("Pacific/Kiritimati").unwrap_or(Zone::UTC);
    first.day(clock.now())
}

fn guess(folder: &Path, file: &Path) -> ExitCode {
    let map::guess::Guess { text, unfit } = match map::guess::guess(folder) {
        Ok(guess) => guess,
        Err(why) => return refuse(&why),
    };
    for why in unfit {
        eprintln!("{why}");
    }
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
    let Prepared { sets, rejects, options, .. } = prepared;
    let db = match meet(args, prepared, place) {
        Ok(db) => db,
        Err(code) => return code,
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
            }
            for fault in first {
                eprintln!("{fault}");
            }
            tell(&summary, &options.new_shops, rejects)
        }
        Err(error) => fail(error),
    }
}

/// Opens the record, and says what the shops of the files find there. A shop
/// that is new must know where it is: its zone is set once.
fn meet(args: &ImportArgs, prepared: &Prepared, place: &Place) -> Result<Db, ExitCode> {
    let named = folder::shops_named(&prepared.sets)
        .map_err(|refused| fail(ImportError::Refused(vec![refused])))?;
    let nowhere = |code: &str| {
        eprintln!(
            "new shop {code}: say where it is, with --zone such as America/Chicago; the zone of a shop is set once, when it is made"
        );
        refuse("nothing was imported")
    };
    if let (true, false, Some(code)) = (is_bare(place), prepared.zone_said, named.first()) {
        return Err(nowhere(code));
    }
    let db = Db::open(place).map_err(super::fail)?;
    let mut new = Vec::new();
    for code in &named {
        match db.read(|conn| shop_of_code(conn, code)) {
            Ok(Some(shop)) => unused(args, &shop).iter().for_each(|line| eprintln!("{line}")),
            Ok(None) => new.push(code.as_str()),
            Err(fault) => return Err(fail(ImportError::Record(fault))),
        }
    }
    match new.as_slice() {
        [code, ..] if !prepared.zone_said => Err(nowhere(code)),
        [_, _, ..] if args.name.is_some() => Err(refuse(&format!(
            "--name names one shop, but these are new: {}; nothing was imported",
            new.join(", ")
        ))),
        _ => Ok(db),
    }
}

/// What was said for new shops and is otherwise in one that is there.
fn unused(args: &ImportArgs, shop: &Shop) -> Vec<String> {
    let money = shop.money();
    let amount = |text: &String| {
        money.parse_amount(text).map_or_else(|_| text.clone(), |minor| money.format_amount(minor))
    };
    let days = args.window.map(|days| days.to_string());
    let (cost, rate) = (args.labor_cost.as_ref().map(amount), args.rate.as_ref().map(amount));
    [
        ("--zone", "time zone", args.zone.clone(), shop.time_zone.clone()),
        ("--currency", "currency", args.currency.clone(), shop.currency.clone()),
        ("--labor-cost", "labor cost", cost, money.format_amount(shop.labor_cost_minor)),
        ("--rate", "posted rate", rate, money.format_amount(shop.posted_rate_minor)),
        ("--window", "comeback window", days, shop.window_days.to_string()),
        ("--name", "name", args.name.clone(), shop.name.clone()),
    ]
    .into_iter()
    .filter(|(_, _, said, stands)| said.as_ref().is_some_and(|said| said != stands))
    .map(|(flag, what, _, stands)| {
        format!("{} is there already, with {what} {stands}; {flag} was not used", shop.code)
    })
    .collect()
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
    let amount = |flag: &str, text: &str| match currency.parse_amount(text) {
        Ok(minor) if minor < 0 => Err(format!("{flag} '{text}': is below zero")),
        Ok(minor) if minor > MOST_MINOR => Err(format!("{flag} '{text}': is too large")),
        Ok(minor) => Ok(minor),
        Err(error) => Err(format!("{flag} '{text}': {error}")),
    };
    let labor_cost_minor = amount("--labor-cost", args.labor_cost.as_deref().unwrap_or("0"))?;
    let rate = args.rate.as_deref().map(|text| amount("--rate", text)).transpose()?;
    let name = args.name.as_deref().map(|name| text::required("name", name, 200)).transpose();
    Ok(NewShops {
        name: name.map_err(|fault| format!("--name: {}", fault.detail))?,
        zone,
        currency,
        labor_cost_minor,
        posted_rate_minor: rate.unwrap_or(labor_cost_minor),
        window_days: args.window.unwrap_or(90),
    })
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
            "new shop {code}: time zone {}, currency {} (both are set once); labor cost {} and posted rate {} an hour, comeback window {} days (--labor-cost, --rate and --window, or its settings after)",
            new.zone.name(),
            new.currency.code(),
            new.currency.format_amount(new.labor_cost_minor),
            new.currency.format_amount(new.posted_rate_minor),
            new.window_days,
        );
    }
    eprint!("{summary}");
    let rows = match summary.rejected() {
        0 => return ExitCode::SUCCESS,
        1 => "1 row was rejected; correct it".to_owned(),
        more => format!("{more} rows were rejected; correct them"),
    };
    eprintln!("{rows} by {} and run the import again", rejects.display());
    ExitCode::from(SOME_REJECTED)
}
