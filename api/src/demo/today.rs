//! The orders that stand open today.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};

use analytics::words::{Activity, Finding, JobKind, WorkedAs};

use super::calendar::{instant, last_working_day, later};
use super::catalog::check_minutes;
use super::garage::Vehicle;
use super::stream::Stream;
use super::{DemoPlan, FIRST_ORDER_NO, SHOP_CODE, TECHNICIANS};
use crate::domain::zone::Zone;
use crate::import::records::{CheckRecord, JobRecord, LaborRecord, OrderRecord, Visit};

/// Which vehicle an open order is for.
#[derive(Clone, Copy)]
enum From {
    /// One that was in lately for the same symptom.
    Record(usize),
    New(usize),
}

/// An open order.
struct Open {
    from: From,
    symptom: Option<&'static str>,
    complaint: &'static str,
    /// Checks made so far, with what they showed.
    checks: &'static [(&'static str, Finding)],
    /// Who has begun, on what.
    begun: Option<(&'static str, Activity)>,
    /// Minute of the last working day on which it came in.
    opened: i32,
    /// Days from today, and the minute.
    promised: (u64, i32),
}

const OPEN: [Open; 8] = [
    Open {
        from: From::New(1),
        symptom: Some("engine.tick"),
        complaint: "Ticks on top since the cold set in",
        checks: &[("visual-under-hood", Finding::Normal), ("oil-pressure", Finding::Normal)],
        begun: Some((TECHNICIANS[0], Activity::Diagnosis)),
        opened: 805,
        promised: (1, 720),
    },
    Open {
        from: From::Record(0),
        symptom: None,
        complaint: "Pulses again when I brake, as before you had it",
        checks: &[],
        begun: None,
        opened: 842,
        promised: (0, 990),
    },
    Open {
        from: From::New(0),
        symptom: Some("brakes.noise"),
        complaint: "Grinds at the rear",
        checks: &[("brake-strip", Finding::Abnormal)],
        begun: Some((TECHNICIANS[1], Activity::Repair)),
        opened: 871,
        promised: (0, 900),
    },
    Open {
        from: From::New(2),
        symptom: Some("electric.network"),
        complaint: "All the warning lights at once, then nothing for days",
        checks: &[("interview-reproduce", Finding::Inconclusive), ("read-codes", Finding::Normal)],
        begun: Some((TECHNICIANS[2], Activity::Diagnosis)),
        opened: 900,
        promised: (2, 990),
    },
    Open {
        from: From::Record(1),
        symptom: None,
        complaint: "Oil on the driveway again",
        checks: &[],
        begun: None,
        opened: 938,
        promised: (1, 960),
    },
    Open {
        from: From::New(3),
        symptom: Some("engine.low-power"),
        complaint: "No power with a load",
        checks: &[],
        begun: None,
        opened: 965,
        promised: (1, 1020),
    },
    Open {
        from: From::New(4),
        symptom: Some("cooling.overheats"),
        complaint: "Needle in the red in line at the ferry",
        checks: &[],
        begun: None,
        opened: 991,
        promised: (0, 1050),
    },
    Open {
        from: From::New(5),
        symptom: None,
        complaint: "Oil change",
        checks: &[],
        begun: None,
        opened: 1012,
        promised: (0, 720),
    },
];

/// Begun after the last work of the record's day.
const BEGUN_AT: i32 = 17 * 60 + 5;
const BEGUN_MINUTES: i64 = 38;

/// Orders that are open on `today`, the day after the plan's end or later, with
/// when each is promised. They came in on the last working day of the record
/// and carry the numbers after its last. Two are vehicles of the record, back
/// within 60 days with the same symptom, not yet linked.
#[must_use]
pub fn open_today(plan: &DemoPlan, today: NaiveDate) -> Vec<(Visit, DateTime<Utc>)> {
    let mut stream = Stream::new(plan);
    let first_day = stream.standard_day();
    let reserved = stream.standard().reserved.clone();
    let vehicles = stream.standard().garage.vehicles.clone();
    let mut next_no = FIRST_ORDER_NO;
    let mut busy: HashMap<String, DateTime<Utc>> = HashMap::new();
    for labor in stream.by_ref().inspect(|_| next_no += 1).flat_map(|visit| visit.labor) {
        let until = busy.entry(labor.technician).or_insert(labor.ended_at);
        *until = labor.ended_at.max(*until);
    }
    let zone = Zone::parse(super::ZONE).unwrap_or(Zone::UTC);
    let day = last_working_day(plan.end);
    let miles_days = (day - first_day).num_days();
    (next_no..)
        .zip(&OPEN)
        .filter_map(|(order_no, open)| {
            let (place, symptom) = match open.from {
                From::Record(i) => {
                    reserved.back.get(i).map(|(place, symptom)| (*place, Some(*symptom)))?
                }
                From::New(i) => (reserved.new.clone().nth(i)?, open.symptom),
            };
            let desk = Desk { zone, day, miles_days, busy: &busy, order_no: order_no.to_string() };
            let visit = desk.visit(open, vehicles.get(place)?, symptom);
            let (days, minute) = open.promised;
            Some((visit, instant(zone, later(today, days), minute)))
        })
        .collect()
}

/// Where an open order is written up.
struct Desk<'a> {
    zone: Zone,
    day: NaiveDate,
    miles_days: i64,
    /// Until when each technician works in the record.
    busy: &'a HashMap<String, DateTime<Utc>>,
    order_no: String,
}

impl Desk<'_> {
    fn visit(&self, open: &Open, vehicle: &Vehicle, symptom: Option<&str>) -> Visit {
        let checks = (1..).zip(open.checks).map(|(seq, (check, finding))| CheckRecord {
            order_no: self.order_no.clone(),
            job_no: 1,
            seq,
            check: (*check).to_owned(),
            position: None,
            finding: Some(*finding),
            minutes: Some(check_minutes(check)),
            reading: None,
            unit: None,
        });
        let labor = open.begun.map(|begun| self.labor(begun));
        Visit {
            order: self.order(open, vehicle),
            jobs: vec![self.job(open, symptom)],
            checks: checks.collect(),
            parts: Vec::new(),
            labor: labor.into_iter().collect(),
        }
    }

    fn labor(&self, (technician, activity): (&str, Activity)) -> LaborRecord {
        let planned = instant(self.zone, self.day, BEGUN_AT);
        let free = self.busy.get(technician).copied().unwrap_or(planned);
        let started_at = planned.max(free + TimeDelta::minutes(5));
        LaborRecord {
            order_no: self.order_no.clone(),
            job_no: 1,
            technician: technician.to_owned(),
            activity: Some(activity),
            started_at,
            ended_at: started_at + TimeDelta::minutes(BEGUN_MINUTES),
            worked_as: Some(WorkedAs::Lead),
        }
    }

    fn order(&self, open: &Open, vehicle: &Vehicle) -> OrderRecord {
        OrderRecord {
            order_no: self.order_no.clone(),
            shop: SHOP_CODE.to_owned(),
            vin: Some(vehicle.vin.clone()),
            make: Some(vehicle.make().to_owned()),
            model: Some(vehicle.model().to_owned()),
            model_year: Some(vehicle.model_year),
            engine: Some(vehicle.engine().to_owned()),
            odometer_in: Some(vehicle.miles(self.miles_days)),
            odometer_out: None,
            odometer_unit: Some("[mi_i]".to_owned()),
            opened_at: instant(self.zone, self.day, open.opened),
            closed_at: None,
        }
    }

    fn job(&self, open: &Open, symptom: Option<&str>) -> JobRecord {
        let kind = if symptom.is_some() { JobKind::Complaint } else { JobKind::Maintenance };
        JobRecord {
            order_no: self.order_no.clone(),
            job_no: 1,
            kind: Some(kind),
            symptom: symptom.map(str::to_owned),
            complaint: Some(open.complaint.to_owned()),
            outcome: None,
            cause: None,
            cause_position: None,
            correction: None,
            technician: open.begun.map(|(technician, _)| technician.to_owned()),
            operation: None,
            flat_rate_hundredths: None,
            billed_hundredths: None,
            labor_amount_minor: None,
            payer: None,
            returned_from_order: None,
            returned_from_job: None,
            comeback_reason: None,
        }
    }
}
