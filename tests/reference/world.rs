//! Shops at random: any jobs, parts, checks, labor, operations and links.

use std::collections::{BTreeMap, BTreeSet};

use analytics::history::{
    CheckRow, JobId, JobRow, LaborRow, Odometer, OperationRow, PartReturnRow, PartRow, PayBackRow,
    PlannedVisitRow, ReadingRow, ReturnRow, Rows, ToldReturn,
};
use analytics::words::{
    Activity, CauseState, Disposition, Finding, JobKind, LinkState, Outcome, PartRole, Payer, Told,
    WorkedAs,
};
use chrono::{Days, NaiveDate};
use proptest::collection::vec;
use proptest::prelude::*;

use crate::shop::day;

/// One job and everything on it, as small numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Spec {
    vehicle: u8,
    symptom: u8,
    /// Mostly complaint and repaired.
    kind: u8,
    outcome: u8,
    technician: u8,
    opened: u64,
    stay: u64,
    /// Kilometers at the opening, and how many more at the hand-over; series 0 or 1.
    odometer: Option<(u8, u8, bool)>,
    /// Part, role, disposition and supplier, and when it came back.
    parts: Vec<(u8, u8, u8, u8, Option<u64>)>,
    /// Check, finding, typed in at close.
    checks: Vec<(u8, u8, bool)>,
    labor: Vec<(u8, u8, i64)>,
    operations: Vec<(u8, u8)>,
    /// Who answers for a trainee that led it.
    supervisor: u8,
    failed_proofs: u32,
    /// Days after the closing, and what.
    told: Option<(u64, bool)>,
    /// Days after the closing, and how much.
    pay_backs: Vec<(u64, i64)>,
    /// The order is not handed over: labor is all there is.
    open: bool,
}

/// A link between two jobs: days after the earlier closing, state, whether it
/// is the same complaint.
pub type Link = (u64, u8, bool);

/// A shop's record by job id.
#[derive(Debug, Clone, Default)]
pub struct World {
    pub jobs: BTreeMap<JobId, Spec>,
    pub links: BTreeMap<(JobId, JobId), Link>,
}

fn spec() -> impl Strategy<Value = Spec> {
    let parts = vec((0_u8..4, 0_u8..5, 0_u8..8, 0_u8..3, proptest::option::of(0_u64..90)), 0..4);
    let work = (
        parts,
        vec((0_u8..4, 0_u8..5, any::<bool>()), 0..4),
        vec((0_u8..3, 0_u8..5, 1_i64..200), 0..3),
        vec((0_u8..3, 0_u8..7), 0..3),
    );
    let odometer = proptest::option::weighted(0.8, (any::<u8>(), 0_u8..9, any::<bool>()));
    let after = (
        odometer,
        (0_u8..4, 0_u32..3, proptest::option::weighted(0.2, (0_u64..90, any::<bool>()))),
        vec((0_u64..60, 1_i64..9_000), 0..2),
        proptest::bool::weighted(0.15),
    );
    ((0_u8..5, 0_u8..4, 0_u8..8, 0_u8..10, 0_u8..3), (0_u64..120, 0_u64..5), work, after).prop_map(
        |((vehicle, symptom, kind, outcome, technician), (opened, stay), work, after)| {
            let (parts, checks, labor, operations) = work;
            let (odometer, (supervisor, failed_proofs, told), pay_backs, open) = after;
            Spec {
                vehicle,
                symptom,
                kind,
                outcome,
                technician,
                opened,
                stay,
                odometer,
                parts,
                checks,
                labor,
                operations,
                supervisor,
                failed_proofs,
                told,
                pay_backs,
                open,
            }
        },
    )
}

/// Jobs with ids from 1 to `most`, each there or not, and links among them.
pub fn world(most: JobId) -> impl Strategy<Value = World> {
    let job = (1..=most, spec());
    let link = ((1..=most, 1..=most), (0_u64..90, 0_u8..3, any::<bool>()));
    (vec(job, 0..usize::try_from(most).unwrap()), vec(link, 0..12)).prop_map(|(jobs, links)| {
        World {
            jobs: jobs.into_iter().collect(),
            links: links.into_iter().filter(|((earlier, later), _)| earlier < later).collect(),
        }
    })
}

/// The record as it was at the end of a day.
pub fn cut(mut rows: Rows, as_of: NaiveDate) -> Rows {
    let mut open = BTreeSet::new();
    rows.jobs.retain(|job| {
        let closed = job.closed_on <= as_of;
        if !closed {
            open.insert(job.id);
        }
        closed
    });
    for job in &mut rows.jobs {
        job.told = job.told.take().filter(|told| told.told_on <= as_of);
        job.holds_on.retain(|on| *on <= as_of);
    }
    rows.returns.retain(|link| link.later_opened_on <= as_of && !open.contains(&link.earlier));
    rows.planned_visits.retain(|plan| plan.later_opened_on <= as_of);
    rows.pay_backs.retain(|paid| paid.paid_on <= as_of);
    rows.part_returns.retain(|back| back.later_opened_on <= as_of);
    rows.labor.retain(|entry| entry.started_on <= as_of);
    rows.parts.retain(|part| !open.contains(&part.job));
    rows.readings.retain(|read| !open.contains(&read.job));
    rows.checks.retain(|check| !open.contains(&check.job));
    rows.operations.retain(|operation| !open.contains(&operation.job));
    rows
}

fn named(prefix: &str, number: u8) -> Option<String> {
    (number > 0).then(|| format!("{prefix} {number}"))
}

fn word<W: Copy>(list: &[W], number: u8) -> Option<W> {
    list.get(usize::from(number)).copied()
}

impl World {
    /// What a reload of some jobs brings; of all jobs where `only` is `None`.
    pub fn rows(&self, only: Option<&BTreeSet<JobId>>) -> Rows {
        let mut rows = Rows::default();
        let loaded = |id: &JobId| only.is_none_or(|only| only.contains(id));
        for (id, spec) in self.jobs.iter().filter(|(id, _)| loaded(id)) {
            spec.write(*id, &mut rows);
        }
        for ((earlier, later), (after, state, same)) in &self.links {
            let Some(spec) = self.jobs.get(earlier).filter(|job| !job.open && loaded(earlier))
            else {
                continue;
            };
            // Every eleventh pair was planned as a second visit.
            if (earlier * 5 + later).is_multiple_of(11) {
                rows.planned_visits.push(PlannedVisitRow {
                    earlier: *earlier,
                    later: *later,
                    later_opened_on: day(spec.opened + spec.stay + after),
                });
            }
            rows.returns.push(ReturnRow {
                id: earlier * 1_000 + later,
                earlier: *earlier,
                later: *later,
                later_order_no: format!("{later:06}"),
                later_job_no: 1,
                later_opened_on: day(spec.opened + spec.stay + after),
                later_odometer: spec.reading(2 * i64::try_from(*after).unwrap()),
                state: LinkState::ALL[usize::from(*state)],
                same_complaint: *same,
                reason: named("reason", u8::from(*same)),
            });
        }
        rows
    }
}

impl Spec {
    fn write(&self, id: JobId, rows: &mut Rows) {
        self.write_labor(id, rows);
        if self.open {
            return;
        }
        let closed_on = day(self.opened + self.stay);
        self.write_after(id, closed_on, rows);
        rows.jobs.push(JobRow {
            model_year: None,
            holds_on: self.holds_on(closed_on),
            id,
            // Several jobs of one order, and orders out of the ids' order.
            order_no: format!("{:03}", (id * 7) % 10),
            job_no: i32::try_from(id).unwrap(),
            vehicle: format!("vehicle {}", self.vehicle),
            model: named("model", self.vehicle % 3),
            engine: named("engine", self.vehicle % 2),
            kind: word(JobKind::ALL, self.kind).unwrap_or(JobKind::Complaint),
            outcome: word(Outcome::ALL, self.outcome).unwrap_or(Outcome::Repaired),
            symptom: named("symptom", self.symptom),
            complaint: named("words", self.symptom),
            system: named("system", self.symptom % 2),
            cause: named("cause", self.technician),
            cause_state: word(CauseState::ALL, self.technician),
            cause_curable: None,
            technician: named("technician", self.technician),
            opened_on: day(self.opened),
            opened_minute: 480,
            closed_on,
            odometer_in: self.reading(0),
            odometer_out: self.odometer.and_then(|(_, more, _)| self.reading(more.into())),
            odometer_in_miles: self.vehicle == 0,
            supervisor: named("technician", self.supervisor),
            failed_proofs: self.failed_proofs,
            sublet_cost_minor: i64::from(self.stay as u32) * 50,
            told: self.told.map(|(after, fixed)| ToldReturn {
                told: if fixed { Told::FixedElsewhere } else { Told::NotFixed },
                told_on: closed_on + Days::new(after),
                reason: named("reason", u8::from(fixed)),
            }),
        });
        for (number, (part, role, disposition, supplier, back)) in (0_u128..).zip(&self.parts) {
            rows.parts.push(PartRow {
                id: id * 100 + number,
                job: id,
                part_no: named("part", *part),
                name: "part".to_owned(),
                position: None,
                disposition: Disposition::ALL[usize::from(*disposition)],
                role: word(PartRole::ALL, *role),
                supplier: named("supplier", *supplier),
                lot: named("lot", *supplier),
                quantity_hundredths: 100 * i64::from(*supplier) + 50,
                unit_cost_minor: Some(i64::from(*part) * 100),
                bench_reading: self.bench(number).map(|(reading, _)| reading),
                bench_unit: self.bench(number).and_then(|(_, unit)| unit),
            });
            rows.part_returns.extend(back.map(|back| PartReturnRow {
                part_use: id * 100 + number,
                later: 0,
                later_opened_on: closed_on + Days::new(back),
                state: LinkState::Confirmed,
            }));
        }
        rows.readings.extend(self.left_with(id));
        for (seq, (check, finding, at_close)) in (1..).zip(&self.checks) {
            rows.checks.push(CheckRow {
                reading: None,
                unit: None,
                job: id,
                seq,
                check: format!("check {check}"),
                finding: word(Finding::ALL, *finding),
                minutes: Some(seq * 5),
                at_close: *at_close,
            });
        }
        for (code, payer) in &self.operations {
            rows.operations.push(OperationRow {
                job: id,
                code: format!("operation {code}"),
                flat_rate_hundredths: Some(100),
                billed_hundredths: None,
                labor_amount_minor: None,
                payer: word(Payer::ALL, *payer),
            });
        }
    }

    /// A reading for about four parts of five, some without a unit.
    fn bench(&self, number: u128) -> Option<(f64, Option<String>)> {
        let (part, role, ..) = self.parts.get(usize::try_from(number).ok()?)?;
        match (self.stay + u64::from(*role)) % 5 {
            0 => None,
            1 => Some((-0.0, Some("Ohm".to_owned()))),
            turn => Some((f64::from(*part) * 0.5 + turn as f64, named("unit", part % 3))),
        }
    }

    /// Readings before the hand-over, of a line and of one of its cells.
    fn left_with(&self, job: JobId) -> impl Iterator<Item = ReadingRow> {
        let (stay, unit) = (self.stay, named("unit", u8::try_from(self.stay % 2).unwrap()));
        let places = [None, Some("1".to_owned())];
        places.into_iter().filter(move |_| !stay.is_multiple_of(3)).map(move |place| ReadingRow {
            job,
            line: format!("line {}", stay % 2),
            place,
            reading: stay as f64 * 0.5,
            unit: unit.clone(),
        })
    }

    /// So many kilometers after the order's opening.
    fn reading(&self, more: i64) -> Option<Odometer> {
        let (km, _, series) = self.odometer?;
        Some(Odometer { series: series.into(), km: i64::from(km) * 100 + more * 50 })
    }

    fn write_labor(&self, id: JobId, rows: &mut Rows) {
        for (technician, activity, minutes) in &self.labor {
            rows.labor.push(LaborRow {
                job: id,
                technician: format!("technician {technician}"),
                activity: word(Activity::ALL, *activity),
                worked_as: WorkedAs::Lead,
                started_on: day(self.opened),
                minutes: *minutes,
            });
        }
    }

    /// Some customers are called, some of those days after the hand-over, and some of
    /// them again.
    fn holds_on(&self, closed_on: NaiveDate) -> Vec<NaiveDate> {
        if !(self.technician + self.symptom + self.vehicle).is_multiple_of(3) {
            return Vec::new();
        }
        let first = closed_on + Days::new((self.opened * 7 + self.stay * 13) % 90);
        let again = self.opened.is_multiple_of(2).then(|| first + Days::new(25));
        again.into_iter().chain([first]).collect()
    }

    fn write_after(&self, id: JobId, closed_on: NaiveDate, rows: &mut Rows) {
        rows.pay_backs.extend(self.pay_backs.iter().map(|(after, amount_minor)| PayBackRow {
            job: id,
            paid_on: closed_on + Days::new(*after),
            amount_minor: *amount_minor,
        }));
    }
}
