//! Whether a stretch of work can have been so.

use crate::domain::clock::UtcStamp;
use crate::domain::refusal::FieldFault;

/// Nobody works longer at a stretch, and nobody remembers longer: past these a
/// time was typed wrong.
const LONGEST_HOURS: i64 = 24;
const OLDEST_DAYS: i64 = 31;
/// Corrections have papers to go by.
const OLDEST_CORRECTED_DAYS: i64 = 400;
/// How long a technician may change the own time.
pub const OWN_DAYS: i64 = 7;

/// A stretch, seen from now.
#[derive(Debug, Clone, Copy)]
pub struct Stretch {
    pub from: UtcStamp,
    /// Absent: it runs.
    pub to: Option<UtcStamp>,
    pub now: UtcStamp,
    /// The start is typed in or moved.
    pub from_typed: bool,
    /// On a job that has ended.
    pub correction: bool,
}

/// Decides.
///
/// # Errors
/// The field that cannot be.
pub fn decide(stretch: Stretch) -> Result<(), FieldFault> {
    let Stretch { from, to, now, from_typed, correction } = stretch;
    if from > now {
        return Err(FieldFault::new("started_at", "range", "work cannot start in the future"));
    }
    if to.is_some_and(|to| to <= from || to > now) {
        return Err(FieldFault::new(
            "ended_at",
            "range",
            "the end must be after the start and not in the future",
        ));
    }
    if to.is_none() && correction {
        return Err(FieldFault::new(
            "ended_at",
            "required",
            "the job has ended: say when this work ended, too",
        ));
    }
    let days = if correction { OLDEST_CORRECTED_DAYS } else { OLDEST_DAYS };
    let too_old = from_typed && now.utc() - from.utc() > chrono::Duration::days(days);
    let too_long =
        to.is_some_and(|to| to.utc() - from.utc() > chrono::Duration::hours(LONGEST_HOURS));
    if too_old || too_long {
        return Err(FieldFault::new(
            "started_at",
            "range",
            format!("record at most {LONGEST_HOURS} hours at once, at most {days} days back"),
        ));
    }
    Ok(())
}

/// Whether a technician may still change the own stretch.
#[must_use]
pub fn is_recent(from: UtcStamp, now: UtcStamp) -> bool {
    now.utc() - from.utc() <= chrono::Duration::days(OWN_DAYS)
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    fn at(hours: i64) -> UtcStamp {
        let start = chrono::DateTime::from_timestamp(1_790_000_000, 0).unwrap();
        UtcStamp::new(start + chrono::Duration::hours(hours))
    }

    fn stretch(from: i64, to: Option<i64>) -> Stretch {
        Stretch { from: at(from), to: to.map(at), now: at(0), from_typed: true, correction: false }
    }

    fn pointer(stretch: Stretch) -> String {
        decide(stretch).unwrap_err().pointer
    }

    #[test]
    fn time_runs_forward_and_not_past_now() {
        assert!(decide(stretch(-2, Some(-1))).is_ok());
        assert!(decide(stretch(-2, None)).is_ok());
        assert_eq!(pointer(stretch(1, None)), "/started_at");
        assert_eq!(pointer(stretch(-2, Some(-2))), "/ended_at");
        assert_eq!(pointer(stretch(-2, Some(1))), "/ended_at");
    }

    #[test]
    fn a_day_at_most_and_a_month_back() {
        assert!(decide(stretch(-24, Some(0))).is_ok());
        assert_eq!(pointer(stretch(-25, Some(0))), "/started_at");
        let old = stretch(-32 * 24, Some(-32 * 24 + 1));
        assert_eq!(pointer(old), "/started_at");
        assert!(decide(Stretch { correction: true, ..old }).is_ok());
        assert!(decide(Stretch { from_typed: false, ..old }).is_ok());
        let older = stretch(-401 * 24, Some(-401 * 24 + 1));
        assert_eq!(pointer(Stretch { correction: true, ..older }), "/started_at");
    }

    #[test]
    fn nothing_runs_on_a_job_that_has_ended() {
        let running = Stretch { correction: true, ..stretch(-1, None) };
        assert_eq!(pointer(running), "/ended_at");
    }

    #[test]
    fn own_time_stays_open_for_a_week() {
        assert!(is_recent(at(-7 * 24), at(0)));
        assert!(!is_recent(at(-7 * 24 - 1), at(0)));
    }
}
