//! From the mapping's text to the mapping.

use std::collections::BTreeMap;

use toml::{Table, Value};

use super::form::{Form, TimeForm};
use super::{Cell, Kind, Lens, Map, kind};
use crate::domain::zone::Zone;
use crate::import::files::HistoryFile;

/// What stands for nothing where a value is translated.
const NOTHING: &str = "-";

/// A file's name without its ending, as sections are called.
pub fn section(file: HistoryFile) -> &'static str {
    file.file_name().trim_end_matches(".csv")
}

/// Reads a mapping.
///
/// # Errors
/// Everything that is wrong with it.
pub fn map(text: &str) -> Result<Map, Vec<String>> {
    let mut top: Table = text.parse().map_err(|e| vec![format!("is no TOML: {e}")])?;
    let mut faults = Vec::new();
    let name = texts(&mut top, "name", &mut faults);
    if name.is_none() {
        faults.push("name is missing; write what this mapping is called".to_owned());
    }
    let form = match top.remove("form") {
        Some(Value::Table(form)) => Some(read_form(form, &mut faults)),
        _ => {
            faults.push("the section [form] is missing".to_owned());
            None
        }
    };
    let mut sheets = BTreeMap::new();
    for file in HistoryFile::ALL {
        match (top.remove(section(*file)), &form) {
            (Some(Value::Table(sheet)), Some((form, time))) => {
                let read = sheet_of(*file, sheet, form, time.as_ref(), &mut faults);
                sheets.extend(read.map(|lens| (*file, lens)));
            }
            (Some(Value::Table(_)), None) => {}
            (Some(_), _) => faults.push(format!("{} is a section", section(*file))),
            (None, _) if file.is_required() => {
                faults.push(format!("the section [{}] is missing", section(*file)));
            }
            (None, _) => {}
        }
    }
    faults.extend(top.keys().map(|key| format!("'{key}' means nothing here")));
    match name {
        Some(name) if faults.is_empty() => Ok(Map { name, sheets }),
        _ => Err(faults),
    }
}

/// Takes a text out of a table.
fn texts(table: &mut Table, key: &str, faults: &mut Vec<String>) -> Option<String> {
    match table.remove(key)? {
        Value::String(text) => Some(text),
        _ => {
            faults.push(format!("{key} is a text in quotation marks"));
            None
        }
    }
}

fn read_form(mut form: Table, faults: &mut Vec<String>) -> (Form, Option<TimeForm>) {
    let delimiter = match texts(&mut form, "delimiter", faults).as_deref() {
        None | Some(",") => b',',
        Some(";") => b';',
        Some("tab" | "\t") => b'\t',
        Some(other) => {
            faults.push(format!("delimiter '{other}' is none of: , ; tab"));
            b','
        }
    };
    if let Some(encoding) = texts(&mut form, "encoding", faults)
        && encoding != "UTF-8"
    {
        faults
            .push(format!("encoding '{encoding}': save the files in UTF-8, nothing else is read"));
    }
    let decimal = match texts(&mut form, "decimal", faults).as_deref() {
        Some(".") => '.',
        Some(",") => ',',
        _ => {
            faults.push("state decimal: \".\" or \",\"".to_owned());
            '.'
        }
    };
    let thousands = texts(&mut form, "thousands", faults).unwrap_or_default();
    let mut thousands = thousands.chars();
    let sign = thousands.next();
    if thousands.next().is_some() || sign == Some(decimal) {
        faults.push("thousands is one sign, other than the decimal sign, or empty".to_owned());
    }
    let zone = texts(&mut form, "zone", faults).and_then(|name| {
        let zone = Zone::parse(&name);
        if zone.is_none() {
            faults.push(format!("zone '{name}' is no time zone such as America/Chicago"));
        }
        zone
    });
    let stated = texts(&mut form, "time", faults);
    let at = texts(&mut form, "at", faults);
    let time = stated.and_then(|text| kept(TimeForm::read(&text, at.as_deref()), "", faults));
    let signs = texts(&mut form, "signs", faults).unwrap_or_default();
    faults.extend(form.keys().map(|key| format!("form: '{key}' means nothing here")));
    (Form { delimiter, decimal, thousands: sign, signs, zone }, time)
}

fn kept<T>(read: Result<T, String>, at: &str, faults: &mut Vec<String>) -> Option<T> {
    read.map_err(|why| faults.push(format!("{at}{why}"))).ok()
}

fn sheet_of(
    file: HistoryFile,
    mut sheet: Table,
    form: &Form,
    time: Option<&TimeForm>,
    faults: &mut Vec<String>,
) -> Option<Lens> {
    let called = section(file);
    let name = texts(&mut sheet, "file", faults);
    let plain = name.as_deref().is_some_and(|name| !name.is_empty() && !name.contains(['/', '\\']));
    if !plain {
        faults.push(format!("{called}: state file, the file's name in the folder"));
    }
    let Some(Value::Table(mut columns)) = sheet.remove("columns") else {
        faults.push(format!("the section [{called}.columns] is missing"));
        return None;
    };
    faults.extend(sheet.keys().map(|key| format!("{called}: '{key}' means nothing here")));
    let mut cells = Vec::new();
    for column in file.columns() {
        let at = format!("{called}.columns.{}: ", column.name);
        match columns.remove(column.name) {
            Some(value) => {
                let mut found = Vec::new();
                cells.extend(cell(column.name, value, time, &mut found));
                faults.extend(found.into_iter().map(|why| format!("{at}{why}")));
            }
            None if column.required => {
                faults.push(format!(
                    "{at}is needed; state the header it comes from, or a fixed value"
                ));
            }
            None => {}
        }
    }
    faults.extend(
        columns.keys().map(|key| format!("{called}.columns: '{key}' is no column of ours")),
    );
    Some(Lens { file: name?, form: form.clone(), cells })
}

fn cell(
    column: &'static str,
    value: Value,
    time: Option<&TimeForm>,
    faults: &mut Vec<String>,
) -> Option<Cell> {
    let mut table = match value {
        Value::String(header) => Table::from_iter([("from".to_owned(), Value::String(header))]),
        Value::Table(table) => table,
        _ => {
            faults.push("is a header, or a table with from or fixed".to_owned());
            return None;
        }
    };
    let from: Vec<String> = match table.remove("from") {
        None => Vec::new(),
        Some(Value::String(header)) => vec![header],
        Some(Value::Array(headers)) => {
            headers.iter().filter_map(Value::as_str).map(str::to_owned).collect()
        }
        Some(_) => {
            faults.push("from is a header or a list of headers".to_owned());
            return None;
        }
    };
    let fixed = texts(&mut table, "fixed", faults);
    if from.iter().any(|header| header.trim().is_empty()) || from.is_empty() == fixed.is_none() {
        faults.push("state either from, the header it comes from, or fixed, its value".to_owned());
    }
    let words = match table.remove("words") {
        None => BTreeMap::new(),
        Some(Value::Table(words)) => words_of(words, faults),
        Some(_) => {
            faults.push("words is a table of values".to_owned());
            BTreeMap::new()
        }
    };
    let (own, at) = (texts(&mut table, "time", faults), texts(&mut table, "at", faults));
    let own = own.and_then(|text| kept(TimeForm::read(&text, at.as_deref()), "", faults));
    let kind = kind(column);
    let time = own.or_else(|| time.cloned()).filter(|_| kind == Kind::Time);
    if kind == Kind::Time && time.is_none() && fixed.is_none() {
        faults.push(
            "state in [form] how times are written, such as time = \"MM/DD/YYYY HH:MM\"".to_owned(),
        );
    }
    faults.extend(table.keys().map(|key| format!("'{key}' means nothing here")));
    Some(Cell { column, kind, from, fixed: fixed.unwrap_or_default(), words, time })
}

fn words_of(words: Table, faults: &mut Vec<String>) -> BTreeMap<String, String> {
    let mut read = BTreeMap::new();
    for (theirs, ours) in words {
        match ours {
            Value::String(ours) if ours == NOTHING => {
                read.insert(theirs.trim().to_lowercase(), String::new());
            }
            Value::String(ours) if !ours.is_empty() => {
                read.insert(theirs.trim().to_lowercase(), ours);
            }
            _ => faults.push(format!(
                "words: '{theirs}' has no value of ours; write one, or \"{NOTHING}\" for none"
            )),
        }
    }
    read
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    const GOOD: &str = r#"
        name = "Old system"
        [form]
        decimal = ","
        thousands = "."
        time = "DD.MM.YYYY HH:MM"
        [orders]
        file = "visits.csv"
        [orders.columns]
        order_no = "Nr"
        shop = { fixed = "NORTH" }
        opened_at = { from = ["Date", "Time"] }
        [jobs]
        file = "lines.csv"
        [jobs.columns]
        order_no = "Nr"
        job_no = "Line"
        symptom = { from = "Code", words = { "X1" = "idle.rough", "none" = "-" } }
    "#;

    #[test]
    fn a_mapping_is_read() {
        let read = map(GOOD).unwrap();
        assert_eq!(read.name, "Old system");
        let orders = read.lens(HistoryFile::Orders).unwrap();
        assert_eq!((orders.file.as_str(), orders.delimiter()), ("visits.csv", b','));
        assert_eq!(orders.header_of("opened_at"), "Date + Time");
        assert_eq!(orders.header_of("shop"), "shop");
        assert!(read.lens(HistoryFile::Labor).is_none());
    }

    #[test]
    fn every_fault_of_a_mapping_is_told() {
        for (from, to, why) in [
            ("decimal = \",\"", "", "state decimal"),
            ("thousands = \".\"", "thousands = \",\"", "other than the decimal sign"),
            ("time = \"DD.MM.YYYY HH:MM\"", "", "state in [form] how times are written"),
            ("order_no = \"Nr\"", "", "orders.columns.order_no: is needed"),
            ("\"Nr\"\n        shop", "\"\"\n        shop", "order_no: state either from"),
            ("\"X1\" = \"idle.rough\"", "\"X1\" = \"\"", "'X1' has no value of ours"),
            ("job_no", "jobno", "'jobno' is no column of ours"),
            ("visits.csv", "../visits.csv", "orders: state file"),
            ("[form]", "[form]\ncolor = \"blue\"", "'color' means nothing"),
            ("name = \"Old system\"", "", "name is missing"),
            ("[form]", "[form]\nencoding = \"Latin-1\"", "save the files in UTF-8"),
        ] {
            assert!(GOOD.contains(from), "{from}");
            let faults = map(&GOOD.replacen(from, to, 1)).unwrap_err();
            assert!(faults.iter().any(|fault| fault.contains(why)), "{why}: {faults:?}");
        }
        assert!(map("name = ").unwrap_err().iter().any(|fault| fault.contains("no TOML")));
    }
}
