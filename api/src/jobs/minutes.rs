//! How long a check took, measured: from the start of the writer's clock on the
//! job, or from the check before, to now.

use analytics::words::Activity;
use diesel::prelude::*;

use super::checks;
use crate::db::schema::{labor_entry, record_change};
use crate::db::types::Word;
use crate::db::{Answer, Conn};
use crate::domain::clock::UtcStamp;
use crate::domain::ids::{JobId, PersonId};
use crate::shops::write::ShopWrite;

/// No check is in hand longer: the clock was left running.
const LONGEST_MINUTES: i64 = 240;
/// A tap that comes later than this was kept while the shop could not be
/// reached, so that its arrival tells no time.
const LATE_SECONDS: i64 = 120;
/// What lies back further is a clock set wrong, no tap that was kept.
const KEPT_HOURS: i64 = 18;

/// When a tap was made that came late, since the shop could not be reached;
/// `None` where it is of now, and where it cannot be true.
#[must_use]
pub fn late(tapped: Option<UtcStamp>, now: UtcStamp) -> Option<UtcStamp> {
    let tapped = tapped?;
    let seconds = (now.utc() - tapped.utc()).num_seconds();
    (LATE_SECONDS..KEPT_HOURS * 3600).contains(&seconds).then_some(tapped)
}

/// Since when the person's time goes into the next check on the job; `None`
/// where no clock of theirs runs on its diagnosis.
///
/// # Errors
/// Where the database does not answer.
pub fn since(
    conn: &mut Conn,
    shop_id: i32,
    person: &PersonId,
    job: &JobId,
) -> Answer<Option<UtcStamp>> {
    let running: Option<(UtcStamp, Option<Word<Activity>>)> = labor_entry::table
        .filter(labor_entry::shop_id.eq(shop_id).and(labor_entry::job_id.eq(job)))
        .filter(labor_entry::person_id.eq(person).and(labor_entry::ended_at.is_null()))
        .select((labor_entry::started_at, labor_entry::activity))
        .first(conn)
        .optional()?;
    let Some((started, activity)) = running else { return Ok(None) };
    if activity.is_some_and(|word| word.0 != Activity::Diagnosis) {
        return Ok(None);
    }
    let added: Vec<(String, UtcStamp)> = record_change::table
        .filter(record_change::shop_id.eq(shop_id).and(record_change::job_id.eq(job)))
        .filter(record_change::record.eq("check").and(record_change::action.eq("added")))
        .filter(record_change::person_id.eq(person))
        .order((record_change::change_no, record_change::line))
        .select((record_change::record_id, record_change::changed_at))
        .load(conn)?;
    let standing: Vec<String> =
        checks::of_job(conn, shop_id, job)?.iter().map(|row| row.id.to_string()).collect();
    Ok(Some(last_of(started, &added, &standing)))
}

/// The later of the start and the last check that still stands. One that was
/// taken back and put back again was made when it was recorded first.
fn last_of(started: UtcStamp, added: &[(String, UtcStamp)], standing: &[String]) -> UtcStamp {
    standing
        .iter()
        .filter_map(|id| added.iter().find(|(of, _)| of == id).map(|(_, at)| *at))
        .fold(started, UtcStamp::max)
}

/// The minutes of a check that is recorded now, where they can be told.
///
/// # Errors
/// Where the database does not answer.
pub fn measured(
    write: &mut ShopWrite<'_>,
    job: &JobId,
    tapped: Option<UtcStamp>,
) -> Answer<Option<i32>> {
    let late = |at: UtcStamp| (write.now.utc() - at.utc()).num_seconds().abs() > LATE_SECONDS;
    if tapped.is_some_and(late) {
        return Ok(None);
    }
    let from = since(write.conn, write.shop.id, write.person, job)?;
    let minutes = from.map(|from| write.now.minutes_since(from));
    // Several findings put down in one go: the first took the time.
    let minutes = minutes.filter(|minutes| (1..=LONGEST_MINUTES).contains(minutes));
    Ok(minutes.and_then(|minutes| i32::try_from(minutes).ok()))
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    #[test]
    fn a_tap_that_came_late_tells_when_it_was_made() {
        let at = |seconds: i64| {
            UtcStamp::new(chrono::DateTime::from_timestamp(1_790_000_000 + seconds, 0).unwrap())
        };
        let now = at(0);
        assert_eq!(late(Some(at(-3_600)), now), Some(at(-3_600)));
        for seconds in [-30, 600, -20 * 3_600] {
            assert_eq!(late(Some(at(seconds)), now), None, "{seconds}");
        }
        assert_eq!(late(None, now), None);
    }

    #[test]
    fn what_was_taken_back_takes_no_time_from_the_next() {
        let at = |minute: i64| {
            UtcStamp::new(chrono::DateTime::from_timestamp(1_790_000_000 + 60 * minute, 0).unwrap())
        };
        let added: Vec<(String, UtcStamp)> =
            [("a", 4), ("b", 9), ("a", 11)].map(|(id, minute)| (id.to_owned(), at(minute))).into();
        let standing = |ids: &[&str]| ids.iter().map(|id| (*id).to_owned()).collect::<Vec<_>>();
        assert_eq!(last_of(at(0), &added, &standing(&[])), at(0));
        assert_eq!(last_of(at(0), &added, &standing(&["a", "b"])), at(9));
        // Taken back and put back under its id: made at minute 4.
        assert_eq!(last_of(at(0), &added, &standing(&["a"])), at(4));
        // The clock was started anew since.
        assert_eq!(last_of(at(10), &added, &standing(&["a", "b", "typed"])), at(10));
    }
}
