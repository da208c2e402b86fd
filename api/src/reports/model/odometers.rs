//! Odometer readings as distances are made from them: whole kilometers, with the
//! replacements of the instrument reckoned in.

use std::collections::HashMap;

use analytics::history::Odometer;
use chrono::NaiveDate;
use diesel::prelude::*;

use crate::db::schema::odometer_reset;
use crate::db::{Answer, Conn};

/// Millionths of a kilometer in a mile: the international mile is 1.609344 km
/// (NIST Special Publication 811, 2008, appendix B.8).
const MILLIONTHS_PER_MILE: i64 = 1_609_344;
const MILLION: i64 = 1_000_000;

/// One replacement of an odometer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Reset {
    on: NaiveDate,
    /// What later readings lack of the distance driven; `None` where nobody
    /// knows what the old one had.
    lacking_km: Option<i64>,
}

/// The replacements of a shop's vehicles, by vehicle's id and day.
#[derive(Debug, Clone, Default)]
pub(super) struct Resets(HashMap<String, Vec<Reset>>);

impl Resets {
    pub fn load(conn: &mut Conn, shop_id: i32) -> Answer<Self> {
        type Tuple = (String, NaiveDate, Option<i64>, i64, String);
        let tuples: Vec<Tuple> = odometer_reset::table
            .filter(odometer_reset::shop_id.eq(shop_id))
            .order((odometer_reset::vehicle_id, odometer_reset::reset_on, odometer_reset::id))
            .select((
                odometer_reset::vehicle_id,
                odometer_reset::reset_on,
                odometer_reset::reading_before,
                odometer_reset::reading_after,
                odometer_reset::odometer_unit,
            ))
            .load(conn)?;
        let mut resets = Self::default();
        for (vehicle, on, before, after, unit) in tuples {
            let km = |reading| kilometers(reading, &unit);
            let lacking_km = before.map(|before| km(before).saturating_sub(km(after)));
            resets.0.entry(vehicle).or_default().push(Reset { on, lacking_km });
        }
        Ok(resets)
    }

    /// A reading of a day. `None` where there is none, and on the day of a
    /// replacement: nobody knows which instrument was read.
    pub fn reading(
        &self,
        vehicle: &str,
        on: NaiveDate,
        value: Option<i64>,
        unit: &str,
    ) -> Option<Odometer> {
        let mut reading = Odometer { series: 0, km: kilometers(value?, unit) };
        for reset in self.0.get(vehicle).into_iter().flatten().filter(|reset| reset.on <= on) {
            if reset.on == on {
                return None;
            }
            match reset.lacking_km {
                Some(km) => reading.km = reading.km.saturating_add(km),
                None => reading.series += 1,
            }
        }
        Some(reading)
    }
}

/// Whether an odometer counts miles.
pub(super) fn in_miles(unit: &str) -> bool {
    unit == "[mi_i]"
}

/// Whole kilometers, half a kilometer up.
fn kilometers(reading: i64, unit: &str) -> i64 {
    if !in_miles(unit) {
        return reading;
    }
    reading.saturating_mul(MILLIONTHS_PER_MILE).saturating_add(MILLION / 2).div_euclid(MILLION)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn on(day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 3, day).unwrap()
    }

    fn resets(list: &[(u32, Option<i64>)]) -> Resets {
        let list = list.iter().map(|&(day, lacking_km)| Reset { on: on(day), lacking_km });
        Resets(HashMap::from([("v".to_owned(), list.collect())]))
    }

    /// By hand: 1 mi is 1.609 km, 100 mi 160.9344 km, 50461 mi 81209.107... km.
    #[test]
    fn miles_become_whole_kilometers() {
        let km = [1, 100, 50_461].map(|miles| kilometers(miles, "[mi_i]"));
        assert_eq!(km, [2, 161, 81_209]);
        assert_eq!(kilometers(81_206, "km"), 81_206);
        assert_eq!(kilometers(100_000_000, "[mi_i]"), 160_934_400);
    }

    /// By hand: the old one had 81206, the new one began at 6: 81200 are lacking.
    #[test]
    fn a_known_replacement_is_reckoned_in() {
        let resets = resets(&[(10, Some(81_200))]);
        let km = |day, value| {
            resets.reading("v", on(day), Some(value), "km").map(|read| (read.series, read.km))
        };
        assert_eq!(km(9, 81_000), Some((0, 81_000)));
        assert_eq!(km(10, 81_206), None);
        assert_eq!(km(20, 506), Some((0, 81_706)));
        let other = resets.reading("w", on(20), Some(506), "km");
        assert_eq!(other, Some(Odometer { series: 0, km: 506 }));
    }

    #[test]
    fn past_an_unknown_one_nothing_is_compared() {
        let resets = resets(&[(10, None), (20, Some(400))]);
        let read = |day, value| resets.reading("v", on(day), Some(value), "km");
        assert_eq!(read(12, 10), Some(Odometer { series: 1, km: 10 }));
        assert_eq!(read(25, 10), Some(Odometer { series: 1, km: 410 }));
        assert_eq!(read(25, 10).unwrap().since(read(12, 10).unwrap()), Some(400));
        assert_eq!(read(12, 90_000).unwrap().since(read(9, 81_000).unwrap()), None);
        assert_eq!(resets.reading("v", on(25), None, "km"), None);
    }
}
