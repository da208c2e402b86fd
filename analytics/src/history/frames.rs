//! The frames' columns: polars arrays of one chunk each, so that a tally reads
//! a column as a plain slice while polars groups and joins the same memory.

use polars::prelude::*;

use super::build::child_picks;
use super::{
    Checks, HistoryError, Holds, Jobs, Labor, Operations, Parts, Readings, Returns, RuleAnswers,
};

/// The polars type that holds a column of this native type.
pub(super) trait Native: Copy {
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

/// Where a row of a new frame comes from: a row kept, or a row brought.
#[derive(Debug, Clone, Copy)]
pub(super) enum Pick {
    Kept(u32),
    Brought(u32),
}

fn gather<T: Copy>(picks: &[Pick], kept: &[T], brought: &[T]) -> Vec<T> {
    picks
        .iter()
        .filter_map(|pick| match *pick {
            Pick::Kept(row) => kept.get(row as usize).copied(),
            Pick::Brought(row) => brought.get(row as usize).copied(),
        })
        .collect()
}

/// One chunk and no gaps by construction, so the slice always exists.
fn slice<T: PolarsNumericType>(column: &ChunkedArray<T>) -> &[T::Native] {
    column.cont_slice().unwrap_or_default()
}

/// What frames that are merged need besides; the returns frame is small, and
/// made anew each time.
macro_rules! merged {
    ($columns:ident, $view:ident { $($column:ident),+ } merged) => {
        impl $columns {
            pub fn view(&self) -> $view<'_> {
                $view { $($column: &self.$column),+ }
            }

            /// The picked rows, in the order of the picks.
            pub fn gathered(picks: &[Pick], kept: $view<'_>, brought: $view<'_>) -> Self {
                Self { $($column: gather(picks, kept.$column, brought.$column)),+ }
            }
        }
    };
    ($columns:ident, $view:ident { $($column:ident),+ }) => {};
}

macro_rules! frame {
    ($frame:ident, $columns:ident, $view:ident { $($column:ident: $native:ty),+ $(,)? } $($merged:ident)?) => {
        /// Columns while they are put together, all of one length.
        #[derive(Debug, Clone, Default)]
        pub(super) struct $columns { $(pub $column: Vec<$native>),+ }

        impl $columns {
            pub fn finish(self) -> Result<$frame, HistoryError> {
                $(let $column = ChunkedArray::<<$native as Native>::Polars>::from_vec(
                    stringify!($column).into(), self.$column,
                );)+
                let frame = DataFrame::new_infer_height(vec![
                    $($column.clone().into_series().into_column()),+
                ]).map_err(|error| HistoryError::Frame(error.to_string()))?;
                Ok($frame { frame, $($column),+ })
            }
        }

        /// The frame and its columns: two handles on the same memory.
        #[derive(Debug, Clone)]
        pub(super) struct $frame {
            pub frame: DataFrame,
            $($column: ChunkedArray<<$native as Native>::Polars>),+
        }

        merged!($columns, $view { $($column),+ } $($merged)?);

        impl $frame {
            pub fn view(&self) -> $view<'_> {
                $view { $($column: slice(&self.$column)),+ }
            }
        }
    };
}

frame!(JobsFrame, JobsColumns, Jobs {
    vehicle: u32, model: u32, engine: u32, model_year: i64, kind: u8, outcome: u8, symptom: u32, system: u32,
    cause: u32, cause_state: u8, cause_curable: u8, technician: u32, lead: u32,
    opened_day: i32, opened_minute: i32, closed_day: i32,
    odometer_in_km: i64, odometer_in_series: u32, odometer_out_km: i64, odometer_out_series: u32,
    odometer_in_miles: u8,
    failed_proofs: u32, sublet_cost_minor: i64, second_visit_day: i32,
    told: u8, told_day: i32, told_reason: u32,
} merged);
frame!(ChecksFrame, ChecksColumns, Checks {
    job: u32, seq: i32, check: u32, finding: u8, minutes: i64, at_close: u8,
    reading: f64, unit: u32,
} merged);
frame!(PartsFrame, PartsColumns, Parts {
    job: u32, part: u32, name: u32, position: u32, disposition: u8, role: u8,
    supplier: u32, lot: u32, quantity_hundredths: i64, unit_cost_minor: i64, bench_reading: f64,
    bench_unit: u32, returned_day: i32, possibly_returned_day: i32,
} merged);
frame!(LaborFrame, LaborColumns, Labor {
    job: u32, technician: u32, activity: u8, worked_as: u8, started_day: i32, minutes: i64,
} merged);
frame!(OperationsFrame, OperationsColumns, Operations {
    job: u32, code: u32, flat_rate_hundredths: i64, billed_hundredths: i64,
    labor_amount_minor: i64, payer: u8,
} merged);
frame!(
    ReturnsFrame,
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

/// A frame whose rows belong to jobs and follow them to their new rows.
macro_rules! child {
    ($frame:ident, $columns:ident) => {
        impl $frame {
            pub fn merged(&self, moved: &[u32], brought: &$columns) -> Result<Self, HistoryError> {
                let (picks, job) = child_picks(moved, self.view().job, &brought.job)?;
                let rest = $columns::gathered(&picks, self.view(), brought.view());
                $columns { job, ..rest }.finish()
            }
        }
    };
}

child!(ChecksFrame, ChecksColumns);
child!(PartsFrame, PartsColumns);
child!(LaborFrame, LaborColumns);
child!(OperationsFrame, OperationsColumns);

/// Columns of jobs' rows that nobody groups by: no frame is made of them.
macro_rules! plain {
    ($columns:ident, $view:ident { $($column:ident: $native:ty),+ $(,)? }) => {
        /// Columns, all of one length.
        #[derive(Debug, Clone, Default)]
        pub(super) struct $columns { $(pub $column: Vec<$native>),+ }

        merged!($columns, $view { $($column),+ } merged);

        impl $columns {
            pub fn merged(&self, moved: &[u32], brought: &Self) -> Result<Self, HistoryError> {
                let (picks, job) = child_picks(moved, &self.job, &brought.job)?;
                let rest = Self::gathered(&picks, self.view(), brought.view());
                Ok(Self { job, ..rest })
            }
        }
    };
}

plain!(HoldsColumns, Holds { job: u32, day: i32 });
plain!(ReadingsColumns, Readings { job: u32, line: u32, place: u32, reading: f64, unit: u32 });
plain!(RuleAnswersColumns, RuleAnswers { job: u32, rule: u32, kept: u8, reasoned: u8 });
