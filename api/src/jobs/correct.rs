//! Whether a job that has ended may be corrected to what is asked.

use analytics::words::Outcome;

use super::close::{Closing, Standing, decide as close};
use crate::domain::refusal::FieldFault;

/// A job that has ended, and how.
#[derive(Debug, Clone, Copy)]
pub struct Ended<'a> {
    pub standing: Standing<'a>,
    pub outcome: Outcome,
}

/// What such a job lacks.
fn faults(ended: &Ended<'_>) -> Vec<FieldFault> {
    close(ended.standing, &Closing::bare(ended.outcome)).err().unwrap_or_default()
}

/// Decides: afterwards the job must stand as if it were closed so. What it
/// lacked before, as jobs brought in from elsewhere do, stands in nobody's way
/// while the outcome stays.
///
/// # Errors
/// What is missing, field by field.
pub fn decide(before: &Ended<'_>, after: &Ended<'_>) -> Result<(), Vec<FieldFault>> {
    let lacked = if before.outcome == after.outcome { faults(before) } else { Vec::new() };
    let mut lacks = faults(after);
    lacks.retain(|fault| !lacked.contains(fault));
    if lacks.is_empty() { Ok(()) } else { Err(lacks) }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;
    use analytics::words::{CauseState, JobKind};

    const WHOLE: Standing<'_> = Standing {
        kind: JobKind::Complaint,
        symptom: Some("engine.tick"),
        cause: Some("lifter-worn"),
        cause_state: Some(CauseState::Confirmed),
        cause_how: Some("leak-down 8 s"),
        correction: Some("replaced"),
        running_labor: 0,
        last_proof_passed: None,
        sublets: 0,
        led: true,
    };

    fn pointers(before: (Standing<'_>, Outcome), after: (Standing<'_>, Outcome)) -> Vec<String> {
        let ended = |(standing, outcome)| Ended { standing, outcome };
        decide(&ended(before), &ended(after))
            .unwrap_err()
            .into_iter()
            .map(|fault| fault.pointer)
            .collect()
    }

    #[test]
    fn a_correction_takes_nothing_away_that_a_close_owes() {
        let without = Standing { cause: None, cause_state: None, ..WHOLE };
        let repaired = Outcome::Repaired;
        assert_eq!(pointers((WHOLE, repaired), (without, repaired)), ["/cause"]);
        assert!(
            decide(
                &Ended { standing: WHOLE, outcome: repaired },
                &Ended { standing: without, outcome: Outcome::NoFaultFound }
            )
            .is_ok()
        );
    }

    #[test]
    fn what_an_old_job_never_had_is_not_asked_for() {
        let bare = Standing { cause: None, cause_state: None, correction: None, ..WHOLE };
        let moved = Standing { symptom: Some("engine.knock"), ..bare };
        let ended = |standing, outcome| Ended { standing, outcome };
        assert!(decide(&ended(bare, Outcome::Repaired), &ended(moved, Outcome::Repaired)).is_ok());
        assert_eq!(
            pointers((bare, Outcome::Declined), (bare, Outcome::Repaired)),
            ["/cause", "/correction"]
        );
    }

    #[test]
    fn who_led_is_not_taken_away() {
        let nobody = Standing { led: false, ..WHOLE };
        let repaired = Outcome::Repaired;
        assert_eq!(pointers((WHOLE, repaired), (nobody, repaired)), ["/lead_id"]);
        assert!(
            decide(
                &Ended { standing: nobody, outcome: repaired },
                &Ended {
                    standing: Standing { symptom: Some("engine.knock"), ..nobody },
                    outcome: repaired
                }
            )
            .is_ok()
        );
    }

    #[test]
    fn an_outcome_of_sublet_owes_the_sublet() {
        assert_eq!(pointers((WHOLE, Outcome::Repaired), (WHOLE, Outcome::Sublet)), ["/sublets"]);
    }
}
