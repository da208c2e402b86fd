//! Reads the reference files, and keeps how near the program comes to them.

use std::cell::RefCell;

use serde_json::Value;

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../fixtures/reference/");

/// Names the folder of the cases whose data may not be part of the project.
const OUTSIDE: &str = "ONETRIP_REFERENCE";

thread_local! {
    /// The largest relative error of the test that runs on this thread.
    static WORST: RefCell<f64> = const { RefCell::new(0.0) };
}

/// Where a case and its data lie.
#[derive(Debug, Clone)]
pub struct Folder(String);

impl Folder {
    /// The project's own cases.
    pub fn own() -> Self {
        Self(FOLDER.to_owned())
    }

    /// The cases kept outside the project; `None`, with a word of what is left
    /// out, where nobody said where they lie.
    pub fn outside(what: &str) -> Option<Self> {
        let Ok(folder) = std::env::var(OUTSIDE) else {
            println!("left out: {what} ({OUTSIDE} names no folder)");
            return None;
        };
        Some(Self(format!("{folder}/")))
    }

    /// One case: inputs, expected numbers, tolerance.
    pub fn case(&self, name: &str) -> Value {
        let path = format!("{}{name}.json", self.0);
        let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
        serde_json::from_str(&text).unwrap()
    }

    /// A data file without quoting: its header, then its rows.
    pub fn table(&self, name: &str) -> (Vec<String>, Vec<Vec<String>>) {
        let path = format!("{}{name}", self.0);
        let text = std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"));
        let mut lines = text.lines().map(|line| line.split(',').map(str::to_owned).collect());
        (lines.next().unwrap(), lines.collect())
    }
}

/// One of the project's own cases.
pub fn case(name: &str) -> Value {
    Folder::own().case(name)
}

/// One of the project's own data files.
pub fn table(name: &str) -> (Vec<String>, Vec<Vec<String>>) {
    Folder::own().table(name)
}

/// Fails unless the number is inside the case's tolerance (`abs` and `rel`,
/// whichever leaves more room; either may be missing).
pub fn close(case: &Value, what: &str, ours: f64, theirs: f64) {
    let room = |key: &str| case["tolerance"][key].as_f64().unwrap_or(0.0);
    close_within(case, what, (ours, theirs), (room("abs"), room("rel")));
}

/// Fails unless the number is inside this tolerance, absolute and relative:
/// for cases that name another one for some of their numbers.
pub fn close_within(case: &Value, what: &str, (ours, theirs): (f64, f64), (abs, rel): (f64, f64)) {
    assert!(abs > 0.0 || rel > 0.0, "{}: {what}: no tolerance", case["case"]);
    let room = abs.max(rel * theirs.abs());
    assert!((ours - theirs).abs() <= room, "{}: {what}: {ours} against {theirs}", case["case"]);
    if theirs != 0.0 {
        let error = (ours / theirs - 1.0).abs();
        WORST.with_borrow_mut(|worst| *worst = worst.max(error));
    }
}

/// Both are absent, or both are there and close.
pub fn close_or_absent(case: &Value, what: &str, ours: Option<f64>, theirs: &Value) {
    match (ours, theirs.as_f64()) {
        (Some(ours), Some(theirs)) => close(case, what, ours, theirs),
        (ours, theirs) => assert_eq!(ours, theirs, "{}: {what}", case["case"]),
    }
}

/// Says how near the numbers since the last call came to their reference: the
/// last line of a test (`cargo test --test reference -- --nocapture` shows it).
pub fn tell(what: &str) {
    let worst = WORST.with_borrow_mut(std::mem::take);
    println!("reference: {what}: largest relative error {worst:.1e}");
}
