//! The five standing figures of one or several shops.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Serialize;

use super::estimate::{Times, minutes, share};
use super::pool::{self, Pool, PooledOrders, Stands};
use super::tally::{Cases, Rows};
use crate::figure::Share;
use crate::follow::{date_of, day_number};
use crate::history::History;
use crate::labor::{Ratio, efficiency_of};
use crate::path::MinuteFigures;
use crate::reuse::Choice;
use crate::stats::ratio::RatioSums;
use crate::stats::survival::Curve;
use crate::words::PartRole;

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "population",
        "Comebacks: complaint jobs that ended as repaired, closed since links are recorded, repairs of \
         comebacks included. Parts: uses on jobs that were neither declined nor not reproduced, closed since \
         then. Orders of checks: all complaints with a symptom whose checks were recorded as they were done. \
         Efficiency: all jobs with time on the clock.",
    ),
    (
        "comeback",
        "Share of the jobs that came back by so many days: 1 - Kaplan-Meier, from the hand-over to the \
         opening of the first confirmed comeback's order, or to the day somebody told that the repair had \
         not held, whichever is first; jobs without either are followed to the as-of. Greenwood's standard \
         error, log-log interval. Absent while no job has been followed so long. By technician, a comeback \
         counts to whoever answers for the first job of its chain.",
    ),
    (
        "part_return",
        "Of the uses of a part, the share whose part came back by so many days, in the same way.",
    ),
    (
        "minutes",
        "Hands-on minutes of a job's checks; where none has minutes, its labor on diagnosis. Median and \
         quartiles (Hyndman and Fan's type 7).",
    ),
    (
        "efficiency",
        "Flat-rate hours over clock hours, sum over sum. A comeback's clock hours count, its flat-rate hours \
         are not credited. A job's flat-rate hours go to its technicians by clock share. Absent where no \
         flat-rate hours were credited at all. Interval: linearized standard error.",
    ),
];

/// A shop, and the end of the day at which its record is cut.
#[derive(Debug, Clone, Copy)]
pub struct ShopOfStanding<'a> {
    pub history: &'a History,
    pub as_of: NaiveDate,
}

/// A shop that the figures speak of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ShopSeen {
    pub shop: String,
    pub as_of: NaiveDate,
    /// The shop's last change that the figures have seen.
    pub change_no: i64,
    pub jobs: i64,
}

/// What stands over the figures.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StandingHead {
    /// The report's name, as on the command line.
    pub report: &'static str,
    pub shops: Vec<ShopSeen>,
    /// What each figure means, by key.
    pub definitions: BTreeMap<&'static str, &'static str>,
}

/// The repaired complaints closed in one week.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CohortLine {
    pub week_from: NaiveDate,
    pub share_30: Share,
}

/// Shares by so many days.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shares {
    pub share_30: Share,
    pub share_90: Share,
    pub share_365: Share,
}

/// The repaired complaints of one group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShareLine<'a> {
    /// Absent for jobs without a value in the column.
    pub group: Option<&'a str>,
    #[serde(flatten)]
    pub shares: Shares,
}

/// The uses of one part in one role with one choice.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartShares<'a> {
    /// Part number, else name.
    pub part: &'a str,
    pub disposition: Choice,
    /// Absent where it was not recorded.
    pub role: Option<PartRole>,
    #[serde(flatten)]
    pub shares: Shares,
}

/// The complaints of one symptom that were diagnosed in one order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OrderLine<'a> {
    pub symptom: &'a str,
    /// In order; empty where none of the recorded ones was done.
    pub checks: Vec<&'a str>,
    pub count: i64,
    pub minutes: MinuteFigures,
}

/// One group's hours.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EfficiencyLine<'a> {
    /// Absent for jobs without a value in the column.
    pub group: Option<&'a str>,
    /// Hundredths of an hour, credited.
    pub flat_rate_hundredths: i64,
    pub clock_minutes: i64,
    pub efficiency: Ratio,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StandingReport<'a> {
    pub head: StandingHead,
    /// By closing week.
    pub cohorts: Vec<CohortLine>,
    /// Comebacks by symptom, the most jobs first.
    pub symptoms: Vec<ShareLine<'a>>,
    /// Comebacks by who answers for them, by name.
    pub technicians: Vec<ShareLine<'a>>,
    /// The most uses first.
    pub parts: Vec<PartShares<'a>>,
    /// The most frequent first.
    pub orders: Vec<OrderLine<'a>>,
    /// By name.
    pub efficiency_by_technician: Vec<EfficiencyLine<'a>>,
    /// The most jobs first.
    pub efficiency_by_symptom: Vec<EfficiencyLine<'a>>,
}

/// Shops ready to be counted.
#[derive(Debug, Clone)]
pub struct Standing<'a> {
    shops: Vec<Rows<'a>>,
    as_of: Vec<i32>,
}

impl<'a> Standing<'a> {
    /// Each shop is cut at its own as-of.
    #[must_use]
    pub fn of(shops: &[ShopOfStanding<'a>]) -> Self {
        Self {
            shops: shops.iter().map(|shop| Rows::of(shop.history, shop.as_of)).collect(),
            as_of: shops.iter().map(|shop| day_number(shop.as_of)).collect(),
        }
    }

    /// Comebacks within thirty days, by closing week.
    #[must_use]
    pub fn cohorts(&self) -> Vec<CohortLine> {
        let (weeks, cases): (Vec<_>, Vec<_>) = self.shops.iter().map(Rows::by_week).unzip();
        let lines = self.curves(pool::weeks(&weeks), &cases, |week, curve| CohortLine {
            week_from: date_of(week),
            share_30: share(curve, 30, "comeback"),
        });
        lines.collect()
    }

    /// Comebacks by symptom, the most jobs first.
    #[must_use]
    pub fn symptoms(&self) -> Vec<ShareLine<'a>> {
        let mut lines = self.comebacks(pool::symptoms(&self.shops), Rows::by_symptom);
        lines.sort_by_key(|line| Reverse(line.shares.share_30.count));
        lines
    }

    /// Comebacks by who answers for them, by name.
    #[must_use]
    pub fn technicians(&self) -> Vec<ShareLine<'a>> {
        self.comebacks(pool::people(&self.shops), Rows::by_technician)
    }

    fn comebacks(
        &self,
        pool: Pool<Option<&'a str>>,
        cases: impl Fn(&Rows<'a>) -> Cases,
    ) -> Vec<ShareLine<'a>> {
        let cases: Vec<Cases> = self.shops.iter().map(cases).collect();
        let line =
            |group, curve: &Curve| ShareLine { group, shares: Shares::of(curve, "comeback") };
        self.curves(pool, &cases, line).collect()
    }

    /// Part returns by part, disposition and role, the most uses first.
    #[must_use]
    pub fn parts(&self) -> Vec<PartShares<'a>> {
        let cases: Vec<Cases> = self.shops.iter().map(Rows::by_cell).collect();
        let line = |(part, role, disposition), curve: &Curve| PartShares {
            part,
            disposition,
            role,
            shares: Shares::of(curve, "part_return"),
        };
        let mut lines: Vec<_> = self.curves(pool::cells(&self.shops), &cases, line).collect();
        lines.sort_by_key(|line| Reverse(line.shares.share_30.count));
        lines
    }

    /// A line a group, but for those without any case.
    fn curves<K, L>(
        &self,
        pool: Pool<K>,
        cases: &[Cases],
        line: impl Fn(K, &Curve) -> L,
    ) -> impl Iterator<Item = L> {
        let mut times = Times::new();
        pool.into_iter().filter_map(move |(key, stands)| {
            for (shop, place) in stands {
                if let (Some(cases), Some(as_of)) = (cases.get(shop), self.as_of.get(shop)) {
                    times.take(cases.days.get(place), cases.returns.get(place), *as_of);
                }
            }
            let curve = times.curve();
            (curve.units() > 0).then(|| line(key, &curve))
        })
    }

    /// Orders of checks by symptom, the most frequent first.
    #[must_use]
    pub fn orders(&self) -> Vec<OrderLine<'a>> {
        let orders: Vec<_> = self.shops.iter().map(Rows::by_order).collect();
        let (mut values, mut counts) = (Vec::new(), Vec::new());
        let pool = PooledOrders::of(&self.shops);
        let mut lines: Vec<OrderLine<'a>> = pool
            .iter()
            .filter_map(|(symptom, checks, stands)| {
                values.clear();
                let mut count = 0;
                for (shop, place) in stands {
                    let Some(orders) = orders.get(*shop) else { continue };
                    count += orders.jobs.get(*place as usize).copied().unwrap_or(0);
                    values.extend_from_slice(orders.minutes.get(*place));
                }
                (count > 0).then(|| {
                    let minutes = minutes(&mut values, &mut counts);
                    OrderLine { symptom, checks, count, minutes }
                })
            })
            .collect();
        lines.sort_by_key(|line| Reverse(line.count));
        lines
    }

    /// Flat-rate over clock hours by technician, by name.
    #[must_use]
    pub fn efficiency_by_technician(&self) -> Vec<EfficiencyLine<'a>> {
        let sums: Vec<_> = self.shops.iter().map(Rows::efficiency_by_technician).collect();
        efficiencies(pool::people(&self.shops), &sums)
    }

    /// The same by symptom, the most jobs first.
    #[must_use]
    pub fn efficiency_by_symptom(&self) -> Vec<EfficiencyLine<'a>> {
        let sums: Vec<_> = self.shops.iter().map(Rows::efficiency_by_symptom).collect();
        let mut lines = efficiencies(pool::symptoms(&self.shops), &sums);
        lines.sort_by_key(|line| Reverse(line.efficiency.count));
        lines
    }

    fn head(&self) -> StandingHead {
        let shops = self.shops.iter().zip(&self.as_of).map(|(rows, as_of)| ShopSeen {
            shop: rows.history.facts().code.clone(),
            as_of: date_of(*as_of),
            change_no: rows.history.change_no(),
            jobs: rows.jobs(),
        });
        StandingHead {
            report: "standing",
            shops: shops.collect(),
            definitions: DEFINITIONS.iter().copied().collect(),
        }
    }
}

/// All figures, counted on two threads.
#[must_use]
pub fn standing<'a>(shops: &[ShopOfStanding<'a>]) -> StandingReport<'a> {
    let standing = Standing::of(shops);
    let ((parts, orders), report) = std::thread::scope(|scope| {
        let beside = scope.spawn(|| (standing.parts(), standing.orders()));
        let report = StandingReport {
            head: standing.head(),
            cohorts: standing.cohorts(),
            symptoms: standing.symptoms(),
            technicians: standing.technicians(),
            parts: Vec::new(),
            orders: Vec::new(),
            efficiency_by_technician: standing.efficiency_by_technician(),
            efficiency_by_symptom: standing.efficiency_by_symptom(),
        };
        let beside = beside.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        (beside, report)
    });
    StandingReport { parts, orders, ..report }
}

impl Shares {
    fn of(curve: &Curve, definition: &'static str) -> Self {
        Self {
            share_30: share(curve, 30, definition),
            share_90: share(curve, 90, definition),
            share_365: share(curve, 365, definition),
        }
    }
}

/// A line a group, but for those without any clocked job.
fn efficiencies<'a>(
    pool: Pool<Option<&'a str>>,
    sums: &[Vec<RatioSums>],
) -> Vec<EfficiencyLine<'a>> {
    let of = |stands: &Stands| {
        let mut sum = RatioSums::default();
        for (shop, place) in stands {
            let more = sums.get(*shop).and_then(|sums| sums.get(*place as usize));
            more.into_iter().for_each(|more| sum += *more);
        }
        sum
    };
    let lines = pool.into_iter().map(|(group, stands)| (group, of(&stands)));
    lines
        .filter(|(_, sums)| sums.cases > 0)
        .map(|(group, sums)| EfficiencyLine {
            group,
            flat_rate_hundredths: sums.numerator,
            clock_minutes: sums.denominator,
            efficiency: efficiency_of(&sums, String::new()),
        })
        .collect()
}
