//! The shops of a group side by side, and all of them together: ratios of the
//! shops' own sums, each shop cut at its own as-of.

use serde::Serialize;

use super::by::By;
use super::estimate::PeriodSums;
use super::report::{
    ComebackCost, DEFINITIONS, Hours, LaborLine, Selectors, comeback_cost, line, of_all,
};
use super::sums::HoursSums;
use super::tally::LaborTally;
use crate::comeback::{self, ComebackTally, share_at};
use crate::figure::{Head, Query, Share};
use crate::follow::{Period, curve_share, followed_moments, head};
use crate::history::History;
use crate::stats::survival::{Curve, Moment};

/// One shop among the others.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShopLabor {
    /// Code, as-of, window and currency of the shop.
    pub head: Head,
    pub name: String,
    pub labor: LaborLine,
    pub comebacks: ComebackCost,
    /// Repaired complaints that came back by the window.
    pub share: Share,
}

/// All shops together. What cannot be added up is absent.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroupTotal {
    pub labor: LaborLine,
    pub comebacks: ComebackCost,
    /// Absent where the shops' windows differ.
    pub share: Option<Share>,
    /// Absent where the shops' currencies differ; then all amounts are, too.
    pub currency: Option<String>,
}

/// The shops in the order they were given, and all of them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroupLabor {
    pub shops: Vec<ShopLabor>,
    pub total: GroupTotal,
}

/// What one shop gives to the sums.
struct Counted {
    shop: ShopLabor,
    sums: PeriodSums,
    hours: HoursSums,
    moments: Vec<Moment>,
}

/// Labor of several shops, each under its own query.
#[must_use]
pub fn labor_of_group(parts: &[(&History, Query)]) -> GroupLabor {
    let counted: Vec<Counted> =
        parts.iter().map(|(history, query)| count(history, query)).collect();
    let total = together(&counted);
    GroupLabor { shops: counted.into_iter().map(|counted| counted.shop).collect(), total }
}

fn count(history: &History, query: &Query) -> Counted {
    let facts = history.facts();
    let period = Period::new(query, facts);
    let tally = LaborTally::of(history, By::Technician);
    let sums = PeriodSums::new(&tally.total, &period);
    let hours = Hours::of(&tally, &period, facts.week_start).all;
    let comebacks = ComebackTally::of(history, None);
    let selector = period.selector(&[("kind", "complaint"), ("outcome", "repaired")]);
    Counted {
        shop: ShopLabor {
            head: head("labor", facts, history.change_no(), query, &definitions()),
            name: facts.name.clone(),
            labor: line(None, &sums, Some(hours), of_all(&period)),
            comebacks: comeback_cost(&tally, facts, &period),
            share: share_at(comebacks.all(), &period, "comeback", &selector),
        },
        sums,
        hours,
        moments: followed_moments(comebacks.all().first_returns(), &period).collect(),
    }
}

/// What the figures mean, labor's and the share's.
fn definitions() -> Vec<(&'static str, &'static str)> {
    let share = comeback::DEFINITIONS.iter().filter(|(key, _)| *key == "comeback");
    DEFINITIONS.iter().chain(share).copied().collect()
}

fn together(shops: &[Counted]) -> GroupTotal {
    let (mut sums, mut hours) = (PeriodSums::default(), HoursSums::default());
    for shop in shops {
        sums += shop.sums;
        hours += shop.hours;
    }
    let currency =
        common(shops.iter().map(|one| one.shop.head.currency.as_str())).map(str::to_owned);
    let window = common(shops.iter().map(|one| one.shop.head.window_days));
    let mut labor = line(None, &sums, Some(hours), Selectors::none());
    if currency.is_none() {
        labor.withhold_money();
    }
    let moments = shops.iter().flat_map(|one| one.moments.iter().copied());
    GroupTotal {
        labor,
        comebacks: cost(shops, currency.is_some()),
        share: window
            .map(|window| curve_share(&Curve::new(moments), window, "comeback", String::new())),
        currency,
    }
}

/// The value that all have.
fn common<T: PartialEq>(mut values: impl Iterator<Item = T>) -> Option<T> {
    let first = values.next()?;
    values.all(|value| value == first).then_some(first)
}

/// The shops' costs added up; amounts only where they are of one currency.
fn cost(shops: &[Counted], one_currency: bool) -> ComebackCost {
    let costs = || shops.iter().map(|one| &one.shop.comebacks);
    let amount = |pick: fn(&ComebackCost) -> Option<i64>| {
        one_currency.then(|| costs().filter_map(pick).fold(0_i64, i64::saturating_add))
    };
    let minutes: i64 = shops.iter().map(|one| one.sums.comeback.efficiency.denominator).sum();
    ComebackCost {
        count: costs().map(|cost| cost.count).sum(),
        clock_hours: minutes as f64 / 60.0,
        labor_minor: amount(|cost| cost.labor_minor),
        parts_minor: amount(|cost| cost.parts_minor),
        sublet_minor: amount(|cost| cost.sublet_minor),
        extra_minor: amount(|cost| cost.extra_minor),
        paid_back_minor: amount(|cost| cost.paid_back_minor),
        total_minor: amount(|cost| cost.total_minor),
        definition: "comeback_cost",
    }
}
