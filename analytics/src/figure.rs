//! What every figure carries: count, interval, definition, and the way to the
//! jobs behind it. As-of and change number stand once, at the report's head.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Serialize;

/// Groups with fewer cases than this say "too few" instead of a comparison.
pub const TOO_FEW: i64 = 10;

/// An interval with its level and the name of its method.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Interval {
    pub low: f64,
    pub high: f64,
    /// For example 0.95.
    pub level: f64,
    /// `log-log`, `wilson`, `exact-poisson`.
    pub method: &'static str,
}

/// A share of jobs (or part uses) with what it was made from.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Share {
    /// Jobs (or part uses) the share speaks of.
    pub count: i64,
    /// Returns among them that the estimate uses.
    pub returns: i64,
    /// Between 0 and 1; absent where nothing can be said.
    pub share: Option<f64>,
    /// Standard error of the share, where the method has one.
    pub standard_error: Option<f64>,
    pub interval: Option<Interval>,
    /// Fewer than ten cases: shown, but not to be compared.
    pub too_few: bool,
    /// Key of the head's `definitions`.
    pub definition: &'static str,
    /// Selects the jobs behind the figure: the query of the jobs list.
    pub jobs: String,
}

/// What a report is asked for. Days are shop-local and included.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Query {
    /// End of this day: today's record, cut here.
    pub as_of: NaiveDate,
    /// First closing day looked at; from the beginning where absent.
    pub from: Option<NaiveDate>,
    /// Last closing day looked at; the as-of where absent.
    pub to: Option<NaiveDate>,
    /// Comeback window in days; the shop's own where absent.
    pub window_days: Option<i32>,
    /// The column to group by; each report knows its own.
    pub by: Option<String>,
}

/// What stands over every report.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Head {
    /// The report's name, as on the command line.
    pub report: &'static str,
    /// The shop's code.
    pub shop: String,
    /// End of this shop-local day: today's record, cut here.
    pub as_of: NaiveDate,
    /// First and last closing day looked at, both included.
    pub from: Option<NaiveDate>,
    pub to: Option<NaiveDate>,
    /// The shop's last change that the report has seen.
    pub change_no: i64,
    /// Comeback window, in days.
    pub window_days: i32,
    /// ISO 4217 code of every amount in the report.
    pub currency: String,
    /// What each figure means, by key.
    pub definitions: BTreeMap<&'static str, &'static str>,
}
