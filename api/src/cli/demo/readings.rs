//! Readings of the demo shop's new vehicles, and those that wait in stock.

use analytics::preparation::{Bound, Kind, Line};
use analytics::words::JobKind;
use chrono::NaiveDate;

use super::circle::{MORNING, Year, before};
use crate::db::Answer;
use crate::demo::{self, DemoPlan};
use crate::domain::ids::{ReadingListId, ReadingSheetId, VehicleId};
use crate::import::records::{CheckRecord, Visit};
use crate::preparation::list_write as lists;
use crate::preparation::reading::NewReading;
use crate::preparation::sheet_write as sheets;
use crate::preparation::sheets::NewReadingSheet;
use crate::preparation::starting::Purpose;
use crate::preparation::stock::{self, NewStockVehicle};
use crate::shops::write::ShopWrite;
use crate::vehicles::model::{NewVehicle, find_or_make};

const GRAVITY: &str = "battery.gravity";
const CELLS: usize = 6;
/// New vehicles that wait in stock: VIN, make, model, and days since they came.
const WAITING: [(&str, &str, &str, u64); 2] =
    [("ZZDA1CKA3TT009001", "Corvane", "Sill", 38), ("ZZDA1CKA5TT009002", "Corvane", "Sill", 12)];

/// A new vehicle's day in the shop: its gravity, round by round, where it was read.
#[derive(Clone)]
struct Prepared {
    vin: String,
    day: NaiveDate,
    rounds: Vec<Vec<f64>>,
    fahrenheit: f64,
}

/// What was read on a visit that prepared a new vehicle.
fn prepared(visit: &Visit, zone: crate::domain::zone::Zone) -> Option<Prepared> {
    visit.jobs.iter().find(|job| job.kind == Some(JobKind::Preparation))?;
    let of_unit = |unit: &str| -> Vec<f64> {
        let fits = |check: &&CheckRecord| check.unit.as_deref() == Some(unit);
        visit.checks.iter().filter(fits).filter_map(|check| check.reading).collect()
    };
    let closed = crate::domain::clock::UtcStamp::new(visit.order.closed_at?);
    Some(Prepared {
        vin: visit.order.vin.clone()?,
        day: zone.day(closed),
        rounds: of_unit("1").chunks(CELLS).map(<[f64]>::to_vec).collect(),
        fahrenheit: of_unit("[degF]").first().copied().unwrap_or(80.0),
    })
}

/// A reading that passes a line other than the battery's.
fn good(line: &Line) -> NewReading {
    let mut reading = NewReading { line: line.key.clone(), ..NewReading::default() };
    match line.kind {
        Kind::YesNo => reading.yes = Some(line.expects.unwrap_or(true)),
        Kind::Words => reading.words = Some("as on the papers".to_owned()),
        Kind::Number | Kind::Cells => {
            let of = |bound: Bound| {
                line.limits.iter().filter(move |limit| limit.bound == bound).map(|l| l.value)
            };
            let low = of(Bound::Least).reduce(f64::max);
            let high = of(Bound::Most).reduce(f64::min);
            reading.value = Some(match (low, high) {
                (Some(low), Some(high)) => (low + high) / 2.0,
                (Some(one), None) | (None, Some(one)) => one,
                (None, None) => 6.0,
            });
        }
    }
    reading
}

/// One round over the cells.
fn gravity(round: &[f64], fahrenheit: f64) -> NewReading {
    NewReading {
        line: GRAVITY.to_owned(),
        values: Some(round.to_vec()),
        temperature: Some(fahrenheit),
        temperature_unit: Some("[degF]".to_owned()),
        ..NewReading::default()
    }
}

/// Reads a vehicle by the list; whether it passed.
fn read(
    write: &mut ShopWrite<'_>,
    vehicle: &VehicleId,
    list: &ReadingListId,
    of: &Prepared,
) -> Answer<bool> {
    let new = NewReadingSheet {
        vehicle_id: Some(vehicle.clone()),
        job_id: None,
        list_id: Some(list.clone()),
        purpose: None,
        note: None,
    };
    let begun = sheets::begin(write, &new)?;
    let sheet: ReadingSheetId = begun.sheet.id.clone();
    let mut last = begun;
    for round in &of.rounds {
        last = sheets::read(write, &sheet, &gravity(round, of.fahrenheit))?;
    }
    let others: Vec<Line> =
        last.lines.iter().filter(|line| line.one_of.is_none()).cloned().collect();
    for line in &others {
        last = sheets::read(write, &sheet, &good(line))?;
    }
    if last.verdict.passes {
        sheets::pass(write, &sheet)?;
    }
    Ok(last.verdict.passes)
}

fn known(write: &mut ShopWrite<'_>, vin: &str) -> Answer<VehicleId> {
    let vehicle = NewVehicle { vin: Some(vin.to_owned()), ..NewVehicle::default() };
    Ok(find_or_make(write, &vehicle)?.id)
}

impl Year<'_> {
    /// The list, the vehicles whose gravity was read, and those that wait.
    pub(super) fn take_readings(&self) -> Answer<()> {
        let zone = self.shop.zone();
        let plan = DemoPlan { seed: self.seed, end: self.end, jobs: demo::STANDARD_JOBS };
        let all: Vec<Prepared> =
            demo::visits(&plan).filter_map(|visit| prepared(&visit, zone)).collect();
        let measured: Vec<Prepared> =
            all.into_iter().filter(|one| !one.rounds.is_empty()).collect();
        let Some(first) = measured.first().map(|one| one.day) else { return Ok(()) };
        let list = self.write((self.manager, first, MORNING), |write| {
            Ok(lists::take_starting(write, Purpose::Preparation)?.list.id)
        })?;
        for one in measured {
            let list = list.clone();
            self.manage(one.day, move |write| {
                let vehicle = known(write, &one.vin)?;
                read(write, &vehicle, &list, &one)
            })?;
        }
        self.keep_stock()
    }

    /// One is due for a charge, one is not yet.
    fn keep_stock(&self) -> Answer<()> {
        for (vin, make, model, days) in WAITING {
            let day = before(self.end, days);
            self.write((self.manager, day, MORNING), move |write| {
                let vehicle = NewVehicle {
                    vin: Some(vin.to_owned()),
                    make: Some(make.to_owned()),
                    model: Some(model.to_owned()),
                    model_year: Some(2026),
                    ..NewVehicle::default()
                };
                let new = NewStockVehicle {
                    vehicle_id: find_or_make(write, &vehicle)?.id,
                    arrived_on: Some(day),
                    note: None,
                };
                stock::add(write, &new)?;
                Ok(())
            })?;
        }
        Ok(())
    }
}
