//! The columns as slices, for reading.

/// Code of a text that is absent in a dictionary column.
pub const NONE: u32 = u32::MAX;
/// Code of a fixed word that is absent in a `u8` column.
pub const NO_WORD: u8 = u8::MAX;
/// A number that is absent in an integer column.
pub const NO_NUMBER: i64 = i64::MIN;
/// A reading that is absent. It equals nothing, so ask [`f64::is_nan`].
pub const NO_READING: f64 = f64::NAN;

/// The jobs' columns. A job's row is its place in these slices. Days
/// count from 1970-01-01. Texts are places in the dictionary of the same name
/// ([`History::text`](super::History::text)); `NONE` where absent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Jobs<'a> {
    pub vehicle: &'a [u32],
    pub model: &'a [u32],
    pub engine: &'a [u32],
    /// `NO_NUMBER` where it is not known.
    pub model_year: &'a [i64],
    /// [`JobKind::code`](crate::words::JobKind::code).
    pub kind: &'a [u8],
    /// [`Outcome::code`](crate::words::Outcome::code).
    pub outcome: &'a [u8],
    pub symptom: &'a [u32],
    pub system: &'a [u32],
    pub cause: &'a [u32],
    pub cause_state: &'a [u8],
    pub cause_curable: &'a [u8],
    /// Who answers for the job: who led it, or the supervisor of a trainee who
    /// did.
    pub technician: &'a [u32],
    /// Who led the job.
    pub lead: &'a [u32],
    pub opened_day: &'a [i32],
    pub opened_minute: &'a [i32],
    pub closed_day: &'a [i32],
    /// Kilometers at the order's opening; `NO_NUMBER` where nobody read it.
    pub odometer_in_km: &'a [i64],
    /// Readings of one series go on from one another.
    pub odometer_in_series: &'a [u32],
    /// Kilometers at the hand-over; `NO_NUMBER` where nobody read it.
    pub odometer_out_km: &'a [i64],
    pub odometer_out_series: &'a [u32],
    /// 1 where the odometer counts miles.
    pub odometer_in_miles: &'a [u8],
    pub failed_proofs: &'a [u32],
    pub sublet_cost_minor: &'a [i64],
    /// Day of the planned second visit; `i32::MAX` where there was none.
    pub second_visit_day: &'a [i32],
    /// [`Told::code`](crate::words::Told::code) of a return that was told.
    pub told: &'a [u8],
    /// The day it was told; `i32::MAX` where nothing was.
    pub told_day: &'a [i32],
    pub told_reason: &'a [u32],
}

/// The days on which customers said that a repair holds, ordered by job row and day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Holds<'a> {
    /// Row of the job.
    pub job: &'a [u32],
    pub day: &'a [i32],
}

/// The checks' columns, ordered by job row and then by sequence.
#[derive(Debug, Clone, Copy)]
pub struct Checks<'a> {
    /// Row of the job.
    pub job: &'a [u32],
    pub seq: &'a [i32],
    pub check: &'a [u32],
    /// [`Finding::code`](crate::words::Finding::code).
    pub finding: &'a [u8],
    /// `NO_NUMBER` where not measured.
    pub minutes: &'a [i64],
    /// 1 where order and time were not measured.
    pub at_close: &'a [u8],
    /// Finite; [`NO_READING`] where none stands.
    pub reading: &'a [f64],
    /// `NONE` where there is no reading.
    pub unit: &'a [u32],
}

/// Readings taken before a vehicle left, ordered by job row.
#[derive(Debug, Clone, Copy)]
pub struct Readings<'a> {
    /// Row of the job.
    pub job: &'a [u32],
    /// Key of the list's line.
    pub line: &'a [u32],
    pub place: &'a [u32],
    /// Finite.
    pub reading: &'a [f64],
    pub unit: &'a [u32],
}

/// What was said of shop rules, ordered by job row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RuleAnswers<'a> {
    /// Row of the job.
    pub job: &'a [u32],
    /// Id of the rule.
    pub rule: &'a [u32],
    /// 1 where it was kept, 0 where it was not; `NO_WORD` where nobody said.
    pub kept: &'a [u8],
    /// 1 where a reason was given for not following it.
    pub reasoned: &'a [u8],
}

/// The parts' columns, ordered by job row.
#[derive(Debug, Clone, Copy)]
pub struct Parts<'a> {
    pub job: &'a [u32],
    /// Part number, else name: what counts as the same part.
    pub part: &'a [u32],
    pub name: &'a [u32],
    pub position: &'a [u32],
    pub disposition: &'a [u8],
    /// [`PartRole::code`](crate::words::PartRole::code); `NO_WORD` where unknown.
    pub role: &'a [u8],
    pub supplier: &'a [u32],
    pub lot: &'a [u32],
    pub quantity_hundredths: &'a [i64],
    /// Cost of one.
    pub unit_cost_minor: &'a [i64],
    /// Finite; [`NO_READING`] where none stands.
    pub bench_reading: &'a [f64],
    /// `NONE` where there is no reading.
    pub bench_unit: &'a [u32],
    /// Day of the first confirmed part return; `i32::MAX` where none.
    pub returned_day: &'a [i32],
    /// Day of the first part return confirmed or undecided; `i32::MAX` where none.
    pub possibly_returned_day: &'a [i32],
}

/// The labor entries' columns, ordered by job row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Labor<'a> {
    pub job: &'a [u32],
    pub technician: &'a [u32],
    pub activity: &'a [u8],
    pub worked_as: &'a [u8],
    pub started_day: &'a [i32],
    pub minutes: &'a [i64],
}

/// The operations' columns, ordered by job row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Operations<'a> {
    pub job: &'a [u32],
    pub code: &'a [u32],
    pub flat_rate_hundredths: &'a [i64],
    pub billed_hundredths: &'a [i64],
    pub labor_amount_minor: &'a [i64],
    pub payer: &'a [u8],
}

/// The returns' columns, ordered by earlier job row, then by day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Returns<'a> {
    /// Row of the earlier job.
    pub earlier: &'a [u32],
    /// Row of the later job where it is closed too; `NONE` while it is open.
    pub later: &'a [u32],
    pub later_opened_day: &'a [i32],
    /// Kilometers at the later order's opening; `NO_NUMBER` where nobody read it.
    pub later_odometer_km: &'a [i64],
    pub later_odometer_series: &'a [u32],
    /// [`LinkState::code`](crate::words::LinkState::code).
    pub state: &'a [u8],
    pub same_complaint: &'a [u8],
    pub reason: &'a [u32],
}
