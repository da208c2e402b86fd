//! What cleaning, replacing and a return cost.

use serde::Serialize;

use crate::history::{PartPolicy, ShopFacts};

/// Minutes to clean and to fit new until the shop enters its own. Common
/// practice, no source.
const STARTING_CLEAN_MINUTES: f64 = 30.0;
const STARTING_FIT_MINUTES: f64 = 15.0;

/// Where a time or a price comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// Given with the question.
    Asked,
    /// The median of the shop's record.
    Record,
    /// What the shop entered for the part.
    Entered,
    /// The starting value for every part.
    Starting,
}

/// Minutes, where they come from, and over how many jobs.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Minutes {
    pub minutes: f64,
    pub source: Source,
    /// Jobs behind a median.
    pub jobs: Option<i64>,
}

/// Money in minor units, where it comes from, and over how many part uses.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Amount {
    pub minor: f64,
    pub source: Source,
    /// Part uses behind a median.
    pub uses: Option<i64>,
}

/// What the choice is between. Money in minor units of the shop's currency.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Costs {
    pub labor_cost_minor_per_hour: i64,
    /// Access and reassembly, paid whatever is chosen.
    pub access: Minutes,
    pub clean: Minutes,
    pub fit: Minutes,
    pub part: Amount,
    /// What a return costs besides labor and part.
    pub return_extra_minor: i64,
    /// (access + clean) x labor.
    pub clean_now_minor: f64,
    /// (access + fit) x labor + part.
    pub replace_now_minor: f64,
    /// (access + fit) x labor + part + the rest of a return.
    pub return_minor: f64,
}

/// Expected cost of either choice, in minor units.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Ledger {
    pub clean_minor: f64,
    pub replace_minor: f64,
    /// Probability that replacing costs less.
    pub probability_replace_cheaper: f64,
    /// Expected loss of choosing so and being wrong.
    pub loss_if_clean_minor: f64,
    pub loss_if_replace_minor: f64,
}

/// What is known of a part's times and price.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Known {
    pub access: Option<Minutes>,
    pub clean: Option<i64>,
    pub fit: Option<i64>,
    pub part: Option<Amount>,
}

impl Known {
    /// What was asked with stands before the record, and that before what the
    /// shop entered.
    pub fn or_entered(self, policy: Option<&PartPolicy>) -> Self {
        let policy = policy.cloned().unwrap_or_default();
        let entered =
            |minutes: i64| Minutes { minutes: minutes as f64, source: Source::Entered, jobs: None };
        Self {
            access: self.access.or(policy.access_minutes.map(entered)),
            clean: self.clean,
            fit: self.fit,
            part: self.part.or(policy.cost_minor.map(|minor| Amount {
                minor: minor as f64,
                source: Source::Entered,
                uses: None,
            })),
        }
    }

    /// The names of what is missing for the money question.
    pub fn missing(&self) -> Vec<&'static str> {
        [("access_minutes", self.access.is_none()), ("part_cost", self.part.is_none())]
            .into_iter()
            .filter_map(|(name, missing)| missing.then_some(name))
            .collect()
    }
}

/// Minutes asked with, else entered, else the starting value.
fn bench_minutes(asked: Option<i64>, entered: Option<i64>, starting: f64) -> Minutes {
    let (minutes, source) = match (asked, entered) {
        (Some(minutes), _) => (minutes as f64, Source::Asked),
        (None, Some(minutes)) => (minutes as f64, Source::Entered),
        (None, None) => (starting, Source::Starting),
    };
    Minutes { minutes, source, jobs: None }
}

impl Costs {
    /// `None` where access minutes or the price are not known, or where a
    /// return would cost nothing.
    pub(super) fn new(
        facts: &ShopFacts,
        known: &Known,
        policy: Option<&PartPolicy>,
    ) -> Option<Self> {
        let (access, part) = (known.access?, known.part?);
        let entered = policy.cloned().unwrap_or_default();
        let clean = bench_minutes(known.clean, entered.clean_minutes, STARTING_CLEAN_MINUTES);
        let fit = bench_minutes(known.fit, entered.fit_minutes, STARTING_FIT_MINUTES);
        let per_minute = facts.labor_cost_minor_per_hour as f64 / 60.0;
        let replace = (access.minutes + fit.minutes) * per_minute + part.minor;
        let costs = Self {
            labor_cost_minor_per_hour: facts.labor_cost_minor_per_hour,
            access,
            clean,
            fit,
            part,
            return_extra_minor: facts.return_extra_minor,
            clean_now_minor: (access.minutes + clean.minutes) * per_minute,
            replace_now_minor: replace,
            return_minor: replace + facts.return_extra_minor as f64,
        };
        (costs.return_minor > 0.0).then_some(costs)
    }

    /// How much more often a cleaned part must come back for replacing to be
    /// cheaper.
    pub(super) fn gap(&self) -> f64 {
        break_even_gap(self.clean_now_minor, self.replace_now_minor, self.return_minor)
    }

    /// The chance of failing before the next opening above which a cheap
    /// neighbor is replaced while it is open.
    pub(super) fn while_open(&self) -> Option<f64> {
        while_open_threshold(
            self.access.minutes,
            self.fit.minutes,
            self.part.minor,
            self.return_extra_minor as f64,
            self.labor_cost_minor_per_hour as f64 / 60.0,
        )
    }
}

/// (C_n - C_c) / C_b: the difference of return shares at which cleaning and
/// replacing cost the same. All three in one unit, the last above zero.
#[must_use]
pub fn break_even_gap(clean_now: f64, replace_now: f64, one_return: f64) -> f64 {
    (replace_now - clean_now) / one_return
}

/// (P + t w) / (A w + P + t w + G): the chance of failing before the next
/// planned opening above which a neighbor part is replaced now. Minutes, and
/// money in one unit; `None` where a later repair would cost nothing.
#[must_use]
pub fn while_open_threshold(
    access_minutes: f64,
    fit_minutes: f64,
    part: f64,
    return_extra: f64,
    labor_per_minute: f64,
) -> Option<f64> {
    let now = fit_minutes.mul_add(labor_per_minute, part);
    let later = access_minutes * labor_per_minute + now + return_extra;
    (later > 0.0).then(|| now / later)
}
