//! Lines of a CSV file (RFC 4180), and a list as one.

use serde_json::Value;

use crate::domain::formula::guarded;

/// One line with its end.
pub fn line<T: Into<String>>(fields: impl Iterator<Item = T>) -> String {
    let fields: Vec<String> = fields.map(|field| quoted(field.into())).collect();
    format!("{}\r\n", fields.join(","))
}

/// RFC 4180, section 2: a field with a comma, a quote or a line break stands
/// in quotes, its own quotes doubled.
fn quoted(field: String) -> String {
    if field.contains([',', '"', '\r', '\n']) {
        format!("\"{}\"", field.replace('"', "\"\""))
    } else {
        field
    }
}

/// A whole file with its fields guarded.
///
/// # Errors
/// Where it is no CSV.
pub fn guard(text: &str) -> Result<String, ::csv::Error> {
    let mut reader = ::csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    let mut guarded_text = String::with_capacity(text.len());
    for record in reader.records() {
        guarded_text.push_str(&line(record?.iter().map(guarded)));
    }
    Ok(guarded_text)
}

/// Items of a list under their columns. What is nested stands as JSON.
#[must_use]
pub fn of_items(columns: &[String], items: &[Value], spreadsheet: bool) -> String {
    let mut text = line(columns.iter().cloned());
    for item in items {
        let fields = columns.iter().map(|column| {
            let field = item.get(column).map_or_else(String::new, plain);
            if spreadsheet { guarded(&field).into_owned() } else { field }
        });
        text.push_str(&line(fields));
    }
    text
}

fn plain(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn a_list_has_its_columns_even_when_it_is_empty() {
        let columns = ["id", "name", "roles"].map(str::to_owned);
        assert_eq!(of_items(&columns, &[], false), "id,name,roles\r\n");
        let items = [json!({"name": "a, \"b\"", "id": 3, "roles": ["x"]}), json!({"id": null})];
        assert_eq!(
            of_items(&columns, &items, false),
            "id,name,roles\r\n3,\"a, \"\"b\"\"\",\"[\"\"x\"\"]\"\r\n,,\r\n"
        );
    }

    // Published as "CSV injection": a cell that begins like a formula is one.
    #[test]
    fn formulas_are_told_to_be_text() {
        assert_eq!(guard("a,b\r\n\"=x,1\",2\r\n").unwrap(), "a,b\r\n\"'=x,1\",2\r\n");
    }
}
