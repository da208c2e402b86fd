//! When parts and complaints come back, as tables.

use analytics::pattern::{Estimated, NoFit, PartTiming, PatternReport, SymptomTiming, Timing};

use super::reuse::choice_label;
use super::{Cell, Column, Row, Table, currency, number, text};
use crate::domain::money::Currency;
use crate::web::words::Shown;

const TIMING: [Column; 13] = [
    text("hint", "Hint"),
    number("count", "Followed"),
    number("returns", "Back so far"),
    number("half_back_days", "Half of those back by day"),
    number("nine_in_ten_back_days", "Nine in ten by day"),
    number("followed_days", "Longest followed, days"),
    number("b10_days", "10% of all back by day"),
    text("b10_from", "from"),
    number("scale_days", "63% of all back by day"),
    text("scale_from", "from"),
    number("shape", "Below 1 early, above 1 wear"),
    number("shape_low", "At least"),
    number("shape_high", "At most"),
];

const PART: [Column; 4] = [
    text("part", "Part"),
    text("name", "Name"),
    text("role", "Held as"),
    text("choice", "Done with it"),
];

const AGE: [Column; 5] = [
    number("replace_at_days", "Replace at day"),
    text("replace_at_from", "from"),
    number("saving", "Saved"),
    number("planned_cost", "Cost in time"),
    number("return_cost", "Cost of a return"),
];

/// What stands for a symptom that was not recorded.
const NO_SYMPTOM: &str = "not recorded";
/// What stands beside a day that was not followed so far.
const NOT_REACHED: &str = "not reached";

pub(super) fn tables(report: &PatternReport) -> Vec<Table> {
    let money = currency(&report.head.currency);
    vec![
        Table {
            key: "pattern",
            title: "When parts come back".to_owned(),
            note: Some(note(report)),
            columns: PART.into_iter().chain(TIMING).chain(AGE).collect(),
            rows: report.parts.iter().map(|line| part_row(line, &money)).collect(),
        },
        Table {
            key: "symptoms",
            title: "When complaints come back".to_owned(),
            note: plain_days(report.symptoms.iter().map(|line| {
                (line.symptom.clone().unwrap_or_else(|| NO_SYMPTOM.to_owned()), &line.timing)
            })),
            columns: [text("symptom", "Symptom")].into_iter().chain(TIMING).collect(),
            rows: report.symptoms.iter().map(symptom_row).collect(),
        },
    ]
}

/// What must be read with it, and the plain days of each part, one a line.
fn note(report: &PatternReport) -> String {
    let days = plain_days(report.parts.iter().map(|line| {
        let held = line.role.map_or("role not recorded", Shown::shown);
        (format!("{}, {held}, {}", line.part, choice_label(line.choice)), &line.timing)
    }));
    days.map_or_else(|| report.note.to_owned(), |days| format!("{}\n{days}", report.note))
}

/// By which days those that came back were back, one group a line.
fn plain_days<'a>(groups: impl Iterator<Item = (String, &'a Timing)>) -> Option<String> {
    let told = groups.filter_map(|(group, timing)| {
        let (half, most) = (timing.half_back_days?, timing.nine_in_ten_back_days?);
        Some(format!(
            "{group}: {} of {} came back so far, half of these by day {half}, nine in ten by day \
             {most}.",
            timing.returns, timing.count
        ))
    });
    let lines: Vec<String> = told.collect();
    (!lines.is_empty()).then(|| lines.join("\n"))
}

/// Days that were not reached say so, and lines with too few returns for a
/// pattern are counted in one.
pub(super) fn for_people(report: &PatternReport, mut tables: Vec<Table>) -> Vec<Table> {
    let few = [
        report.parts.iter().map(|line| &line.timing).collect::<Vec<_>>(),
        report.symptoms.iter().map(|line| &line.timing).collect(),
    ];
    for (table, timings) in tables.iter_mut().zip(few) {
        let too_few = |timing: &&&Timing| timing.too_few;
        fold(table, &timings.iter().filter(too_few).copied().collect::<Vec<_>>());
        for key in ["b10_from", "scale_from", "replace_at_from"] {
            told_apart(table, key);
        }
    }
    tables
}

/// Lines with too few stand last: they have the fewest returns.
fn fold(table: &mut Table, few: &[&Timing]) {
    if few.is_empty() {
        return;
    }
    table.rows.truncate(table.rows.len().saturating_sub(few.len()));
    let sum = |of: fn(&Timing) -> i64| Cell::Count(few.iter().map(|timing| of(timing)).sum());
    let cells = table.columns.iter().enumerate().map(|(at, column)| match column.key {
        "count" => sum(|timing| timing.count),
        "returns" => sum(|timing| timing.returns),
        "hint" => Cell::text("too few, each under ten back"),
        _ if at == 0 => Cell::text(format!("{} lines in one", few.len())),
        _ => Cell::Blank,
    });
    table.rows.push(Row { cells: cells.collect(), jobs: None });
}

/// A day that was not reached says so in its own cell, and the column beside it
/// goes.
fn told_apart(table: &mut Table, key: &str) {
    let Some(at) = table.columns.iter().position(|column| column.key == key) else {
        return;
    };
    for row in &mut table.rows {
        let beyond = matches!(row.cells.get(at), Some(Cell::Text(text)) if text == NOT_REACHED);
        if let Some(day) = at.checked_sub(1).and_then(|day| row.cells.get_mut(day))
            && beyond
        {
            *day = Cell::text(NOT_REACHED);
        }
    }
    table.drop_column(key);
}

fn part_row(line: &PartTiming, money: &Currency) -> Row {
    let age = line.replacement.as_ref();
    let mut cells = vec![
        Cell::text(&line.part),
        Cell::text(&line.name),
        Cell::text(line.role.map_or("unknown", |role| role.as_str())),
        Cell::text(choice_label(line.choice)),
    ];
    cells.extend(timing_cells(&line.timing));
    cells.extend([
        day(age.map(|age| age.days), age.is_some_and(|age| age.extrapolated)),
        Cell::maybe(age.map(|age| reach(age.extrapolated))),
        Cell::percent(age.map(|age| age.saving)),
        Cell::money(age.map(|age| age.planned_minor), money),
        Cell::money(age.map(|age| age.return_minor), money),
    ]);
    Row { cells, jobs: Some(line.timing.jobs.clone()) }
}

fn symptom_row(line: &SymptomTiming) -> Row {
    let mut cells = vec![Cell::text(line.symptom.as_deref().unwrap_or(NO_SYMPTOM))];
    cells.extend(timing_cells(&line.timing));
    Row { cells, jobs: Some(line.timing.jobs.clone()) }
}

fn timing_cells(timing: &Timing) -> [Cell; 13] {
    let value = |estimate: Option<&Estimated>| estimate.map(|estimate| estimate.value);
    let (scale, b10) = (timing.scale_days.as_ref(), timing.b10_days.as_ref());
    let shape = timing.shape.as_ref();
    let hint = match (timing.hint, timing.no_fit) {
        (Some(hint), _) => Cell::text(hint.text()),
        (None, Some(NoFit::TooFew)) => Cell::text(format!("too few ({})", timing.returns)),
        (None, Some(NoFit::NoShape)) => Cell::text("none: the days do not differ"),
        (None, None) => Cell::Blank,
    };
    [
        hint,
        Cell::Count(timing.count),
        Cell::Count(timing.returns),
        Cell::count(timing.half_back_days.map(i64::from)),
        Cell::count(timing.nine_in_ten_back_days.map(i64::from)),
        Cell::Count(i64::from(timing.followed_days)),
        day(value(b10), timing.b10_extrapolated),
        Cell::maybe(b10.map(|_| reach(timing.b10_extrapolated))),
        day(value(scale), timing.scale_extrapolated),
        Cell::maybe(scale.map(|_| reach(timing.scale_extrapolated))),
        Cell::number(value(shape), 2),
        Cell::number(shape.map(|shape| shape.interval.low), 2),
        Cell::number(shape.map(|shape| shape.interval.high), 2),
    ]
}

/// A day, unless it lies past the last one that was followed.
fn day(days: Option<f64>, beyond: bool) -> Cell {
    Cell::number(days.filter(|_| !beyond), 0)
}

/// Whether a day lies within what was followed.
const fn reach(beyond: bool) -> &'static str {
    if beyond { NOT_REACHED } else { "followed" }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]
mod tests {
    use super::*;
    use crate::reports::query::{Report, ReportName, ReportQuery, tests as cases};

    fn timing(days: f64, followed_days: i32, returns: i64) -> Timing {
        let Report::Pattern(report) = cases::report(ReportName::Pattern, &ReportQuery::default())
        else {
            panic!()
        };
        let estimate = Estimated {
            value: days,
            standard_error: 1.0,
            interval: analytics::figure::Interval {
                low: days,
                high: days,
                level: 0.95,
                method: "log-normal",
            },
        };
        Timing {
            returns,
            followed_days,
            too_few: returns < 10,
            scale_extrapolated: days > f64::from(followed_days),
            scale_days: Some(estimate),
            half_back_days: Some(12),
            nine_in_ten_back_days: Some(50),
            ..report.symptoms[0].timing.clone()
        }
    }

    fn shown(timings: &[Timing]) -> (Table, Table) {
        let Report::Pattern(mut report) =
            cases::report(ReportName::Pattern, &ReportQuery::default())
        else {
            panic!()
        };
        report.symptoms = timings
            .iter()
            .map(|timing| SymptomTiming { symptom: Some("a".into()), timing: timing.clone() })
            .collect();
        let whole = tables(&report);
        let people = for_people(&report, whole.clone());
        (whole.into_iter().nth(1).unwrap(), people.into_iter().nth(1).unwrap())
    }

    fn cell<'a>(table: &'a Table, row: usize, key: &str) -> &'a Cell {
        let at = table.columns.iter().position(|column| column.key == key).unwrap();
        &table.rows[row].cells[at]
    }

    #[test]
    fn a_day_past_what_was_followed_is_never_told() {
        let (csv, people) = shown(&[timing(41_961.0, 353, 15), timing(120.0, 353, 12)]);
        assert_eq!(cell(&csv, 0, "scale_days"), &Cell::Blank);
        assert_eq!(cell(&csv, 0, "scale_from"), &Cell::text("not reached"));
        assert_eq!(cell(&people, 0, "scale_days"), &Cell::text("not reached"));
        assert_eq!(cell(&people, 1, "scale_days"), &Cell::Number(120.0, 0));
        assert!(people.columns.iter().all(|column| column.key != "scale_from"));
        let note = people.note.unwrap();
        let said = "15 of 12 came back so far, half of these by day 12, nine in ten by day 50.";
        assert!(note.contains(said), "{note}");
    }

    #[test]
    fn lines_with_too_few_returns_are_one() {
        let all = [timing(9.0, 99, 14), timing(9.0, 99, 7), timing(9.0, 99, 2)];
        let (csv, people) = shown(&all);
        assert_eq!((csv.rows.len(), people.rows.len()), (3, 2));
        assert_eq!(cell(&people, 0, "returns"), &Cell::Count(14));
        assert_eq!(cell(&people, 1, "symptom"), &Cell::text("2 lines in one"));
        assert_eq!(cell(&people, 1, "returns"), &Cell::Count(9));
        let count = all[1].count + all[2].count;
        assert_eq!(cell(&people, 1, "count"), &Cell::Count(count));
        let (csv, people) = shown(&all[..1]);
        assert_eq!(csv.rows.len(), people.rows.len());
    }
}
