//! What stands over and under every report: the day it goes to, and what its
//! figures mean.

use chrono::NaiveDate;

use super::HTML;
use super::page::Asked;

/// A report's as-of with the ways to another one, and its definitions.
pub struct Foot {
    pub as_of: String,
    /// The as-of is today, which is not over.
    pub running: bool,
    /// The same page with what happened today; absent where it has it.
    pub up_to_now: Option<String>,
    /// The same page without an as-of of its own; absent where it has none.
    pub back: Option<String>,
    pub change_no: i64,
    pub window_days: i32,
    pub currency: String,
    /// The whole report as one file.
    pub file: String,
    /// What each figure means.
    pub definitions: Vec<(String, &'static str)>,
}

impl Foot {
    /// From a report's head and what was asked.
    #[must_use]
    pub fn of(asked: &Asked) -> Self {
        let head = asked.report.head();
        let running = head.as_of >= asked.today;
        Self {
            as_of: asked.style.day(head.as_of),
            running,
            up_to_now: (!running).then(|| place(&asked.csv, Some(asked.today))),
            back: asked.query.as_of.as_ref().map(|_| place(&asked.csv, None)),
            change_no: head.change_no,
            window_days: head.window_days,
            currency: head.currency.clone(),
            file: format!("{}format={HTML}", asked.csv),
            definitions: head
                .definitions
                .iter()
                .map(|(key, meaning)| (key.replace('_', " "), *meaning))
                .collect(),
        }
    }
}

/// The page's address under another as-of.
fn place(address: &str, as_of: Option<NaiveDate>) -> String {
    let (path, query) = address.split_once('?').unwrap_or((address, ""));
    let pairs = query.split('&').filter(|pair| !pair.is_empty() && !pair.starts_with("as_of="));
    let mut pairs: Vec<String> = pairs.map(str::to_owned).collect();
    pairs.extend(as_of.map(|day| format!("as_of={day}")));
    if pairs.is_empty() { path.to_owned() } else { format!("{path}?{}", pairs.join("&")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_as_of_keeps_the_rest() {
        let today = NaiveDate::from_ymd_opt(2026, 11, 27);
        let asked = "/shops/north/labor?by=week&as_of=2026-11-01&";
        assert_eq!(place(asked, today), "/shops/north/labor?by=week&as_of=2026-11-27");
        assert_eq!(place(asked, None), "/shops/north/labor?by=week");
        assert_eq!(place("/shops/north/week?", None), "/shops/north/week");
    }
}
