//! One row's fields, read one by one into types. Every fault is kept, so that
//! somebody who mends a file sees all of them at once.

use chrono::{DateTime, Utc};

use super::source::{Header, Raw};
use crate::db::types::FixedWord;
use crate::domain::clock::UtcStamp;
use crate::domain::formula::unguarded;
use crate::domain::money::{Currency, MOST_MINOR};
use crate::domain::{codes, decimal, text};

/// What is wrong with a field, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    pub column: &'static str,
    pub reason: String,
}

impl Fault {
    /// A fault of a column.
    #[must_use]
    pub fn new(column: &'static str, reason: impl Into<String>) -> Self {
        Self { column, reason: reason.into() }
    }
}

/// The longest of the texts that people write.
pub const LONG_TEXT: usize = 4000;
/// The most hundredths of an hour that one operation may have.
const MOST_HOURS: i64 = 1_000_000;
/// The most hundredths of a piece or unit.
const MOST_QUANTITY: i64 = 100_000_000;

/// A row being read.
pub struct Fields<'a> {
    header: &'a Header,
    raw: &'a Raw,
    faults: Vec<Fault>,
}

impl<'a> Fields<'a> {
    /// Begins a row; a row of another width than the header has a fault at once.
    #[must_use]
    pub fn new(header: &'a Header, raw: &'a Raw) -> Self {
        let mut fields = Self { header, raw, faults: raw.faults.clone() };
        let found = raw.fields.len();
        if found != header.width {
            fields.fault(
                "",
                format!("the row has {found} fields and the header {}; look for a missing or an extra comma", header.width),
            );
        }
        fields
    }

    /// What was read, where all of it was good.
    ///
    /// # Errors
    /// Every fault of the row.
    pub fn finish<T>(mut self, read: Option<T>) -> Result<T, Vec<Fault>> {
        if self.faults.first().is_some_and(|fault| fault.column.is_empty()) {
            // What else is wrong follows from the shifted fields.
            self.faults.truncate(1);
        }
        match read {
            Some(value) if self.faults.is_empty() => Ok(value),
            _ => Err(self.faults),
        }
    }

    /// Notes a fault.
    pub fn fault(&mut self, column: &'static str, reason: impl Into<String>) {
        self.faults.push(Fault::new(column, reason));
    }

    /// The field's text, trimmed; absent where it is empty or has no column.
    fn get(&self, column: &str) -> Option<&'a str> {
        let text = self.raw.fields.get(self.header.place(column)?)?.trim();
        (!text.is_empty()).then_some(text)
    }

    fn keep<T, E: std::fmt::Display>(
        &mut self,
        column: &'static str,
        answer: Result<T, E>,
    ) -> Option<T> {
        answer.map_err(|e| self.fault(column, e.to_string())).ok()
    }

    /// Demands a value of a field that was read without a fault.
    pub fn needed<T>(&mut self, column: &'static str, value: Option<T>) -> Option<T> {
        let told = self.faults.iter().any(|fault| fault.column == column);
        if value.is_none() && !told && self.get(column).is_none() {
            self.fault(column, "is empty; write a value");
        }
        value
    }

    /// Free text of at most `most` characters.
    pub fn text(&mut self, column: &'static str, most: usize) -> Option<String> {
        let text = unguarded(self.get(column)?);
        self.keep(column, text::required(column, text, most).map_err(|f| f.detail))
    }

    /// A code of one of the shop's lists.
    pub fn code(&mut self, column: &'static str) -> Option<String> {
        let text = unguarded(self.get(column)?);
        self.keep(column, codes::parse(column, text).map_err(|f| f.detail))
    }

    /// A word of a closed list.
    pub fn word<T: FixedWord>(&mut self, column: &'static str, words: &[&str]) -> Option<T> {
        let text = self.get(column)?;
        let read = T::read(text)
            .ok_or_else(|| format!("'{}' is not one of: {}", shortened(text), words.join(", ")));
        self.keep(column, read)
    }

    /// `true` or `false`.
    pub fn flag(&mut self, column: &'static str) -> Option<bool> {
        let read = match self.get(column)? {
            "true" => Ok(true),
            "false" => Ok(false),
            other => Err(format!("'{}' is neither true nor false", shortened(other))),
        };
        self.keep(column, read)
    }

    /// A whole number within bounds.
    pub fn whole(&mut self, column: &'static str, low: i64, high: i64) -> Option<i64> {
        let text = self.get(column)?;
        let read = text.parse::<i64>().ok().filter(|n| (low..=high).contains(n)).ok_or_else(|| {
            format!("'{}' is not a whole number from {low} to {high}", shortened(text))
        });
        self.keep(column, read)
    }

    /// A small whole number within bounds.
    pub fn small(&mut self, column: &'static str, low: i32, high: i32) -> Option<i32> {
        let number = self.whole(column, i64::from(low), i64::from(high))?;
        i32::try_from(number).ok()
    }

    /// A measured value.
    pub fn reading(&mut self, column: &'static str) -> Option<f64> {
        let text = self.get(column)?;
        let plain = text
            .bytes()
            .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+' | b'e' | b'E'));
        let read = text.parse::<f64>().ok().filter(|n| plain && n.is_finite()).ok_or_else(|| {
            format!("'{}' is not a number such as 12.5, with a point", shortened(text))
        });
        self.keep(column, read)
    }

    /// Hours as hundredths of an hour.
    pub fn hours(&mut self, column: &'static str) -> Option<i64> {
        self.scaled(column, 2, 0, MOST_HOURS)
    }

    /// A quantity, more than zero, as hundredths.
    pub fn quantity(&mut self, column: &'static str) -> Option<i64> {
        self.scaled(column, 2, 1, MOST_QUANTITY)
    }

    /// An amount as minor units.
    pub fn money(&mut self, column: &'static str, currency: &Currency) -> Option<i64> {
        self.scaled(column, currency.decimals(), 0, MOST_MINOR)
    }

    fn scaled(&mut self, column: &'static str, decimals: u32, low: i64, high: i64) -> Option<i64> {
        let text = self.get(column)?;
        let read = decimal::parse_scaled(text, decimals)
            .map_err(|e| format!("'{}': {e}", shortened(text)))
            .and_then(|n| match n {
                n if n < 0 => Err("is below zero; write it without a minus".to_owned()),
                n if n < low => Err("is zero; leave the row out or write how many".to_owned()),
                n if n > high => Err("is too large; look at the point".to_owned()),
                n => Ok(n),
            });
        self.keep(column, read)
    }

    /// An instant.
    pub fn time(&mut self, column: &'static str) -> Option<DateTime<Utc>> {
        let text = self.get(column)?;
        let read = UtcStamp::parse(text).map(UtcStamp::utc).ok_or_else(|| {
            format!(
                "'{}' is not a time such as 2026-03-02T14:05:00-06:00 (RFC 3339)",
                shortened(text)
            )
        });
        self.keep(column, read)
    }
}

/// Enough of a text to know it again.
fn shortened(text: &str) -> String {
    if text.chars().count() > 40 {
        text.chars().take(40).chain(['…']).collect()
    } else {
        text.to_owned()
    }
}
