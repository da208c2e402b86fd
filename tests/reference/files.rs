//! Reads the reference files.

use serde_json::Value;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/reference/");

/// One case: inputs, expected numbers, tolerance.
pub fn case(name: &str) -> Value {
    let text = std::fs::read_to_string(format!("{FOLDER}{name}.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

/// A data file without quoting: its header, then its rows.
pub fn table(name: &str) -> (Vec<String>, Vec<Vec<String>>) {
    let text = std::fs::read_to_string(format!("{FOLDER}{name}")).unwrap();
    let mut lines = text.lines().map(|line| line.split(',').map(str::to_owned).collect());
    (lines.next().unwrap(), lines.collect())
}

/// Fails unless the number is inside the case's tolerance.
pub fn close(case: &Value, what: &str, ours: f64, theirs: f64) {
    let absolute = case["tolerance"]["abs"].as_f64().unwrap();
    let relative = case["tolerance"]["rel"].as_f64().unwrap();
    let room = absolute.max(relative * theirs.abs());
    assert!((ours - theirs).abs() <= room, "{}: {what}: {ours} against {theirs}", case["case"]);
}

/// Both are absent, or both are there and close.
pub fn close_or_absent(case: &Value, what: &str, ours: Option<f64>, theirs: &Value) {
    match (ours, theirs.as_f64()) {
        (Some(ours), Some(theirs)) => close(case, what, ours, theirs),
        (ours, theirs) => assert_eq!(ours, theirs, "{}: {what}", case["case"]),
    }
}
