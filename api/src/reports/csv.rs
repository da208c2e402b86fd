//! A table for programs: RFC 4180, a header row, plain numbers with a point,
//! shares as decimals with their interval and counts in columns of their own.

use analytics::figure::{Head, Interval, Share};
use analytics::labor::Ratio;

use super::table::{Cell, Column, Kind, Row, Table};
use crate::web::csv::line;

/// One table as a CSV file. What the head says of the whole report stands on
/// every line, so that a line lifted out of the file still tells its as-of.
#[must_use]
pub fn render(head: &Head, table: &Table) -> String {
    let header = table.columns.iter().flat_map(|column| column_names(*column));
    let mut text = line(header.chain(AFTER.map(str::to_owned)));
    for row in &table.rows {
        let fields = table
            .columns
            .iter()
            .zip(&row.cells)
            .flat_map(|(column, cell)| fields(column.kind, cell));
        text.push_str(&line(fields.chain(after(head, row))));
    }
    text
}

/// Names of what stands on every line.
pub(super) const AFTER: [&str; 7] =
    ["select", "report", "shop", "as_of", "change_no", "window_days", "currency"];

/// What stands on every line.
pub(super) fn after(head: &Head, row: &Row) -> [String; 7] {
    [
        row.jobs.clone().unwrap_or_default(),
        head.report.to_owned(),
        head.shop.clone(),
        head.as_of.to_string(),
        head.change_no.to_string(),
        head.window_days.to_string(),
        head.currency.clone(),
    ]
}

pub(super) fn column_names(column: Column) -> Vec<String> {
    let key = column.key;
    let ends: &[&str] = match column.kind {
        Kind::Text | Kind::Number => &[""],
        Kind::Share => &["_count", "_returns", "", "_low", "_high", "_too_few", "_definition"],
        Kind::Ratio => &["_count", "", "_low", "_high", "_too_few", "_definition"],
    };
    ends.iter().map(|end| format!("{key}{end}")).collect()
}

/// The fields of a cell: as many as its column has names.
pub(super) fn fields(kind: Kind, cell: &Cell) -> Vec<String> {
    match (kind, cell) {
        (_, Cell::Share(share) | Cell::NoneOf(share, _)) => share_fields(share),
        (_, Cell::Ratio(ratio)) => ratio_fields(ratio),
        (Kind::Share, _) => vec![String::new(); 7],
        (Kind::Ratio, _) => vec![String::new(); 6],
        (Kind::Text | Kind::Number, cell) => vec![plain(cell)],
    }
}

fn plain(cell: &Cell) -> String {
    match cell {
        Cell::Blank => String::new(),
        // Zero added takes the sign from a negative nothing.
        Cell::Number(number, _) | Cell::Signed(number, _) | Cell::Percent(number) => {
            (number + 0.0).to_string()
        }
        Cell::Count(count) | Cell::CountOf(count, _) => count.to_string(),
        Cell::Money(amount) => amount.clone(),
        other => other.to_string(),
    }
}

fn share_fields(share: &Share) -> Vec<String> {
    let [low, high] = bounds(share.interval.as_ref());
    vec![
        share.count.to_string(),
        share.returns.to_string(),
        number(share.share),
        low,
        high,
        share.too_few.to_string(),
        share.definition.to_owned(),
    ]
}

fn ratio_fields(ratio: &Ratio) -> Vec<String> {
    let [low, high] = bounds(ratio.interval.as_ref());
    vec![
        ratio.count.to_string(),
        number(ratio.value),
        low,
        high,
        ratio.too_few.to_string(),
        ratio.definition.to_owned(),
    ]
}

fn bounds(interval: Option<&Interval>) -> [String; 2] {
    [number(interval.map(|i| i.low)), number(interval.map(|i| i.high))]
}

fn number(value: Option<f64>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

#[cfg(test)]
#[expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]
mod tests {
    use super::*;
    use crate::reports::query::{ReportName, ReportQuery, tests as cases};
    use crate::reports::table::tables;

    /// Header and rows, as the csv crate reads them.
    fn read_back(name: ReportName, key: &str) -> (Vec<String>, Vec<Vec<String>>) {
        let report = cases::report(name, &ReportQuery::default());
        let all = tables(&report);
        let table = all.iter().find(|table| table.key == key).unwrap();
        let text = render(report.head(), table);
        let mut reader = ::csv::ReaderBuilder::new().from_reader(text.as_bytes());
        let header = reader.headers().unwrap().iter().map(str::to_owned).collect();
        let rows =
            reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect();
        (header, rows)
    }

    fn value<'a>(header: &[String], row: &'a [String], name: &str) -> &'a str {
        &row[header.iter().position(|column| column == name).unwrap()]
    }

    #[test]
    fn words_with_quotes_and_breaks_come_back_whole() {
        let (header, rows) = read_back(ReportName::Jobs, "jobs");
        assert_eq!(rows.len(), 12);
        assert_eq!(value(&header, &rows[0], "complaint"), "it ticks, \"loudly\",\nwhen cold");
    }

    #[test]
    fn a_share_has_its_counts_interval_and_definition() {
        let (header, rows) = read_back(ReportName::Comebacks, "comebacks");
        let all = rows.first().unwrap();
        let at = |name: &str| value(&header, all, name).to_owned();
        assert_eq!(
            (at("group"), at("jobs"), at("change_no")),
            ("all".into(), "12".into(), "41".into())
        );
        assert_eq!((at("comebacks_count"), at("comebacks_returns")), ("12".into(), "3".into()));
        assert_eq!((at("as_of"), at("window_days")), ("2026-10-12".into(), "60".into()));
        assert_eq!(at("comebacks_definition"), "comeback");
        // All twelve followed past their return, none lost before it: 3 of 12.
        let share: f64 = at("comebacks").parse().unwrap();
        assert!((share - 0.25).abs() < 1e-12);
        let bound = |name: &str| at(name).parse::<f64>().unwrap();
        assert!(bound("comebacks_low") < share && share < bound("comebacks_high"));
    }

    #[test]
    fn every_table_of_every_report_is_a_table_to_a_reader() {
        for name in ReportName::ALL {
            let report = cases::report(name, &ReportQuery::default());
            for table in tables(&report) {
                // The reader refuses a row that is longer or shorter than the header.
                let (header, rows) = read_back(name, table.key);
                assert_eq!(rows.len(), table.rows.len(), "{}", table.key);
                let names: std::collections::BTreeSet<&String> = header.iter().collect();
                assert_eq!(names.len(), header.len(), "{header:?}");
            }
        }
    }

    #[test]
    fn lines_end_as_rfc_4180_says() {
        let report = cases::report(ReportName::Labor, &ReportQuery::default());
        let all = tables(&report);
        let text = render(report.head(), &all[0]);
        assert!(text.ends_with("\r\n") && text.matches("\r\n").count() == all[0].rows.len() + 1);
    }

    proptest::proptest! {
        #[test]
        fn any_fields_come_back(fields in proptest::collection::vec("[a-c,\"\\r\\n ]{0,6}", 2..5)) {
            let text = line(fields.iter().cloned());
            let mut reader = ::csv::ReaderBuilder::new()
                .has_headers(false)
                .from_reader(text.as_bytes());
            let rows: Vec<Vec<String>> = reader
                .records()
                .map(|row| row.unwrap().iter().map(str::to_owned).collect())
                .collect();
            proptest::prop_assert_eq!(rows, vec![fields]);
        }
    }
}
