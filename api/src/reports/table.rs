//! A report as plain tables: one description of rows and columns for the
//! terminal, the CSV file and the page.

mod bench;
mod checks;
mod comebacks;
mod compare;
mod effect;
pub mod group;
mod jobs;
mod labor;
mod paths;
mod pattern;
mod repeats;
mod reuse;
mod weekly;

pub(super) use weekly::verdict as week_verdict;

use std::fmt;

use analytics::figure::{Interval, Share};
use analytics::labor::Ratio;
use analytics::words::PartRole;
use chrono::NaiveDate;

pub(super) use self::bench::decimals;
pub(super) use self::compare::said as compared;
pub(super) use self::reuse::choice_label;
use super::query::Report;
use crate::domain::decimal::rounded;
pub use crate::domain::decimal::thousands;
use crate::domain::money::Currency;
pub use crate::domain::percent::percent;
use crate::domain::percent::percents;
use crate::domain::style::Style;
use crate::web::words::Shown;

/// A table of a report.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Short fixed word, for `--table` and for anchors.
    pub key: &'static str,
    pub title: String,
    /// What must be read with it.
    pub note: Option<String>,
    pub columns: Vec<Column>,
    pub rows: Vec<Row>,
}

/// One column. Its key names it for programs, its label for people.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    pub key: &'static str,
    pub label: &'static str,
    pub kind: Kind,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Text,
    Number,
    /// A share with its counts and interval.
    Share,
    /// A ratio of sums with its count and interval.
    Ratio,
}

/// Columns for programs alone: what they say stands in words beside them.
const FOR_PROGRAMS: &[&str] = &["z", "chi_square", "degrees_of_freedom"];

impl Column {
    /// Whether pages and the terminal show it.
    #[must_use]
    pub fn is_for_people(self) -> bool {
        !FOR_PROGRAMS.contains(&self.key)
    }

    /// Whether people read it as a number, lined up on the right.
    #[must_use]
    pub const fn is_numeric(self) -> bool {
        !matches!(self.kind, Kind::Text)
    }
}

/// One line of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// As many as there are columns.
    pub cells: Vec<Cell>,
    /// Selects the jobs behind the line: the query of the jobs list.
    pub jobs: Option<String>,
}

/// One value. People read it by [`Cell::told`]; programs get its parts.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing recorded, or nothing that can be said.
    Blank,
    Text(String),
    Day(NaiveDate),
    Count(i64),
    /// A count of some of the row's jobs, with what selects them.
    CountOf(i64, String),
    /// A number with its decimals.
    Number(f64, usize),
    /// A number of which the sign is the point: gained or lost.
    Signed(f64, usize),
    /// A plain ratio shown in percent.
    Percent(f64),
    /// Money as a plain decimal number in the report's currency.
    Money(String),
    Share(Box<Share>),
    /// A share of which nothing came back, and how high it could be.
    NoneOf(Box<Share>, f64),
    /// A ratio of sums shown in percent.
    Ratio(Box<Ratio>),
}

impl fmt::Display for Cell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Blank => f.write_str("-"),
            Self::Text(text) => f.write_str(text),
            Self::Day(day) => write!(f, "{day}"),
            Self::Money(text) => f.write_str(&thousands(text)),
            Self::Count(count) | Self::CountOf(count, _) => {
                f.write_str(&thousands(&count.to_string()))
            }
            Self::Number(number, decimals) => f.write_str(&thousands(&rounded(*number, *decimals))),
            Self::Signed(number, decimals) => f.write_str(&signed(*number, *decimals)),
            Self::Percent(ratio) => f.write_str(&percent(*ratio)),
            Self::Share(share) => f.write_str(&share_cell(share)),
            Self::NoneOf(share, high) => write!(
                f,
                "0 of {} (could be up to {})",
                thousands(&share.count.to_string()),
                percent(*high)
            ),
            Self::Ratio(ratio) => f.write_str(&ratio_cell(ratio)),
        }
    }
}

impl Cell {
    /// As the shop's people write it.
    #[must_use]
    pub fn told(&self, style: &Style) -> String {
        match self {
            Self::Day(day) => style.day(*day),
            Self::Money(plain) => style.bare_text(plain),
            other => other.to_string(),
        }
    }

    /// One number of the line's jobs, without a count of its own.
    pub(super) const fn is_plain_number(&self) -> bool {
        matches!(self, Self::Number(..) | Self::Signed(..) | Self::Percent(_) | Self::Money(_))
    }

    pub(super) fn text(text: impl Into<String>) -> Self {
        Self::Text(text.into())
    }

    pub(super) fn maybe(text: Option<&str>) -> Self {
        text.map_or(Self::Blank, Self::text)
    }

    pub(super) fn day(day: Option<NaiveDate>) -> Self {
        day.map_or(Self::Blank, Self::Day)
    }

    pub(super) fn count(count: Option<i64>) -> Self {
        count.map_or(Self::Blank, Self::Count)
    }

    pub(super) fn number(number: Option<f64>, decimals: usize) -> Self {
        number.map_or(Self::Blank, |number| Self::Number(number, decimals))
    }

    pub(super) fn percent(ratio: Option<f64>) -> Self {
        ratio.map_or(Self::Blank, Self::Percent)
    }

    pub(super) fn share(share: &Share) -> Self {
        Self::Share(Box::new(share.clone()))
    }

    /// A share followed by days. Where nothing came back it has no interval of its
    /// own, and looks perfect; the interval of the jobs whose days are over then
    /// says how high it could be.
    pub(super) fn share_beside(share: &Share, closed: &Share) -> Self {
        let nothing = share.share == Some(0.0) && share.interval.is_none() && !share.too_few;
        match &closed.interval {
            Some(interval) if nothing && closed.count > 0 && closed.returns == 0 => {
                Self::NoneOf(Box::new(share.clone()), interval.high)
            }
            _ => Self::share(share),
        }
    }

    /// A probability: two decimals say enough, but not of a small one.
    pub(super) fn chance(p: f64) -> Self {
        Self::Number(p, if p < 0.01 { 4 } else { 2 })
    }

    pub(super) fn ratio(ratio: &Ratio) -> Self {
        Self::Ratio(Box::new(ratio.clone()))
    }

    /// Minor units of a currency, rounded to whole ones.
    pub(super) fn money(minor: Option<f64>, currency: &Currency) -> Self {
        minor.map_or(Self::Blank, |minor| Self::Money(currency.format_amount(minor.round() as i64)))
    }
}

/// With a plus where it is above nothing.
fn signed(number: f64, decimals: usize) -> String {
    let text = rounded(number, decimals);
    let plus = text.bytes().any(|byte| matches!(byte, b'1'..=b'9')) && !text.starts_with('-');
    format!("{}{}", if plus { "+" } else { "" }, thousands(&text))
}

/// The currency of a report's amounts.
pub(crate) fn currency(code: &str) -> Currency {
    Currency::parse(code).unwrap_or_else(Currency::none)
}

pub(super) const fn text(key: &'static str, label: &'static str) -> Column {
    Column { key, label, kind: Kind::Text }
}

pub(super) const fn number(key: &'static str, label: &'static str) -> Column {
    Column { key, label, kind: Kind::Number }
}

pub(super) const fn share(key: &'static str, label: &'static str) -> Column {
    Column { key, label, kind: Kind::Share }
}

pub(super) const fn ratio(key: &'static str, label: &'static str) -> Column {
    Column { key, label, kind: Kind::Ratio }
}

/// The report's tables, the main one first.
#[must_use]
pub fn tables(report: &Report) -> Vec<Table> {
    styled(report, &Style::plain())
}

/// The same, with days and money in notes and titles as the shop's people write
/// them. Programs read no notes.
#[must_use]
pub fn styled(report: &Report, style: &Style) -> Vec<Table> {
    match report {
        Report::Weekly(review) => weekly::tables(review, style),
        Report::Comebacks(report) => comebacks::tables(report),
        Report::Reuse(report) => reuse::tables(report),
        Report::Paths(report) => paths::tables(report),
        Report::Labor(report) => labor::tables(report, style),
        Report::Compare(report) => compare::tables(report),
        Report::Checks(report) => checks::tables(report),
        Report::Repeats(report) => repeats::tables(report, style),
        Report::Pattern(report) => pattern::tables(report),
        Report::Bench(report) => bench::tables(report),
        Report::Effect(report) => effect::tables(report, style),
        Report::Jobs(report) => vec![jobs::table(report)],
    }
}

/// The tables as people read them, on a page and on a terminal: lines that can
/// say nothing are counted in one, and what the notes say is not said again.
#[must_use]
pub fn for_people(report: &Report, style: &Style) -> Vec<Table> {
    let mut tables = styled(report, style);
    tables.iter_mut().for_each(Table::roles_in_words);
    match report {
        Report::Comebacks(_) => comebacks::for_people(tables),
        Report::Reuse(_) => reuse::for_people(tables),
        Report::Pattern(report) => pattern::for_people(report, tables),
        Report::Bench(_) => bench::for_people(tables),
        _ => tables,
    }
}

impl Table {
    /// What a part was held as, in the words of the job's page.
    fn roles_in_words(&mut self) {
        let Some(at) = self.columns.iter().position(|column| column.key == "role") else {
            return;
        };
        for cell in self.rows.iter_mut().filter_map(|row| row.cells.get_mut(at)) {
            if let Cell::Text(code) = cell
                && let Some(role) = PartRole::parse(code)
            {
                *code = role.shown().to_owned();
            }
        }
    }

    /// Without a column.
    fn drop_column(&mut self, key: &str) {
        if let Some(at) = self.columns.iter().position(|column| column.key == key) {
            self.columns.remove(at);
            for row in &mut self.rows {
                if at < row.cells.len() {
                    row.cells.remove(at);
                }
            }
        }
    }
}

/// The bounds of an interval in percent: `13-39%`.
fn range(interval: Option<&Interval>) -> Option<String> {
    let interval = interval?;
    Some(percents(interval.low, interval.high))
}

fn ratio_cell(ratio: &Ratio) -> String {
    match (ratio.value, range(ratio.interval.as_ref())) {
        (None, _) => "-".to_owned(),
        (Some(_), _) if ratio.too_few => format!("too few ({})", ratio.count),
        (Some(value), None) => percent(value),
        (Some(value), Some(range)) => format!("{} ({range})", percent(value)),
    }
}

/// `131 of 2,981`.
fn of(share: &Share) -> String {
    let [returns, count] = [share.returns, share.count].map(|count| thousands(&count.to_string()));
    format!("{returns} of {count}")
}

fn share_cell(share: &Share) -> String {
    let counts = of(share);
    if share.count == 0 {
        return "-".to_owned();
    }
    if share.too_few {
        return format!("too few ({counts})");
    }
    match (share.share, range(share.interval.as_ref())) {
        (None, _) => format!("not yet ({counts})"),
        (Some(value), None) => format!("{} ({counts})", percent(value)),
        (Some(value), Some(range)) => format!("{} ({range}; {counts})", percent(value)),
    }
}

/// A share as a sentence: `9 of 38 came back within 60 days (24%, 13-39%)`.
/// Where the newest jobs are followed for less than that, the share is not the
/// counts' ratio, stands first, and the sentence says why.
#[must_use]
pub fn sentence(share: &Share, window_days: i32) -> String {
    let counts = format!("{} came back within {window_days} days", of(share));
    let Some(value) = share.share.filter(|_| !share.too_few) else {
        let why = if share.too_few { "too few" } else { "too early" };
        return format!("{counts} ({why} for a share)");
    };
    let interval = range(share.interval.as_ref());
    let counted = share.returns as f64 / share.count.max(1) as f64;
    if (value - counted).abs() > 1e-9 {
        let interval = interval.map_or_else(String::new, |range| format!(" ({range})"));
        return format!(
            "{} come back within {window_days} days{interval}. {} so far; the newest are still in \
             their {window_days} days",
            percent(value),
            of(share),
        );
    }
    let interval = interval.map_or_else(String::new, |range| format!(", {range}"));
    format!("{counts} ({}{interval})", percent(value))
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use analytics::stats::proportion::wilson;

    use super::*;
    use crate::reports::query::{ReportName, ReportQuery, tests as cases};

    fn share(returns: i64, count: i64) -> Share {
        let (low, high) = wilson(returns, count, 0.95).unwrap();
        Share {
            count,
            returns,
            share: Some(returns as f64 / count as f64),
            standard_error: None,
            interval: Some(Interval { low, high, level: 0.95, method: "wilson" }),
            too_few: count < 10,
            definition: "part_return_closed",
            jobs: String::new(),
        }
    }

    #[test]
    fn shares_in_words() {
        // Wilson, JASA 22 (1927) 209-212, his formula worked in Python: 9 of 38
        // gives .12994 to .39207, 4 of 96 gives .01632 to .10228.
        let suspects = share(9, 38);
        assert_eq!(sentence(&suspects, 60), "9 of 38 came back within 60 days (24%, 13-39%)");
        let reckoned = Share { share: Some(0.25), ..share(9, 38) };
        assert_eq!(
            sentence(&reckoned, 60),
            "25% come back within 60 days (13-39%). 9 of 38 so far; the newest are still in their \
             60 days"
        );
        assert_eq!(Cell::share(&suspects).to_string(), "24% (13-39%; 9 of 38)");
        assert_eq!(Cell::share(&share(4, 96)).to_string(), "4.2% (1.6-10%; 4 of 96)");
    }

    #[test]
    fn nothing_has_no_sign() {
        for (number, shown) in [(-0.0, "0.0"), (-0.04, "0.0"), (-0.06, "-0.1"), (0.04, "0.0")] {
            assert_eq!(Cell::Number(number, 1).to_string(), shown);
        }
    }

    #[test]
    fn thousands_stand_apart() {
        for (plain, apart) in [
            ("20223.00", "20,223.00"),
            ("-1234567", "-1,234,567"),
            ("999", "999"),
            ("0.1", "0.1"),
            ("-", "-"),
            ("NaN", "NaN"),
        ] {
            assert_eq!(thousands(plain), apart);
        }
        assert_eq!(Cell::Count(2_981).to_string(), "2,981");
        assert_eq!(Cell::Money("20223.00".to_owned()).to_string(), "20,223.00");
        for (hours, shown) in [(433.52, "+433.5"), (-1_200.0, "-1,200.0"), (0.04, "0.0")] {
            assert_eq!(Cell::Signed(hours, 1).to_string(), shown);
        }
    }

    /// Wilson at none of n is z^2 / (n + z^2) with z^2 = 3.8415: 5.8% of 62.
    #[test]
    fn nothing_of_few_is_not_perfect() {
        let closed = share(0, 62);
        let followed = Share { interval: None, ..share(0, 70) };
        let cell = Cell::share_beside(&followed, &closed);
        assert_eq!(cell.to_string(), "0 of 70 (could be up to 5.8%)");
        // Nothing to say it by, and something that has an interval of its own.
        let nobody = Share { count: 0, share: None, interval: None, ..share(0, 62) };
        assert_eq!(Cell::share_beside(&followed, &nobody).to_string(), "0% (0 of 70)");
        let some = share(9, 38);
        assert_eq!(Cell::share_beside(&some, &closed), Cell::share(&some));
    }

    #[test]
    fn what_cannot_be_said_is_not_said() {
        let few = share(3, 8);
        assert_eq!(Cell::share(&few).to_string(), "too few (3 of 8)");
        let early = Share { share: None, interval: None, ..share(0, 40) };
        assert_eq!(Cell::share(&early).to_string(), "not yet (0 of 40)");
        assert_eq!(
            sentence(&early, 60),
            "0 of 40 came back within 60 days (too early for a share)"
        );
    }

    #[test]
    fn rows_are_as_wide_as_their_header() {
        for name in ReportName::ALL {
            let report = cases::report(name, &ReportQuery::default());
            let tables = tables(&report);
            assert!(!tables.is_empty());
            for table in tables.into_iter().chain(for_people(&report, &Style::plain())) {
                for row in &table.rows {
                    assert_eq!(row.cells.len(), table.columns.len(), "{}", table.key);
                }
            }
        }
    }

    #[test]
    fn every_selector_of_a_table_opens() {
        for name in ReportName::ALL {
            for table in tables(&cases::report(name, &ReportQuery::default())) {
                for jobs in table.rows.iter().filter_map(|row| row.jobs.as_deref()) {
                    assert!(analytics::select::Selector::parse(jobs).is_ok(), "{jobs}");
                }
            }
        }
    }
}
