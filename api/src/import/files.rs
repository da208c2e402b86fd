//! The history files by name, with their columns.

/// A column of a history file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    pub name: &'static str,
    /// The header must have it.
    pub required: bool,
}

const fn must(name: &'static str) -> Column {
    Column { name, required: true }
}

const fn may(name: &'static str) -> Column {
    Column { name, required: false }
}

/// One of the files that a history comes in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HistoryFile {
    Orders,
    Jobs,
    Operations,
    Checks,
    Parts,
    Labor,
}

impl HistoryFile {
    /// In the order they are read: each names rows of those before it.
    pub const ALL: &'static [Self] =
        &[Self::Orders, Self::Jobs, Self::Operations, Self::Checks, Self::Parts, Self::Labor];

    /// The file's name.
    #[must_use]
    pub const fn file_name(self) -> &'static str {
        match self {
            Self::Orders => "orders.csv",
            Self::Jobs => "jobs.csv",
            Self::Operations => "operations.csv",
            Self::Checks => "checks.csv",
            Self::Parts => "parts.csv",
            Self::Labor => "labor.csv",
        }
    }

    /// Without it there is nothing to bring in.
    #[must_use]
    pub const fn is_required(self) -> bool {
        matches!(self, Self::Orders | Self::Jobs)
    }

    /// Its columns, in the order they are written.
    #[must_use]
    pub const fn columns(self) -> &'static [Column] {
        match self {
            Self::Orders => ORDERS,
            Self::Jobs => JOBS,
            Self::Operations => OPERATIONS,
            Self::Checks => CHECKS,
            Self::Parts => PARTS,
            Self::Labor => LABOR,
        }
    }
}

const ORDERS: &[Column] = &[
    must("order_no"),
    must("shop"),
    may("vin"),
    may("make"),
    may("model"),
    may("model_year"),
    may("engine"),
    may("odometer_in"),
    may("odometer_out"),
    may("odometer_unit"),
    must("opened_at"),
    may("closed_at"),
];

const JOBS: &[Column] = &[
    must("order_no"),
    must("job_no"),
    may("kind"),
    must("symptom"),
    may("complaint"),
    may("outcome"),
    may("cause"),
    may("cause_state"),
    may("cause_position"),
    may("correction"),
    may("technician"),
    may("operation"),
    may("flat_rate_hours"),
    may("billed_hours"),
    may("labor_amount"),
    may("payer"),
    may("returned_from_order"),
    may("returned_from_job"),
    may("comeback_reason"),
];

const OPERATIONS: &[Column] = &[
    must("order_no"),
    must("job_no"),
    must("line"),
    must("operation"),
    may("flat_rate_hours"),
    may("billed_hours"),
    may("labor_amount"),
    may("payer"),
];

const CHECKS: &[Column] = &[
    must("order_no"),
    must("job_no"),
    must("seq"),
    must("check"),
    may("position"),
    may("finding"),
    may("minutes"),
    may("reading"),
    may("unit"),
    may("typed_at_close"),
];

const PARTS: &[Column] = &[
    must("order_no"),
    must("job_no"),
    may("line"),
    may("part_no"),
    must("name"),
    may("position"),
    may("quantity"),
    must("disposition"),
    may("role"),
    may("suspect"),
    may("serviceable"),
    may("supplier"),
    may("lot"),
    may("unit_cost"),
    may("unit_price"),
    may("bench_reading"),
    may("bench_unit"),
];

const LABOR: &[Column] = &[
    must("order_no"),
    must("job_no"),
    must("technician"),
    may("activity"),
    must("started_at"),
    must("ended_at"),
    may("as"),
];
