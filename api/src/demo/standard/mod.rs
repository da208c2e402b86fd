//! The standard scenario as a whole: the planted stories, and around them the
//! ordinary work, by quotas rather than by chance, so that every planted count
//! is exact.

mod finish;
mod mix;

use std::ops::Range;

use chrono::NaiveDate;

use super::calendar::{WEEKS, Week};
use super::catalog::{self, Template};
use super::dice::Dice;
use super::filler::{self, weeks_to_return};
use super::garage::Garage;
use super::planned::{Key, Keys, Planned};
use super::schedule::LEADS;
use super::stories::{self, CLOSED_WINDOWS, Maker, leads};
use super::{
    COLD_SPELL, DemoPlan, MONDAY_LINES, MONDAY_RETURNS, MONDAY_WEEKS, OTHER_LINES, OTHER_RETURNS,
};

/// The starting and charging complaints, which double in the cold.
const START: &[&str] = &[
    "start.no-crank",
    "start.slow-crank",
    "start.crank-no-start",
    "start.hard-cold",
    "start.hard-hot",
    "charge.light",
    "charge.battery-flat",
];
const LINES_IN_LATE_WEEK: usize = 58;
/// Starting and charging complaints of an ordinary week, the planted ones among
/// them.
const START_IN_WEEK: usize = 7;
const UNREPAIRED_IN_WEEK: usize = 3;
const MAINTENANCE_IN_WEEK: usize = 6;

/// The vehicles and, week by week, the visits of the standard scenario.
pub(super) struct Standard {
    pub garage: Garage,
    pub weeks: Vec<Vec<Planned>>,
    pub reserved: Reserved,
}

impl Standard {
    /// No scenario.
    pub fn none(first_day: NaiveDate) -> Self {
        Self { garage: Garage::new(first_day), weeks: Vec::new(), reserved: Reserved::default() }
    }
}

/// Vehicles of the orders that are open today.
#[derive(Debug, Clone, Default)]
pub(super) struct Reserved {
    /// In the record lately, each for the symptom beside it, and back today.
    pub back: Vec<(usize, &'static str)>,
    /// Not in the record.
    pub new: Range<usize>,
}

/// The vehicles that come back today: week of the last repair, symptom.
const BACK_TODAY: [(usize, &str); 2] = [(46, "brakes.pulsates"), (47, "engine.oil-leak")];

struct Builder<'a> {
    weeks: &'a [Week],
    keys: Keys,
    dice: Dice,
    planned: Vec<Planned>,
    /// Those whose vehicles come back today, with the symptom.
    back_today: Vec<(Key, &'static str)>,
}

/// Plans the scenario over its weeks: fifty, and what is over of a broken one.
pub(super) fn plan(plan: &DemoPlan, weeks: &[Week]) -> Standard {
    let first_day = weeks.first().map_or(plan.end, |week| week.monday);
    let mut garage = Garage::new(first_day);
    let mut dice = Dice::new(plan.seed, 1);
    let mut keys = Keys::new(0);
    let mut maker =
        Maker { weeks, garage: &mut garage, keys: &mut keys, dice: &mut dice, serial: 501 };
    let planted = stories::plant(&mut maker);
    let mut builder = Builder {
        weeks,
        keys,
        dice: Dice::new(plan.seed, 2),
        planned: planted,
        back_today: Vec::new(),
    };
    builder.first_weeks();
    builder.mix_weeks();
    builder.late_weeks();
    builder.other_work();
    builder.give_leads();
    builder.mondays();
    builder.merge();
    builder.attach_maintenance();
    let reserved = builder.vehicles(&mut garage);
    let mut by_week: Vec<Vec<Planned>> = weeks.iter().map(|_| Vec::new()).collect();
    for visit in builder.planned {
        if let Some(week) = by_week.get_mut(visit.week) {
            week.push(visit);
        }
    }
    Standard { garage, weeks: by_week, reserved }
}

impl Builder<'_> {
    /// Per thousand of an ordinary week: less with a technician away, and less
    /// in the week that is broken off, whose last day is a short one.
    fn weight(&self, week: usize) -> u32 {
        let percent = match week {
            WEEKS.. => 75,
            _ if leads(week).len() < LEADS => 68,
            _ => 100,
        };
        self.weeks.get(week).map_or(0, Week::weight) * percent / 100
    }

    /// `ordinary` things of an ordinary week, fewer in a short one.
    fn share(&self, ordinary: usize, week: usize) -> usize {
        (ordinary * self.weight(week) as usize + 500) / 1000
    }

    fn lines_in(&self, week: usize) -> usize {
        self.planned.iter().filter(|v| v.week == week).map(Planned::lines).sum()
    }

    /// Adds a line, and its return `after` weeks later.
    fn add(&mut self, template: &Template, week: usize, after: Option<usize>) -> usize {
        let mut visit = filler::line(template, week, &mut self.keys, &mut self.dice);
        let back = after.map(|after| {
            filler::come_back(&mut visit, week + after, &mut self.keys, &mut self.dice)
        });
        self.planned.push(visit);
        let place = self.planned.len() - 1;
        self.planned.extend(back);
        place
    }

    fn template(&mut self, of: impl Fn(&str) -> bool) -> &'static Template {
        catalog::any(&mut self.dice, of)
    }

    /// Weeks 1 to 15: exactly 900 lines, exactly 40 of them back in 60 days.
    fn first_weeks(&mut self) {
        let returned =
            self.planned.iter().filter(|v| v.week < MONDAY_WEEKS && v.comes_back).count();
        let weights: Vec<u32> = (0..MONDAY_WEEKS).map(|week| self.load(week)).collect();
        let left = (MONDAY_RETURNS + OTHER_RETURNS).saturating_sub(returned);
        for week in self.dice.spread(left, &weights) {
            let template = self.template(is_not_start);
            let after = weeks_to_return(&mut self.dice);
            self.add(template, week, Some(after));
        }
        for (week, lines) in quotas(MONDAY_LINES + OTHER_LINES, &weights).into_iter().enumerate() {
            let left = lines.saturating_sub(self.lines_in(week));
            self.fill(week, left, is_not_start);
        }
    }

    /// How much comes in: more in the cold.
    fn load(&self, week: usize) -> u32 {
        let cold = COLD_SPELL.contains(&(week + 1));
        self.weight(week) * if cold { 105 } else { 100 } / 100
    }

    /// Fills a week up with lines that do not come back.
    fn fill(&mut self, week: usize, lines: usize, others: impl Fn(&str) -> bool) {
        let cold = if COLD_SPELL.contains(&(week + 1)) { 2 } else { 1 };
        let there = self.planned.iter().filter(|v| v.week == week);
        let there = there.filter(|v| v.symptom().is_some_and(|s| !is_not_start(s))).count();
        let start = (self.share(START_IN_WEEK, week) * cold).saturating_sub(there);
        for i in 0..lines {
            let template = if i < start {
                self.template(|symptom| START.contains(&symptom))
            } else {
                self.template(&others)
            };
            self.add(template, week, None);
        }
    }

    /// Weeks 42 to the end, whose windows are still open.
    fn late_weeks(&mut self) {
        for week in CLOSED_WINDOWS..self.weeks.len() {
            let lines = self.share(LINES_IN_LATE_WEEK, week);
            let left = lines.saturating_sub(self.lines_in(week));
            for _ in 0..left / 24 {
                let after = weeks_to_return(&mut self.dice);
                if week + after < WEEKS {
                    let template = self.template(is_not_start);
                    self.add(template, week, Some(after));
                }
            }
            let left = lines.saturating_sub(self.lines_in(week));
            self.fill(week, left, is_not_start);
        }
    }

    /// Complaints that did not end in a repair, maintenance, preparation.
    fn other_work(&mut self) {
        for week in 0..self.weeks.len() {
            for _ in 0..self.share(UNREPAIRED_IN_WEEK, week) {
                let template = self.template(is_not_start);
                let visit = filler::unrepaired(template, week, &mut self.keys, &mut self.dice);
                self.planned.push(visit);
            }
            for _ in 0..self.share(MAINTENANCE_IN_WEEK, week) {
                let visit = filler::maintenance(week, &mut self.keys, &mut self.dice);
                self.planned.push(visit);
            }
        }
        let weights: Vec<u32> = (0..WEEKS).map(|week| self.weight(week)).collect();
        for week in self.dice.spread(6, &weights) {
            let visit = filler::recall(week, &mut self.keys, &mut self.dice);
            self.planned.push(visit);
        }
        for week in self.dice.spread(8, &weights) {
            let visit = filler::preparation(week, &mut self.keys, &mut self.dice);
            self.planned.push(visit);
        }
        for (week, symptom) in BACK_TODAY {
            let template = catalog::of(symptom);
            let place = self.add(template, week - 1, None);
            self.back_today.extend(self.planned.get(place).map(|visit| (visit.key, symptom)));
        }
    }
}

fn is_not_start(symptom: &str) -> bool {
    !START.contains(&symptom)
}

/// Whole shares of `total` by weight, by largest remainder.
fn quotas(total: usize, weights: &[u32]) -> Vec<usize> {
    let sum = weights.iter().copied().map(u64::from).sum::<u64>().max(1);
    let exact = |weight: &u32| total as u64 * u64::from(*weight);
    let mut shares: Vec<usize> = weights.iter().map(|w| (exact(w) / sum) as usize).collect();
    let mut order: Vec<usize> = (0..weights.len()).collect();
    order.sort_by_key(|i| std::cmp::Reverse(weights.get(*i).map_or(0, |w| exact(w) % sum)));
    let left = total - shares.iter().sum::<usize>();
    for place in order.into_iter().take(left) {
        if let Some(share) = shares.get_mut(place) {
            *share += 1;
        }
    }
    shares
}
