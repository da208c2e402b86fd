//! A report's tables as pages show them: codes by their labels, every number a
//! link to the jobs behind it.

use analytics::figure::Head;
use analytics::words::{JobKind, Outcome, PartRole, Payer, Told};

use super::page_behind::{came_back, leading, selector};
use super::picture;
use super::query::Report;
use super::table::{Cell, Column, Kind, Row, Table};
use crate::codes::lists::Lists;
use crate::domain::style::Style;
use crate::web::words::{Shown, counted};

/// Lines of one table on a page; the CSV form has them all.
const MOST_ROWS: usize = 150;
/// A table with more lines than this is folded, where it is not the main one.
pub(super) const LONG: usize = 15;
/// The same of a table whose numbers a picture shows.
const LONG_BESIDE: usize = 6;
/// Lines and columns of a table that stands on a phone as a card a line.
const MOST_CARDS: usize = 24;
const LEAST_COLUMNS: usize = 4;
/// Room for columns beside each other on paper, in halves of a number's width.
const PAPER: usize = 24;

/// A value, and where it leads.
pub struct ShownCell {
    pub text: String,
    /// Interval and counts of a share.
    pub detail: Option<String>,
    /// Those of the jobs that came back.
    pub came_back: Option<String>,
    pub place: Option<String>,
    pub numeric: bool,
    /// Checks in order: wants room.
    pub wide: bool,
}

/// A column's head.
pub struct ShownColumn {
    pub label: String,
    pub numeric: bool,
    /// What it takes of a sheet's width, in halves of a number's.
    room: usize,
}

impl ShownTable {
    /// Whether each value may have to stand with its column's name beside it.
    #[must_use]
    pub const fn is_labeled(&self) -> bool {
        self.cards || self.many
    }
}

/// A table on a page.
pub struct ShownTable {
    pub key: &'static str,
    pub title: String,
    pub notes: Vec<String>,
    pub columns: Vec<ShownColumn>,
    pub rows: Vec<Vec<ShownCell>>,
    pub folded: bool,
    /// What the fold says.
    pub fold: String,
    /// On a phone each line is a card of its own.
    pub cards: bool,
    /// More columns than a sheet of paper has room for: there each line is a card.
    pub many: bool,
    /// The numbers as figures, ready for the page.
    pub picture: Option<String>,
    /// Lines that the page leaves to the CSV form.
    pub left: usize,
    pub csv: String,
}

/// Where a page stands: for the links on it.
pub struct Standing<'a> {
    /// The shop's code.
    pub shop: &'a str,
    pub head: &'a Head,
    pub lists: &'a Lists,
    /// What pictures are drawn from; without it there are none.
    pub report: Option<&'a Report>,
    /// The column the report is grouped by.
    pub by: Option<&'a str>,
    /// Columns that are not shown: what says the same on every line, and money
    /// that the viewer may not see.
    pub without: &'a [&'a str],
    /// Address of the page without its form.
    pub csv: String,
    /// How the shop writes.
    pub style: &'a Style,
}

impl Standing<'_> {
    /// Whether links lead somewhere: they do on a page, and in no file.
    #[must_use]
    pub const fn leads(&self) -> bool {
        !self.csv.is_empty()
    }

    /// The list of the jobs that a figure counts, under the figure's own
    /// as-of and window.
    #[must_use]
    pub fn jobs(&self, selector: &str) -> String {
        let join = if selector.is_empty() { "" } else { "&" };
        format!(
            "/shops/{}/closed-jobs?{selector}{join}as_of={}&window={}",
            self.shop, self.head.as_of, self.head.window_days
        )
    }

    /// A table for the page.
    #[must_use]
    pub fn shown(&self, table: &Table) -> ShownTable {
        self.up_to(table, MOST_ROWS)
    }

    /// A table with all its lines, for a file.
    #[must_use]
    pub fn whole(&self, table: &Table) -> ShownTable {
        self.up_to(table, usize::MAX)
    }

    fn up_to(&self, table: &Table, most: usize) -> ShownTable {
        let picture = self.report.and_then(|report| picture::of(report, table.key, self));
        let columns: Vec<ShownColumn> = table
            .columns
            .iter()
            .filter(|column| self.shows(**column))
            .map(|column| self.column(*column))
            .collect();
        let lines = counted(table.rows.len() as i64, "line", "lines");
        ShownTable {
            key: table.key,
            title: table.title.clone(),
            notes: table.note.iter().flat_map(|note| note.lines()).map(full_stop).collect(),
            cards: table.rows.len() <= MOST_CARDS && columns.len() >= LEAST_COLUMNS,
            many: columns.iter().map(|column| column.room).sum::<usize>() > PAPER,
            columns,
            rows: table.rows.iter().take(most).map(|row| self.row(table, row)).collect(),
            folded: table.rows.len() > if picture.is_some() { LONG_BESIDE } else { LONG },
            fold: if picture.is_some() {
                format!("The same numbers as a table, {lines}")
            } else {
                capital(&lines)
            },
            picture,
            left: table.rows.len().saturating_sub(most),
            csv: format!("{}format=csv&table={}", self.csv, table.key),
        }
    }

    fn shows(&self, column: Column) -> bool {
        column.is_for_people() && !self.without.contains(&column.key)
    }

    fn column(&self, column: Column) -> ShownColumn {
        let label = match (column.key, self.by) {
            ("group", Some(by)) => capital(by),
            _ => column.label.to_owned(),
        };
        let room = match column.kind {
            Kind::Number => 2,
            Kind::Text => 3,
            Kind::Share | Kind::Ratio => 4,
        };
        ShownColumn { label, numeric: column.is_numeric(), room }
    }

    fn row(&self, table: &Table, row: &Row) -> Vec<ShownCell> {
        let cells = || {
            let all = table.columns.iter().zip(&row.cells);
            all.filter(|(column, _)| self.shows(**column))
        };
        let shown: Vec<&Cell> = cells().map(|(_, cell)| cell).collect();
        let leading = leading(&shown, row);
        cells()
            .enumerate()
            .map(|(at, (column, cell))| {
                let selector = selector(cell, row, (leading, at));
                self.cell(table.key, *column, cell, selector)
            })
            .collect()
    }

    fn cell(
        &self,
        table: &str,
        column: Column,
        cell: &Cell,
        selector: Option<&String>,
    ) -> ShownCell {
        let text = match cell {
            Cell::Text(code) => self.label(table, column.key, code),
            other => other.told(self.style),
        };
        let (main, detail) = match cell {
            Cell::Share(_) | Cell::NoneOf(..) | Cell::Ratio(_) => parted(&text),
            _ => (text.as_str(), None),
        };
        ShownCell {
            place: selector.filter(|_| text != "-").map(|jobs| self.jobs(jobs)),
            text: main.to_owned(),
            detail: detail.map(str::to_owned),
            came_back: came_back(cell).map(|selector| self.jobs(&selector)),
            numeric: column.is_numeric(),
            wide: column.key == "path",
        }
    }

    /// A code by its label, where the column holds codes.
    #[must_use]
    pub fn label(&self, table: &str, column: &str, code: &str) -> String {
        let list = match (table, column) {
            ("reasons", "name") | (_, "reason") => "comeback_reason",
            ("systems", "name") | (_, "system") => "system",
            (_, "group") => self.by.unwrap_or_default(),
            (_, "path" | "first") => "path",
            (_, "earlier_cause" | "later_cause") => "cause",
            (_, other) => other,
        };
        match list {
            "symptom" | "system" | "cause" | "check" | "comeback_reason" | "operation" => {
                self.lists.label(list, code)
            }
            "path" => {
                let checks: Vec<String> =
                    code.split(" > ").map(|check| self.lists.label("check", check)).collect();
                checks.join(" > ")
            }
            "outcome" => shown(Outcome::parse(code), code),
            "kind" => shown(JobKind::parse(code), code),
            "role" => shown(PartRole::parse(code), code),
            "told" => match Told::parse(code) {
                Some(Told::FixedElsewhere) => "fixed elsewhere".to_owned(),
                Some(Told::NotFixed) => "not fixed".to_owned(),
                None => code.to_owned(),
            },
            "week" => code.parse().map_or_else(|_| code.to_owned(), |day| self.style.week(day)),
            "payer" => shown(Payer::parse(code), code),
            _ => code.to_owned(),
        }
    }
}

/// `24% (13-39%; 9 of 38)` in its two parts.
fn parted(text: &str) -> (&str, Option<&str>) {
    match text.split_once(" (") {
        Some((main, rest)) => (main, Some(rest.trim_end_matches(')'))),
        None => (text, None),
    }
}

/// With a capital letter.
fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    format!("{first}{}", letters.as_str())
}

fn full_stop(line: &str) -> String {
    let end = if line.ends_with(['.', '!', '?', ':']) { "" } else { "." };
    format!("{line}{end}")
}

fn shown<T: Shown>(word: Option<T>, code: &str) -> String {
    word.map_or_else(|| code.to_owned(), |word| word.shown().to_owned())
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;
    use crate::reports::table::Row;

    fn head() -> Head {
        Head {
            report: "labor",
            shop: "north".into(),
            as_of: chrono::NaiveDate::from_ymd_opt(2026, 11, 23).unwrap(),
            from: None,
            to: None,
            change_no: 7,
            window_days: 60,
            currency: "USD".into(),
            definitions: Default::default(),
        }
    }

    fn column(key: &'static str, kind: Kind) -> Column {
        Column { key, label: key, kind }
    }

    #[test]
    fn a_number_leads_to_its_jobs_under_the_same_as_of_and_window() {
        let (head, lists, style) = (head(), Lists::default(), Style::plain());
        let standing = Standing {
            shop: "north",
            head: &head,
            lists: &lists,
            report: None,
            by: Some("technician"),
            without: &["symptom"],
            csv: "/shops/north/labor?by=technician&".into(),
            style: &style,
        };
        let table = Table {
            key: "labor",
            title: "Labor".into(),
            note: None,
            columns: vec![
                column("symptom", Kind::Text),
                column("group", Kind::Text),
                column("jobs", Kind::Number),
            ],
            rows: vec![Row {
                cells: vec![
                    Cell::Text("engine.tick".into()),
                    Cell::Text("Ilse".into()),
                    Cell::Percent(0.24),
                ],
                jobs: Some("technician=Ilse".into()),
            }],
        };
        let shown = standing.shown(&table);
        let labels: Vec<&str> = shown.columns.iter().map(|c| c.label.as_str()).collect();
        assert_eq!(labels, ["Technician", "jobs"]);
        let cell = shown.rows.first().unwrap().last().unwrap();
        assert_eq!(cell.text, "24%");
        assert_eq!(
            cell.place.as_deref(),
            Some("/shops/north/closed-jobs?technician=Ilse&as_of=2026-11-23&window=60")
        );
        assert_eq!(shown.csv, "/shops/north/labor?by=technician&format=csv&table=labor");
        assert_eq!(standing.jobs(""), "/shops/north/closed-jobs?as_of=2026-11-23&window=60");
    }

    #[test]
    fn a_share_comes_in_two_parts() {
        assert_eq!(parted("24% (13-39%; 9 of 38)"), ("24%", Some("13-39%; 9 of 38")));
        assert_eq!(parted("too few (0 of 9)"), ("too few", Some("0 of 9")));
        assert_eq!(parted("-"), ("-", None));
        assert_eq!(full_stop("As they came, not a trial"), "As they came, not a trial.");
    }

    #[test]
    fn codes_become_labels_and_unknown_ones_stay() {
        let (head, lists, style) = (head(), Lists::default(), Style::plain());
        let standing = Standing {
            shop: "north",
            head: &head,
            lists: &lists,
            report: None,
            by: None,
            without: &[],
            csv: String::new(),
            style: &style,
        };
        assert_eq!(standing.label("outcomes", "outcome", "temporary_repair"), "temporary repair");
        assert_eq!(standing.label("choices", "role", "wish"), "customer's wish");
        assert_eq!(standing.label("paths", "path", "a > b"), "a > b");
        assert_eq!(standing.label("comebacks", "group", "anything"), "anything");
        // Weeks are grouped by their first day.
        let by_week = Standing { by: Some("week"), ..standing };
        assert_eq!(by_week.label("labor", "group", "2026-11-16"), "2026-11-16 to 2026-11-22");
        assert_eq!(by_week.label("labor", "group", "all"), "all");
    }
}
