//! The planted stories: what the program should find. The counts are those of
//! the shop scenario (invented demo data).

mod battery;
mod bushes;
mod coils;
pub(super) mod coolant;
mod idle_valve;
mod preparation;
mod vibration;

use super::calendar::{FRIDAY, MONDAY, Week};
use super::dice::Dice;
use super::garage::Garage;
use super::planned::{Back, Keys, Planned};
use super::sheet::Sheet;
use crate::demo::MIRELA_AWAY;

/// Weeks whose closing days are all more than 60 days before the end: the last
/// in which a planted first repair may lie.
pub(super) const CLOSED_WINDOWS: usize = 41;

/// What the stories are made with.
pub(super) struct Maker<'a> {
    pub weeks: &'a [Week],
    pub garage: &'a mut Garage,
    pub keys: &'a mut Keys,
    pub dice: &'a mut Dice,
    /// Serial of the next vehicle.
    pub serial: usize,
}

impl Maker<'_> {
    /// Vehicles of stories only, of the makes given by turns.
    fn vehicles(&mut self, count: usize, makes: &[usize]) -> std::ops::Range<usize> {
        self.serial += count;
        self.garage.add(self.dice, count, makes, self.serial - count)
    }

    /// Weeks for `count` first repairs, in ascending order.
    fn spread(&mut self, count: usize, weight: impl Fn(usize) -> u32) -> Vec<usize> {
        let weights: Vec<u32> = (0..CLOSED_WINDOWS)
            .map(|week| {
                let hands = leads(week).len() as u32;
                self.weeks.get(week).map_or(0, Week::weight) * weight(week) * hands / 3
            })
            .collect();
        self.dice.spread(count, &weights)
    }

    /// Marks `count` of `of`, in chance order.
    fn marks(&mut self, count: usize, of: usize) -> Vec<bool> {
        let mut marks: Vec<bool> = (0..of).map(|i| i < count).collect();
        self.dice.shuffle(&mut marks);
        marks
    }

    /// The visit that comes back for `first` so many weeks later.
    fn back(
        &mut self,
        first: &mut Planned,
        after: usize,
        reason: &'static str,
        sheet: Sheet,
    ) -> Planned {
        let mut again = Planned::new(self.keys.next(), first.week + after, first.makes, sheet);
        again.back = Some(Back { of: first.key, reason });
        again.vehicle = first.vehicle;
        first.comes_back = true;
        again
    }
}

/// Every planted visit. Stories 1 and 4 have vehicles of their own; the
/// vehicles of stories 2 and 3 are chosen among those.
pub(super) fn plant(maker: &mut Maker<'_>) -> Vec<Planned> {
    let first_vehicle = maker.garage.vehicles.len();
    let mut planned = idle_valve::plant(maker);
    planned.extend(coils::plant(maker));
    for visit in &planned {
        if let Some(place) = visit.vehicle {
            maker.garage.book(place, &[visit.week], &systems(visit));
        }
    }
    let pool = first_vehicle..maker.garage.vehicles.len();
    planned.extend(battery::plant(maker, pool.clone()));
    planned.extend(bushes::plant(maker, pool.clone()));
    planned.extend(coolant::plant(maker, pool));
    planned.extend(preparation::plant(maker));
    planned.extend(vibration::plant(maker));
    planned
}

fn systems(visit: &Planned) -> Vec<&'static str> {
    visit.symptoms().into_iter().filter_map(super::catalog::system).collect()
}

/// Who can lead in a week: everyone, but for the weeks in which the first is
/// away.
pub(super) fn leads(week: usize) -> std::ops::Range<usize> {
    if MIRELA_AWAY.contains(&(week + 1)) { 1..3 } else { 0..3 }
}

/// The weeks whose Friday is a working day.
fn with_friday(weeks: &[Week]) -> Vec<usize> {
    (0..CLOSED_WINDOWS)
        .filter(|week| weeks.get(*week).is_some_and(|week| week.is_open(FRIDAY)))
        .collect()
}

/// A week from `from` on whose Monday is open, as is the Friday six weeks later.
fn monday_and_friday(weeks: &[Week], from: usize) -> usize {
    (from..from + 10)
        .find(|week| {
            weeks.get(*week).is_some_and(|week| week.is_open(MONDAY))
                && weeks.get(week + 6).is_some_and(|week| week.is_open(FRIDAY))
        })
        .unwrap_or(from)
}
