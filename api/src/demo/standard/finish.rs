//! Who leads, on which day a visit is closed where that is planned, which
//! complaints share an order, and which vehicles come.

use std::collections::HashMap;
use std::ops::Range;

use super::{Builder, Reserved};
use crate::demo::calendar::MONDAY;
use crate::demo::catalog::{self, ANY};
use crate::demo::dice::Dice;
use crate::demo::filler;
use crate::demo::garage::{Garage, Wanted};
use crate::demo::planned::{Apprentice, Key, Planned};
use crate::demo::stories::leads;
use crate::demo::{MONDAY_LINES, MONDAY_RETURNS, MONDAY_WEEKS};

impl Builder<'_> {
    /// Gives the visits that nobody has yet to whoever has least in that week.
    pub(super) fn give_leads(&mut self) {
        let mut load: HashMap<(usize, usize), i32> = HashMap::new();
        for visit in &self.planned {
            if let Some(lead) = visit.lead {
                *load.entry((visit.week, lead)).or_default() += visit.minutes();
            }
        }
        let mut order: Vec<usize> = (0..self.planned.len()).collect();
        self.dice.shuffle(&mut order);
        for place in order {
            let Some(visit) = self.planned.get_mut(place).filter(|v| v.lead.is_none()) else {
                continue;
            };
            let least = leads(visit.week)
                .min_by_key(|lead| load.get(&(visit.week, *lead)).copied().unwrap_or(0));
            let lead = least.unwrap_or(1);
            visit.lead = Some(lead);
            *load.entry((visit.week, lead)).or_default() += visit.minutes();
        }
    }

    /// Fixes which of the first fifteen weeks' lines are closed on a Monday.
    pub(super) fn mondays(&mut self) {
        let open: Vec<u32> = (0..MONDAY_WEEKS)
            .map(|week| u32::from(self.weeks.get(week).is_some_and(|week| week.is_open(MONDAY))))
            .collect();
        let mut minutes: HashMap<(usize, usize), i32> = HashMap::new();
        for (returned, count) in [(true, MONDAY_RETURNS), (false, MONDAY_LINES - MONDAY_RETURNS)] {
            let mut left = self.dice.spread(count, &open);
            let mut order: Vec<usize> = (0..self.planned.len()).collect();
            self.dice.shuffle(&mut order);
            // A light Monday each at first; where that was too little, more.
            for attempt in 0..20 {
                let most = 240 + 40 * attempt;
                for place in &order {
                    let Some(visit) = self.planned.get_mut(*place) else {
                        continue;
                    };
                    let Some(lead) = visit.lead.filter(|_| may_be_monday(visit, returned)) else {
                        continue;
                    };
                    let Some(found) = left.iter().position(|week| *week == visit.week) else {
                        continue;
                    };
                    let load = minutes.entry((visit.week, lead)).or_default();
                    if *load + visit.minutes() <= most {
                        *load += visit.minutes();
                        visit.day = Some(MONDAY);
                        left.swap_remove(found);
                    }
                }
                // A week without enough candidates gives its place to another.
                if attempt > 3 {
                    left = self.dice.spread(left.len(), &open);
                }
            }
        }
    }

    /// Makes one visit of some that the same technician has in the same week:
    /// two complaints on one order.
    pub(super) fn merge(&mut self) {
        let back_today: Vec<Key> = self.back_today.iter().map(|(key, _)| *key).collect();
        let can = |visit: &Planned| {
            let ordinary = visit.vehicle.is_none()
                && !back_today.contains(&visit.key)
                && visit.back.is_none()
                && !visit.comes_back;
            ordinary
                && visit.week >= MONDAY_WEEKS
                && visit.makes == ANY
                && visit.symptom().is_some()
                && visit.minutes() < 120
        };
        let (single, mut kept): (Vec<Planned>, Vec<Planned>) =
            std::mem::take(&mut self.planned).into_iter().partition(can);
        let mut open: HashMap<(usize, Option<usize>), Planned> = HashMap::new();
        for visit in single {
            if !self.dice.percent(12) {
                kept.push(visit);
                continue;
            }
            match open.remove(&(visit.week, visit.lead)) {
                Some(mut first) if system(&first) != system(&visit) => {
                    first.sheets.extend(visit.sheets);
                    kept.push(first);
                }
                Some(first) => kept.extend([first, visit]),
                None => {
                    open.insert((visit.week, visit.lead), visit);
                }
            }
        }
        let mut rest: Vec<Planned> = open.into_values().collect();
        rest.sort_by_key(|visit| visit.key);
        kept.extend(rest);
        kept.sort_by_key(|visit| visit.key);
        self.planned = kept;
    }

    /// Some take the chance of an oil change.
    pub(super) fn attach_maintenance(&mut self) {
        let Self { planned, dice, .. } = self;
        for visit in planned.iter_mut() {
            let fits = visit.vehicle.is_none() && visit.symptom().is_some() && !visit.late;
            if fits && visit.minutes() < 240 && dice.percent(7) {
                visit.sheets.push(filler::oil_change(dice));
            }
        }
    }

    /// Gives the ordinary visits their vehicles.
    pub(super) fn vehicles(&mut self, garage: &mut Garage) -> Reserved {
        let Self { planned, dice, back_today, .. } = self;
        let mut reserved = Reserved::default();
        let own = garage.add(dice, back_today.len(), &[0], 1950);
        for (place, (key, symptom)) in own.zip(back_today) {
            if let Some(visit) = planned.iter_mut().find(|visit| visit.key == *key) {
                visit.vehicle = Some(place);
                reserved.back.push((place, symptom));
            }
        }
        reserved.new = garage.add(dice, 6, &[0, 2, 1, 3], 1960);
        let pool = ordinary_pool(garage, dice);
        let mut later: HashMap<Key, Vec<(Key, usize)>> = HashMap::new();
        for visit in planned.iter() {
            if let Some(back) = visit.back {
                later.entry(back.of).or_default().push((visit.key, visit.week));
            }
        }
        planned.sort_by_key(|visit| (visit.week, visit.key));
        let mut of: HashMap<Key, usize> = HashMap::new();
        for visit in planned.iter_mut() {
            let known = visit.back.and_then(|back| of.get(&back.of).copied());
            let place = visit.vehicle.or(known).unwrap_or_else(|| {
                let weeks = weeks_of(visit, &later);
                let symptoms = visit.symptoms();
                let wanted = Wanted { makes: visit.makes, weeks: &weeks, symptoms: &symptoms };
                garage.choose(dice, pool.clone(), &wanted)
            });
            visit.vehicle = Some(place);
            of.insert(visit.key, place);
        }
        reserved
    }
}

/// The vehicles of the ordinary visits.
fn ordinary_pool(garage: &mut Garage, dice: &mut Dice) -> Range<usize> {
    let start = garage.vehicles.len();
    for (make, year, vin) in [
        (0, 2024, "ZZDA1C4A9RT000101"),
        (0, 2024, "ZZDA1C4A0RT000102"),
        (0, 2024, "ZZDA1C4A4RT000104"),
        (0, 2024, "ZZDA1C4A1RT000108"),
        (2, 2023, "ZZDC3H1C6PT000317"),
        (3, 2020, "ZZDD4M2D9LT000405"),
    ] {
        garage.add_known(dice, make, year, vin);
    }
    let end = garage.add(dice, 556, &[0, 1, 2, 3, 0, 1], 2001).end;
    start..end
}

/// The weeks of a visit and of all that come back from it.
fn weeks_of(visit: &Planned, later: &HashMap<Key, Vec<(Key, usize)>>) -> Vec<usize> {
    let mut weeks = vec![visit.week];
    let mut open = vec![visit.key];
    while let Some(key) = open.pop() {
        for (next, week) in later.get(&key).into_iter().flatten() {
            weeks.push(*week);
            open.push(*next);
        }
    }
    weeks
}

fn may_be_monday(visit: &Planned, returned: bool) -> bool {
    visit.week < MONDAY_WEEKS
        && visit.lines() == 1
        && visit.day.is_none()
        && !visit.late
        && visit.apprentice != Apprentice::Must
        && visit.comes_back == returned
}

fn system(visit: &Planned) -> Option<&'static str> {
    visit.symptom().and_then(catalog::system)
}
