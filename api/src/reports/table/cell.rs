//! One value of a report's table: what people read of it. Programs get its parts.

use std::fmt;

use analytics::figure::{Interval, Share};
use analytics::labor::Ratio;
use chrono::NaiveDate;

use crate::domain::decimal::{rounded, thousands};
use crate::domain::money::Currency;
use crate::domain::percent::{percent, percents};
use crate::domain::style::Style;

/// One value. People read it by [`Cell::told`]; programs get its parts.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// Nothing recorded, or nothing that can be said.
    Blank,
    Text(String),
    Day(NaiveDate),
    Count(i64),
    /// A count of some of the row's jobs, with what selects them.
    CountOf(i64, String),
    /// A number with its decimals.
    Number(f64, usize),
    /// A number of which the sign is the point: gained or lost.
    Signed(f64, usize),
    /// A plain ratio shown in percent.
    Percent(f64),
    /// Money as a plain decimal number in the report's currency.
    Money(String),
    Share(Box<Share>),
    /// A share of which nothing came back, and how high it could be.
    NoneOf(Box<Share>, f64),
    /// A ratio of sums shown in percent.
    Ratio(Box<Ratio>),
}

impl fmt::Display for Cell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Blank => f.write_str("-"),
            Self::Text(text) => f.write_str(text),
            Self::Day(day) => write!(f, "{day}"),
            Self::Money(text) => f.write_str(&thousands(text)),
            Self::Count(count) | Self::CountOf(count, _) => {
                f.write_str(&thousands(&count.to_string()))
            }
            Self::Number(number, decimals) => f.write_str(&thousands(&rounded(*number, *decimals))),
            Self::Signed(number, decimals) => f.write_str(&signed(*number, *decimals)),
            Self::Percent(ratio) => f.write_str(&percent(*ratio)),
            Self::Share(share) => f.write_str(&share_cell(share)),
            Self::NoneOf(share, high) => write!(
                f,
                "0 of {} (could be up to {})",
                thousands(&share.count.to_string()),
                percent(*high)
            ),
            Self::Ratio(ratio) => f.write_str(&ratio_cell(ratio)),
        }
    }
}

impl Cell {
    /// As the shop's people write it.
    #[must_use]
    pub fn told(&self, style: &Style) -> String {
        match self {
            Self::Day(day) => style.day(*day),
            Self::Money(plain) => style.bare_text(plain),
            other => other.to_string(),
        }
    }

    /// One number of the line's jobs, without a count of its own.
    pub(in crate::reports) const fn is_plain_number(&self) -> bool {
        matches!(self, Self::Number(..) | Self::Signed(..) | Self::Percent(_) | Self::Money(_))
    }

    pub(in crate::reports) fn text(text: impl Into<String>) -> Self {
        Self::Text(text.into())
    }

    pub(in crate::reports) fn maybe(text: Option<&str>) -> Self {
        text.map_or(Self::Blank, Self::text)
    }

    pub(in crate::reports) fn day(day: Option<NaiveDate>) -> Self {
        day.map_or(Self::Blank, Self::Day)
    }

    pub(in crate::reports) fn count(count: Option<i64>) -> Self {
        count.map_or(Self::Blank, Self::Count)
    }

    pub(in crate::reports) fn number(number: Option<f64>, decimals: usize) -> Self {
        number.map_or(Self::Blank, |number| Self::Number(number, decimals))
    }

    pub(in crate::reports) fn percent(ratio: Option<f64>) -> Self {
        ratio.map_or(Self::Blank, Self::Percent)
    }

    pub(in crate::reports) fn share(share: &Share) -> Self {
        Self::Share(Box::new(share.clone()))
    }

    /// A share followed by days. Where nothing came back it has no interval of its
    /// own, and looks perfect; the interval of the jobs whose days are over then
    /// says how high it could be.
    pub(in crate::reports) fn share_beside(share: &Share, closed: &Share) -> Self {
        let nothing = share.share == Some(0.0) && share.interval.is_none() && !share.too_few;
        match &closed.interval {
            Some(interval) if nothing && closed.count > 0 && closed.returns == 0 => {
                Self::NoneOf(Box::new(share.clone()), interval.high)
            }
            _ => Self::share(share),
        }
    }

    /// A probability: two decimals say enough, but not of a small one.
    pub(in crate::reports) fn chance(p: f64) -> Self {
        Self::Number(p, if p < 0.01 { 4 } else { 2 })
    }

    pub(in crate::reports) fn ratio(ratio: &Ratio) -> Self {
        Self::Ratio(Box::new(ratio.clone()))
    }

    /// Minor units of a currency, rounded to whole ones.
    pub(in crate::reports) fn money(minor: Option<f64>, currency: &Currency) -> Self {
        minor.map_or(Self::Blank, |minor| Self::Money(currency.format_amount(minor.round() as i64)))
    }
}

/// With a plus where it is above nothing.
fn signed(number: f64, decimals: usize) -> String {
    let text = rounded(number, decimals);
    let plus = text.bytes().any(|byte| matches!(byte, b'1'..=b'9')) && !text.starts_with('-');
    format!("{}{}", if plus { "+" } else { "" }, thousands(&text))
}

fn range(interval: Option<&Interval>) -> Option<String> {
    let interval = interval?;
    Some(percents(interval.low, interval.high))
}

fn ratio_cell(ratio: &Ratio) -> String {
    match (ratio.value, range(ratio.interval.as_ref())) {
        (None, _) => "-".to_owned(),
        (Some(_), _) if ratio.too_few => format!("too few ({})", ratio.count),
        (Some(value), None) => percent(value),
        (Some(value), Some(range)) => format!("{} ({range})", percent(value)),
    }
}

/// `131 of 2,981`.
fn of(share: &Share) -> String {
    let [returns, count] = [share.returns, share.count].map(|count| thousands(&count.to_string()));
    format!("{returns} of {count}")
}

fn share_cell(share: &Share) -> String {
    let counts = of(share);
    if share.count == 0 {
        return "-".to_owned();
    }
    if share.too_few {
        return format!("too few ({counts})");
    }
    match (share.share, range(share.interval.as_ref())) {
        (None, _) => format!("not yet ({counts})"),
        (Some(value), None) => format!("{} ({counts})", percent(value)),
        (Some(value), Some(range)) => format!("{} ({range}; {counts})", percent(value)),
    }
}

/// A share as a sentence: `9 of 38 came back within 60 days (24%, 13-39%)`.
/// Where the newest jobs are followed for less than that, the share is not the
/// counts' ratio, stands first, and the sentence says why.
#[must_use]
pub fn sentence(share: &Share, window_days: i32) -> String {
    let counts = format!("{} came back within {window_days} days", of(share));
    let Some(value) = share.share.filter(|_| !share.too_few) else {
        let why = if share.too_few { "too few" } else { "too early" };
        return format!("{counts} ({why} for a share)");
    };
    let interval = range(share.interval.as_ref());
    let counted = share.returns as f64 / share.count.max(1) as f64;
    if (value - counted).abs() > 1e-9 {
        let interval = interval.map_or_else(String::new, |range| format!(" ({range})"));
        return format!(
            "{} come back within {window_days} days{interval}. {} so far; the newest are still in \
             their {window_days} days",
            percent(value),
            of(share),
        );
    }
    let interval = interval.map_or_else(String::new, |range| format!(", {range}"));
    format!("{counts} ({}{interval})", percent(value))
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use analytics::stats::proportion::wilson;

    use super::*;

    fn share(returns: i64, count: i64) -> Share {
        let (low, high) = wilson(returns, count, 0.95).unwrap();
        Share {
            count,
            returns,
            share: Some(returns as f64 / count as f64),
            standard_error: None,
            interval: Some(Interval { low, high, level: 0.95, method: "wilson" }),
            too_few: count < 10,
            definition: "part_return_closed",
            jobs: String::new(),
        }
    }

    #[test]
    fn shares_in_words() {
        // Wilson, JASA 22 (1927) 209-212, his formula worked in Python: 9 of 38
        // gives .12994 to .39207, 4 of 96 gives .01632 to .10228.
        let suspects = share(9, 38);
        assert_eq!(sentence(&suspects, 60), "9 of 38 came back within 60 days (24%, 13-39%)");
        let reckoned = Share { share: Some(0.25), ..share(9, 38) };
        assert_eq!(
            sentence(&reckoned, 60),
            "25% come back within 60 days (13-39%). 9 of 38 so far; the newest are still in their \
             60 days"
        );
        assert_eq!(Cell::share(&suspects).to_string(), "24% (13-39%; 9 of 38)");
        assert_eq!(Cell::share(&share(4, 96)).to_string(), "4.2% (1.6-10%; 4 of 96)");
    }

    #[test]
    fn nothing_has_no_sign() {
        for (number, shown) in [(-0.0, "0.0"), (-0.04, "0.0"), (-0.06, "-0.1"), (0.04, "0.0")] {
            assert_eq!(Cell::Number(number, 1).to_string(), shown);
        }
    }

    #[test]
    fn thousands_stand_apart() {
        for (plain, apart) in [
            ("20223.00", "20,223.00"),
            ("-1234567", "-1,234,567"),
            ("999", "999"),
            ("0.1", "0.1"),
            ("-", "-"),
            ("NaN", "NaN"),
        ] {
            assert_eq!(thousands(plain), apart);
        }
        assert_eq!(Cell::Count(2_981).to_string(), "2,981");
        assert_eq!(Cell::Money("20223.00".to_owned()).to_string(), "20,223.00");
        for (hours, shown) in [(433.52, "+433.5"), (-1_200.0, "-1,200.0"), (0.04, "0.0")] {
            assert_eq!(Cell::Signed(hours, 1).to_string(), shown);
        }
    }

    /// Wilson at none of n is z^2 / (n + z^2) with z^2 = 3.8415: 5.8% of 62.
    #[test]
    fn nothing_of_few_is_not_perfect() {
        let closed = share(0, 62);
        let followed = Share { interval: None, ..share(0, 70) };
        let cell = Cell::share_beside(&followed, &closed);
        assert_eq!(cell.to_string(), "0 of 70 (could be up to 5.8%)");
        // Nothing to say it by, and something that has an interval of its own.
        let nobody = Share { count: 0, share: None, interval: None, ..share(0, 62) };
        assert_eq!(Cell::share_beside(&followed, &nobody).to_string(), "0% (0 of 70)");
        let some = share(9, 38);
        assert_eq!(Cell::share_beside(&some, &closed), Cell::share(&some));
    }

    #[test]
    fn what_cannot_be_said_is_not_said() {
        let few = share(3, 8);
        assert_eq!(Cell::share(&few).to_string(), "too few (3 of 8)");
        let early = Share { share: None, interval: None, ..share(0, 40) };
        assert_eq!(Cell::share(&early).to_string(), "not yet (0 of 40)");
        assert_eq!(
            sentence(&early, 60),
            "0 of 40 came back within 60 days (too early for a share)"
        );
    }
}
