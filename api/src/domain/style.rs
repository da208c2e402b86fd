//! How a shop's people write days, times and money. Programs never read these:
//! for them days are ISO 8601, instants RFC 3339 and amounts minor units.

use chrono::{Datelike, Duration, NaiveDate};

use super::clock::UtcStamp;
use super::decimal::thousands;
use super::money::Currency;
use super::zone::Zone;

/// How days and times are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DateStyle {
    /// `Nov 24, 2026`, `2:30 PM`.
    Us,
    /// `24 Nov 2026`, `14:30`.
    DayFirst,
    /// `2026-11-24`, `14:30`.
    Iso,
}

impl DateStyle {
    pub const ALL: &'static [Self] = &[Self::Us, Self::DayFirst, Self::Iso];

    /// The word in files and answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Us => "us",
            Self::DayFirst => "day_first",
            Self::Iso => "iso",
        }
    }

    /// The style of a word.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|style| style.as_str() == text)
    }

    /// A day: `Nov 24, 2026`.
    #[must_use]
    pub fn day(self, day: NaiveDate) -> String {
        day.format(self.form("%b %-d, %Y", "%-d %b %Y", "%Y-%m-%d")).to_string()
    }

    /// A day of a year that stands near by: `Nov 24`.
    #[must_use]
    pub fn day_of_year(self, day: NaiveDate) -> String {
        day.format(self.form("%b %-d", "%-d %b", "%Y-%m-%d")).to_string()
    }

    const fn form(
        self,
        us: &'static str,
        day_first: &'static str,
        iso: &'static str,
    ) -> &'static str {
        match self {
            Self::Us => us,
            Self::DayFirst => day_first,
            Self::Iso => iso,
        }
    }

    /// What people with that money are used to, until the shop says otherwise.
    #[must_use]
    pub fn usual(money: &Currency) -> Self {
        if money.code() == "USD" { Self::Us } else { Self::DayFirst }
    }
}

impl serde::Serialize for DateStyle {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(self.as_str())
    }
}

impl<'de> serde::Deserialize<'de> for DateStyle {
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        Self::parse(&text).ok_or_else(|| {
            serde::de::Error::custom(format!("'{text}' is not us, day_first or iso"))
        })
    }
}

/// A shop's way to write, with what that depends on.
#[derive(Debug, Clone)]
pub struct Style {
    pub dates: DateStyle,
    pub money: Currency,
    pub zone: Zone,
}

impl Style {
    /// Where no shop says how: as programs write.
    #[must_use]
    pub fn plain() -> Self {
        Self { dates: DateStyle::Iso, money: Currency::none(), zone: Zone::UTC }
    }

    /// A day: `Nov 24, 2026`.
    #[must_use]
    pub fn day(&self, day: NaiveDate) -> String {
        self.dates.day(day)
    }

    /// A day of a year that stands near by: `Nov 24`.
    #[must_use]
    pub fn day_of_year(&self, day: NaiveDate) -> String {
        self.dates.day_of_year(day)
    }

    /// With its weekday, in a year that stands near by: `Tue Nov 24`.
    #[must_use]
    pub fn weekday(&self, day: NaiveDate) -> String {
        format!("{} {}", day.format("%a"), self.day_of_year(day))
    }

    /// With its weekday, the year whole: `Tue Nov 24, 2026`.
    #[must_use]
    pub fn weekday_and_year(&self, day: NaiveDate) -> String {
        format!("{} {}", day.format("%a"), self.day(day))
    }

    /// Written out: `Tuesday, November 24, 2026`.
    #[must_use]
    pub fn long_day(&self, day: NaiveDate) -> String {
        day.format(self.dates.form("%A, %B %-d, %Y", "%A %-d %B %Y", "%A, %Y-%m-%d")).to_string()
    }

    /// Seen from a day: `today`, `Tue Nov 24`; the year only where it is another one.
    #[must_use]
    pub fn seen_day(&self, day: NaiveDate, today: NaiveDate) -> String {
        match (day - today).num_days() {
            0 => "today".to_owned(),
            1 => "tomorrow".to_owned(),
            -1 => "yesterday".to_owned(),
            _ if day.year() == today.year() => self.weekday(day),
            _ => self.weekday_and_year(day),
        }
    }

    /// The time of day on the shop's wall: `2:30 PM`.
    #[must_use]
    pub fn time(&self, at: UtcStamp) -> String {
        let minutes = self.zone.minute(at);
        let (hour, minute) = (minutes / 60, minutes % 60);
        match self.dates {
            DateStyle::Us => {
                let half = if hour < 12 { "AM" } else { "PM" };
                // The clock has no nought: midnight and noon are twelve.
                format!("{}:{minute:02} {half}", (hour + 11) % 12 + 1)
            }
            DateStyle::DayFirst | DateStyle::Iso => format!("{hour:02}:{minute:02}"),
        }
    }

    /// A moment on the shop's wall: `Nov 24, 2026, 2:30 PM`.
    #[must_use]
    pub fn moment(&self, at: UtcStamp) -> String {
        let comma = if self.dates == DateStyle::Us { "," } else { "" };
        format!("{}{comma} {}", self.day(self.zone.day(at)), self.time(at))
    }

    /// A moment on the shop's wall, seen from now: `today 2:30 PM`.
    #[must_use]
    pub fn seen_moment(&self, at: UtcStamp, now: UtcStamp) -> String {
        format!("{} {}", self.seen_day(self.zone.day(at), self.zone.day(now)), self.time(at))
    }

    /// Two days and those between them: `Nov 16-22, 2026`.
    #[must_use]
    pub fn span(&self, from: NaiveDate, to: NaiveDate) -> String {
        if from == to {
            return self.day(from);
        }
        let month = from.year() == to.year() && from.month() == to.month();
        match self.dates {
            DateStyle::Us if month => {
                format!("{}-{}", self.day_of_year(from), to.format("%-d, %Y"))
            }
            DateStyle::DayFirst if month => format!("{}-{}", from.day(), self.day(to)),
            _ if from.year() == to.year() => {
                format!("{} to {}", self.day_of_year(from), self.day(to))
            }
            _ => format!("{} to {}", self.day(from), self.day(to)),
        }
    }

    /// The seven days from a week's first one.
    #[must_use]
    pub fn week(&self, first_day: NaiveDate) -> String {
        let last = first_day.checked_add_signed(Duration::days(6)).unwrap_or(first_day);
        self.span(first_day, last)
    }

    /// An amount in minor units: `$1,234.50`, `1,234.50 EUR`.
    #[must_use]
    pub fn amount(&self, minor: i64) -> String {
        if self.has_dollar_sign() {
            self.bare_amount(minor)
        } else {
            format!("{} {}", self.bare_amount(minor), self.money.code())
        }
    }

    /// An amount where the currency stands near by, as in a table: `$1,234.50`,
    /// `1,234.50`.
    #[must_use]
    pub fn bare_amount(&self, minor: i64) -> String {
        self.bare_text(&self.money.format_amount(minor))
    }

    /// As [`Style::bare_amount`], of an amount that is a decimal number already.
    #[must_use]
    pub fn bare_text(&self, plain: &str) -> String {
        let apart = thousands(plain);
        if !self.has_dollar_sign() {
            return apart;
        }
        apart.strip_prefix('-').map_or_else(|| format!("${apart}"), |rest| format!("-${rest}"))
    }

    /// Elsewhere the sign could be another country's dollar.
    fn has_dollar_sign(&self) -> bool {
        self.dates == DateStyle::Us && self.money.code() == "USD"
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn style(dates: DateStyle, money: &str) -> Style {
        Style {
            dates,
            money: Currency::parse(money).unwrap(),
            zone: Zone::parse("America/Chicago").unwrap(),
        }
    }

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn at(text: &str) -> UtcStamp {
        UtcStamp::parse(text).unwrap()
    }

    #[test]
    fn words_of_the_styles_come_back() {
        for one in DateStyle::ALL {
            assert_eq!(DateStyle::parse(one.as_str()), Some(*one));
        }
        assert_eq!(DateStyle::parse("US"), None);
        let usual = |code: &str| DateStyle::usual(&Currency::parse(code).unwrap());
        assert_eq!((usual("USD"), usual("CAD")), (DateStyle::Us, DateStyle::DayFirst));
    }

    #[test]
    fn a_day_in_each_style() {
        let tuesday = day("2026-11-24");
        for (dates, whole, seen, long) in [
            (DateStyle::Us, "Nov 24, 2026", "Tue Nov 24", "Tuesday, November 24, 2026"),
            (DateStyle::DayFirst, "24 Nov 2026", "Tue 24 Nov", "Tuesday 24 November 2026"),
            (DateStyle::Iso, "2026-11-24", "Tue 2026-11-24", "Tuesday, 2026-11-24"),
        ] {
            let style = style(dates, "USD");
            assert_eq!(style.day(tuesday), whole);
            assert_eq!(style.seen_day(tuesday, day("2026-11-27")), seen);
            assert_eq!(style.seen_day(tuesday, day("2027-01-04")), format!("Tue {whole}"));
            assert_eq!(style.long_day(tuesday), long);
            let near = [23, 24, 25].map(|n| style.seen_day(tuesday, day(&format!("2026-11-{n}"))));
            assert_eq!(near, ["tomorrow", "today", "yesterday"]);
        }
    }

    // Chicago is six hours behind in November.
    #[test]
    fn a_moment_in_each_style() {
        let afternoon = at("2026-11-24T20:30:00Z");
        for (dates, shown) in [
            (DateStyle::Us, "Nov 24, 2026, 2:30 PM"),
            (DateStyle::DayFirst, "24 Nov 2026 14:30"),
            (DateStyle::Iso, "2026-11-24 14:30"),
        ] {
            assert_eq!(style(dates, "USD").moment(afternoon), shown);
        }
        let us = style(DateStyle::Us, "USD");
        assert_eq!(us.seen_moment(afternoon, at("2026-11-25T17:00:00Z")), "yesterday 2:30 PM");
        for (instant, shown) in [
            ("2026-11-24T06:05:00Z", "12:05 AM"),
            ("2026-11-24T17:59:00Z", "11:59 AM"),
            ("2026-11-24T18:00:00Z", "12:00 PM"),
            ("2026-11-25T05:59:00Z", "11:59 PM"),
        ] {
            assert_eq!(us.time(at(instant)), shown);
        }
    }

    #[test]
    fn a_span_says_no_month_or_year_twice() {
        for (from, to, us, day_first) in [
            ("2026-11-16", "2026-11-22", "Nov 16-22, 2026", "16-22 Nov 2026"),
            ("2026-11-30", "2026-12-06", "Nov 30 to Dec 6, 2026", "30 Nov to 6 Dec 2026"),
            (
                "2026-12-28",
                "2027-01-03",
                "Dec 28, 2026 to Jan 3, 2027",
                "28 Dec 2026 to 3 Jan 2027",
            ),
            (
                "2025-11-16",
                "2026-11-22",
                "Nov 16, 2025 to Nov 22, 2026",
                "16 Nov 2025 to 22 Nov 2026",
            ),
            ("2026-11-16", "2026-11-16", "Nov 16, 2026", "16 Nov 2026"),
        ] {
            let (from, to) = (day(from), day(to));
            assert_eq!(style(DateStyle::Us, "USD").span(from, to), us);
            assert_eq!(style(DateStyle::DayFirst, "EUR").span(from, to), day_first);
        }
        let iso = style(DateStyle::Iso, "EUR");
        assert_eq!(iso.week(day("2026-11-16")), "2026-11-16 to 2026-11-22");
    }

    // ISO 4217: the yen has no minor unit, the Kuwaiti dinar three decimals.
    #[test]
    fn an_amount_is_exact_to_its_minor_unit() {
        for (dates, code, minor, shown, bare) in [
            (DateStyle::Us, "USD", 123_450, "$1,234.50", "$1,234.50"),
            (DateStyle::Us, "USD", -5, "-$0.05", "-$0.05"),
            (DateStyle::DayFirst, "USD", 123_450, "1,234.50 USD", "1,234.50"),
            (DateStyle::Us, "CAD", 123_450, "1,234.50 CAD", "1,234.50"),
            (DateStyle::DayFirst, "JPY", 1_234_567, "1,234,567 JPY", "1,234,567"),
            (DateStyle::Iso, "KWD", 1_234_567, "1,234.567 KWD", "1,234.567"),
            (
                DateStyle::Us,
                "USD",
                9_007_199_254_740_993,
                "$90,071,992,547,409.93",
                "$90,071,992,547,409.93",
            ),
        ] {
            let style = style(dates, code);
            assert_eq!(style.amount(minor), shown);
            assert_eq!(style.bare_amount(minor), bare);
        }
    }
}
