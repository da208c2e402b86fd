//! How long the demo's people were there: a line a technician and working day.

use std::collections::{BTreeSet, HashMap, HashSet};

use chrono::{Datelike, Days, NaiveDate, Weekday};

/// Minutes of an ordinary day, less breaks.
const DAY_MINUTES: i64 = 480;
const SATURDAY_MINUTES: i64 = 300;
/// From coming in to the first job, and from the last one to leaving.
const BESIDE_MINUTES: i64 = 15;
/// People write quarters of an hour.
const QUARTER: i64 = 15;

/// Days and minutes attended, for each of a crew, from the minutes that each
/// had on jobs, by day. Who was on no job for a whole week was away; on other
/// days people come where the shop is open.
#[must_use]
pub fn attended(clocked: &[Vec<(NaiveDate, i64)>]) -> Vec<Vec<(NaiveDate, i32)>> {
    let open: BTreeSet<NaiveDate> = clocked.iter().flatten().map(|(day, _)| *day).collect();
    let of_one = |own: &Vec<(NaiveDate, i64)>| {
        let weeks: HashSet<NaiveDate> = own.iter().map(|(day, _)| monday(*day)).collect();
        let mut on_jobs: HashMap<NaiveDate, i64> = HashMap::new();
        for (day, minutes) in own {
            *on_jobs.entry(*day).or_default() += minutes;
        }
        let days = open.iter().filter(|day| weeks.contains(&monday(**day)));
        days.map(|day| (*day, present(*day, on_jobs.get(day).copied().unwrap_or(0)))).collect()
    };
    clocked.iter().map(of_one).collect()
}

fn monday(day: NaiveDate) -> NaiveDate {
    let past = u64::from(day.weekday().num_days_from_monday());
    day.checked_sub_days(Days::new(past)).unwrap_or(day)
}

/// An ordinary day, and longer where the jobs were.
fn present(day: NaiveDate, on_jobs: i64) -> i32 {
    let usual = if day.weekday() == Weekday::Sat { SATURDAY_MINUTES } else { DAY_MINUTES };
    let needed = (on_jobs + BESIDE_MINUTES + QUARTER - 1) / QUARTER * QUARTER;
    i32::try_from(usual.max(needed)).unwrap_or(i32::MAX)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn a_line_a_person_and_open_day() {
        let day = |day: u32| NaiveDate::from_ymd_opt(2026, 10, day).unwrap();
        // A Monday, a Tuesday, a Saturday, and the next Monday.
        let first = vec![(day(5), 200), (day(5), 300), (day(6), 60), (day(12), 60)];
        let second = vec![(day(6), 100), (day(10), 290)];
        let told = attended(&[first, second, Vec::new()]);
        // 515 minutes go up to the next quarter; no job on the Saturday.
        let first = vec![(day(5), 525), (day(6), 480), (day(10), 300), (day(12), 480)];
        // There on the Monday, too; away in the second week.
        let second = vec![(day(5), 480), (day(6), 480), (day(10), 315)];
        assert_eq!(told, [first, second, Vec::new()]);
    }
}
