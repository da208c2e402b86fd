//! What an order's jobs wait for: what an adviser has to chase.

use crate::db::{Answer, Conn};
use crate::jobs::model::Job;
use crate::jobs::view::Words;
use crate::jobs::waits;
use crate::web::words;

/// A wait that runs, as told.
#[derive(Debug, Clone)]
pub struct ToldWaiting {
    pub job_id: String,
    pub job_no: i32,
    pub waits_for: String,
    pub since: String,
    pub lasts: String,
    pub expected: Option<String>,
    /// The day on which it was to end is over.
    pub overdue: bool,
    pub note: Option<String>,
}

/// The waits that run on jobs.
///
/// # Errors
/// Where the database does not answer.
pub fn of_jobs(conn: &mut Conn, words: &Words, jobs: &[Job]) -> Answer<Vec<ToldWaiting>> {
    let today = words.shop.zone().day(words.now);
    let mut told = Vec::new();
    for job in jobs.iter().filter(|job| job.waiting_for.is_some()) {
        for wait in waits::of_job(conn, words.shop.id, &job.id)? {
            if wait.to_at.is_some() {
                continue;
            }
            told.push(ToldWaiting {
                job_id: job.id.to_string(),
                job_no: job.job_no,
                waits_for: words::label_of(&words::waits(), &wait.waiting_for),
                since: words.moment(wait.from_at),
                lasts: words::duration(words.now.minutes_since(wait.from_at).max(0)),
                expected: wait.expected_on.map(|day| words.day(day)),
                overdue: wait.expected_on.is_some_and(|day| day < today),
                note: wait.note,
            });
        }
    }
    Ok(told)
}
