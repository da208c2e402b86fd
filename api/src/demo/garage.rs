//! The demo vehicles: invented makes, VINs with a valid check digit.

use std::ops::Range;

use chrono::{Datelike, NaiveDate};

use super::catalog::{self, Makes};
use super::dice::Dice;
use crate::domain::vin::check_digit;

/// An invented make: its model, engine, and what its VINs begin with.
struct Make {
    name: &'static str,
    model: &'static str,
    engine: &'static str,
    begin: &'static str,
}

pub(super) const MAKE_COUNT: usize = 4;

#[rustfmt::skip]
const MAKES: [Make; MAKE_COUNT] = [
    Make { name: "Corvane", model: "Sill", engine: "1.4 gasoline", begin: "ZZDA1CKA" },
    Make { name: "Ostrelle", model: "Nerin", engine: "2.0 hybrid", begin: "ZZDB2EMB" },
    Make { name: "Haddenby", model: "Orrow", engine: "3.6 gasoline", begin: "ZZDC3HRC" },
    Make { name: "Lirren", model: "Caske", engine: "2.2 diesel", begin: "ZZDD4MSD" },
];

/// Model year letters of position ten, every thirty years (from memory: ISO 3779 with
/// 49 CFR 565; no I, O, Q, U, Z or 0).
const YEAR_LETTERS: &str = "ABCDEFGHJKLMNPRSTVWXY123456789";

/// One vehicle, and in which weeks and for what it is in the shop.
#[derive(Debug, Clone)]
pub(super) struct Vehicle {
    pub vin: String,
    make: usize,
    pub model_year: i32,
    /// Miles on the first day of the record.
    odometer: i64,
    miles_a_day: i64,
    visits: Vec<usize>,
    systems: Vec<(usize, &'static str)>,
}

impl Vehicle {
    pub fn make(&self) -> &'static str {
        MAKES.get(self.make).map_or("", |make| make.name)
    }

    pub fn model(&self) -> &'static str {
        MAKES.get(self.make).map_or("", |make| make.model)
    }

    pub fn engine(&self) -> &'static str {
        MAKES.get(self.make).map_or("", |make| make.engine)
    }

    /// Miles after so many days.
    pub fn miles(&self, days: i64) -> i64 {
        self.odometer + self.miles_a_day * days
    }

    /// Miles of a road test: never so many that the next visit has fewer.
    pub fn test_miles(&self, proof_minutes: i32) -> i64 {
        i64::from(proof_minutes / 5).min(self.miles_a_day / 2)
    }

    fn fits(&self, makes: Makes) -> bool {
        makes >> self.make & 1 == 1
    }

    fn is_free(&self, weeks: &[usize]) -> bool {
        !weeks.iter().any(|week| self.visits.contains(week))
    }

    /// Whether it was in for the system within the time in which a visit would
    /// be taken for a return of the last (400 days).
    fn had(&self, system: &str, week: usize) -> bool {
        self.systems.iter().any(|(had, of)| *of == system && week.abs_diff(*had) <= 58)
    }
}

/// Vehicles by place.
pub(super) struct Garage {
    pub vehicles: Vec<Vehicle>,
    first_day: NaiveDate,
}

/// What a visit needs of a vehicle.
pub(super) struct Wanted<'a> {
    pub makes: Makes,
    /// The week of the visit, and of the visits that follow from it.
    pub weeks: &'a [usize],
    pub symptoms: &'a [&'static str],
}

impl Garage {
    pub fn new(first_day: NaiveDate) -> Self {
        Self { vehicles: Vec::new(), first_day }
    }

    /// Adds vehicles of the makes given by turns; the range of their places.
    /// `serial` is that of the first.
    pub fn add(
        &mut self,
        dice: &mut Dice,
        count: usize,
        makes: &[usize],
        serial: usize,
    ) -> Range<usize> {
        let start = self.vehicles.len();
        for i in 0..count {
            let make = makes.get(i % makes.len().max(1)).copied().unwrap_or(0);
            // Two to thirteen years old, at about the usual mileage.
            let age = dice.between(1, 12);
            let year = self.first_day.year() - age;
            let begin = MAKES.get(make).map_or("", |make| make.begin);
            let vin = numbered(begin, year, serial + i);
            let vehicle = self.vehicle(dice, make, year, vin);
            self.vehicles.push(vehicle);
        }
        start..self.vehicles.len()
    }

    /// Adds one vehicle of a known VIN.
    pub fn add_known(&mut self, dice: &mut Dice, make: usize, year: i32, vin: &str) -> usize {
        let vehicle = self.vehicle(dice, make, year, vin.to_owned());
        self.vehicles.push(vehicle);
        self.vehicles.len() - 1
    }

    /// Adds a vehicle fresh from its maker.
    pub fn add_unused(&mut self, make: usize, serial: usize) -> usize {
        let year = self.first_day.year() + 1;
        let begin = MAKES.get(make).map_or("", |make| make.begin);
        self.vehicles.push(Vehicle {
            vin: numbered(begin, year, serial),
            make,
            model_year: year,
            odometer: 6,
            miles_a_day: 0,
            visits: Vec::new(),
            systems: Vec::new(),
        });
        self.vehicles.len() - 1
    }

    fn vehicle(&self, dice: &mut Dice, make: usize, year: i32, vin: String) -> Vehicle {
        let years = i64::from((self.first_day.year() - year).max(0));
        Vehicle {
            vin,
            make,
            model_year: year,
            odometer: years * i64::from(dice.between(9_000, 13_000))
                + i64::from(dice.between(40, 4000)),
            miles_a_day: i64::from(dice.between(16, 52)),
            visits: Vec::new(),
            systems: Vec::new(),
        }
    }

    /// A vehicle of the pool that is free in those weeks and was not in for the
    /// same systems lately: what comes back does so by plan only.
    pub fn choose(&mut self, dice: &mut Dice, pool: Range<usize>, wanted: &Wanted<'_>) -> usize {
        let first = wanted.weeks.first().copied().unwrap_or(0);
        let systems: Vec<&'static str> =
            wanted.symptoms.iter().filter_map(|s| catalog::system(s)).collect();
        let begin = pool.start + dice.place(pool.len());
        let order = (begin..pool.end).chain(pool.start..begin);
        let fits = |vehicle: &Vehicle| vehicle.fits(wanted.makes) && vehicle.is_free(wanted.weeks);
        let mut second_best = None;
        let mut chosen = None;
        for place in order {
            let Some(vehicle) = self.vehicles.get(place).filter(|v| fits(v)) else {
                continue;
            };
            if !systems.iter().any(|system| vehicle.had(system, first)) {
                chosen = Some(place);
                break;
            }
            second_best = second_best.or(Some(place));
        }
        let place = chosen.or(second_best).unwrap_or(pool.start);
        self.book(place, wanted.weeks, &systems);
        place
    }

    /// Notes that a vehicle is in the shop in those weeks.
    pub fn book(&mut self, place: usize, weeks: &[usize], systems: &[&'static str]) {
        if let Some(vehicle) = self.vehicles.get_mut(place) {
            let first = weeks.first().copied().unwrap_or(0);
            // What is long past no longer matters.
            vehicle.visits.retain(|week| week + 60 > first);
            vehicle.systems.retain(|(week, _)| week + 60 > first);
            vehicle.visits.extend_from_slice(weeks);
            for week in weeks {
                vehicle.systems.extend(systems.iter().map(|system| (*week, *system)));
            }
        }
    }
}

/// A VIN with its check digit.
fn numbered(begin: &str, year: i32, serial: usize) -> String {
    let place = usize::try_from((year - 1980).rem_euclid(30)).unwrap_or(0);
    let letter = YEAR_LETTERS.chars().nth(place).unwrap_or('A');
    let open = format!("{begin}0{letter}T{serial:06}");
    let digit = check_digit(&open).unwrap_or('0');
    format!("{begin}{digit}{letter}T{serial:06}")
}
