//! Comebacks by odometer: how far vehicles were driven before they came back.

use std::collections::BTreeMap;

use serde::Serialize;

use super::tally::in_population;
use crate::figure::Share;
use crate::follow::{FirstReturn, Period, curve_share, first_returns};
use crate::history::{History, Jobs, Odometer};
use crate::stats::survival::{Curve, Moment};

/// The distances at which the share is told, in the shop's unit.
const DISTANCES: [i64; 6] = [500, 1_000, 2_000, 3_000, 5_000, 10_000];
/// Millimeters in a kilometer and in the international mile (NIST Special
/// Publication 811, 2008, appendix B.8: 1.609344 km).
const PER_KILOMETER: i64 = 1_000_000;
const PER_MILE: i64 = 1_609_344;

/// Farther than any of them: how much farther changes no share.
const BEYOND_KM: i64 = 20_000;

const NOTE: &str = "A vehicle that was not seen again tells nothing by distance: nobody knows how \
                    far it was driven. The others are followed to their last known reading, so \
                    this speaks of vehicles that come often, and the share comes out higher than \
                    by days.";

/// How far a repair had held by the as-of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Driven {
    /// It came back after so many kilometers.
    Back(i64),
    /// It did not come back, and the vehicle was seen again so many kilometers
    /// on.
    On(i64),
    /// It came back, nobody knows after how many.
    BackUnread,
    /// It did not come back, and no later reading says how far it was driven.
    NoLaterReading,
}

/// Jobs of one kind.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DistanceCount {
    pub count: i64,
    /// Selects them.
    pub jobs: String,
}

/// The share that came back within one distance.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DistancePoint {
    /// In the report's unit.
    pub distance: i64,
    pub share: Share,
    /// Jobs still followed just before that distance.
    pub at_risk: i64,
    /// Selects the share's returns.
    pub returned_jobs: String,
}

/// Comebacks by odometer.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ComebackDistance {
    /// `km`, or `mi` where most of the shop's readings are in miles.
    pub unit: &'static str,
    /// The jobs that the shares speak of.
    pub known: DistanceCount,
    /// Came back, after a distance that is not known: told and not seen, not
    /// read, or read below the earlier reading.
    pub returned_unread: DistanceCount,
    /// Not come back, and without a later reading.
    pub no_later_reading: DistanceCount,
    pub points: Vec<DistancePoint>,
    /// What must be read with it.
    pub note: &'static str,
}

/// By job row, how far each repair of the population had held; `None` for other
/// jobs and those not handed over by the as-of.
///
/// A job that came back is an event at the reading of the comeback's order. Any
/// other is followed to the vehicle's last reading of a visit handed over by
/// the as-of, or of a comeback's order opened by it: the record of that day had
/// no more.
pub(crate) fn driven(history: &History, as_of: i32) -> Vec<Option<Driven>> {
    let jobs = history.jobs();
    let readings = LastReadings::of(history, as_of);
    let rows = jobs.closed_day.iter().zip(jobs.vehicle).zip(in_population(history));
    rows.zip(first_returns(history))
        .enumerate()
        .map(|(row, (((&closed, &vehicle), inside), first))| {
            (*inside && closed <= as_of).then(|| {
                let start = handed_over(&jobs, row);
                if first.by(closed, as_of) {
                    return back(history, *first, start);
                }
                let on = start.and_then(|start| readings.like(vehicle, start)?.since(start));
                on.filter(|km| *km > 0).map_or(Driven::NoLaterReading, Driven::On)
            })
        })
        .collect()
}

fn back(history: &History, first: FirstReturn, start: Option<Odometer>) -> Driven {
    let km = first.odometer(history).zip(start).and_then(|(later, start)| later.since(start));
    km.map_or(Driven::BackUnread, Driven::Back)
}

/// The reading at the hand-over, else at the order's opening.
fn handed_over(jobs: &Jobs<'_>, row: usize) -> Option<Odometer> {
    let out = Odometer::of_columns(jobs.odometer_out_series, jobs.odometer_out_km, row);
    out.or_else(|| Odometer::of_columns(jobs.odometer_in_series, jobs.odometer_in_km, row))
}

/// The last reading of a vehicle's odometer: of the latest day, and the highest of
/// that day.
type Last = (i32, i64);

/// The last reading of every vehicle and series that the record had on a day.
struct LastReadings {
    /// Of the first series, by vehicle: most odometers are never replaced.
    first: Vec<Last>,
    /// Of later series, by vehicle and series.
    later: BTreeMap<(u32, u32), Last>,
}

impl LastReadings {
    const NONE: Last = (i32::MIN, i64::MIN);

    fn of(history: &History, as_of: i32) -> Self {
        let (jobs, returns) = (history.jobs(), history.returns());
        let vehicles = jobs.vehicle.iter().max().map_or(0, |last| *last as usize + 1);
        let mut last = Self { first: vec![Self::NONE; vehicles], later: BTreeMap::new() };
        let days = jobs.opened_day.iter().zip(jobs.closed_day).zip(jobs.vehicle).enumerate();
        for (row, ((&opened, &closed), &vehicle)) in
            days.filter(|(_, ((_, day), _))| **day <= as_of)
        {
            let arrived = Odometer::of_columns(jobs.odometer_in_series, jobs.odometer_in_km, row);
            let left = Odometer::of_columns(jobs.odometer_out_series, jobs.odometer_out_km, row);
            last.take(vehicle, opened, arrived);
            last.take(vehicle, closed, left);
        }
        let links = returns.earlier.iter().zip(returns.later_opened_day).enumerate();
        for (link, (&earlier, &opened)) in links.filter(|(_, (_, day))| **day <= as_of) {
            let series = returns.later_odometer_series;
            let reading = Odometer::of_columns(series, returns.later_odometer_km, link);
            if let Some(&vehicle) = jobs.vehicle.get(earlier as usize) {
                last.take(vehicle, opened, reading);
            }
        }
        last
    }

    fn take(&mut self, vehicle: u32, day: i32, reading: Option<Odometer>) {
        let Some(Odometer { series, km }) = reading else { return };
        let last = match series {
            0 => self.first.get_mut(vehicle as usize),
            _ => Some(self.later.entry((vehicle, series)).or_insert(Self::NONE)),
        };
        if let Some(last) = last {
            *last = (*last).max((day, km));
        }
    }

    /// The vehicle's last reading in the series of another one.
    fn like(&self, vehicle: u32, of: Odometer) -> Option<Odometer> {
        let last = match of.series {
            0 => self.first.get(vehicle as usize),
            series => self.later.get(&(vehicle, series)),
        };
        let km = last.filter(|last| **last != Self::NONE)?.1;
        Some(Odometer { series: of.series, km })
    }
}

/// The period's comebacks by distance.
pub(super) fn distance(history: &History, period: &Period) -> ComebackDistance {
    let driven = driven(history, period.as_of);
    let closed = history.jobs().closed_day.iter();
    let held: Vec<Driven> = closed
        .zip(driven)
        .filter_map(|(day, driven)| driven.filter(|_| period.holds(*day)))
        .collect();
    let in_miles = counts_miles(history, period.as_of);
    let curve = Curve::new(held.iter().filter_map(moment));
    let count = |key, fits: fn(&Driven) -> bool| DistanceCount {
        count: held.iter().filter(|driven| fits(driven)).count() as i64,
        jobs: selector(period, &[("distance", key)]),
    };
    let points = DISTANCES.map(|distance| point(&curve, period, distance, in_miles));
    ComebackDistance {
        unit: if in_miles { "mi" } else { "km" },
        known: count("known", |driven| matches!(driven, Driven::Back(_) | Driven::On(_))),
        returned_unread: count("returned_unread", |driven| *driven == Driven::BackUnread),
        no_later_reading: count("no_later_reading", |driven| *driven == Driven::NoLaterReading),
        points: points.to_vec(),
        note: NOTE,
    }
}

/// More of the jobs handed over by the as-of were read in miles than not.
fn counts_miles(history: &History, as_of: i32) -> bool {
    let jobs = history.jobs();
    let rows = jobs.closed_day.iter().zip(jobs.odometer_in_miles).enumerate();
    let read = rows.filter(|(row, (day, _))| **day <= as_of && handed_over(&jobs, *row).is_some());
    let sum: i64 = read.map(|(_, (_, miles))| if *miles == 1 { 1 } else { -1 }).sum();
    sum > 0
}

fn moment(driven: &Driven) -> Option<Moment> {
    let time = |km: i64| i32::try_from(km.min(BEYOND_KM)).unwrap_or(i32::MAX);
    match *driven {
        Driven::Back(km) => Some(Moment { time: time(km), events: 1, censored: 0 }),
        Driven::On(km) => Some(Moment { time: time(km), events: 0, censored: 1 }),
        Driven::BackUnread | Driven::NoLaterReading => None,
    }
}

fn selector(period: &Period, more: &[(&str, &str)]) -> String {
    period.selector(&[&[("kind", "complaint"), ("outcome", "repaired")], more].concat())
}

/// Whole kilometers that hold a distance: a mile read to the next kilometer is
/// still within its mile.
const fn within_km(distance: i64, in_miles: bool) -> i64 {
    let per = if in_miles { PER_MILE } else { PER_KILOMETER };
    (distance * per + PER_KILOMETER - 1) / PER_KILOMETER
}

fn point(curve: &Curve, period: &Period, distance: i64, in_miles: bool) -> DistancePoint {
    let km = within_km(distance, in_miles);
    let at = i32::try_from(km).unwrap_or(i32::MAX);
    let known = selector(period, &[("distance", "known")]);
    let share = curve_share(curve, at, "comeback_distance", known);
    let returned_jobs = selector(period, &[("back_within_km", &km.to_string())]);
    DistancePoint { distance, share, at_risk: curve.at_risk(at), returned_jobs }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 500 x 1.609344 is 804.672, 10000 x 1.609344 is 16093.44.
    #[test]
    fn a_mile_is_within_its_kilometers() {
        assert_eq!(
            [(500, true), (10_000, true), (500, false)].map(|(d, mi)| within_km(d, mi)),
            [805, 16_094, 500]
        );
    }

    #[test]
    fn the_last_reading_is_of_the_same_vehicle_and_series() {
        let mut readings =
            LastReadings { first: vec![LastReadings::NONE; 3], later: BTreeMap::new() };
        for (vehicle, series, day, km) in
            [(1, 0, 9, 70), (1, 0, 5, 90), (1, 1, 3, 10), (1, 0, 9, 65), (2, 0, 4, 500)]
        {
            readings.take(vehicle, day, Some(Odometer { series, km }));
        }
        let last = |vehicle, series| readings.like(vehicle, Odometer { series, km: 0 });
        assert_eq!(last(1, 0), Some(Odometer { series: 0, km: 70 }));
        assert_eq!(last(1, 1), Some(Odometer { series: 1, km: 10 }));
        assert_eq!((last(2, 1), last(0, 0), last(3, 0)), (None, None, None));
    }
}
