//! The five standing figures of a whole record, timed, with a digest of them that
//! other programs can print too (`figures.md` says what each line is).
//!
//!     cargo bench --bench standing -- DATA_FOLDER AS_OF DIGEST_FILE [RUNS]
#![allow(clippy::unwrap_used, clippy::disallowed_methods)]

use std::fmt::Write;
use std::hint::black_box;
use std::time::{Duration, Instant};

use analytics::figure::Share;
use analytics::history::History;
use analytics::standing::{
    EfficiencyLine, ShareLine, Shares, ShopOfStanding, Standing, StandingReport, standing,
};
use chrono::NaiveDate;

const USAGE: &str = "give DATA_FOLDER AS_OF DIGEST_FILE [RUNS]";

fn main() {
    let arguments: Vec<String> =
        std::env::args().skip(1).filter(|argument| !argument.starts_with("--")).collect();
    let [folder, as_of, digest, more @ ..] = arguments.as_slice() else {
        eprintln!("{USAGE}");
        return;
    };
    let as_of: NaiveDate = as_of.parse().unwrap();
    let runs: usize = more.first().map_or(21, |runs| runs.parse().unwrap());
    let begun = Instant::now();
    let histories = api::histories_of(folder).unwrap();
    let jobs: usize = histories.iter().map(|history| history.jobs().closed_day.len()).sum();
    println!("loaded\t{} shops\t{jobs} jobs\t{:.1?}", histories.len(), begun.elapsed());
    rows(&histories);
    let shops: Vec<ShopOfStanding<'_>> =
        histories.iter().map(|history| ShopOfStanding { history, as_of }).collect();
    let report = standing(&shops);
    std::fs::write(digest, lines(&report)).unwrap();
    let alone = || Standing::of(&shops);
    time("cohorts", runs, || alone().cohorts().len());
    time("shares", runs, || {
        let standing = alone();
        standing.symptoms().len() + standing.technicians().len() + standing.parts().len()
    });
    time("orders", runs, || alone().orders().len());
    time("efficiency-technician", runs, || alone().efficiency_by_technician().len());
    time("efficiency-symptom", runs, || alone().efficiency_by_symptom().len());
    time("all", runs, || standing(&shops).cohorts.len());
}

/// What lies under the figures.
fn rows(histories: &[History]) {
    let sum = |rows: fn(&History) -> usize| histories.iter().map(rows).sum::<usize>();
    println!(
        "rows\t{} checks\t{} parts\t{} labor\t{} operations\t{} links",
        sum(|history| history.checks().job.len()),
        sum(|history| history.parts().job.len()),
        sum(|history| history.labor().job.len()),
        sum(|history| history.operations().job.len()),
        sum(|history| history.returns().earlier.len()),
    );
}

/// Median and least of so many runs, after one that is not counted.
fn time(what: &str, runs: usize, work: impl Fn() -> usize) {
    let lines = black_box(work());
    let mut took: Vec<Duration> = (0..runs.max(1))
        .map(|_| {
            let begun = Instant::now();
            black_box(work());
            begun.elapsed()
        })
        .collect();
    took.sort_unstable();
    let millis = |at: usize| took.get(at).map_or(0.0, |time| time.as_secs_f64() * 1_000.0);
    println!("{what}\tmedian {:.2} ms\tmin {:.2} ms\t{lines} lines", millis(runs / 2), millis(0));
}

/// One figure a line, sorted by its bytes.
fn lines(report: &StandingReport<'_>) -> String {
    let mut lines: Vec<String> = Vec::new();
    for line in &report.cohorts {
        let share = &line.share_30;
        let counts = format!("{}\t{}", share.count, share.returns);
        lines.push(format!("cohort\t{}\t{counts}\t{}", line.week_from, value(share)));
    }
    lines.extend(report.symptoms.iter().map(|line| of_group("symptom", line)));
    lines.extend(report.technicians.iter().map(|line| of_group("technician", line)));
    for line in &report.parts {
        let role = line.role.map_or("-", |role| role.as_str());
        let part = format!("part\t{}\t{}\t{role}", flat(line.part), line.disposition.as_str());
        lines.push(format!("{part}\t{}", by_days(&line.shares)));
    }
    for line in &report.orders {
        let checks: Vec<String> = line.checks.iter().map(|check| flat(check)).collect();
        let path = if checks.is_empty() { "-".to_owned() } else { checks.join(">") };
        let median = line.minutes.median.map_or("-".to_owned(), |median| format!("{median:.2}"));
        let counts = format!("{}\t{}", line.count, line.minutes.timed);
        lines.push(format!("path\t{}\t{path}\t{counts}\t{median}", flat(line.symptom)));
    }
    let hours = |kind: &'static str| move |line: &EfficiencyLine<'_>| of_hours(kind, line);
    lines.extend(report.efficiency_by_technician.iter().map(hours("efficiency-technician")));
    lines.extend(report.efficiency_by_symptom.iter().map(hours("efficiency-symptom")));
    lines.sort_unstable();
    let mut text = String::new();
    for line in lines {
        writeln!(text, "{line}").unwrap();
    }
    text
}

fn of_group(kind: &str, line: &ShareLine<'_>) -> String {
    format!("{kind}\t{}\t{}", line.group.map_or("-".to_owned(), flat), by_days(&line.shares))
}

fn of_hours(kind: &str, line: &EfficiencyLine<'_>) -> String {
    let group = line.group.map_or("-".to_owned(), flat);
    format!("{kind}\t{group}\t{}\t{}", line.flat_rate_hundredths, line.clock_minutes)
}

fn by_days(shares: &Shares) -> String {
    let [by_30, by_90, by_365] = [&shares.share_30, &shares.share_90, &shares.share_365].map(value);
    format!("{}\t{by_30}\t{by_90}\t{by_365}", shares.share_30.count)
}

fn value(share: &Share) -> String {
    share.share.map_or("-".to_owned(), |share| format!("{share:.9}"))
}

/// On one line, in one field.
fn flat(text: &str) -> String {
    text.replace(['\t', '\n', '\r'], " ")
}
