//! What a proposal of the record was made from, frozen when it was made.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

/// A check as the record has it for the plan's jobs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PlanCheckEvidence {
    pub check: String,
    /// Times it was done.
    pub done: i64,
    /// Confirmed causes it found.
    pub found: i64,
    /// Chance that it finds the cause, between 0 and 1. Absent: made under ten times,
    /// so not judged: it keeps its place and counts for nothing in the minutes.
    pub chance: Option<f64>,
    pub minutes: Option<f64>,
    /// `plan`, `symptom` (measured on these jobs), `shop` (on others) or `list`.
    pub minutes_from: Option<String>,
    /// A step of the plan; false: a check that the record often has beside it.
    pub in_plan: bool,
}

/// The figures behind a proposed order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, utoipa::ToSchema)]
pub struct PlanEvidence {
    pub as_of: NaiveDate,
    pub change_no: i64,
    /// Complaint jobs that the plan is for.
    pub count: i64,
    /// Those with a confirmed cause: what the chances come from.
    pub confirmed: i64,
    /// Fewer than ten confirmed causes: no saving is claimed.
    pub too_few: bool,
    /// Of the confirmed causes, those that no recorded check found.
    pub found_otherwise: i64,
    /// Expected minutes to the cause in the order as it stood, and as proposed, over
    /// the checks that are judged.
    pub minutes_before: Option<f64>,
    pub minutes_after: Option<f64>,
    /// Minutes saved a job, and the interval at 95 %.
    pub saved: Option<f64>,
    pub saved_low: Option<f64>,
    pub saved_high: Option<f64>,
    /// `ratio_rule`, `every_order` or `greedy`.
    pub method: String,
    pub checks: Vec<PlanCheckEvidence>,
    /// The order with the checks beside the plan in their places.
    pub order_with_others: Vec<String>,
    /// What the numbers are and are not.
    pub definition: String,
    /// Selects the jobs with a confirmed cause.
    pub jobs: String,
}
