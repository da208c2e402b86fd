//! Turns a scheduled visit into the records of the history files.

use chrono::NaiveDate;

use analytics::words::Payer;

use super::calendar::{Week, instant};
use super::garage::Garage;
use super::planned::Key;
use super::schedule::{Entry, LEADS, Slot};
use super::sheet::{PartLine, Sheet, Step};
use super::{POSTED_RATE_MINOR_PER_HOUR, SHOP_CODE};
use crate::domain::zone::Zone;
use crate::import::records::{CheckRecord, JobRecord, LaborRecord, OrderRecord, PartRecord, Visit};

/// A crew: three technicians who lead, and the apprentice.
#[derive(Debug, Clone)]
pub(super) struct Crew {
    pub names: [String; LEADS + 1],
}

impl Crew {
    fn name(&self, place: usize) -> String {
        self.names.get(place).cloned().unwrap_or_default()
    }
}

/// What a visit is rendered with.
pub(super) struct Page<'a> {
    pub zone: Zone,
    pub week: &'a Week,
    pub first_day: NaiveDate,
    pub garage: &'a Garage,
    pub crew: &'a Crew,
    pub order_no: String,
    /// Order number of the visit it came back for.
    pub returned_from: Option<String>,
}

impl Page<'_> {
    /// The records of a slot.
    pub fn visit(&self, slot: &Slot) -> Visit {
        let mut visit = Visit {
            order: self.order(slot),
            jobs: Vec::new(),
            checks: Vec::new(),
            parts: Vec::new(),
            labor: Vec::new(),
        };
        for ((job_no, sheet), entries) in (1..).zip(&slot.planned.sheets).zip(&slot.labor) {
            visit.jobs.push(self.job(job_no, sheet, slot));
            visit
                .checks
                .extend((1..).zip(&sheet.steps).map(|(seq, step)| self.check(job_no, seq, step)));
            visit
                .parts
                .extend((1..).zip(&sheet.parts).map(|(line, part)| self.part(job_no, line, part)));
            visit.labor.extend(entries.iter().map(|entry| self.labor(job_no, slot.worked, entry)));
        }
        visit
    }

    fn order(&self, slot: &Slot) -> OrderRecord {
        let vehicle = slot.planned.vehicle.and_then(|place| self.garage.vehicles.get(place));
        let opened_on = self.week.date(slot.opened.0);
        let odometer = vehicle.map(|v| v.miles((opened_on - self.first_day).num_days()));
        // Proof takes a few miles.
        let proof: i32 = slot.planned.sheets.iter().map(|sheet| sheet.minutes.proof).sum();
        let driven = vehicle.map_or(0, |v| v.test_miles(proof));
        OrderRecord {
            order_no: self.order_no.clone(),
            shop: SHOP_CODE.to_owned(),
            vin: vehicle.map(|v| v.vin.clone()),
            make: vehicle.map(|v| v.make().to_owned()),
            model: vehicle.map(|v| v.model().to_owned()),
            model_year: vehicle.map(|v| v.model_year),
            engine: vehicle.map(|v| v.engine().to_owned()),
            odometer_in: odometer,
            odometer_out: odometer.map(|miles| miles + driven),
            odometer_unit: Some("[mi_i]".to_owned()),
            opened_at: instant(self.zone, opened_on, slot.opened.1),
            closed_at: Some(instant(self.zone, self.week.date(slot.closed.0), slot.closed.1)),
        }
    }

    fn job(&self, job_no: i32, sheet: &Sheet, slot: &Slot) -> JobRecord {
        let back = slot.planned.back.filter(|_| job_no == 1);
        let billed = billed(sheet);
        JobRecord {
            order_no: self.order_no.clone(),
            job_no,
            kind: Some(sheet.kind),
            symptom: sheet.symptom.map(str::to_owned),
            complaint: sheet.complaint.map(str::to_owned),
            outcome: sheet.outcome,
            cause: sheet.cause.map(str::to_owned),
            cause_position: sheet.place.map(str::to_owned),
            correction: sheet.correction.map(str::to_owned),
            technician: slot.planned.lead.map(|lead| self.crew.name(lead)),
            operation: Some(sheet.operation.to_owned()),
            flat_rate_hundredths: Some(sheet.flat_rate),
            billed_hundredths: Some(billed),
            labor_amount_minor: Some(labor_amount(sheet, billed, slot.planned.key)),
            payer: Some(sheet.payer),
            returned_from_order: back.and_then(|_| self.returned_from.clone()),
            returned_from_job: back.map(|_| 1),
            comeback_reason: back.map(|back| back.reason.to_owned()),
        }
    }

    fn check(&self, job_no: i32, seq: i32, step: &Step) -> CheckRecord {
        CheckRecord {
            order_no: self.order_no.clone(),
            job_no,
            seq,
            check: step.check.to_owned(),
            position: step.position.map(str::to_owned),
            finding: step.finding,
            minutes: step.minutes,
            reading: step.reading.map(|(reading, _)| reading),
            unit: step.reading.map(|(_, unit)| unit.to_owned()),
        }
    }

    fn part(&self, job_no: i32, line: i32, used: &PartLine) -> PartRecord {
        let new = used.disposition.is_replaced();
        PartRecord {
            order_no: self.order_no.clone(),
            job_no,
            line: Some(line),
            part_no: Some(used.part.no.to_owned()),
            name: used.part.name.to_owned(),
            position: used.place.map(str::to_owned),
            quantity_hundredths: Some(used.quantity * 100),
            disposition: used.disposition,
            role: Some(used.role),
            serviceable: Some(used.part.serviceable),
            supplier: used.source.as_ref().map(|(supplier, _)| (*supplier).to_owned()),
            lot: used.source.as_ref().map(|(_, lot)| lot.clone()),
            unit_cost_minor: new.then_some(used.part.cost),
            unit_price_minor: new.then_some(used.part.price),
            bench_reading: used.bench.map(|(reading, _)| reading),
            bench_unit: used.bench.map(|(_, unit)| unit.to_owned()),
        }
    }

    fn labor(&self, job_no: i32, day: usize, entry: &Entry) -> LaborRecord {
        let date = self.week.date(day);
        LaborRecord {
            order_no: self.order_no.clone(),
            job_no,
            technician: self.crew.name(entry.who),
            activity: Some(entry.activity),
            started_at: instant(self.zone, date, entry.minutes.start),
            ended_at: instant(self.zone, date, entry.minutes.end),
            worked_as: Some(entry.worked_as),
        }
    }
}

/// Hours billed, hundredths: none on what the shop or nobody pays.
fn billed(sheet: &Sheet) -> i64 {
    match sheet.payer {
        Payer::Customer | Payer::Maker | Payer::Supplier | Payer::Internal => sheet.flat_rate,
        Payer::OwnGuarantee | Payer::Goodwill => 0,
    }
}

/// Labor money in minor units. Makers pay less than the posted rate, and every
/// fifth customer has a discount of a tenth.
fn labor_amount(sheet: &Sheet, billed: i64, key: Key) -> i64 {
    let percent = match sheet.payer {
        Payer::Maker | Payer::Supplier => 86,
        Payer::Internal => 60,
        Payer::Customer | Payer::OwnGuarantee | Payer::Goodwill if key.is_multiple_of(5) => 90,
        Payer::Customer | Payer::OwnGuarantee | Payer::Goodwill => 100,
    };
    billed * POSTED_RATE_MINOR_PER_HOUR / 100 * percent / 100
}
