//! A shop's time zone: which local day and minute an instant falls on.

use chrono::{Datelike, Duration, LocalResult, NaiveDate, NaiveDateTime, TimeZone, Timelike};
use chrono_tz::Tz;

use super::clock::UtcStamp;

/// An IANA zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Zone(Tz);

impl Zone {
    /// Coordinated universal time.
    pub const UTC: Self = Self(Tz::UTC);

    /// Reads a name such as `America/Chicago`.
    #[must_use]
    pub fn parse(name: &str) -> Option<Self> {
        name.parse::<Tz>().ok().map(Self)
    }

    /// The zone's name.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.0.name()
    }

    /// The shop-local day.
    #[must_use]
    pub fn day(self, at: UtcStamp) -> NaiveDate {
        at.utc().with_timezone(&self.0).date_naive()
    }

    /// Minutes since the local midnight by the clock on the wall, 0 to 1439.
    #[must_use]
    pub fn minute(self, at: UtcStamp) -> i32 {
        let local = at.utc().with_timezone(&self.0);
        i32::try_from(local.hour() * 60 + local.minute()).unwrap_or(0)
    }

    /// `YYYY-MM-DD HH:MM` by the clock on the wall.
    #[must_use]
    pub fn show(self, at: UtcStamp) -> String {
        at.utc().with_timezone(&self.0).format("%Y-%m-%d %H:%M").to_string()
    }

    /// The instant of a time on the wall. A time that a forward step leaves out
    /// is the first one after it; of a time that comes twice, the earlier.
    #[must_use]
    pub fn instant(self, local: NaiveDateTime) -> Option<UtcStamp> {
        let mut local = local;
        for _ in 0..26 {
            match self.0.from_local_datetime(&local) {
                LocalResult::Single(at) | LocalResult::Ambiguous(at, _) => {
                    return Some(UtcStamp::new(at.to_utc()));
                }
                LocalResult::None => local = next_quarter(local)?,
            }
        }
        None
    }

    /// The last local day that is over at `now`.
    #[must_use]
    pub fn last_complete_day(self, now: UtcStamp) -> NaiveDate {
        let today = self.day(now);
        today.pred_opt().unwrap_or(today)
    }
}

/// The next quarter of an hour: every step of every zone begins and ends on one.
fn next_quarter(local: NaiveDateTime) -> Option<NaiveDateTime> {
    let minute = local.minute() - local.minute() % 15;
    local
        .with_minute(minute)?
        .with_second(0)?
        .with_nanosecond(0)?
        .checked_add_signed(Duration::minutes(15))
}

/// The first day of the week that `day` lies in; `week_start` 1 = Monday.
#[must_use]
pub fn week_first_day(day: NaiveDate, week_start: i32) -> NaiveDate {
    let number = i64::from(day.weekday().number_from_monday());
    let back = (number - i64::from(week_start)).rem_euclid(7);
    day.checked_sub_signed(Duration::days(back)).unwrap_or(day)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn local(text: &str) -> NaiveDateTime {
        NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M").unwrap()
    }

    // IANA tz database: America/Chicago steps from 02:00 to 03:00 on
    // 2026-03-08 and back from 02:00 to 01:00 on 2026-11-01.
    #[test]
    fn steps_of_the_clock() {
        let zone = Zone::parse("America/Chicago").unwrap();
        let gap = zone.instant(local("2026-03-08 02:30")).unwrap();
        assert_eq!(gap.rfc3339(), "2026-03-08T08:00:00Z");
        let fold = zone.instant(local("2026-11-01 01:30")).unwrap();
        assert_eq!(fold.rfc3339(), "2026-11-01T06:30:00Z");
        assert_eq!(zone.show(gap), "2026-03-08 03:00");
    }

    #[test]
    fn weeks_by_their_first_day() {
        let day = NaiveDate::from_ymd_opt(2026, 10, 11).unwrap(); // a Sunday
        assert_eq!(week_first_day(day, 1).to_string(), "2026-10-05");
        assert_eq!(week_first_day(day, 7), day);
    }
}
