//! Instants in UTC, to the microsecond (what both databases keep).

use chrono::{DateTime, NaiveDateTime, SubsecRound, Utc};

/// An instant in UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UtcStamp(NaiveDateTime);

impl UtcStamp {
    /// Rounds down to the microsecond.
    #[must_use]
    pub fn new(at: DateTime<Utc>) -> Self {
        Self(at.naive_utc().trunc_subsecs(6))
    }

    /// From what a database kept.
    #[must_use]
    pub const fn from_naive(at: NaiveDateTime) -> Self {
        Self(at)
    }

    /// As a database keeps it.
    #[must_use]
    pub const fn naive(&self) -> &NaiveDateTime {
        &self.0
    }

    /// As a time with its zone.
    #[must_use]
    pub fn utc(self) -> DateTime<Utc> {
        self.0.and_utc()
    }

    /// Whole minutes from `earlier` to this, rounded to the nearest.
    #[must_use]
    pub fn minutes_since(self, earlier: Self) -> i64 {
        ((self.0 - earlier.0).num_seconds() + 30).div_euclid(60)
    }

    /// RFC 3339 in UTC.
    #[must_use]
    pub fn rfc3339(self) -> String {
        self.utc().to_rfc3339_opts(chrono::SecondsFormat::AutoSi, true)
    }

    /// RFC 3339 in UTC to the millisecond: as long at every moment.
    #[must_use]
    pub fn rfc3339_millis(self) -> String {
        self.utc().to_rfc3339_opts(chrono::SecondsFormat::Millis, true)
    }

    /// Reads RFC 3339 with any offset.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let at = DateTime::parse_from_rfc3339(text).ok()?;
        // A leap second or a year past four digits would not come back from
        // both databases as it went in.
        let year = chrono::Datelike::year(&at);
        ((1900..=2200).contains(&year)).then(|| Self::new(at.to_utc()))
    }
}

impl serde::Serialize for UtcStamp {
    fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(&self.rfc3339())
    }
}

impl<'de> serde::Deserialize<'de> for UtcStamp {
    fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        Self::parse(&text).ok_or_else(|| {
            serde::de::Error::custom(format!(
                "write a time such as 2026-03-02T14:05:00Z, in the years 1900 to 2200; '{text}' is none"
            ))
        })
    }
}

/// Where the time comes from. Made in one place, so that nothing else can look
/// at the machine's clock.
#[derive(Clone, Copy)]
pub struct Clock(fn() -> DateTime<Utc>);

impl Clock {
    /// A clock that asks `source`.
    #[must_use]
    pub const fn new(source: fn() -> DateTime<Utc>) -> Self {
        Self(source)
    }

    /// Now.
    #[must_use]
    pub fn now(self) -> UtcStamp {
        UtcStamp::new((self.0)())
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::UtcStamp;

    #[test]
    fn milliseconds_are_as_long_at_every_moment() {
        for (at, written) in [
            ("2026-03-02T14:05:00Z", "2026-03-02T14:05:00.000Z"),
            ("2026-03-02T14:05:00.12Z", "2026-03-02T14:05:00.120Z"),
            ("2026-03-02T14:05:00.123999Z", "2026-03-02T14:05:00.123Z"),
        ] {
            assert_eq!(UtcStamp::parse(at).unwrap().rfc3339_millis(), written);
        }
    }
}
