//! Whether a job may be closed, and with what.

use analytics::words::{CauseState, JobKind, Outcome};
use serde::Deserialize;

use super::checks::NewCheck;
use super::parts::NewPartUse;
use crate::domain::refusal::FieldFault;

/// What the technician says at close.
#[derive(Debug, Clone, Deserialize, utoipa::ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Closing {
    pub outcome: Outcome,
    /// A code of the shop's symptom list; absent: what stands on the job.
    pub symptom: Option<String>,
    /// A code of the shop's cause list; absent: what stands on the job.
    pub cause: Option<String>,
    /// Absent: confirmed where `cause_how` says how, else suspected.
    pub cause_state: Option<CauseState>,
    /// How the cause was confirmed.
    pub cause_how: Option<String>,
    pub cause_position: Option<String>,
    /// What was done.
    pub correction: Option<String>,
    /// Checks typed in together with the close, in their order; each is marked
    /// so (`typed_at_close`).
    #[serde(default)]
    #[schema(required = false)]
    pub checks: Vec<NewCheck>,
    /// Part uses written together with the close.
    #[serde(default)]
    #[schema(required = false)]
    pub parts: Vec<NewPartUse>,
}

/// The job as it stands before closing.
#[derive(Debug, Clone, Copy)]
pub struct Standing<'a> {
    pub kind: JobKind,
    pub symptom: Option<&'a str>,
    pub cause: Option<&'a str>,
    pub cause_state: Option<CauseState>,
    pub cause_how: Option<&'a str>,
    pub correction: Option<&'a str>,
    /// Labor entries that still run.
    pub running_labor: usize,
    /// Whether the latest proof passed, where there is one.
    pub last_proof_passed: Option<bool>,
    /// What was sent to other businesses.
    pub sublets: usize,
    /// Whether somebody leads it.
    pub led: bool,
}

impl Closing {
    /// An outcome and nothing else.
    #[must_use]
    pub const fn bare(outcome: Outcome) -> Self {
        Self {
            outcome,
            symptom: None,
            cause: None,
            cause_state: None,
            cause_how: None,
            cause_position: None,
            correction: None,
            checks: Vec::new(),
            parts: Vec::new(),
        }
    }
}

/// What the closed job carries.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Concluded {
    pub symptom: Option<String>,
    pub cause: Option<String>,
    pub cause_state: Option<CauseState>,
    pub cause_how: Option<String>,
    pub correction: Option<String>,
}

/// Decides. A complaint job owes its symptom, since without one nothing can come
/// back as the same complaint; it owes a cause or the outcome that explains its
/// absence; a confirmed cause owes how it was confirmed; a repaired job owes
/// what was done, who led it, and its last proof, where there is one, has
/// passed; one that was sublet owes the sublet.
///
/// # Errors
/// What is missing, field by field.
pub fn decide(standing: Standing<'_>, closing: &Closing) -> Result<Concluded, Vec<FieldFault>> {
    let filled = |text: Option<&str>| text.filter(|t| !t.trim().is_empty()).map(str::to_owned);
    let symptom = filled(closing.symptom.as_deref()).or(filled(standing.symptom));
    let cause = filled(closing.cause.as_deref()).or(filled(standing.cause));
    let how = filled(closing.cause_how.as_deref()).or(filled(standing.cause_how));
    let correction = filled(closing.correction.as_deref()).or(filled(standing.correction));
    let stated = closing.cause_state.or(standing.cause_state);
    let state = cause.as_ref().map(|_| match (stated, &how) {
        (Some(state), _) => state,
        (None, Some(_)) => CauseState::Confirmed,
        (None, None) => CauseState::Suspected,
    });
    let mut faults = Vec::new();
    let mut owe = |field: &str, detail: &str| {
        faults.push(FieldFault::new(field, "required", detail));
    };
    let repaired = closing.outcome == Outcome::Repaired;
    if standing.kind == JobKind::Complaint && symptom.is_none() {
        owe("symptom", "choose the symptom that comes nearest to the customer's words");
    }
    if standing.kind == JobKind::Complaint && repaired && cause.is_none() {
        owe("cause", "name the cause, or choose the outcome that explains why there is none");
    }
    if state == Some(CauseState::Confirmed) && how.is_none() {
        owe("cause_how", "say how the cause was confirmed, or call it suspected");
    }
    if standing.kind == JobKind::Complaint && repaired && correction.is_none() {
        owe("correction", "say what was done");
    }
    if standing.kind == JobKind::Complaint && repaired && !standing.led {
        owe("lead_id", "say who led the job");
    }
    if standing.running_labor > 0 {
        owe("labor", "labor still runs on this job: stop it first");
    }
    if repaired && standing.last_proof_passed == Some(false) {
        owe("proofs", "the last proof failed: repair it and prove it again");
    }
    if closing.outcome == Outcome::Sublet && standing.sublets == 0 {
        owe("sublets", "add what was sent out, and to which business");
    }
    if faults.is_empty() {
        Ok(Concluded { symptom, cause, cause_state: state, cause_how: how, correction })
    } else {
        Err(faults)
    }
}

#[cfg(test)]
#[expect(clippy::unwrap_used, reason = "tests")]
mod tests {
    use super::*;

    const BARE: Standing<'_> = Standing {
        kind: JobKind::Complaint,
        symptom: Some("engine.tick"),
        cause: None,
        cause_state: None,
        cause_how: None,
        correction: None,
        running_labor: 0,
        last_proof_passed: None,
        sublets: 0,
        led: true,
    };

    fn closing(outcome: Outcome) -> Closing {
        Closing::bare(outcome)
    }

    fn missing(standing: Standing<'_>, closing: &Closing) -> Vec<String> {
        decide(standing, closing).unwrap_err().into_iter().map(|f| f.pointer).collect()
    }

    #[test]
    fn a_repaired_complaint_owes_cause_and_correction() {
        assert_eq!(missing(BARE, &closing(Outcome::Repaired)), ["/cause", "/correction"]);
    }

    #[test]
    fn somebody_led_a_repaired_complaint() {
        let standing = Standing {
            cause: Some("lifter-worn"),
            correction: Some("replaced"),
            led: false,
            ..BARE
        };
        assert_eq!(missing(standing, &closing(Outcome::Repaired)), ["/lead_id"]);
        assert!(decide(standing, &closing(Outcome::Declined)).is_ok());
        let oil = Standing { kind: JobKind::Maintenance, ..standing };
        assert!(decide(oil, &closing(Outcome::Repaired)).is_ok());
    }

    #[test]
    fn a_complaint_owes_its_symptom_whatever_the_outcome() {
        let standing = Standing { symptom: None, ..BARE };
        assert_eq!(missing(standing, &closing(Outcome::Declined)), ["/symptom"]);
        let said = Closing { symptom: Some("engine.tick".into()), ..closing(Outcome::Declined) };
        assert_eq!(decide(standing, &said).unwrap().symptom.as_deref(), Some("engine.tick"));
    }

    #[test]
    fn an_outcome_explains_the_missing_cause() {
        assert!(decide(BARE, &closing(Outcome::NotReproduced)).is_ok());
        assert!(decide(BARE, &closing(Outcome::Declined)).is_ok());
    }

    #[test]
    fn an_oil_change_owes_no_cause() {
        let standing = Standing { kind: JobKind::Maintenance, ..BARE };
        assert!(decide(standing, &closing(Outcome::Repaired)).is_ok());
    }

    #[test]
    fn sublet_work_says_where_it_went() {
        assert_eq!(missing(BARE, &closing(Outcome::Sublet)), ["/sublets"]);
        let standing = Standing { sublets: 1, ..BARE };
        assert!(decide(standing, &closing(Outcome::Sublet)).is_ok());
    }

    #[test]
    fn saying_how_confirms_the_cause() {
        let said = Closing {
            cause: Some("lifter-worn".into()),
            cause_how: Some("leak-down 8 s".into()),
            correction: Some("replaced".into()),
            ..closing(Outcome::Repaired)
        };
        assert_eq!(decide(BARE, &said).unwrap().cause_state, Some(CauseState::Confirmed));
    }

    #[test]
    fn running_labor_and_a_failed_proof_stand_in_the_way() {
        let standing = Standing {
            cause: Some("lifter-worn"),
            correction: Some("replaced"),
            running_labor: 1,
            last_proof_passed: Some(false),
            ..BARE
        };
        assert_eq!(missing(standing, &closing(Outcome::Repaired)), ["/labor", "/proofs"]);
    }
}
