//! One record of each history file, parsed. The demo generator makes the same
//! records that the importer reads, so demo data takes the road of real data.

use analytics::words::{
    Activity, Disposition, Finding, JobKind, Outcome, PartRole, Payer, Serviceable, WorkedAs,
};
use chrono::{DateTime, Utc};

/// A line of `orders.csv`: one visit of a vehicle.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderRecord {
    pub order_no: String,
    /// The shop's code.
    pub shop: String,
    pub vin: Option<String>,
    pub make: Option<String>,
    pub model: Option<String>,
    pub model_year: Option<i32>,
    pub engine: Option<String>,
    pub odometer_in: Option<i64>,
    pub odometer_out: Option<i64>,
    /// `km` or `[mi_i]` (UCUM); absent: km.
    pub odometer_unit: Option<String>,
    pub opened_at: DateTime<Utc>,
    /// The hand-over; absent while the order is open.
    pub closed_at: Option<DateTime<Utc>>,
}

/// A line of `jobs.csv`: one complaint (or maintenance, preparation, recall
/// item) on an order.
#[derive(Debug, Clone, PartialEq)]
pub struct JobRecord {
    pub order_no: String,
    pub job_no: i32,
    pub kind: Option<JobKind>,
    pub symptom: Option<String>,
    pub complaint: Option<String>,
    pub outcome: Option<Outcome>,
    pub cause: Option<String>,
    pub cause_position: Option<String>,
    pub correction: Option<String>,
    /// Name of the technician who led the job.
    pub technician: Option<String>,
    pub operation: Option<String>,
    /// Hundredths of an hour.
    pub flat_rate_hundredths: Option<i64>,
    pub billed_hundredths: Option<i64>,
    /// Minor units of the shop's currency.
    pub labor_amount_minor: Option<i64>,
    pub payer: Option<Payer>,
    pub returned_from_order: Option<String>,
    pub returned_from_job: Option<i32>,
    pub comeback_reason: Option<String>,
}

/// A line of `checks.csv`: one diagnostic step.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckRecord {
    pub order_no: String,
    pub job_no: i32,
    pub seq: i32,
    pub check: String,
    pub position: Option<String>,
    pub finding: Option<Finding>,
    /// Hands-on minutes.
    pub minutes: Option<i32>,
    pub reading: Option<f64>,
    /// UCUM code.
    pub unit: Option<String>,
}

/// A line of `parts.csv`: one part touched on a job.
#[derive(Debug, Clone, PartialEq)]
pub struct PartRecord {
    pub order_no: String,
    pub job_no: i32,
    /// Absent: its place among the job's parts in the file.
    pub line: Option<i32>,
    pub part_no: Option<String>,
    pub name: String,
    pub position: Option<String>,
    /// Hundredths of a piece or unit; absent: one.
    pub quantity_hundredths: Option<i64>,
    pub disposition: Disposition,
    pub role: Option<PartRole>,
    pub serviceable: Option<Serviceable>,
    pub supplier: Option<String>,
    pub lot: Option<String>,
    pub unit_cost_minor: Option<i64>,
    pub unit_price_minor: Option<i64>,
    pub bench_reading: Option<f64>,
    pub bench_unit: Option<String>,
}

/// A line of `labor.csv`: a technician's time on a job.
#[derive(Debug, Clone, PartialEq)]
pub struct LaborRecord {
    pub order_no: String,
    pub job_no: i32,
    pub technician: String,
    pub activity: Option<Activity>,
    pub started_at: DateTime<Utc>,
    pub ended_at: DateTime<Utc>,
    /// Absent: lead.
    pub worked_as: Option<WorkedAs>,
}

/// An order with all that was done on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    pub order: OrderRecord,
    pub jobs: Vec<JobRecord>,
    pub checks: Vec<CheckRecord>,
    pub parts: Vec<PartRecord>,
    pub labor: Vec<LaborRecord>,
}
