//! Ordinary work of further crews and further years, week by week, for records
//! larger than the standard scenario. Nothing is held but the vehicles and what
//! is still to come back.

use std::collections::BTreeMap;
use std::ops::Range;

use chrono::NaiveDate;

use super::calendar::Week;
use super::catalog;
use super::dice::Dice;
use super::filler::{self, weeks_to_return};
use super::garage::{Garage, Wanted};
use super::planned::{Keys, Planned};
use super::render::Crew;
use super::schedule::LEADS;
use super::sister;

/// Vehicles of a crew: an ordinary week's sixty lines need about so many for
/// none to be in too often.
const VEHICLES: usize = 900;
/// Comebacks in 60 days, percent.
const COMEBACK_PERCENT: u32 = 4;

const FIRST_NAMES: [&str; 14] = [
    "Orla", "Bastian", "Nives", "Rurik", "Salome", "Teodor", "Yara", "Anselm", "Brisa", "Corin",
    "Delphie", "Emeric", "Freya", "Gavril",
];
const LAST_NAMES: [&str; 12] = [
    "Quellan",
    "Marsden",
    "Oakhollow",
    "Pindar",
    "Rustwick",
    "Selbourne",
    "Tarrow",
    "Umberly",
    "Vanterpool",
    "Wickstead",
    "Yardley",
    "Zennor",
];

/// One crew with its own customers.
pub(super) struct OrdinaryCrew {
    pub crew: Crew,
    pub garage: Garage,
    pool: Range<usize>,
    keys: Keys,
    dice: Dice,
    pending: BTreeMap<usize, Vec<Planned>>,
    /// It writes down as the sister shops do.
    of_sister: bool,
}

impl OrdinaryCrew {
    /// The crew of that number, from 1.
    pub fn new(seed: u64, number: usize, first_day: NaiveDate, of_sister: bool) -> Self {
        let mut dice = Dice::new(seed, 100 + number as u64);
        let mut garage = Garage::new(first_day);
        let pool = garage.add(&mut dice, VEHICLES, &[0, 1, 2, 3, 0, 1], 10_000 + number * VEHICLES);
        Self {
            crew: Crew { names: names(number) },
            garage,
            pool,
            keys: Keys::new(number as u64),
            dice,
            pending: BTreeMap::new(),
            of_sister,
        }
    }

    /// The visits of a week: about so many lines in an ordinary one. None comes
    /// back in `weeks` or later.
    pub fn week(&mut self, place: usize, week: &Week, lines: usize, weeks: usize) -> Vec<Planned> {
        let mut visits = self.pending.remove(&place).unwrap_or_default();
        let lines = lines * week.weight() as usize / 1000;
        for _ in visits.len()..lines {
            visits.push(self.line(place, weeks));
        }
        for _ in 0..lines / 10 {
            let mut visit = filler::maintenance(place, &mut self.keys, &mut self.dice);
            visit.vehicle = Some(self.vehicle(&visit, &[place]));
            visits.push(visit);
        }
        let mut load = [0; LEADS];
        for visit in &mut visits {
            if self.of_sister {
                sister::write_fully(visit, &mut self.dice);
            }
            let lead = (0..LEADS).min_by_key(|lead| load.get(*lead).copied()).unwrap_or(0);
            visit.lead = Some(lead);
            if let Some(load) = load.get_mut(lead) {
                *load += visit.minutes();
            }
        }
        visits
    }

    fn line(&mut self, place: usize, weeks: usize) -> Planned {
        let template = catalog::any(&mut self.dice, |_| true);
        if self.dice.percent(5) {
            let mut visit = filler::unrepaired(template, place, &mut self.keys, &mut self.dice);
            visit.vehicle = Some(self.vehicle(&visit, &[place]));
            return visit;
        }
        let mut visit = filler::line(template, place, &mut self.keys, &mut self.dice);
        let back = place + weeks_to_return(&mut self.dice);
        if back < weeks && self.dice.percent(COMEBACK_PERCENT) {
            let vehicle = self.vehicle(&visit, &[place, back]);
            let mut again = filler::come_back(&mut visit, back, &mut self.keys, &mut self.dice);
            visit.vehicle = Some(vehicle);
            again.vehicle = Some(vehicle);
            self.pending.entry(back).or_default().push(again);
        } else {
            visit.vehicle = Some(self.vehicle(&visit, &[place]));
        }
        visit
    }

    fn vehicle(&mut self, visit: &Planned, weeks: &[usize]) -> usize {
        let symptoms = visit.symptoms();
        let wanted = Wanted { makes: visit.makes, weeks, symptoms: &symptoms };
        self.garage.choose(&mut self.dice, self.pool.clone(), &wanted)
    }
}

/// Names of a crew's people; no two crews below 42 share one.
pub(super) fn names(number: usize) -> [String; LEADS + 1] {
    std::array::from_fn(|i| {
        let place = number * (LEADS + 1) + i;
        let first = FIRST_NAMES.get(place % FIRST_NAMES.len()).copied().unwrap_or_default();
        let last = LAST_NAMES.get(place / FIRST_NAMES.len() % LAST_NAMES.len());
        format!("{first} {}", last.copied().unwrap_or_default())
    })
}
