//! Every group of a week against the jobs like its own.
//!
//! Each first return of the year is dealt out anew, by chance, among the jobs
//! alike that were still out on that day of their age: the group gets its part
//! of them. That is the exact form of the log-rank test, on one side
//! (stats/stratified), and it takes into account how long each job has been out.
//!
//! In shops of 20, 60 and 150 jobs a week with 2, 4 and 8 % comebacks, in which
//! nothing changes, 0.4 % of weeks newly warn of something, and 2.6 % raise that or
//! an alarm of the weekly review; in the loudest of these kinds of shop 4.4 % (200
//! seeds; measured by tests/reference/alarms.rs, which holds the budget of 5 % for
//! both together). What is raised by chance stands for some weeks and is not raised
//! again.

use std::collections::{BTreeMap, BTreeSet};

use super::group::{Group, Placed, QUESTIONS, Space, WarningKind, sorted};
use crate::figure::TOO_FEW;
use crate::follow::{FirstReturn, Period, first_returns};
use crate::hashed::HashMap;
use crate::history::History;
use crate::stats::stratified::{Stratum, at_least};

/// A group's jobs are those closed in so many days up to the week's end.
pub(super) const GROUP_DAYS: i32 = 26 * 7;
/// The jobs alike are those closed in so many.
pub(super) const ALIKE_DAYS: i32 = 52 * 7;
/// Nothing is warned of before this much record. The test is exact with any; with
/// less, hardly any window has run to its end.
const LEAST_DAYS: i32 = 13 * 7;
/// Somebody is new for so long, in a shop whose record is as much older.
const NEW_DAYS: i32 = 26 * 7;
/// Fewer returns of a group are no ground to warn of anything.
pub(super) const LEAST_RETURNS: i64 = 3;
/// Adjusted chance below which a group is warned of: measured as told above.
pub const LIMIT: f64 = 0.03;

/// Checks that the shop's plans ask for, by symptom.
pub type Planned = BTreeMap<String, BTreeSet<String>>;

/// A record made ready for the scans of its weeks.
pub struct Scan<'a> {
    pub(super) history: &'a History,
    /// Comeback window in days.
    pub(super) window: i32,
    returns: &'a [FirstReturn],
    groups: Vec<Group>,
    spaces: HashMap<Space, Vec<Placed>>,
    planned: &'a Planned,
}

/// The end of a scanned week, and its beginning.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Days {
    pub from: i32,
    pub to: i32,
}

/// A group with enough jobs, on either side.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tested<'a> {
    pub group: &'a Group,
    pub jobs: i64,
    pub returns: i64,
    pub expected: f64,
    /// Chance of so many or more.
    pub p: f64,
    /// Groups of the same question that were looked at.
    pub looked_at: i64,
    /// The chance, with all groups of all questions looked at.
    pub q: f64,
}

/// What one week's scan comes to.
#[derive(Debug, Clone, Default)]
pub(super) struct Scanned<'a> {
    /// The record is long enough, and the week has begun.
    pub known: bool,
    pub looked_at: i64,
    pub too_few: i64,
    /// Those with three returns or more, the least likely first.
    pub tested: Vec<Tested<'a>>,
}

/// How long a job was out, and whether it came back then.
#[derive(Debug, Clone, Copy)]
struct Out {
    days: i32,
    back: bool,
}

/// Jobs of one stratum: how long each was out, and returns by their age.
#[derive(Default)]
struct Stay {
    out: Vec<i32>,
    back: BTreeMap<i32, i64>,
}

impl Stay {
    fn add(&mut self, out: Out) {
        self.out.push(out.days);
        if out.back {
            *self.back.entry(out.days).or_default() += 1;
        }
    }

    fn count(&self) -> i64 {
        self.out.len() as i64
    }

    fn returns(&self) -> i64 {
        self.back.values().sum()
    }

    /// Jobs still out at an age; `out` is in rising order.
    fn at_risk(&self, age: i32) -> i64 {
        (self.out.len() - self.out.partition_point(|days| *days < age)) as i64
    }

    fn back_at(&self, age: i32) -> i64 {
        self.back.get(&age).copied().unwrap_or(0)
    }
}

/// Strata by code, made ready to be asked.
fn stays(jobs: impl Iterator<Item = (u32, Out)>) -> HashMap<u32, Stay> {
    let mut strata: HashMap<u32, Stay> = HashMap::default();
    for (stratum, out) in jobs {
        strata.entry(stratum).or_default().add(out);
    }
    strata.values_mut().for_each(|stay| stay.out.sort_unstable());
    strata
}

impl<'a> Scan<'a> {
    /// `window_days` is the comeback window; the shop's own where absent.
    #[must_use]
    pub fn of(history: &'a History, window_days: Option<i32>, planned: &'a Planned) -> Self {
        Self::between_days(history, window_days, planned, (i32::MIN, i32::MAX))
    }

    /// The same for weeks that look at nothing but jobs closed between two days.
    pub(super) fn between_days(
        history: &'a History,
        window_days: Option<i32>,
        planned: &'a Planned,
        days: (i32, i32),
    ) -> Self {
        let sorted = sorted(history, days);
        Self {
            history,
            window: Period::window_of(window_days, history.facts()),
            returns: first_returns(history),
            groups: sorted.groups,
            spaces: sorted.spaces,
            planned,
        }
    }

    /// Jobs of a list closed on the days from one to another.
    fn between<'p>(&self, jobs: &'p [Placed], from: i32, to: i32) -> &'p [Placed] {
        let closed = self.history.jobs().closed_day;
        // Job rows are in the order of closing.
        let start = closed.partition_point(|day| *day < from);
        let end = closed.partition_point(|day| *day <= to);
        let first = jobs.partition_point(|placed| (placed.row as usize) < start);
        let last = jobs.partition_point(|placed| (placed.row as usize) < end);
        jobs.get(first..last).unwrap_or_default()
    }

    /// How long a job was out by a day, at most to the window's end.
    fn out(&self, row: u32, to: i32) -> Option<Out> {
        let closed = *self.history.jobs().closed_day.get(row as usize)?;
        let days = self.returns.get(row as usize)?.days;
        let seen = to.saturating_sub(closed).min(self.window);
        Some(Out { days: days.min(seen), back: days <= seen })
    }

    fn followed<'p>(
        &'p self,
        jobs: &'p [Placed],
        to: i32,
    ) -> impl Iterator<Item = (u32, Out)> + 'p {
        jobs.iter().filter_map(move |placed| Some((placed.stratum, self.out(placed.row, to)?)))
    }

    pub(super) fn scanned(&self, days: Days) -> Scanned<'_> {
        let closed = self.history.jobs().closed_day;
        let oldest = closed.first().copied().unwrap_or(days.from);
        if days.from > days.to || days.from.saturating_sub(oldest) < LEAST_DAYS {
            return Scanned::default();
        }
        let first = days.to.saturating_sub(ALIKE_DAYS - 1);
        let alike: HashMap<Space, HashMap<u32, Stay>> = Space::ALL
            .into_iter()
            .filter_map(|space| {
                let jobs = self.between(self.spaces.get(&space)?, first, days.to);
                Some((space, stays(self.followed(jobs, days.to))))
            })
            .collect();
        let mut looked_at = [0_i64; QUESTIONS.len()];
        let (mut too_few, mut tested) = (0, Vec::new());
        for group in &self.groups {
            let Some(alike) = alike.get(&group.kind.space()) else { continue };
            match self.look(group, alike, days.to) {
                Looked::Nothing => {}
                Looked::TooFew => too_few += 1,
                Looked::At(found) => {
                    if let Some(count) = looked_at.get_mut(group.kind.question()) {
                        *count += 1;
                    }
                    tested.extend(found);
                }
            }
        }
        for one in &mut tested {
            one.looked_at = looked_at.get(one.group.kind.question()).copied().unwrap_or(0);
            one.q = (one.p * (one.looked_at * QUESTIONS.len() as i64) as f64).min(1.0);
        }
        // Equals stay in the order of kinds and keys.
        tested.sort_by(|a, b| a.q.total_cmp(&b.q).then(a.p.total_cmp(&b.p)));
        Scanned { known: true, looked_at: looked_at.iter().sum(), too_few, tested }
    }

    fn look<'g>(&self, group: &'g Group, alike: &HashMap<u32, Stay>, to: i32) -> Looked<'g> {
        let split = to.saturating_sub(GROUP_DAYS);
        let recent = self.between(&group.jobs, split.saturating_add(1), to);
        if recent.is_empty() || !self.is_new(group, to) {
            return Looked::Nothing;
        }
        let first = to.saturating_sub(ALIKE_DAYS - 1);
        let earlier = self.between(&group.jobs, first, split);
        let beside = self.between(&group.beside, first, to);
        let own = stays(self.followed(recent, to));
        let old = stays(self.followed(earlier, to).chain(self.followed(beside, to)));
        let mut others = 0;
        for (stratum, stay) in &own {
            let all = alike.get(stratum).map_or(0, Stay::count);
            let before = old.get(stratum).map_or(0, Stay::count);
            others += all - stay.count() - before;
            if !self.is_usual(group, stay.count() + before, all) {
                return Looked::Nothing;
            }
        }
        let jobs = recent.len() as i64;
        if jobs < TOO_FEW || others < TOO_FEW {
            return Looked::TooFew;
        }
        let returns = own.values().map(Stay::returns).sum();
        if returns < LEAST_RETURNS {
            return Looked::At(None);
        }
        let strata = dealt(&own, &old, alike);
        let expected = strata
            .iter()
            .map(|stratum| stratum.events as f64 * stratum.own as f64 / stratum.units as f64)
            .sum();
        let p = at_least(returns, strata).unwrap_or(1.0);
        Looked::At(Some(Tested { group, jobs, returns, expected, p, looked_at: 0, q: 1.0 }))
    }

    /// Where most jobs do without a check, and no plan has it, it is not usual.
    /// Other groups are no check.
    fn is_usual(&self, group: &Group, without: i64, all: i64) -> bool {
        let value = |at: usize| group.pairs.get(at).map_or("", |(_, value)| value);
        group.kind != WarningKind::SkippedCheck
            || 2 * without <= all
            || self.planned.get(value(0)).is_some_and(|checks| checks.contains(value(1)))
    }

    /// Somebody is new where the record is older than the first job here, which
    /// is half a year old at most. Other groups are as old as they like.
    fn is_new(&self, group: &Group, to: i32) -> bool {
        if group.kind != WarningKind::NewTechnician {
            return true;
        }
        let oldest = self.history.jobs().closed_day.first();
        group.since.zip(oldest).is_some_and(|(first, oldest)| {
            first.saturating_sub(*oldest) >= NEW_DAYS && to.saturating_sub(first) < NEW_DAYS
        })
    }
}

/// What a look at a group comes to.
enum Looked<'g> {
    /// It has no job of late, or the question does not arise.
    Nothing,
    TooFew,
    /// With the test, where it has returns enough.
    At(Option<Tested<'g>>),
}

/// The returns that are dealt out, by stratum and age. The group's own older
/// jobs, and its jobs where they stand beside their own stratum, are left out:
/// they are neither in it nor others.
fn dealt(
    own: &HashMap<u32, Stay>,
    old: &HashMap<u32, Stay>,
    alike: &HashMap<u32, Stay>,
) -> Vec<Stratum> {
    let nothing = Stay::default();
    let mut strata: Vec<Stratum> = Vec::new();
    for (code, stay) in own {
        let (Some(all), old) = (alike.get(code), old.get(code).unwrap_or(&nothing)) else {
            continue;
        };
        for (age, back) in &all.back {
            let stratum = Stratum {
                units: all.at_risk(*age) - old.at_risk(*age),
                events: back - old.back_at(*age),
                own: stay.at_risk(*age),
            };
            if stratum.events > 0 && stratum.own > 0 {
                strata.push(stratum);
            }
        }
    }
    // Codes follow first sight, and the sum of fractions must not.
    strata.sort_unstable_by_key(|one| (one.units, one.events, one.own));
    strata
}
