//! The standing figures of one or several shops, as tables.

use analytics::standing::{EfficiencyLine, ShareLine, Shares, StandingReport};

use super::{Cell, Column, Row, Table, choice_label, number, ratio, share, text};

const BY_30: Column = share("share_30", "Came back by day 30");
const BY_90: Column = share("share_90", "By day 90");
const BY_365: Column = share("share_365", "By day 365");

/// Their jobs lie in several shops: no one list has them, so no line selects any.
#[must_use]
pub fn tables(report: &StandingReport<'_>) -> Vec<Table> {
    vec![
        cohorts(report),
        shares("symptoms", "Comebacks by symptom", text("symptom", "Symptom"), &report.symptoms),
        shares(
            "technicians",
            "Comebacks by who answers for them",
            text("technician", "Technician"),
            &report.technicians,
        ),
        parts(report),
        orders(report),
        efficiency(
            "efficiency_by_technician",
            "Efficiency by technician",
            text("technician", "Technician"),
            &report.efficiency_by_technician,
        ),
        efficiency(
            "efficiency_by_symptom",
            "Efficiency by symptom",
            text("symptom", "Symptom"),
            &report.efficiency_by_symptom,
        ),
    ]
}

fn table(key: &'static str, title: &str, columns: Vec<Column>, rows: Vec<Vec<Cell>>) -> Table {
    let rows = rows.into_iter().map(|cells| Row { cells, jobs: None }).collect();
    Table { key, title: title.to_owned(), note: None, columns, rows }
}

fn cohorts(report: &StandingReport<'_>) -> Table {
    let rows = report
        .cohorts
        .iter()
        .map(|line| vec![Cell::day(Some(line.week_from)), Cell::share(&line.share_30)]);
    let columns = vec![text("week_from", "Week from"), BY_30];
    table("cohorts", "Comebacks by closing week", columns, rows.collect())
}

fn of_shares(shares: &Shares) -> [Cell; 3] {
    [&shares.share_30, &shares.share_90, &shares.share_365].map(Cell::share)
}

fn shares(key: &'static str, title: &str, group: Column, lines: &[ShareLine<'_>]) -> Table {
    let row = |line: &ShareLine<'_>| {
        std::iter::once(Cell::maybe(line.group)).chain(of_shares(&line.shares)).collect()
    };
    table(key, title, vec![group, BY_30, BY_90, BY_365], lines.iter().map(row).collect())
}

fn parts(report: &StandingReport<'_>) -> Table {
    let rows = report.parts.iter().map(|line| {
        let about = [
            Cell::text(line.part),
            Cell::text(choice_label(line.disposition)),
            Cell::maybe(line.role.map(|role| role.as_str())),
        ];
        about.into_iter().chain(of_shares(&line.shares)).collect()
    });
    let columns = vec![
        text("part", "Part"),
        text("disposition", "What was done"),
        text("role", "Held as"),
        BY_30,
        BY_90,
        BY_365,
    ];
    table("parts", "Parts that came back", columns, rows.collect())
}

fn orders(report: &StandingReport<'_>) -> Table {
    let rows = report.orders.iter().map(|line| {
        vec![
            Cell::text(line.symptom),
            Cell::text(line.checks.join(" > ")),
            Cell::Count(line.count),
            Cell::Count(line.minutes.timed),
            Cell::number(line.minutes.lower_quartile, 1),
            Cell::number(line.minutes.median, 1),
            Cell::number(line.minutes.upper_quartile, 1),
        ]
    });
    let columns = vec![
        text("symptom", "Symptom"),
        text("checks", "Checks"),
        number("jobs", "Jobs"),
        number("timed", "With minutes"),
        number("lower_quartile", "Lower quartile"),
        number("median", "Median minutes"),
        number("upper_quartile", "Upper quartile"),
    ];
    table("orders", "Orders of checks", columns, rows.collect())
}

fn efficiency(
    key: &'static str,
    title: &str,
    group: Column,
    lines: &[EfficiencyLine<'_>],
) -> Table {
    let rows = lines.iter().map(|line| {
        vec![
            Cell::maybe(line.group),
            Cell::Count(line.efficiency.count),
            Cell::ratio(&line.efficiency),
            Cell::Number(line.flat_rate_hundredths as f64 / 100.0, 2),
            Cell::Number(line.clock_minutes as f64 / 60.0, 2),
        ]
    });
    let columns = vec![
        group,
        number("jobs", "Jobs"),
        ratio("efficiency", "Efficiency"),
        number("flat_rate_hours", "Flat-rate hours"),
        number("clock_hours", "Clock hours"),
    ];
    table(key, title, columns, rows.collect())
}
