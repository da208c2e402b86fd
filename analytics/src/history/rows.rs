//! The rows a history is built from, as plain values.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;

use super::NO_NUMBER;
use crate::words::{
    Access, Activity, CauseState, Curable, Disposition, Finding, JobKind, LinkState, Outcome,
    PartRole, Payer, Told, WorkedAs,
};

/// A job's id (the 128 bits of its UUID).
pub type JobId = u128;
/// A part use's id.
pub type PartUseId = u128;

/// Where an odometer stood. Readings of one vehicle and one series go on from one
/// another, so that their difference is a distance; others cannot be compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Odometer {
    /// Counts the replacements after which the earlier readings do not go on.
    pub series: u32,
    /// Whole kilometers; a replacement whose readings are known is reckoned in.
    pub km: i64,
}

impl Odometer {
    /// The reading in a row of two columns; `None` where nobody read it.
    pub(crate) fn of_columns(series: &[u32], km: &[i64], at: usize) -> Option<Self> {
        let km = km.get(at).copied().filter(|km| *km != NO_NUMBER)?;
        Some(Self { series: series.get(at).copied()?, km })
    }

    /// Whole kilometers from an earlier reading to this one; `None` where they
    /// cannot be compared or this one lies below.
    #[must_use]
    pub fn since(self, earlier: Self) -> Option<i64> {
        let km = self.km.checked_sub(earlier.km).filter(|km| *km >= 0)?;
        (self.series == earlier.series).then_some(km)
    }
}

/// One job on a closed (handed-over) order that is not void.
#[derive(Debug, Clone, PartialEq)]
pub struct JobRow {
    pub id: JobId,
    pub order_no: String,
    pub job_no: i32,
    /// VIN, else plate, else the vehicle's id: one text per vehicle.
    pub vehicle: String,
    /// Make and model, as shown.
    pub model: Option<String>,
    pub engine: Option<String>,
    pub model_year: Option<i32>,
    pub kind: JobKind,
    pub outcome: Outcome,
    pub symptom: Option<String>,
    pub complaint: Option<String>,
    /// System of the symptom.
    pub system: Option<String>,
    pub cause: Option<String>,
    pub cause_state: Option<CauseState>,
    pub cause_curable: Option<Curable>,
    /// Name of the technician who led the job.
    pub technician: Option<String>,
    /// Name of who answers for a trainee that led it.
    pub supervisor: Option<String>,
    /// Shop-local day and minute of the order's opening.
    pub opened_on: NaiveDate,
    pub opened_minute: i32,
    /// Shop-local day of the hand-over.
    pub closed_on: NaiveDate,
    /// At the order's opening.
    pub odometer_in: Option<Odometer>,
    /// At the hand-over.
    pub odometer_out: Option<Odometer>,
    /// The odometer counts miles.
    pub odometer_in_miles: bool,
    /// Proofs that failed before the hand-over.
    pub failed_proofs: u32,
    /// What work sent to other businesses cost, in minor units.
    pub sublet_cost_minor: i64,
    /// A repair that did not hold, as told by the customer.
    pub told: Option<ToldReturn>,
    /// The days on which the customer said that the repair holds.
    pub holds_on: Vec<NaiveDate>,
}

/// A return that was told, not seen. A job has at most one.
#[derive(Debug, Clone, PartialEq)]
pub struct ToldReturn {
    pub told: Told,
    pub told_on: NaiveDate,
    pub reason: Option<String>,
}

/// One check of a job.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckRow {
    pub job: JobId,
    pub seq: i32,
    pub check: String,
    pub finding: Option<Finding>,
    /// Hands-on minutes; absent where not measured.
    pub minutes: Option<i32>,
    /// Typed in together at close: order and time not measured.
    pub at_close: bool,
    /// What was read, a finite number.
    pub reading: Option<f64>,
    /// Unit of the reading.
    pub unit: Option<String>,
}

/// A reading taken of the vehicle before it left, the last one of its line.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadingRow {
    pub job: JobId,
    /// Key of the list's line.
    pub line: String,
    /// Which of several: a cell, a wheel.
    pub place: Option<String>,
    /// A finite number, corrected where the line corrects.
    pub reading: f64,
    pub unit: Option<String>,
}

/// What was said of a shop rule on a job, where the record itself cannot tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RuleAnswerRow {
    pub job: JobId,
    /// Id of the rule.
    pub rule: String,
    /// Absent where only a reason was given.
    pub kept: Option<bool>,
    /// A reason was given for not following it.
    pub reasoned: bool,
}

/// One part touched on a job.
#[derive(Debug, Clone, PartialEq)]
pub struct PartRow {
    pub id: PartUseId,
    pub job: JobId,
    pub part_no: Option<String>,
    pub name: String,
    pub position: Option<String>,
    pub disposition: Disposition,
    pub role: Option<PartRole>,
    pub supplier: Option<String>,
    pub lot: Option<String>,
    /// Hundredths of one.
    pub quantity_hundredths: i64,
    /// Cost of one, in minor units.
    pub unit_cost_minor: Option<i64>,
    /// What the part read on the bench, a finite number.
    pub bench_reading: Option<f64>,
    /// Unit of the reading.
    pub bench_unit: Option<String>,
}

/// A finished labor entry.
#[derive(Debug, Clone, PartialEq)]
pub struct LaborRow {
    pub job: JobId,
    pub technician: String,
    pub activity: Option<Activity>,
    pub worked_as: WorkedAs,
    /// Shop-local day of the start.
    pub started_on: NaiveDate,
    pub minutes: i64,
}

/// Minutes that somebody was there for work on one day.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct AttendanceRow {
    pub technician: String,
    pub worked_on: NaiveDate,
    pub minutes: i64,
}

/// A charged operation.
#[derive(Debug, Clone, PartialEq)]
pub struct OperationRow {
    pub job: JobId,
    pub code: String,
    /// Hundredths of an hour.
    pub flat_rate_hundredths: Option<i64>,
    pub billed_hundredths: Option<i64>,
    pub labor_amount_minor: Option<i64>,
    pub payer: Option<Payer>,
}

/// A later job that came back for an earlier one, proposed or decided. The
/// later order may still be open.
#[derive(Debug, Clone, PartialEq)]
pub struct ReturnRow {
    pub id: u128,
    pub earlier: JobId,
    pub later: JobId,
    pub later_order_no: String,
    pub later_job_no: i32,
    /// Shop-local day of the later order's opening.
    pub later_opened_on: NaiveDate,
    /// At the later order's opening.
    pub later_odometer: Option<Odometer>,
    pub state: LinkState,
    pub same_complaint: bool,
    pub reason: Option<String>,
}

/// A later job that was planned when the earlier one ended. It is no return of
/// that one, whatever a link says.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedVisitRow {
    pub earlier: JobId,
    pub later: JobId,
    /// Shop-local day of the later order's opening.
    pub later_opened_on: NaiveDate,
}

/// What a supplier paid back for a job.
#[derive(Debug, Clone, PartialEq)]
pub struct PayBackRow {
    pub job: JobId,
    pub paid_on: NaiveDate,
    pub amount_minor: i64,
}

/// A part touched earlier that a later job holds for the suspect or the
/// confirmed cause.
#[derive(Debug, Clone, PartialEq)]
pub struct PartReturnRow {
    pub part_use: PartUseId,
    pub later: JobId,
    pub later_opened_on: NaiveDate,
    pub state: LinkState,
}

/// Everything a shop's reports are made from.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Rows {
    pub jobs: Vec<JobRow>,
    pub checks: Vec<CheckRow>,
    pub parts: Vec<PartRow>,
    pub labor: Vec<LaborRow>,
    pub operations: Vec<OperationRow>,
    pub readings: Vec<ReadingRow>,
    pub rule_answers: Vec<RuleAnswerRow>,
    pub returns: Vec<ReturnRow>,
    pub part_returns: Vec<PartReturnRow>,
    pub planned_visits: Vec<PlannedVisitRow>,
    pub pay_backs: Vec<PayBackRow>,
    /// All of the shop's; absent where it stands as it was.
    pub attendance: Option<Vec<AttendanceRow>>,
}

/// What the shop entered about a part, for the clean-or-replace advice.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PartPolicy {
    pub access_minutes: Option<i64>,
    pub clean_minutes: Option<i64>,
    pub fit_minutes: Option<i64>,
    pub cost_minor: Option<i64>,
}

/// The shop's settings that figures depend on.
#[derive(Debug, Clone, PartialEq)]
pub struct ShopFacts {
    pub code: String,
    pub name: String,
    pub currency: String,
    pub labor_cost_minor_per_hour: i64,
    pub posted_rate_minor_per_hour: i64,
    /// Comeback window.
    pub window_days: i32,
    /// 1 = Monday ... 7 = Sunday.
    pub week_start: u8,
    /// Share of returns above which the shop never puts a part back.
    pub ceiling: f64,
    /// What a return costs besides labor and part (`G`).
    pub return_extra_minor: i64,
    /// The part of it that a comeback's own hours already hold: diagnosis and
    /// proof again.
    pub return_clocked_minor: i64,
    /// Jobs closed before this day enter no share.
    pub links_from: Option<NaiveDate>,
    /// Starting assumptions, shares: cleaned suspect, cleaned bystander that
    /// passed its test, untested bystander, replaced.
    pub assumed_cleaned_suspect: f64,
    pub assumed_bystander_tested: f64,
    pub assumed_bystander_untested: f64,
    pub assumed_replaced: f64,
    /// By part number, else by name.
    pub part_policies: BTreeMap<String, PartPolicy>,
    /// Typical hands-on minutes by check, as the shop's list has them.
    pub check_minutes: BTreeMap<String, i64>,
    /// Checks that take no tools and only narrow the search: ask, read codes, look.
    pub free_looks: BTreeSet<String>,
    /// Checks that only trained people may do (high voltage): in no order.
    pub trained_checks: BTreeSet<String>,
    /// What must be open before a check, where that is known.
    pub check_access: BTreeMap<String, Access>,
    /// The shop's check plans in force.
    pub check_plans: Vec<PlanFacts>,
}

/// A check plan, as far as figures look at it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlanFacts {
    pub symptom: String,
    /// Only for this model, for this engine; absent: for all.
    pub model: Option<String>,
    pub engine: Option<String>,
    /// Its checks in order, each with whether it is mandatory.
    pub steps: Vec<(String, bool)>,
}
