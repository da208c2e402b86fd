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
        for _ in 0..MOST_LEFT_OUT {
            match self.0.from_local_datetime(&local) {
                LocalResult::Single(at) | LocalResult::Ambiguous(at, _) => {
                    return Some(UtcStamp::new(at.to_utc()));
                }
                LocalResult::None => local = next_minute(local)?,
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

/// Minutes that a step leaves out at most: zones have gone over a whole day.
const MOST_LEFT_OUT: u32 = 25 * 60;

/// Steps begin and end on a minute, not all of them on a quarter of an hour:
/// Antarctica/Casey went from 00:01 to 03:01.
fn next_minute(local: NaiveDateTime) -> Option<NaiveDateTime> {
    local.with_second(0)?.with_nanosecond(0)?.checked_add_signed(Duration::minutes(1))
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

    fn utc(day: NaiveDate, minutes: i64) -> UtcStamp {
        let at = day.and_hms_opt(0, 0, 0).unwrap().and_utc();
        UtcStamp::new(at + Duration::minutes(minutes))
    }

    /// A quarter of an hour around a step of a zone's clock.
    fn holds(zone: Zone, at: UtcStamp) {
        let wall = at.utc().with_timezone(&zone.0).naive_local();
        let back = zone.instant(wall).unwrap();
        // What the wall shows leads back, or to the first time that it showed it.
        assert_eq!(zone.show(back), zone.show(at), "{} {wall}", zone.name());
        assert!(back <= at && (at.utc() - back.utc()).num_hours() <= 3, "{} {wall}", zone.name());
        assert_eq!(zone.day(at), wall.date());
        assert_eq!(i64::from(zone.minute(at)), i64::from(wall.hour() * 60 + wall.minute()));
    }

    /// Every step of the clock from 2020 to 2037 in every zone of the IANA database, as
    /// chrono-tz has it.
    #[test]
    fn every_step_of_every_zone() {
        let first = NaiveDate::from_ymd_opt(2020, 1, 1).unwrap();
        let days = 18 * 365 + 5;
        let mut steps = 0;
        for tz in chrono_tz::TZ_VARIANTS {
            let zone = Zone(tz);
            let offset = |at: UtcStamp| {
                chrono::Offset::fix(at.utc().with_timezone(&tz).offset()).local_minus_utc()
            };
            let mut before = offset(utc(first, 0));
            for number in 1..=days {
                let day = first + Duration::days(number);
                let after = offset(utc(day, 0));
                if after != before {
                    steps += 1;
                    // The day in which it is, with some hours beside it.
                    (-1_740..=300).step_by(15).for_each(|minutes| holds(zone, utc(day, minutes)));
                    every_time_on_the_wall(zone, day);
                }
                before = after;
            }
        }
        assert!(steps > 5_000, "{steps}");
    }

    /// Each quarter on the wall has an instant, later ones never have an earlier one,
    /// and one that is left out has the first after it.
    fn every_time_on_the_wall(zone: Zone, day: NaiveDate) {
        let mut last = None;
        for minutes in (-2_880..=1_440).step_by(15) {
            let wall = day.and_hms_opt(0, 0, 0).unwrap() + Duration::minutes(minutes);
            let at = zone.instant(wall).unwrap();
            assert!(last.is_none_or(|last| last <= at), "{} {wall}", zone.name());
            let shown = at.utc().with_timezone(&zone.0).naive_local();
            let skipped = shown != wall;
            assert!(shown >= wall, "{} {wall}", zone.name());
            if skipped {
                let before = UtcStamp::new(at.utc() - Duration::minutes(1));
                let shown = before.utc().with_timezone(&zone.0).naive_local();
                assert!(shown < wall, "{} {wall}", zone.name());
            }
            last = Some(at);
        }
    }

    #[test]
    fn weeks_by_their_first_day() {
        let day = NaiveDate::from_ymd_opt(2026, 10, 11).unwrap(); // a Sunday
        assert_eq!(week_first_day(day, 1).to_string(), "2026-10-05");
        assert_eq!(week_first_day(day, 7), day);
    }
}
