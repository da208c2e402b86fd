//! The record as one stream of visits in the order of their opening.

use std::collections::{HashMap, VecDeque};
use std::ops::RangeInclusive;

use chrono::NaiveDate;

use super::calendar::{self, WEEKS, Week};
use super::crews::OrdinaryCrew;
use super::dice::Dice;
use super::planned::{Key, Planned};
use super::render::{Crew, Page};
use super::schedule::{Rules, Slot, schedule};
use super::standard::{self, Standard};
use super::{DemoPlan, FIRST_ORDER_NO, MIRELA_AWAY, MONDAY_WEEKS, STANDARD_JOBS, TECHNICIANS};
use crate::domain::zone::Zone;
use crate::import::records::Visit;

/// Lines of an ordinary week of one crew.
const LINES: usize = 60;
/// Ten years.
const MOST_WEEKS: usize = 520;
/// As many as have names of their own.
const MOST_CREWS: usize = 40;

/// Weeks that so many jobs take.
fn weeks_of(jobs: usize) -> usize {
    match jobs {
        STANDARD_JOBS => WEEKS,
        _ => jobs.div_ceil(LINES).clamp(WEEKS, MOST_WEEKS),
    }
}

fn crews_of(
    numbers: RangeInclusive<usize>,
    seed: u64,
    first_day: NaiveDate,
    of_sister: bool,
) -> Vec<OrdinaryCrew> {
    numbers.map(|number| OrdinaryCrew::new(seed, number, first_day, of_sister)).collect()
}

/// Lines of an ordinary week of a sister shop: beside each ten of them a
/// vehicle comes in for maintenance, and holidays take some away.
fn sister_lines(jobs: usize) -> usize {
    (jobs * 94 / 100).div_ceil(weeks_of(jobs)).max(1)
}

/// The numbers of a sister shop's crews: no shop of a group has one of
/// another's, where each plans for so many jobs.
pub(super) fn sister_crews(jobs: usize, number: usize) -> RangeInclusive<usize> {
    let before = number * (jobs / weeks_of(jobs)).div_ceil(LINES);
    before + 1..=before + sister_lines(jobs).div_ceil(LINES)
}

/// The most jobs that each of so many shops can have.
pub(super) const fn most_jobs(shops: usize) -> usize {
    MOST_CREWS / shops * LINES * MOST_WEEKS
}

/// Visits of the whole record, made week by week.
pub(super) struct Stream {
    zone: Zone,
    weeks: Vec<Week>,
    first_day: NaiveDate,
    /// Week in which the standard scenario begins; none: past the last.
    standard_from: usize,
    standard: Standard,
    crew: Crew,
    others: Vec<OrdinaryCrew>,
    /// Lines a week for all the others: before, and beside the standard.
    lines_before: usize,
    lines_beside: usize,
    dice: Dice,
    short_day: NaiveDate,
    place: usize,
    next_no: u64,
    numbers: HashMap<Key, String>,
    ready: VecDeque<Visit>,
}

impl Stream {
    /// Four Sycamores.
    pub fn new(plan: &DemoPlan) -> Self {
        let jobs = plan.jobs.clamp(STANDARD_JOBS, LINES * MOST_WEEKS * MOST_CREWS);
        let length = weeks_of(jobs);
        let standard_first = calendar::first_monday(plan.end);
        let standard_from = length - WEEKS;
        let first_day = calendar::earlier(standard_first, standard_from as u64 * 7);
        let weeks = calendar::weeks(first_day, plan.end);
        let standard_weeks = weeks.get(standard_from..).unwrap_or_default();
        let standard = standard::plan(plan, standard_weeks);
        let lines_before = jobs / length;
        let lines_beside = lines_before.saturating_sub(LINES);
        let crews = if length > WEEKS { lines_before.div_ceil(LINES) } else { 0 };
        Self {
            standard_from,
            standard,
            others: crews_of(1..=crews, plan.seed, first_day, false),
            lines_before,
            lines_beside,
            ..Self::idle(plan, (first_day, weeks), Dice::new(plan.seed, 3))
        }
    }

    /// A shop of those weeks in which nobody works.
    fn idle(plan: &DemoPlan, (first_day, weeks): (NaiveDate, Vec<Week>), dice: Dice) -> Self {
        Self {
            zone: Zone::parse(super::ZONE).unwrap_or(Zone::UTC),
            first_day,
            standard_from: weeks.len(),
            standard: Standard::none(first_day),
            crew: Crew { names: TECHNICIANS.map(str::to_owned) },
            others: Vec::new(),
            lines_before: 0,
            lines_beside: 0,
            dice,
            short_day: calendar::last_working_day(plan.end),
            place: 0,
            next_no: FIRST_ORDER_NO,
            numbers: HashMap::new(),
            ready: VecDeque::new(),
            weeks,
        }
    }

    /// The sister shop of that number, from 1: ordinary work alone, of jobs of
    /// every kind about as many as the plan says.
    pub fn sister(plan: &DemoPlan, number: usize) -> Self {
        let crews = sister_crews(plan.jobs, number);
        let length = weeks_of(plan.jobs);
        let standard_first = calendar::first_monday(plan.end);
        let first_day = calendar::earlier(standard_first, (length - WEEKS) as u64 * 7);
        let weeks = calendar::weeks(first_day, plan.end);
        let dice = Dice::new(plan.seed, 1_000 + number as u64);
        Self {
            others: crews_of(crews, plan.seed, first_day, true),
            lines_before: sister_lines(plan.jobs),
            ..Self::idle(plan, (first_day, weeks), dice)
        }
    }

    /// Vehicles kept for the orders that are open today.
    pub const fn standard(&self) -> &Standard {
        &self.standard
    }

    /// First day of the standard scenario, from which its miles count.
    pub fn standard_day(&self) -> NaiveDate {
        self.weeks.get(self.standard_from).map_or(self.first_day, |week| week.monday)
    }

    fn rules(&self, place: usize, week: &Week) -> Rules {
        let short = (0..calendar::DAYS).find(|day| week.date(*day) == self.short_day);
        let standard = place.checked_sub(self.standard_from).map(|place| place + 1);
        let away = standard.is_some_and(|number| MIRELA_AWAY.contains(&number));
        Rules {
            apprentice_share: if away { 75 } else { 16 },
            planned_mondays: standard.is_some_and(|number| number <= MONDAY_WEEKS),
            short_day: short,
        }
    }

    /// Makes the visits of the next week.
    fn fill(&mut self) -> bool {
        let place = self.place;
        let Some(week) = self.weeks.get(place).copied() else {
            return false;
        };
        self.place += 1;
        let rules = self.rules(place, &week);
        let mut slots: Vec<(usize, Slot)> = Vec::new();
        if let Some(visits) = place
            .checked_sub(self.standard_from)
            .and_then(|place| self.standard.weeks.get_mut(place))
        {
            let visits = std::mem::take(visits);
            slots
                .extend(schedule(&week, visits, rules, &mut self.dice).into_iter().map(|s| (0, s)));
        }
        let beside = place >= self.standard_from;
        let lines = if beside { self.lines_beside } else { self.lines_before };
        let length = self.weeks.len();
        let crews = lines.div_ceil(LINES);
        let others = Rules { planned_mondays: false, ..rules };
        for (i, crew) in self.others.iter_mut().enumerate() {
            let own = if i < crews { lines / crews } else { 0 };
            let visits = crew.week(place, &week, own, length);
            let made = schedule(&week, visits, others, &mut self.dice);
            slots.extend(made.into_iter().map(|slot| (i + 1, slot)));
        }
        slots.sort_by_key(|(crew, slot)| (slot.opened, *crew, slot.planned.key));
        for (crew, slot) in slots {
            let visit = self.number(&week, crew, &slot);
            self.ready.push_back(visit);
        }
        true
    }

    /// Gives a slot its number and writes it out.
    fn number(&mut self, week: &Week, crew: usize, slot: &Slot) -> Visit {
        let Planned { key, comes_back, back, .. } = slot.planned;
        let order_no = self.next_no.to_string();
        self.next_no += 1;
        if comes_back {
            self.numbers.insert(key, order_no.clone());
        }
        let other = crew.checked_sub(1).and_then(|place| self.others.get(place));
        let (garage, crew, first_day) = match other {
            Some(other) => (&other.garage, &other.crew, self.first_day),
            None => (&self.standard.garage, &self.crew, self.standard_day()),
        };
        let returned_from = back.and_then(|back| self.numbers.remove(&back.of));
        Page { zone: self.zone, week, first_day, garage, crew, order_no, returned_from }.visit(slot)
    }
}

impl Iterator for Stream {
    type Item = Visit;

    fn next(&mut self) -> Option<Visit> {
        while self.ready.is_empty() {
            if !self.fill() {
                return None;
            }
        }
        self.ready.pop_front()
    }
}
