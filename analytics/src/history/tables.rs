//! The columns: plain vectors, which tallies read as slices. A polars frame is made
//! of them where somebody groups freely.

use polars::prelude::*;

use super::splice::{Plan, Splice, fits};
use super::{
    Checks, HistoryError, Holds, Jobs, Labor, Operations, Parts, Readings, Returns, RuleAnswers,
};

/// The polars type that holds a column of this native type.
trait Native: Copy {
    type Polars: PolarsNumericType<Native = Self>;
}
impl Native for u8 {
    type Polars = UInt8Type;
}
impl Native for u32 {
    type Polars = UInt32Type;
}
impl Native for i32 {
    type Polars = Int32Type;
}
impl Native for i64 {
    type Polars = Int64Type;
}
impl Native for f64 {
    type Polars = Float64Type;
}

fn series<T: Native>(name: &str, values: &[T]) -> Column
where
    ChunkedArray<T::Polars>: IntoSeries,
{
    ChunkedArray::<T::Polars>::from_slice(name.into(), values).into_series().into_column()
}

macro_rules! table {
    ($columns:ident, $view:ident { $($column:ident: $native:ty),+ $(,)? }) => {
        /// Columns, all of one length.
        #[derive(Debug, Clone, Default)]
        pub(super) struct $columns { $(pub $column: Vec<$native>),+ }

        impl $columns {
            pub fn view(&self) -> $view<'_> {
                $view { $($column: &self.$column),+ }
            }

            /// Brings the rows into their new order.
            pub fn splice(&mut self, splice: &Splice, brought: &Self) {
                $(splice.column(&mut self.$column, &brought.$column);)+
            }
        }
    };
}

/// Columns that can be grouped by freely.
macro_rules! grouped {
    ($columns:ident, $view:ident { $($column:ident: $native:ty),+ $(,)? }) => {
        table!($columns, $view { $($column: $native),+ });

        impl $view<'_> {
            /// A frame of the columns of these names; what is no column is left out.
            pub(crate) fn frame(&self, names: &[&str]) -> PolarsResult<DataFrame> {
                let mut columns = Vec::with_capacity(names.len());
                $(if names.contains(&stringify!($column)) {
                    columns.push(series(stringify!($column), self.$column));
                })+
                DataFrame::new_infer_height(columns)
            }
        }
    };
}

grouped!(
    JobsColumns,
    Jobs {
        vehicle: u32,
        model: u32,
        engine: u32,
        model_year: i64,
        kind: u8,
        outcome: u8,
        symptom: u32,
        system: u32,
        cause: u32,
        cause_state: u8,
        cause_curable: u8,
        technician: u32,
        lead: u32,
        opened_day: i32,
        opened_minute: i32,
        closed_day: i32,
        odometer_in_km: i64,
        odometer_in_series: u32,
        odometer_out_km: i64,
        odometer_out_series: u32,
        odometer_in_miles: u8,
        failed_proofs: u32,
        sublet_cost_minor: i64,
        second_visit_day: i32,
        told: u8,
        told_day: i32,
        told_reason: u32,
    }
);
grouped!(
    ChecksColumns,
    Checks {
        job: u32,
        seq: i32,
        check: u32,
        finding: u8,
        minutes: i64,
        at_close: u8,
        reading: f64,
        unit: u32,
    }
);
grouped!(
    PartsColumns,
    Parts {
        job: u32,
        part: u32,
        name: u32,
        position: u32,
        disposition: u8,
        role: u8,
        supplier: u32,
        lot: u32,
        quantity_hundredths: i64,
        unit_cost_minor: i64,
        bench_reading: f64,
        bench_unit: u32,
        returned_day: i32,
        possibly_returned_day: i32,
    }
);
grouped!(
    LaborColumns,
    Labor {
        job: u32,
        technician: u32,
        activity: u8,
        worked_as: u8,
        started_day: i32,
        minutes: i64,
    }
);
grouped!(
    OperationsColumns,
    Operations {
        job: u32,
        code: u32,
        flat_rate_hundredths: i64,
        billed_hundredths: i64,
        labor_amount_minor: i64,
        payer: u8,
    }
);
grouped!(
    ReturnsColumns,
    Returns {
        earlier: u32,
        later: u32,
        later_opened_day: i32,
        later_odometer_km: i64,
        later_odometer_series: u32,
        state: u8,
        same_complaint: u8,
        reason: u32,
    }
);
table!(HoldsColumns, Holds { job: u32, day: i32 });
table!(ReadingsColumns, Readings { job: u32, line: u32, place: u32, reading: f64, unit: u32 });
table!(RuleAnswersColumns, RuleAnswers { job: u32, rule: u32, kept: u8, reasoned: u8 });

/// Columns whose rows belong to jobs and follow them to their new rows.
macro_rules! children {
    ($($columns:ident: $what:literal),+ $(,)?) => {$(
        impl $columns {
            /// Whether the rows can be numbered with those brought.
            ///
            /// # Errors
            /// They cannot.
            pub fn fits(&self, brought: &Self) -> Result<(), HistoryError> {
                fits($what, self.job.len(), brought.job.len())
            }

            pub fn follow(&mut self, plan: &Plan, brought: &Self) {
                let (splice, job) = plan.children(&self.job, &brought.job);
                self.splice(&splice, brought);
                self.job.truncate(splice.from());
                self.job.extend(job);
            }
        }
    )+};
}

children!(
    ChecksColumns: "checks",
    PartsColumns: "parts",
    LaborColumns: "labor entries",
    OperationsColumns: "operations",
    HoldsColumns: "calls",
    ReadingsColumns: "readings",
    RuleAnswersColumns: "answers",
);
