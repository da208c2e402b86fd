//! `onetrip report`: a report from any record, without a server.

mod standing;

pub use standing::histories_of;

use std::io::Write;
use std::process::ExitCode;

use clap::Args;
use clap::builder::PossibleValuesParser;

use crate::codes::lists::Lists;
use crate::db::{Db, Fault, Place};
use crate::domain::clock::Clock;
use crate::domain::refusal::Refusal;
use crate::reports::live;
use crate::reports::query::{Known, Report, ReportName, ReportQuery, answer};
use crate::reports::table::tables;
use crate::reports::{Format, HTML, file, printed};
use crate::shops::model::{Shop, all};
use standing::{STANDING, standing};

/// What was asked cannot be answered: other words are needed.
const REFUSED: u8 = 2;

/// A report of one shop.
#[derive(Debug, Clone, Args)]
pub struct ReportArgs {
    /// Which report; jobs are those behind a figure; standing: weekly cohorts, comeback and part
    /// return shares, orders of checks and efficiency of all shops of the group together
    #[arg(value_name = "NAME", value_parser = PossibleValuesParser::new(ReportName::ALL.map(ReportName::as_str).into_iter().chain([STANDING])))]
    name: String,
    /// The shop's code, where the record has several; standing: this shop alone
    #[arg(long, value_name = "CODE")]
    shop: Option<String>,
    /// A week such as 2026-W41
    #[arg(long, conflicts_with_all = ["from", "to"])]
    week: Option<String>,
    /// First closing day, such as 2026-01-01
    #[arg(long, value_name = "DATE")]
    from: Option<String>,
    /// Last closing day
    #[arg(long, value_name = "DATE")]
    to: Option<String>,
    /// Cut the record at the end of this day; the last complete day if not given
    #[arg(long, value_name = "DATE")]
    as_of: Option<String>,
    /// Comeback window; the shop's if not given
    #[arg(long, value_name = "DAYS")]
    window: Option<String>,
    /// What to group comebacks, comparisons, repeats or labor by
    #[arg(long, value_name = "COLUMN")]
    by: Option<String>,
    /// Paths, and orders of checks, of this symptom only
    #[arg(long, value_name = "CODE")]
    symptom: Option<String>,
    /// Checks: these come first, such as visual-under-hood,read-codes; "" for none. The free looks
    /// of the shop if not given
    #[arg(long, value_name = "CODES")]
    first: Option<String>,
    /// Reuse, estimate, bench, pattern: this part (part number, else name)
    #[arg(long)]
    part: Option<String>,
    /// Reuse, estimate, bench, pattern: the part was held as suspect, bystander, damaged or wish
    #[arg(long)]
    role: Option<String>,
    /// Reuse, estimate: whether cleaning cures the cause at hand: yes, no, depends
    #[arg(long)]
    curable: Option<String>,
    /// Reuse, estimate: whether the part passed its test after cleaning: true, false
    #[arg(long)]
    tested: Option<String>,
    /// Reuse, estimate: minutes to reach the part and close up again
    #[arg(long, value_name = "MINUTES")]
    access_minutes: Option<String>,
    /// Reuse, estimate: minutes to clean it
    #[arg(long, value_name = "MINUTES")]
    clean_minutes: Option<String>,
    /// Reuse, estimate: minutes to fit a new one
    #[arg(long, value_name = "MINUTES")]
    fit_minutes: Option<String>,
    /// Reuse, estimate: what a new one costs the shop
    #[arg(long, value_name = "AMOUNT")]
    part_cost: Option<String>,
    /// Hand-over: this line of a list alone, such as battery.resting-voltage
    #[arg(long, value_name = "KEY")]
    line: Option<String>,
    /// Hand-over: minutes that holding one vehicle back takes
    #[arg(long, value_name = "MINUTES")]
    hold_minutes: Option<String>,
    /// Estimate: the part can be had alone, assembly_only, or is not_serviceable
    #[arg(long, value_name = "WORD")]
    serviceable: Option<String>,
    /// Estimate: hours to reach the part and close up again
    #[arg(long, value_name = "HOURS")]
    access_hours: Option<String>,
    /// Estimate: what the assembly costs the shop
    #[arg(long, value_name = "AMOUNT")]
    assembly_cost: Option<String>,
    /// Estimate: what a rebuilt one costs the shop
    #[arg(long, value_name = "AMOUNT")]
    rebuilt_cost: Option<String>,
    /// Estimate: what a return costs besides labor and part; the shop's if not given
    #[arg(long, value_name = "AMOUNT")]
    return_extra: Option<String>,
    /// Estimate: what the part reads on the bench
    #[arg(long, value_name = "NUMBER", allow_negative_numbers = true)]
    reading: Option<String>,
    /// Estimate: the unit of the reading
    #[arg(long)]
    unit: Option<String>,
    /// Bench, hand-over, estimate: which reading is the better one: higher, lower
    #[arg(long)]
    better: Option<String>,
    /// Effect: first closing day on which the rule stood
    #[arg(long, value_name = "DATE")]
    start: Option<String>,
    /// Effect, required: the day of the one verdict, set once
    #[arg(long, value_name = "DATE")]
    review: Option<String>,
    /// Effect: which jobs kept the rule, such as 'first_check=battery.terminals'
    #[arg(long, value_name = "QUERY")]
    kept: Option<String>,
    /// Effect: of which jobs nobody knows whether they kept the rule
    #[arg(long, value_name = "QUERY")]
    not_known: Option<String>,
    /// Effect: a shop rule's id, in place of the days and jobs
    #[arg(long, value_name = "ID", conflicts_with_all = ["start", "review", "kept", "not_known", "select"])]
    rule: Option<String>,
    /// Jobs and effect: which ones, such as 'symptom=engine.tick&disposition=put_back'
    #[arg(long, value_name = "QUERY")]
    select: Option<String>,
    /// In place of the table, the jobs behind this line of it (the first is 1)
    #[arg(long, value_name = "LINE")]
    jobs: Option<usize>,
    /// text, json or csv; html is one file with the pictures
    #[arg(long, default_value = "text", value_parser = PossibleValuesParser::new(Format::WORDS.into_iter().chain([HTML])))]
    format: String,
    /// Which of the report's tables the CSV has; the first if not given
    #[arg(long, value_name = "KEY")]
    table: Option<String>,
}

impl ReportArgs {
    fn query(&self) -> ReportQuery {
        ReportQuery {
            week: self.week.clone(),
            from: self.from.clone(),
            to: self.to.clone(),
            as_of: self.as_of.clone(),
            window: self.window.clone(),
            by: self.by.clone(),
            symptom: self.symptom.clone(),
            first: self.first.clone(),
            part: self.part.clone(),
            role: self.role.clone(),
            curable: self.curable.clone(),
            tested: self.tested.clone(),
            access_minutes: self.access_minutes.clone(),
            clean_minutes: self.clean_minutes.clone(),
            fit_minutes: self.fit_minutes.clone(),
            part_cost: self.part_cost.clone(),
            line: self.line.clone(),
            hold_minutes: self.hold_minutes.clone(),
            serviceable: self.serviceable.clone(),
            access_hours: self.access_hours.clone(),
            assembly_cost: self.assembly_cost.clone(),
            rebuilt_cost: self.rebuilt_cost.clone(),
            return_extra: self.return_extra.clone(),
            reading: self.reading.clone(),
            unit: self.unit.clone(),
            better: self.better.clone(),
            start: self.start.clone(),
            review: self.review.clone(),
            kept: self.kept.clone(),
            not_known: self.not_known.clone(),
            rule: self.rule.clone(),
            select: self.select.clone(),
            format: Some(self.format.clone()),
            table: self.table.clone(),
        }
    }
}

/// Prints the report to standard output; what is to be said about it goes to
/// standard error. Exit codes: 0 printed, 2 other arguments are needed, 1
/// anything else.
#[must_use]
pub fn run(args: ReportArgs, place: &Place, clock: Clock) -> ExitCode {
    let text = match report(&args, place, clock) {
        Ok(text) => text,
        Err(Failure::Refused(why)) => {
            eprintln!("onetrip report: {why}");
            return ExitCode::from(REFUSED);
        }
        Err(Failure::Broken(why)) => {
            eprintln!("onetrip report: {why}");
            return ExitCode::FAILURE;
        }
    };
    match std::io::stdout().lock().write_all(text.as_bytes()) {
        // Whoever reads has seen enough.
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("onetrip report: cannot write: {error}");
            ExitCode::FAILURE
        }
        Ok(()) => ExitCode::SUCCESS,
    }
}

enum Failure {
    Refused(String),
    Broken(String),
}

impl From<Fault> for Failure {
    fn from(fault: Fault) -> Self {
        match fault {
            Fault::Refused(refusal) => Self::Refused(in_words(&refusal)),
            Fault::Busy => Self::Broken("the record is busy; try again".to_owned()),
            Fault::NotReady(how_far) => Self::Broken(how_far),
            Fault::Unavailable(why) => Self::Broken(why),
        }
    }
}

/// A refusal for a terminal: parameters by the names they have there.
fn in_words(refusal: &Refusal) -> String {
    match refusal {
        Refusal::Invalid(faults) => {
            let lines: Vec<String> = faults
                .iter()
                .map(|fault| {
                    let option = fault.pointer.trim_start_matches('/').replace('_', "-");
                    format!("--{option}: {}", fault.detail)
                })
                .collect();
            lines.join("\n")
        }
        Refusal::Forbidden(why) | Refusal::Conflict(why) => why.clone(),
        Refusal::NotFound => "there is no such thing in the record".to_owned(),
        Refusal::Stale(_) | Refusal::KeyReused => "somebody else changed it".to_owned(),
    }
}

fn report(args: &ReportArgs, place: &Place, clock: Clock) -> Result<String, Failure> {
    if args.name == STANDING {
        return standing(args, place, clock);
    }
    let refused = |what: &str, text: &str| Failure::Refused(format!("'{text}' is no {what}"));
    let name = ReportName::parse(&args.name).ok_or_else(|| refused("report", &args.name))?;
    let form = match args.format.as_str() {
        HTML => Form::File,
        word => Form::Plain(Format::parse(word).ok_or_else(|| refused("form", word))?),
    };
    let db = opened(place)?;
    let shop = chosen(db.read(all)?, args.shop.as_deref())?;
    let history = live::anew(&db, &shop)?;
    let query = args.query();
    let now = clock.now();
    let known = db.read(|conn| Known::load(conn, &shop, (name, now), &query))?;
    let made = answer(&history, &known, &shop, now, name, &query).map_err(Fault::from)?;
    let Some(line) = args.jobs else {
        return in_form(&db, &shop, &made, form, args.table.as_deref());
    };
    let behind = jobs_behind(&made, args.table.as_deref(), line)?;
    let known = db.read(|conn| Known::load(conn, &shop, (ReportName::Jobs, now), &behind))?;
    let jobs =
        answer(&history, &known, &shop, now, ReportName::Jobs, &behind).map_err(Fault::from)?;
    in_form(&db, &shop, &jobs, form, None)
}

/// The record of a place: asking must not make one where there is none.
fn opened(place: &Place) -> Result<Db, Failure> {
    if super::is_bare(place) {
        return Err(Failure::Refused(format!("there is no record in {}", place.show())));
    }
    Db::open(place).map_err(|error| Failure::Broken(error.to_string()))
}

/// What is printed.
#[derive(Debug, Clone, Copy)]
enum Form {
    Plain(Format),
    /// One HTML file, with codes by their labels.
    File,
}

fn in_form(
    db: &Db,
    shop: &Shop,
    made: &Report,
    form: Form,
    table: Option<&str>,
) -> Result<String, Failure> {
    Ok(match form {
        Form::Plain(format) => printed(made, format, table, &shop.style())?,
        Form::File => {
            let lists = db.read(|conn| Lists::load(conn, shop.id))?;
            file::render(made, &lists, &shop.name, &shop.style())?
        }
    })
}

/// The query of the jobs behind a line of a report's table.
fn jobs_behind(made: &Report, table: Option<&str>, line: usize) -> Result<ReportQuery, Failure> {
    let tables = tables(made);
    let chosen = match table {
        None => tables.first(),
        Some(key) => tables.iter().find(|table| table.key == key),
    };
    let row = chosen.and_then(|table| table.rows.get(line.checked_sub(1)?));
    let jobs = row.and_then(|row| row.jobs.as_deref()).ok_or_else(|| {
        let lines = chosen.map_or(0, |table| table.rows.len());
        Failure::Refused(format!("--jobs: no line {line} with jobs behind it (lines: {lines})"))
    })?;
    let head = made.head();
    Ok(ReportQuery {
        as_of: Some(head.as_of.to_string()),
        window: Some(head.window_days.to_string()),
        ..ReportQuery::of_jobs(jobs)
    })
}

/// The shop of that code; without a code the only one.
fn chosen(shops: Vec<Shop>, code: Option<&str>) -> Result<Shop, Failure> {
    let codes: Vec<&str> = shops.iter().map(|shop| shop.code.as_str()).collect();
    let listed = if codes.is_empty() {
        "there is no shop in this record".to_owned()
    } else {
        format!("choose a shop with --shop: {}", codes.join(", "))
    };
    let mut fitting = shops
        .into_iter()
        .filter(|shop| code.is_none_or(|code| shop.code.eq_ignore_ascii_case(code)));
    match (fitting.next(), fitting.next()) {
        (Some(shop), None) => Ok(shop),
        _ => Err(Failure::Refused(listed)),
    }
}
