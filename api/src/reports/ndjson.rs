//! A table for programs that read a line at a time: each row one JSON object,
//! under the names that the CSV file has.

use analytics::figure::Head;
use serde_json::{Map, Value};

use super::csv::{AFTER, after, column_names, fields};
use super::table::{Kind, Row, Table};

/// One table, a row a line.
#[must_use]
pub fn render(head: &Head, table: &Table) -> String {
    let mut text = String::new();
    for row in &table.rows {
        let mut object = of_row(table, row);
        for (name, field) in AFTER.into_iter().zip(after(head, row)) {
            let is_text = !matches!(name, "change_no" | "window_days");
            object.insert(name.to_owned(), value(field, is_text));
        }
        text.push_str(&format!("{}\n", Value::Object(object)));
    }
    text
}

/// What a row says, by the names of its columns.
pub(super) fn of_row(table: &Table, row: &Row) -> Map<String, Value> {
    let mut object = Map::new();
    for (column, cell) in table.columns.iter().zip(&row.cells) {
        let named = column_names(*column).into_iter().zip(fields(column.kind, cell));
        for (name, field) in named {
            object.insert(name, value(field, column.kind == Kind::Text));
        }
    }
    object
}

fn value(field: String, is_text: bool) -> Value {
    if field.is_empty() {
        return Value::Null;
    }
    if is_text {
        return Value::String(field);
    }
    // The library's own reading of a fraction may miss its last digit.
    let number = match field.parse::<i64>() {
        Ok(whole) => Some(whole.into()),
        Err(_) => field.parse().ok().and_then(serde_json::Number::from_f64),
    };
    match (number, field.as_str()) {
        (Some(number), _) => Value::Number(number),
        (None, "true") => Value::Bool(true),
        (None, "false") => Value::Bool(false),
        (None, _) => Value::String(field),
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests")]
mod tests {
    use super::*;
    use crate::reports::query::{ReportName, ReportQuery, tests as cases};
    use crate::reports::table::tables;

    #[test]
    fn numbers_are_numbers_and_text_is_text() {
        let report = cases::report(ReportName::Comebacks, &ReportQuery::default());
        let text = render(report.head(), &tables(&report)[0]);
        let rows: Vec<Value> =
            text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
        assert_eq!(rows.len(), tables(&report)[0].rows.len());
        assert_eq!(rows[0]["group"], "all");
        assert_eq!(
            (&rows[0]["comebacks_count"], &rows[0]["comebacks_returns"]),
            (&12.into(), &3.into())
        );
        assert_eq!(rows[0]["change_no"], 41);
        assert_eq!(value("0012".into(), true), "0012");
        assert!(value(String::new(), true).is_null());
    }
}
