//! A report for the terminal: its head, its tables, what the figures mean.

use analytics::figure::Head;

use super::query::Report;
use super::table::{Column, Kind, Row, Table, for_people};
use crate::domain::style::Style;

/// Longer texts are cut: a complaint may run over many lines.
const WIDEST: usize = 56;
/// A short table wider than this stands on its side.
const WIDE: usize = 150;
/// As many rows as stand side by side.
const SIDE_BY_SIDE: usize = 4;
/// Columns that a terminal has no room for; the notes and the CSV form have
/// what they say.
const LEFT_OUT: &[&str] = &["evidence", "bound_minutes", "chi_square"];
/// Longer tables are cut; the CSV form has every line.
const MOST_ROWS: usize = 60;

/// The whole report as lines of text.
#[must_use]
pub fn render(report: &Report, style: &Style) -> String {
    let mut text = head_lines(report.head(), style);
    for table in &for_people(report, style) {
        text.push('\n');
        text.push_str(&table_lines(table, style));
    }
    let definitions = &report.head().definitions;
    if !definitions.is_empty() {
        text.push_str("\nWhat the figures mean\n");
        for (key, meaning) in definitions {
            text.push_str(&format!("  {key}: {meaning}\n"));
        }
    }
    text
}

fn head_lines(head: &Head, style: &Style) -> String {
    let days = match (head.from, head.to) {
        (None, None) => String::new(),
        (from, to) => format!(
            ", closing days {} to {}",
            from.map_or_else(|| "the beginning".to_owned(), |day| style.day(day)),
            style.day(to.unwrap_or(head.as_of)),
        ),
    };
    format!(
        "{} of shop {}: through {}, change {}, window {} days{days}, money in {}\n",
        head.report,
        head.shop,
        style.day(head.as_of),
        head.change_no,
        head.window_days,
        head.currency,
    )
}

/// A table with its title and notes.
pub(super) fn table_lines(table: &Table, style: &Style) -> String {
    let mut text = format!("{}\n", table.title);
    if let Some(note) = &table.note {
        text.extend(note.lines().map(|line| format!("  {}\n", flat(line))));
    }
    if table.rows.is_empty() {
        text.push_str("  (nothing)\n");
        return text;
    }
    let columns: Vec<Column> = kept(&table.columns).collect();
    let header: Vec<String> = columns.iter().map(|column| column.label.to_owned()).collect();
    let lines: Vec<Vec<String>> =
        table.rows.iter().take(MOST_ROWS).map(|row| cells(&table.columns, row, style)).collect();
    let widths = widths(&header, &lines);
    let wide = widths.iter().map(|width| width + 2).sum::<usize>() > WIDE;
    if wide && table.rows.len() <= SIDE_BY_SIDE {
        text.push_str(&on_its_side(&header, &lines));
        return text;
    }
    for line in std::iter::once(&header).chain(&lines) {
        text.push_str(&laid_out(&columns, &widths, line));
    }
    let left = table.rows.len().saturating_sub(MOST_ROWS);
    if left > 0 {
        text.push_str(&format!(
            "  ... and {left} more: ask for --format csv --table {}\n",
            table.key
        ));
    }
    text
}

fn is_kept(column: Column) -> bool {
    column.is_for_people() && !LEFT_OUT.contains(&column.key)
}

fn kept(columns: &[Column]) -> impl Iterator<Item = Column> + '_ {
    columns.iter().copied().filter(|column| is_kept(*column))
}

fn cells(columns: &[Column], row: &Row, style: &Style) -> Vec<String> {
    columns
        .iter()
        .zip(&row.cells)
        .filter(|(column, _)| is_kept(**column))
        .map(|(_, cell)| clipped(&cell.told(style)))
        .collect()
}

/// One line a column, the rows beside each other.
fn on_its_side(header: &[String], lines: &[Vec<String>]) -> String {
    let turned: Vec<Vec<String>> = header
        .iter()
        .enumerate()
        .map(|(at, label)| {
            let values = lines.iter().map(|line| line.get(at).cloned().unwrap_or_default());
            std::iter::once(label.clone()).chain(values).collect()
        })
        .collect();
    let widths = widths(&[], &turned);
    let left = vec![Column { key: "", label: "", kind: Kind::Text }; widths.len()];
    turned.iter().map(|line| laid_out(&left, &widths, line)).collect()
}

/// One line of text, cut where it is longer than the widest column.
fn clipped(text: &str) -> String {
    let flat = flat(text);
    if flat.chars().count() <= WIDEST {
        return flat;
    }
    let kept: String = flat.chars().take(WIDEST - 3).collect();
    format!("{}...", kept.trim_end())
}

/// On one line, and without what a terminal would take for an order.
fn flat(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}

/// The widest cell of each column, the header's among them.
fn widths(header: &[String], lines: &[Vec<String>]) -> Vec<usize> {
    let mut widths: Vec<usize> = Vec::new();
    for line in std::iter::once(header).chain(lines.iter().map(Vec::as_slice)) {
        widths.resize(widths.len().max(line.len()), 0);
        for (width, cell) in widths.iter_mut().zip(line) {
            *width = (*width).max(cell.chars().count());
        }
    }
    widths
}

fn laid_out(columns: &[Column], widths: &[usize], cells: &[String]) -> String {
    let mut text = String::new();
    for ((column, &width), cell) in columns.iter().zip(widths).zip(cells) {
        text.push_str("  ");
        if column.is_numeric() {
            text.push_str(&format!("{cell:>width$}"));
        } else {
            text.push_str(&format!("{cell:<width$}"));
        }
    }
    format!("{}\n", text.trim_end())
}

#[cfg(test)]
#[expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]
mod tests {
    use super::*;
    use crate::domain::money::Currency;
    use crate::domain::style::DateStyle;
    use crate::reports::query::{ReportName, ReportQuery, tests as cases};

    fn us() -> Style {
        let money = Currency::parse("USD").unwrap();
        Style { dates: DateStyle::Us, money, ..Style::plain() }
    }

    #[test]
    fn the_head_and_the_meanings_stand_around_the_tables() {
        let text = render(&cases::report(ReportName::Comebacks, &ReportQuery::default()), &us());
        let head = text.lines().next().unwrap();
        assert_eq!(
            head,
            "comebacks of shop FOUR: through Oct 12, 2026, change 41, window 60 days, \
             money in USD"
        );
        assert!(text.contains("  3 of 12 came back within 60 days (25%"), "{text}");
        assert!(text.contains("\nWhat the figures mean\n  caught_here: "), "{text}");
    }

    #[test]
    fn every_column_lines_up() {
        let text = render(&cases::report(ReportName::Jobs, &ReportQuery::default()), &us());
        let lines: Vec<&str> = text.lines().skip_while(|l| !l.contains("Order")).take(13).collect();
        // Numbers end under the end of their label, words begin under its start.
        let number = lines[0].find("Job").unwrap() + "Job".len();
        let word = lines[0].find("Handed over").unwrap();
        for line in &lines[1..] {
            assert!(line[..number].ends_with("  1"), "{text}");
            assert!(line[word..].contains(", 2026"), "{text}");
        }
    }

    #[test]
    fn a_wide_table_of_few_rows_stands_on_its_side() {
        let query = ReportQuery { part: Some("V-1".to_owned()), ..ReportQuery::default() };
        let text = render(&cases::report(ReportName::Reuse, &query), &us());
        let mut lines = text.lines().filter_map(|line| line.trim().strip_prefix("Held as  "));
        let line = lines.next_back().unwrap();
        let roles: Vec<&str> =
            line.split("  ").map(str::trim).filter(|role| !role.is_empty()).collect();
        assert_eq!(roles, ["suspect", "in the way"], "{text}");
    }

    #[test]
    fn a_complaint_of_many_lines_stays_on_one() {
        let text = render(&cases::report(ReportName::Jobs, &ReportQuery::default()), &us());
        assert!(text.contains("it ticks, \"loudly\", when cold"), "{text}");
        let long = clipped(&"word ".repeat(40));
        assert!(long.ends_with("...") && long.chars().count() <= WIDEST);
    }
}
