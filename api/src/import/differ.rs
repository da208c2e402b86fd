//! In what a row of the files differs from the record, in the files' columns.

use serde::Serialize;
use serde_json::Value;

use super::fields::Fault;
use super::files::HistoryFile;
use crate::changes::differ::changed;
use crate::domain::decimal::format_hundredths;

/// Longest value of the record that is shown.
const LONGEST: usize = 60;

/// A row of the record and the row that the file asks for, as values.
pub struct Pair {
    before: Option<Value>,
    after: Option<Value>,
}

impl Pair {
    /// Of one row, each.
    pub fn new<T: Serialize>(before: Option<&T>, after: Option<&T>) -> Self {
        let value = |row: Option<&T>| row.and_then(|row| serde_json::to_value(row).ok());
        Self { before: value(before), after: value(after) }
    }
}

/// The fault of a row that is not as the record has it.
pub fn fault(file: HistoryFile, pairs: &[Pair]) -> Fault {
    let mut found: Vec<(&'static str, String)> = Vec::new();
    for pair in pairs {
        for field in changed(pair.before.as_ref(), pair.after.as_ref()) {
            let column = column_of(file, &field);
            if let Some(column) = column.filter(|name| found.iter().all(|(at, _)| at != name)) {
                let value = pair.before.as_ref().and_then(|row| row.get(&field));
                found.push((column, has(&field, value)));
            }
        }
    }
    let run = "run with --update to write it over";
    let Some(((column, has), more)) = found.split_first() else {
        return Fault::new("", format!("differs from the record; {run}"));
    };
    let more: Vec<&str> = more.iter().map(|(column, _)| *column).collect();
    let also =
        if more.is_empty() { String::new() } else { format!(", and {} too", more.join(", ")) };
    Fault::new(column, format!("differs from the record{has}{also}; {run}"))
}

/// The column that a field of the record comes from; `None` where it is worked
/// out from others.
fn column_of(file: HistoryFile, field: &str) -> Option<&'static str> {
    let name = match field {
        "flat_rate_hundredths" => "flat_rate_hours",
        "billed_hundredths" => "billed_hours",
        "quantity_hundredths" => "quantity",
        "worked_as" => "as",
        "lead_id" => "technician",
        "vehicle_id" => "vin",
        "job_id" if file == HistoryFile::Labor => "job_no",
        "code" if file == HistoryFile::Checks => "check",
        "code" => "operation",
        other => other.strip_suffix("_minor").unwrap_or(other),
    };
    file.columns().iter().map(|column| column.name).find(|known| *known == name)
}

/// What the record has, where it can be said in the file's own way.
fn has(field: &str, value: Option<&Value>) -> String {
    let text = match value {
        None | Some(Value::Null) => return ", which has nothing here".to_owned(),
        Some(_) if field.ends_with("_id") || field.ends_with("_minor") => return String::new(),
        Some(Value::Number(number)) if field.ends_with("_hundredths") => {
            number.as_i64().map(format_hundredths).unwrap_or_default()
        }
        Some(Value::String(text)) => text.clone(),
        Some(other) => other.to_string(),
    };
    if text.chars().count() > LONGEST || text.contains('\'') {
        return String::new();
    }
    format!(", which has '{text}'")
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn told(file: HistoryFile, before: &Value, after: &Value) -> Fault {
        fault(file, &[Pair::new(Some(before), Some(after))])
    }

    #[test]
    fn the_column_and_what_the_record_has_are_told() {
        let before =
            json!({ "code": "X", "minutes": 12, "quantity_hundredths": 150, "version": 1 });
        let after = json!({ "code": "X", "minutes": 13, "quantity_hundredths": 150, "version": 2 });
        let fault = told(HistoryFile::Checks, &before, &after);
        assert_eq!(fault.column, "minutes");
        assert!(fault.reason.contains("which has '12'; run with --update"), "{}", fault.reason);
        let part = told(
            HistoryFile::Parts,
            &json!({ "quantity_hundredths": 150, "lot": null, "unit_cost_minor": 5 }),
            &json!({ "quantity_hundredths": 100, "lot": "L7", "unit_cost_minor": 6 }),
        );
        assert_eq!(part.column, "quantity");
        assert!(part.reason.contains("which has '1.5', and lot, unit_cost too"), "{}", part.reason);
    }

    #[test]
    fn what_only_follows_names_no_column() {
        let fault = told(
            HistoryFile::Orders,
            &json!({ "opened_on": "2026-03-02" }),
            &json!({ "opened_on": "2026-03-03" }),
        );
        assert_eq!(
            (fault.column, fault.reason.starts_with("differs from the record;")),
            ("", true)
        );
    }
}
