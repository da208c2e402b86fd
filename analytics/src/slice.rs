//! Any count and any closed-window share of repaired complaints by any columns,
//! by polars. The standard reports take the quicker road over slices; both
//! come to the same counts.

use polars::prelude::*;
use serde::Serialize;

use crate::comeback::{answering, in_population, week_start_of};
use crate::figure::{Head, Query, Share};
use crate::follow::{Cases, Period, counted_share, date_of, day_number, head};
use crate::history::{History, NO_WORD};
use crate::words::{
    Activity, CauseState, Curable, Disposition, Finding, LinkState, PartRole, Payer, WorkedAs,
};

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "count",
        "Repaired complaints closed in the period. A job that has several values in a \
      column (its parts, its checks) is counted once under each.",
    ),
    (
        "comeback_closed",
        "Of the jobs whose window has ended by the as-of, returned or not, the \
      share that came back inside it. Wilson's interval.",
    ),
];

/// Jobs with one value in each column.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SliceLine {
    /// One for each column asked for; absent where it has no value.
    pub values: Vec<Option<String>>,
    pub count: i64,
    pub closed_window: Share,
}

/// The report, largest groups first.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SliceReport {
    pub head: Head,
    pub columns: Vec<&'static str>,
    pub lines: Vec<SliceLine>,
}

/// Why there is no slice.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SliceError {
    /// The word is no column.
    UnknownColumn(String),
    /// polars refused.
    Frame(String),
}

impl std::fmt::Display for SliceError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::UnknownColumn(word) => write!(f, "jobs have no column '{word}'"),
            Self::Frame(message) => write!(f, "the frames could not be grouped: {message}"),
        }
    }
}

impl std::error::Error for SliceError {}

impl From<PolarsError> for SliceError {
    fn from(error: PolarsError) -> Self {
        Self::Frame(error.to_string())
    }
}

/// Where a column stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Frame {
    Jobs,
    Checks,
    Parts,
    Labor,
    Operations,
}

/// What a column's numbers stand for.
#[derive(Clone, Copy)]
enum Holds {
    Text,
    Day,
    Word(fn(u8) -> Option<&'static str>),
}

struct Column {
    /// The word in a query, and the column's name in the slice.
    name: &'static str,
    frame: Frame,
    /// The name in its frame.
    source: &'static str,
    holds: Holds,
}

macro_rules! columns {
    ($($name:literal = $frame:ident . $source:literal: $holds:expr),+ $(,)?) => {
        &[$(Column { name: $name, frame: Frame::$frame, source: $source, holds: $holds }),+]
    };
}

const WEEK: &str = "week";
const ANSWERS: &str = "answers";

/// Every column that jobs can be sliced by.
const COLUMNS: &[Column] = columns![
    "symptom" = Jobs."symptom": Holds::Text,
    "system" = Jobs."system": Holds::Text,
    "cause" = Jobs."cause": Holds::Text,
    "cause_state" = Jobs."cause_state": Holds::Word(|c| CauseState::from_code(c).map(CauseState::as_str)),
    "curable" = Jobs."cause_curable": Holds::Word(|c| Curable::from_code(c).map(Curable::as_str)),
    "technician" = Jobs."technician": Holds::Text,
    "answers" = Jobs."answers": Holds::Text,
    "vehicle" = Jobs."vehicle": Holds::Text,
    "model" = Jobs."model": Holds::Text,
    "engine" = Jobs."engine": Holds::Text,
    "week" = Jobs."week": Holds::Day,
    "check" = Checks."check": Holds::Text,
    "finding" = Checks."finding": Holds::Word(|c| Finding::from_code(c).map(Finding::as_str)),
    "part" = Parts."part": Holds::Text,
    "position" = Parts."position": Holds::Text,
    "disposition" = Parts."disposition": Holds::Word(|c| Disposition::from_code(c).map(Disposition::as_str)),
    "role" = Parts."role": Holds::Word(|c| PartRole::from_code(c).map(PartRole::as_str)),
    "supplier" = Parts."supplier": Holds::Text,
    "lot" = Parts."lot": Holds::Text,
    "worked" = Labor."technician": Holds::Text,
    "activity" = Labor."activity": Holds::Word(|c| Activity::from_code(c).map(Activity::as_str)),
    "worked_as" = Labor."worked_as": Holds::Word(|c| WorkedAs::from_code(c).map(WorkedAs::as_str)),
    "operation" = Operations."code": Holds::Text,
    "payer" = Operations."payer": Holds::Word(|c| Payer::from_code(c).map(Payer::as_str)),
];

/// Every word a slice can be asked by.
#[must_use]
pub fn column_names() -> Vec<&'static str> {
    COLUMNS.iter().map(|column| column.name).collect()
}

/// Repaired complaints by the query's columns, words joined by commas. Columns
/// of the same rows (a part's role and supplier) are taken from one and the
/// same row.
///
/// # Errors
/// A word that is no column; what polars refuses.
pub fn slice(history: &History, query: &Query) -> Result<SliceReport, SliceError> {
    let words = query.by.as_deref().unwrap_or_default();
    let columns = words
        .split(',')
        .filter(|word| !word.is_empty())
        .map(|word| {
            let found = COLUMNS.iter().find(|column| column.name == word);
            found.ok_or_else(|| SliceError::UnknownColumn(word.to_owned()))
        })
        .collect::<Result<Vec<&Column>, _>>()?;
    let period = Period::new(query, history.facts());
    let grouped = grouped(history, &columns, &period)?;
    let mut lines = lines(history, &columns, &grouped, &period)?;
    lines.sort_by(|a, b| b.count.cmp(&a.count).then_with(|| a.values.cmp(&b.values)));
    Ok(SliceReport {
        head: head("slice", history.facts(), history.change_no(), query, DEFINITIONS),
        columns: columns.iter().map(|column| column.name).collect(),
        lines,
    })
}

/// Jobs of the population that the period holds, with their row, week, who
/// answers for their chain, and the days to the first return, seen or told (null where there is none).
fn population(history: &History, period: &Period) -> Result<LazyFrame, SliceError> {
    let closed = history.jobs().closed_day;
    let first = history.facts().week_start;
    let rows =
        UInt32Chunked::from_vec("row".into(), (0_u32..).zip(closed).map(|(row, _)| row).collect());
    let weeks: Vec<i32> = closed.iter().map(|day| week_start_of(*day, first)).collect();
    let weeks = Int32Chunked::from_vec(WEEK.into(), weeks);
    let answers = UInt32Chunked::from_slice(ANSWERS.into(), answering(history));
    let held: BooleanChunked = in_population(history)
        .iter()
        .zip(closed)
        .map(|(inside, day)| Some(*inside && period.holds(*day)))
        .collect();
    let own = COLUMNS.iter().filter(|column| column.frame == Frame::Jobs);
    let names: Vec<&str> =
        own.map(|column| column.source).chain(["closed_day", "told_day"]).collect();
    let mut jobs = history.jobs().frame(&names)?;
    jobs.with_column(rows.into_series().into_column())?;
    jobs.with_column(weeks.into_series().into_column())?;
    jobs.with_column(answers.into_series().into_column())?;
    let jobs = jobs.filter(&held)?.lazy();
    let returns = history
        .returns()
        .frame(&["earlier", "later_opened_day", "state"])?
        .lazy()
        .filter(col("state").eq(lit(LinkState::Confirmed.code())))
        .inner_join(jobs.clone(), col("earlier"), col("row"))
        // Before the hand-over it would be rework, not a return.
        .filter(col("later_opened_day").gt_eq(col("closed_day")))
        .group_by([col("earlier")])
        .agg([(col("later_opened_day") - col("closed_day")).min().alias("elapsed")]);
    let told = col("told_day") - col("closed_day");
    let known = col("told_day").neq(lit(i32::MAX)).and(told.clone().gt_eq(lit(0)));
    let sooner = col("elapsed").is_null().or(told.clone().lt(col("elapsed")));
    Ok(jobs
        .left_join(returns, col("row"), col("earlier"))
        .with_column(when(known.and(sooner)).then(told).otherwise(col("elapsed")).alias("elapsed")))
}

/// Count, ended windows and returns inside them, by the columns.
fn grouped(
    history: &History,
    columns: &[&Column],
    period: &Period,
) -> Result<DataFrame, SliceError> {
    let mut frame = population(history, period)?.select(
        [col("row"), col("closed_day"), col("elapsed")]
            .into_iter()
            .chain(own(columns, Frame::Jobs))
            .collect::<Vec<_>>(),
    );
    for from in [Frame::Checks, Frame::Parts, Frame::Labor, Frame::Operations] {
        let wanted: Vec<Expr> = own(columns, from).collect();
        if wanted.is_empty() {
            continue;
        }
        let mut rows = children(history, from, columns)?.lazy();
        let named = |name| columns.iter().any(|column| column.name == name);
        if from == Frame::Checks && !named("finding") {
            // A check that was skipped is only counted under its finding.
            rows = rows.filter(col("finding").neq(lit(Finding::NotDone.code())));
        }
        let values = rows
            .select([col("job")].into_iter().chain(wanted).collect::<Vec<_>>())
            .unique(None, UniqueKeepStrategy::Any);
        frame = frame.inner_join(values, col("row"), col("job"));
    }
    let ended = col("closed_day").lt_eq(lit(period.as_of - period.window));
    let back = col("elapsed").lt_eq(lit(period.window)).fill_null(lit(false));
    let sums = [
        len().cast(DataType::Int64).alias("jobs"),
        ended.clone().cast(DataType::Int64).sum().alias("ended"),
        ended.and(back).cast(DataType::Int64).sum().alias("returns"),
    ];
    let keys: Vec<Expr> = columns.iter().map(|column| col(column.name)).collect();
    let summed = if keys.is_empty() { frame.select(sums) } else { frame.group_by(keys).agg(sums) };
    Ok(summed.collect()?)
}

/// The rows of checks, parts, labor or operations, with what is asked of them.
fn children(history: &History, from: Frame, columns: &[&Column]) -> PolarsResult<DataFrame> {
    let asked = columns.iter().filter(|column| column.frame == from);
    let names: Vec<&str> = asked.map(|column| column.source).chain(["job", "finding"]).collect();
    match from {
        Frame::Jobs => history.jobs().frame(&names),
        Frame::Checks => history.checks().frame(&names),
        Frame::Parts => history.parts().frame(&names),
        Frame::Labor => history.labor().frame(&names),
        Frame::Operations => history.operations().frame(&names),
    }
}

/// The columns asked for that stand in a frame, under their own names.
fn own<'a>(columns: &'a [&'a Column], frame: Frame) -> impl Iterator<Item = Expr> + 'a {
    columns
        .iter()
        .filter(move |column| column.frame == frame)
        .map(|column| col(column.source).alias(column.name))
}

fn lines(
    history: &History,
    columns: &[&Column],
    grouped: &DataFrame,
    period: &Period,
) -> Result<Vec<SliceLine>, SliceError> {
    let numbers = |name: &str| -> Result<Vec<i64>, SliceError> {
        let column = grouped.column(name)?.cast(&DataType::Int64)?;
        Ok(column.i64()?.iter().flatten().collect())
    };
    let values = columns
        .iter()
        .map(|column| {
            let codes = numbers(column.name)?;
            Ok(codes.into_iter().map(|code| column.value(history, code)).collect())
        })
        .collect::<Result<Vec<Vec<Option<String>>>, SliceError>>()?;
    let sums = numbers("jobs")?.into_iter().zip(numbers("ended")?).zip(numbers("returns")?);
    let lines = sums.enumerate().map(|(at, ((count, ended), returns))| {
        let values: Vec<Option<String>> =
            values.iter().map(|column| column.get(at).cloned().flatten()).collect();
        let cases = Cases { cases: ended, returns };
        let jobs = selector(columns, &values, period);
        SliceLine { closed_window: counted_share(cases, "comeback_closed", jobs), count, values }
    });
    Ok(lines.collect())
}

impl Column {
    fn value(&self, history: &History, code: i64) -> Option<String> {
        match self.holds {
            Holds::Text => history.text(u32::try_from(code).ok()?).map(str::to_owned),
            Holds::Day => i32::try_from(code).ok().map(|day| date_of(day).to_string()),
            Holds::Word(word) => {
                let code = u8::try_from(code).ok().filter(|code| *code != NO_WORD)?;
                word(code).map(str::to_owned)
            }
        }
    }
}

fn selector(columns: &[&Column], values: &[Option<String>], period: &Period) -> String {
    let mut period = *period;
    let mut pairs = vec![("kind", "complaint"), ("outcome", "repaired")];
    for (column, value) in columns.iter().zip(values) {
        let value = value.as_deref().unwrap_or_default();
        match (column.name, value.parse()) {
            (WEEK, Ok(first)) => {
                let first = day_number(first);
                period = period.within(first, first + 6);
            }
            _ => pairs.push((column.name, value)),
        }
    }
    period.selector(&pairs)
}
