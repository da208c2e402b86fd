//! The order of checks that the record advises for a symptom, beside the shop's
//! own and the best there could be.

mod first;
mod orders;

use serde::Serialize;

pub use first::{LeadingCheck, WhyFirst};

use self::first::{asked_once, leading};
use self::orders::{Orders, orders, saving};
use super::basis::{Basis, Candidate, MinutesFrom};
use super::estimate::Group;
use super::order::{Method, Plan};
use super::report::pairs;
use super::tally::{PathTally, SymptomTally};
use crate::figure::{Head, Interval, Query, Share, TOO_FEW};
use crate::follow::{Cases, Period, counted_share, head};
use crate::history::{History, ShopFacts};

/// What stands over any order.
const CAUTION: &str = "Put your safety checks and the maker's procedure first; this list does not do \
                       that for you. A check that only narrows the search gets no credit for \
                       finding the cause: one far down the list is not a check to leave out. One \
                       fault at a time is assumed. Do the check of the last cause left, too: a \
                       cause that nobody checked is what vehicles come back for.";

const DEFINITIONS: &[(&str, &str)] = &[
    (
        "found_by",
        "Of the symptom's complaint jobs with a confirmed cause, those whose cause this check \
         found: it was the last abnormal one in the measured order; among checks typed in at \
         close, the only abnormal one. A check that only narrows the search gets no credit. \
         Wilson's interval.",
    ),
    (
        "found_otherwise",
        "Of the same jobs, those whose cause no recorded check found, or several abnormal ones \
         typed in at close: the chance that all checks are done and none finds it. Wilson's \
         interval.",
    ),
    (
        "chance",
        "Chance that the check finds the cause: (causes it found + 1/2) / (confirmed causes + \
         1/2 for each check). Every check done for the symptom in the period is in it, and every \
         one that comes first.",
    ),
    (
        "check_minutes",
        "Median of the measured hands-on minutes on jobs of the symptom; where there are none, \
         on all complaint jobs; else the typical minutes of the shop's list. Less than half a \
         minute counts as half a minute. A check without known minutes is in no sum, nor is one \
         that only trained people may do (high voltage): it is in no order, either.",
    ),
    (
        "expected_minutes",
        "Sum of the checks' median minutes, each times the chance that none before it found the \
         cause. Minutes of opening up and closing again are not in them.",
    ),
    (
        "habit",
        "The shop's own order: by mean place among the jobs that did the check in a measured \
         order, equals by code; checks never done in one come last.",
    ),
    (
        "habit_first",
        "Of the jobs with checks in a measured order, those that began with the habit's first \
         check. Wilson's interval.",
    ),
    (
        "first",
        "The checks that come first, whatever they find: those asked for; where nothing was asked, \
         free looks (ask and reproduce, read codes, bulletins, look under the hood) done on at \
         least half of the symptom's jobs with checks in a measured order, as the shop is used to. \
         They are no safety checks and not the vehicle maker's procedure.",
    ),
    (
        "done_first",
        "Of the symptom's jobs with checks in a measured order, those that did this check in it. \
         Wilson's interval.",
    ),
    (
        "advised",
        "The order with the fewest expected minutes among those that begin with the checks that \
         come first, and in which what lies below a cover (access \"deep\") comes after the checks \
         that take the cover off. Best: the same without what comes first. By falling chance per \
         minute (ratio rule) where that rule holds, else by search.",
    ),
    (
        "saved_minutes",
        "Expected minutes of the habit, with the checks that come first moved up, less those of the \
         advised order, a job: what moving them up costs or saves is not in it. The interval holds \
         only the sampling of causes (Dirichlet, normal approximation), with the minutes taken as \
         known, and only if each check would show the same in any place. The order was chosen on \
         the same jobs, so that the next ones tend to save less. Not claimed under ten confirmed \
         causes, nor where all that the advised order does is to put off checks that found no \
         cause, nor where a check lies behind something that has to be opened: another order may \
         open more.",
    ),
];

/// How an order was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum OrderMethod {
    /// By falling chance per minute, which is the best order here.
    RatioRule,
    /// The best of every order.
    EveryOrder,
    /// A good order; the best may be as short as the bound.
    Greedy,
}

/// Why a check's minutes are in no sum.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum Uncounted {
    NoMinutesKnown,
    /// More checks than an order is made of; it is among those that found least.
    TooManyChecks,
    /// High voltage: it has its own procedure, and no place in a list.
    TrainedPeopleOnly,
}

/// One check of a symptom, and what its place is decided by.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OrderedCheck {
    pub check: String,
    /// Place in the advised order, from 1; absent where it is not in it.
    pub place: Option<i64>,
    /// Place in the habit, from 1; absent where no order was measured.
    pub habit_place: Option<i64>,
    /// Mean place among the jobs that did it in a measured order.
    pub mean_place: Option<f64>,
    /// It comes first, whatever it finds.
    pub first: bool,
    /// Times it was done on jobs of the symptom.
    pub done: i64,
    /// Of the confirmed causes, those it found.
    pub found: Share,
    /// Chance that it finds the cause, between 0 and 1.
    pub chance: f64,
    /// Hands-on minutes.
    pub minutes: Option<f64>,
    /// Measured times behind them.
    pub timed: i64,
    pub minutes_from: Option<MinutesFrom>,
    pub uncounted: Option<Uncounted>,
    /// Selects the jobs whose cause it found.
    pub jobs: String,
}

/// The order that the shop is used to.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HabitOrder {
    pub checks: Vec<String>,
    pub expected_minutes: Option<f64>,
    /// The same with the checks that come first moved to its beginning.
    pub expected_minutes_with_first: Option<f64>,
    /// Of the jobs with checks in a measured order, those that began with the
    /// habit's first.
    pub began: Share,
    /// Selects those that did.
    pub jobs: String,
}

/// An order that was worked out.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PlannedOrder {
    pub checks: Vec<String>,
    pub expected_minutes: Option<f64>,
    pub method: Option<OrderMethod>,
    /// Minutes that no order can be below, where the best was not searched.
    pub bound_minutes: Option<f64>,
}

/// Minutes a job that the advised order saves against the habit with the same
/// checks first.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CheckOrderSaving {
    pub minutes: f64,
    pub interval: Option<Interval>,
    pub definition: &'static str,
}

/// One symptom.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CheckOrderLine {
    pub symptom: String,
    /// Its complaint jobs of the period.
    pub count: i64,
    /// Those of them with a confirmed cause: what the chances come from.
    pub confirmed: i64,
    /// Fewer than ten confirmed causes: the order is shown, no saving claimed.
    pub too_few: bool,
    /// What comes first, in this order, and why.
    pub first: Vec<LeadingCheck>,
    /// In the advised order; those that are not in it last, by code.
    pub checks: Vec<OrderedCheck>,
    /// Of the confirmed causes, those that no recorded check found.
    pub found_otherwise: Share,
    /// Selects them.
    pub otherwise_jobs: String,
    /// Absent where no order was measured.
    pub habit: Option<HabitOrder>,
    pub advised: PlannedOrder,
    /// The best order if nothing had to come first.
    pub best: PlannedOrder,
    /// Absent, too, where the order only puts off checks that found no cause.
    pub saved: Option<CheckOrderSaving>,
    /// A check lies behind something that has to be opened: more than a cap or the
    /// lift. Minutes of opening are in no sum, and no saving is claimed.
    pub opening_not_counted: bool,
    /// The ratio rule's conditions hold: nothing to be opened, no order among the
    /// checks beyond those that come first, no cause taken for found unchecked.
    pub ratio_rule_holds: bool,
    /// Selects the jobs with a confirmed cause.
    pub jobs: String,
}

/// The report, symptoms with the most jobs first.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CheckOrderReport {
    pub head: Head,
    /// The checks asked to come first, in this order; absent where nothing was
    /// asked: then the symptom's free looks do.
    pub first: Option<Vec<String>>,
    /// What stands over any order.
    pub caution: &'static str,
    pub symptoms: Vec<CheckOrderLine>,
}

/// The advised orders of the query's closing days. `first` names the checks
/// that come first in this order, whatever they find; a code named twice counts
/// once. Without it the shop's free looks come first.
#[must_use]
pub fn check_orders(
    history: &History,
    query: &Query,
    first: Option<&[String]>,
) -> CheckOrderReport {
    let tally = PathTally::of(history);
    check_orders_from(&tally, history.facts(), history.change_no(), query, first)
}

/// The same from a tally already made.
#[must_use]
pub fn check_orders_from(
    tally: &PathTally,
    facts: &ShopFacts,
    change_no: i64,
    query: &Query,
    first: Option<&[String]>,
) -> CheckOrderReport {
    let period = Period::new(query, facts);
    let asked = first.map(|first| asked_once(first, facts));
    let mut symptoms: Vec<CheckOrderLine> = tally
        .symptoms
        .iter()
        .map(|(symptom, sums)| {
            let leading = leading((symptom, sums), facts, &period, asked.as_deref());
            let first: Vec<String> = leading.iter().map(|first| first.check.clone()).collect();
            let basis = Basis::of(tally, sums, facts, &period, &first);
            Symptom { symptom, sums, period: &period, orders: orders(&basis, &first), basis }
                .line(leading, &first)
        })
        .filter(|line| line.count > 0)
        .collect();
    symptoms.sort_by_key(|line| std::cmp::Reverse(line.count));
    CheckOrderReport {
        head: head("checks", facts, change_no, query, DEFINITIONS),
        first: asked,
        caution: CAUTION,
        symptoms,
    }
}

/// One symptom while its line is written.
struct Symptom<'a> {
    symptom: &'a str,
    sums: &'a SymptomTally,
    period: &'a Period,
    basis: Basis,
    orders: Orders,
}

impl Symptom<'_> {
    fn line(&self, leading: Vec<LeadingCheck>, first: &[String]) -> CheckOrderLine {
        let (basis, orders) = (&self.basis, &self.orders);
        let too_few = basis.confirmed < TOO_FEW;
        CheckOrderLine {
            symptom: self.symptom.to_owned(),
            count: Group::of(self.sums.all()).count(self.period),
            confirmed: basis.confirmed,
            too_few,
            first: leading,
            checks: self.checks(first),
            found_otherwise: self.share(basis.otherwise, "found_otherwise"),
            otherwise_jobs: self.confirmed(Some("")),
            habit: self.habit(),
            advised: self.planned(&orders.advised, orders.advised_plan.as_ref()),
            best: self.planned(&orders.best, orders.best_plan.as_ref()),
            saved: saving(basis, orders).filter(|_| !too_few).map(|(minutes, interval)| {
                CheckOrderSaving { minutes, interval, definition: "saved_minutes" }
            }),
            opening_not_counted: basis.opens(),
            ratio_rule_holds: orders.ratio_rule_holds,
            jobs: self.confirmed(None),
        }
    }

    /// Selects the jobs with a confirmed cause, of one finder where asked.
    fn confirmed(&self, found_by: Option<&str>) -> String {
        let mut terms = pairs(self.symptom, Some(("cause_state", "confirmed")));
        terms.extend(found_by.map(|check| ("found_by", check)));
        self.period.selector(&terms)
    }

    fn share(&self, found: i64, definition: &'static str) -> Share {
        let cases = Cases { cases: self.basis.confirmed, returns: found };
        counted_share(cases, definition, self.confirmed(None))
    }

    fn checks(&self, first: &[String]) -> Vec<OrderedCheck> {
        let orders = &self.orders;
        let rest = (0..self.basis.candidates.len()).filter(|at| !orders.advised.contains(at));
        let every: Vec<usize> = orders.advised.iter().copied().chain(rest).collect();
        every
            .into_iter()
            .filter_map(|at| Some((at, self.basis.candidates.get(at)?)))
            .map(|(at, known)| self.check(at, known, first))
            .collect()
    }

    fn check(&self, at: usize, known: &Candidate, first: &[String]) -> OrderedCheck {
        let place = |order: &[usize]| {
            let place = order.iter().position(|one| *one == at)?;
            i64::try_from(place + 1).ok()
        };
        let uncounted = match known.minutes {
            _ if known.trained => Some(Uncounted::TrainedPeopleOnly),
            None => Some(Uncounted::NoMinutesKnown),
            Some(_) if !self.orders.counted.contains(&at) => Some(Uncounted::TooManyChecks),
            Some(_) => None,
        };
        OrderedCheck {
            check: known.check.clone(),
            place: place(&self.orders.advised),
            habit_place: self.orders.habit.as_deref().and_then(place),
            mean_place: known.mean_place,
            first: first.contains(&known.check),
            done: known.done,
            found: self.share(known.found, "found_by"),
            chance: known.probability,
            minutes: known.minutes.map(|minutes| minutes.value),
            timed: known.minutes.map_or(0, |minutes| minutes.timed),
            minutes_from: known.minutes.map(|minutes| minutes.from),
            uncounted,
            jobs: self.confirmed(Some(&known.check)),
        }
    }

    fn habit(&self) -> Option<HabitOrder> {
        let order = self.orders.habit.as_deref()?;
        let checks = self.names(order);
        let begins = checks.first()?;
        let begun = self.sums.paths.iter().filter(|(path, _)| path.first() == Some(begins));
        let cases = Cases {
            cases: Group::of(self.sums.paths.values()).count(self.period),
            returns: Group::of(begun.map(|(_, counts)| counts)).count(self.period),
        };
        let select = |term| self.period.selector(&pairs(self.symptom, Some(term)));
        Some(HabitOrder {
            expected_minutes: self.orders.habit_minutes,
            expected_minutes_with_first: self.orders.held_minutes,
            began: counted_share(cases, "habit_first", select(("path_starts", ""))),
            jobs: select(("first_check", begins)),
            checks,
        })
    }

    fn planned(&self, order: &[usize], plan: Option<&Plan>) -> PlannedOrder {
        PlannedOrder {
            checks: self.names(order),
            expected_minutes: plan.map(|plan| plan.expected_minutes),
            method: plan.map(|plan| match plan.method {
                Method::Ratio => OrderMethod::RatioRule,
                Method::Exact => OrderMethod::EveryOrder,
                Method::Greedy => OrderMethod::Greedy,
            }),
            bound_minutes: plan.and_then(|plan| plan.bound),
        }
    }

    fn names(&self, order: &[usize]) -> Vec<String> {
        let known = order.iter().filter_map(|at| self.basis.candidates.get(*at));
        known.map(|known| known.check.clone()).collect()
    }
}
