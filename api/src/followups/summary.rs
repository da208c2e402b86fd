//! What the calls say together: how many were owed, made and answered, and how
//! many customers said that it did not hold.

use std::collections::HashMap;

use analytics::stats::proportion::wilson;
use chrono::NaiveDate;
use diesel::prelude::*;
use serde::Serialize;

use super::due::first_day;
use super::model::{Candidate, FIXED, NO_CONTACT, candidates, terms};
use crate::db::schema::follow_up;
use crate::db::{Answer, Conn};
use crate::domain::ids::JobId;
use crate::shops::model::Shop;

/// Under this many answers a share says little.
const TOO_FEW: i64 = 10;
const LEVEL: f64 = 0.95;

/// The calls about complaints handed over in a time.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct CallSummary {
    /// First and last day of the hand-over.
    pub from: NaiveDate,
    pub to: NaiveDate,
    /// Complaints whose day for a call has come, by the shop's settings.
    pub due: i64,
    /// Of all handed over in that time, those called at least once.
    pub called: i64,
    /// Those whose customer was reached.
    pub reached: i64,
    /// Those of them that did not hold, or were fixed elsewhere.
    pub not_fixed: i64,
    /// `not_fixed` of `reached`.
    pub share: Option<f64>,
    /// Wilson's interval, 95 %.
    pub low: Option<f64>,
    pub high: Option<f64>,
    /// Under ten answers.
    pub too_few: bool,
    /// The jobs that did not hold.
    pub not_fixed_jobs: Vec<JobId>,
}

/// Reads it as it stands today.
///
/// # Errors
/// Where the database does not answer.
pub fn read(
    conn: &mut Conn,
    shop: &Shop,
    (from, to): (NaiveDate, NaiveDate),
    today: NaiveDate,
) -> Answer<CallSummary> {
    let jobs = candidates(conn, shop.id, (from, to))?;
    let terms = terms(shop);
    let is_due = |one: &&Candidate| {
        let closed_on = one.order.closed_on;
        let first = closed_on.and_then(|on| first_day(on, one.is_intermittent(), terms));
        first.is_some_and(|first| first <= today)
    };
    let due = jobs.iter().filter(is_due).count();
    let answers = answers(conn, shop.id, from)?;
    let said: Vec<(&JobId, Option<&String>)> = jobs
        .iter()
        .filter_map(|one| Some((&one.job.id, answers.get(&one.job.id)?.as_ref())))
        .collect();
    let reached = said.iter().filter(|(_, answer)| answer.is_some()).count();
    let not_fixed_jobs: Vec<JobId> = said
        .iter()
        .filter(|(_, answer)| answer.is_some_and(|answer| answer != FIXED))
        .map(|(job, _)| (*job).clone())
        .collect();
    Ok(summed((from, to), (count(due), count(said.len()), count(reached)), not_fixed_jobs))
}

fn count(items: usize) -> i64 {
    i64::try_from(items).unwrap_or(i64::MAX)
}

fn summed(
    (from, to): (NaiveDate, NaiveDate),
    (due, called, reached): (i64, i64, i64),
    not_fixed_jobs: Vec<JobId>,
) -> CallSummary {
    let not_fixed = count(not_fixed_jobs.len());
    let bounds = wilson(not_fixed, reached, LEVEL);
    CallSummary {
        from,
        to,
        due,
        called,
        reached,
        not_fixed,
        share: (reached > 0).then(|| not_fixed as f64 / reached as f64),
        low: bounds.map(|(low, _)| low),
        high: bounds.map(|(_, high)| high),
        too_few: reached < TOO_FEW,
        not_fixed_jobs,
    }
}

/// By job that was called about: what the customer said last; nothing where nobody was
/// reached. After a return that was told nobody is asked any more.
fn answers(
    conn: &mut Conn,
    shop_id: i32,
    from: NaiveDate,
) -> Answer<HashMap<JobId, Option<String>>> {
    let calls: Vec<(JobId, String)> = follow_up::table
        .filter(follow_up::shop_id.eq(shop_id).and(follow_up::called_on.ge(from)))
        .order((follow_up::called_on, follow_up::id))
        .select((follow_up::job_id, follow_up::answer))
        .load(conn)?;
    let mut answers: HashMap<JobId, Option<String>> = HashMap::new();
    for (job, answer) in calls {
        let said = answers.entry(job).or_default();
        // A call may be written down later than one that followed it.
        let told = said.as_deref().is_some_and(|said| said != FIXED);
        if answer != NO_CONTACT && !told {
            *said = Some(answer);
        }
    }
    Ok(answers)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    /// Wilson (1927): 3 of 40 at 95 % is 2.6 to 19.9 %. By hand with z = 1.96, z²/n = 0.0960:
    /// middle (0.075 + 0.0480) / 1.0960 = 0.1122, half 0.0864.
    #[test]
    fn three_of_forty() {
        let day = NaiveDate::from_ymd_opt(2026, 3, 1).unwrap();
        let jobs = (0..3).map(|_| JobId::make()).collect();
        let told = summed((day, day), (60, 50, 40), jobs);
        assert_eq!((told.share, told.too_few), (Some(0.075), false));
        assert!((told.low.unwrap() - 0.026).abs() < 5e-4);
        assert!((told.high.unwrap() - 0.199).abs() < 5e-4);
        let none = summed((day, day), (3, 1, 0), Vec::new());
        assert_eq!((none.share, none.low, none.too_few), (None, None, true));
    }
}
