//! A hundred thousand jobs with known effects: the reports find each of them,
//! and none where there is none. The record is invented; what is true of it
//! stands here, and the reports never see it.

use std::sync::OnceLock;

use analytics::history::{
    CheckRow, History, JobId, JobRow, LaborRow, OperationRow, PartReturnRow, PartRow, ReturnRow,
    Rows,
};
use analytics::words::{
    Activity, CauseState, Disposition, Finding, JobKind, LinkState, Outcome, PartRole, Payer,
    WorkedAs,
};

use crate::shop::{day, facts};

/// Three years of closings; the report's day is a window and more after them.
pub const DAYS: u64 = 1_095;
/// The end of the record.
pub const AS_OF: u64 = DAYS + 70;
/// The day from which on the rule about noises is kept.
pub const RULE: u64 = 760;

/// Shares that come back within 60 days, by symptom.
pub const SHARES: [(&str, f64); 3] =
    [("easy.one", 0.015), ("medium.one", 0.04), ("hard.one", 0.11)];
/// Technicians with their mix of the three symptoms, and how much oftener their
/// repairs return than the symptom's: only one differs.
pub const TECHNICIANS: [(&str, [u64; 3], f64); 4] = [
    ("Ilse", [15, 25, 60], 1.0),
    ("Kofi", [40, 40, 20], 1.0),
    ("Mirela", [40, 40, 20], 1.5),
    ("Tomas", [75, 20, 5], 1.0),
];
/// What comes back, and why, in hundredths.
pub const REASONS: [(&str, u64); 3] =
    [("misdiagnosis", 40), ("workmanship", 35), ("part-defective", 25)];
/// Five checks with minutes and the chance, in hundredths, that each finds the
/// cause. By hand c/p is 15, 80, 133.3, 150 and 250 in the order listed here.
pub const CHECKS: [(&str, i32, u64); 5] = [
    ("terminals", 6, 40),
    ("control", 12, 15),
    ("fuel", 20, 15),
    ("starter", 30, 20),
    ("sensor", 25, 10),
];

/// SplitMix64: Steele, Lea and Flood, OOPSLA 2014.
pub struct Dice(pub u64);

impl Dice {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly in 0 to 1, both left out.
    pub fn unit(&mut self) -> f64 {
        ((self.next() >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    pub fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }

    pub fn happens(&mut self, chance: f64) -> bool {
        self.unit() < chance
    }

    /// A place in a list of weights that add to a hundred.
    pub fn weighted(&mut self, weights: impl IntoIterator<Item = u64>) -> usize {
        let mut left = self.below(100);
        for (place, weight) in weights.into_iter().enumerate() {
            if left < weight {
                return place;
            }
            left -= weight;
        }
        0
    }

    /// A Weibull life by turning its distribution function over.
    pub fn life(&mut self, shape: f64, scale: f64) -> f64 {
        scale * (-self.unit().ln()).powf(1.0 / shape)
    }
}

/// The record while it is written.
pub struct Record {
    pub rows: Rows,
    pub dice: Dice,
    next: u128,
}

impl Record {
    fn id(&mut self) -> u128 {
        self.next += 1;
        self.next
    }

    fn job(&mut self, symptom: &str, technician: &str, vehicle: &str, closed: u64) -> JobId {
        let id = self.id();
        self.rows.jobs.push(JobRow {
            model_year: None,
            holds_on: Vec::new(),
            id,
            order_no: format!("{id:09}"),
            job_no: 1,
            vehicle: vehicle.to_owned(),
            // So that figures by model are by symptom, too.
            model: Some(symptom.to_owned()),
            engine: None,
            kind: JobKind::Complaint,
            outcome: Outcome::Repaired,
            symptom: Some(symptom.to_owned()),
            complaint: None,
            system: symptom.split_once('.').map(|(system, _)| system.to_owned()),
            cause: None,
            cause_state: None,
            cause_curable: None,
            technician: Some(technician.to_owned()),
            opened_on: day(closed),
            opened_minute: 480,
            closed_on: day(closed),
            odometer_in: None,
            odometer_out: None,
            odometer_in_miles: false,
            supervisor: None,
            failed_proofs: 0,
            sublet_cost_minor: 0,
            told: None,
        });
        id
    }

    /// A repair that returns with this chance, evenly within 60 days, is
    /// repaired again by anybody, and so on: so that the chance is the share of
    /// all repairs, and of the first ones. Returns the first one's id.
    fn chain(&mut self, symptom: &str, technician: &str, closed: u64, chance: f64) -> JobId {
        let vehicle = format!("vehicle {}", self.next + 1);
        let first = self.job(symptom, technician, &vehicle, closed);
        let (mut earlier, mut closed) = (first, closed);
        while self.dice.happens(chance) {
            closed += 1 + self.dice.below(60);
            if closed > AS_OF {
                break;
            }
            let mender = TECHNICIANS[self.dice.below(4) as usize].0;
            let later = self.job(symptom, mender, &vehicle, closed);
            let reason = REASONS[self.dice.weighted(REASONS.map(|(_, weight)| weight))].0;
            self.link(earlier, later, closed, reason);
            earlier = later;
        }
        first
    }

    fn link(&mut self, earlier: JobId, later: JobId, opened: u64, reason: &str) {
        let id = self.id();
        self.rows.returns.push(ReturnRow {
            id,
            earlier,
            later,
            later_order_no: format!("{later:09}"),
            later_job_no: 1,
            later_opened_on: day(opened),
            later_odometer: None,
            state: LinkState::Confirmed,
            same_complaint: true,
            reason: Some(reason.to_owned()),
        });
    }

    /// A part on a job, back after so many days where it comes back.
    fn part(&mut self, job: JobId, part: Part<'_>, closed: u64, back: Option<u64>) {
        let id = self.id();
        self.rows.parts.push(PartRow {
            id,
            job,
            part_no: Some(part.no.to_owned()),
            name: part.no.to_owned(),
            position: None,
            disposition: part.disposition,
            role: Some(part.role),
            supplier: None,
            lot: part.lot.map(str::to_owned),
            quantity_hundredths: 100,
            unit_cost_minor: Some(6_000),
            bench_reading: part.reading,
            bench_unit: None,
        });
        if let Some(back) = back.filter(|back| closed + back <= AS_OF) {
            let later = self.id();
            self.rows.part_returns.push(PartReturnRow {
                part_use: id,
                later,
                later_opened_on: day(closed + back),
                state: LinkState::Confirmed,
            });
        }
    }

    fn within_60(&mut self, chance: f64) -> Option<u64> {
        self.dice.happens(chance).then(|| 1 + self.dice.below(60))
    }

    fn labor(
        &mut self,
        job: JobId,
        technician: &str,
        activity: Activity,
        closed: u64,
        minutes: i64,
    ) {
        self.rows.labor.push(LaborRow {
            job,
            technician: technician.to_owned(),
            activity: Some(activity),
            worked_as: WorkedAs::Lead,
            started_on: day(closed),
            minutes,
        });
    }
}

/// A part as it is held and treated.
#[derive(Clone, Copy)]
struct Part<'a> {
    no: &'a str,
    role: PartRole,
    disposition: Disposition,
    lot: Option<&'a str>,
    reading: Option<f64>,
}

fn part(no: &str, role: PartRole, disposition: Disposition) -> Part<'_> {
    Part { no, role, disposition, lot: None, reading: None }
}

/// Repairs by four technicians with unlike mixes.
fn people(record: &mut Record, jobs: u64) {
    for number in 0..jobs {
        let (name, mix, own) = TECHNICIANS[record.dice.below(4) as usize];
        let (symptom, share) = SHARES[record.dice.weighted(mix)];
        let closed = number * DAYS / jobs;
        let job = record.chain(symptom, name, closed, share * own);
        let minutes = 30 + record.dice.below(60) as i64;
        record.labor(job, name, Activity::Repair, closed, minutes);
    }
}

/// Coils of ten lots, one of which is bad.
fn lots(record: &mut Record, jobs: u64) {
    for number in 0..jobs {
        let closed = number * DAYS / jobs;
        let lot = format!("L{:02}", record.dice.below(10));
        let chance = if lot == "L07" { 0.27 } else { 0.025 };
        let job = record.chain("ignition.miss", "Kofi", closed, chance);
        let coil =
            Part { lot: Some(&lot), ..part("coil", PartRole::Suspect, Disposition::ReplacedNew) };
        record.part(job, coil, closed, None);
    }
}

/// One part cleaned as the suspect, cleaned as a bystander, and replaced.
fn cleaned(record: &mut Record, jobs: u64) {
    for number in 0..jobs {
        let closed = number * DAYS / jobs;
        let (role, disposition, chance) = match record.dice.below(3) {
            0 => (PartRole::Suspect, Disposition::CleanedReused, 0.24),
            1 => (PartRole::Bystander, Disposition::CleanedReused, 0.04),
            _ => (PartRole::Suspect, Disposition::ReplacedNew, 0.03),
        };
        let job = record.chain("idle.uneven", "Tomas", closed, 0.02);
        let back = record.within_60(chance);
        record.part(job, part("air valve", role, disposition), closed, back);
        record.labor(job, "Tomas", Activity::Access, closed, 30);
    }
}

/// Lifters refitted after a bench test: those below 30 seconds come back ten
/// times as often.
fn benched(record: &mut Record, jobs: u64) {
    for number in 0..jobs {
        let closed = number * DAYS / jobs;
        let reading = 10.0 + record.dice.below(80) as f64;
        let chance = if reading < 30.0 { 0.4 } else { 0.04 };
        let job = record.chain("tick.one", "Ilse", closed, 0.02);
        let back = record.within_60(chance);
        let lifter = Part {
            reading: Some(reading),
            ..part("lifter", PartRole::Suspect, Disposition::CleanedReused)
        };
        record.part(job, lifter, closed, back);
        record.labor(job, "Ilse", Activity::Access, closed, 240);
    }
}

/// Seals that fail early, sensors that fail by chance, pumps that wear.
pub const LIVES: [(&str, f64, f64); 3] =
    [("seal", 0.6, 3_000.0), ("sensor part", 1.0, 2_000.0), ("pump", 3.0, 500.0)];

fn lives(record: &mut Record, jobs: u64) {
    for number in 0..jobs {
        let closed = number * DAYS / jobs;
        let (no, shape, scale) = LIVES[record.dice.below(3) as usize];
        let job = record.chain("leak.one", "Kofi", closed, 0.02);
        let life = record.dice.life(shape, scale).ceil() as u64;
        record.part(job, part(no, PartRole::Suspect, Disposition::ReplacedNew), closed, Some(life));
    }
}

/// Five checks in the order of their chances, done until one finds the cause.
fn checked(record: &mut Record, jobs: u64) {
    let mut habit = CHECKS;
    habit.sort_by_key(|(_, _, chance)| std::cmp::Reverse(*chance));
    for number in 0..jobs {
        let closed = number * DAYS / jobs;
        let found = CHECKS[record.dice.weighted(CHECKS.map(|(_, _, chance)| chance))].0;
        let job = record.job("crank.none", "Mirela", &format!("checked {number}"), closed);
        let last = record.rows.jobs.last_mut().unwrap();
        last.cause = Some(format!("cause behind {found}"));
        last.cause_state = Some(CauseState::Confirmed);
        for (seq, (check, minutes, _)) in (1..).zip(habit) {
            let finding = if check == found { Finding::Abnormal } else { Finding::Normal };
            record.rows.checks.push(CheckRow {
                reading: None,
                unit: None,
                job,
                seq,
                check: check.to_owned(),
                finding: Some(finding),
                minutes: Some(minutes),
                at_close: false,
            });
            if check == found {
                break;
            }
        }
    }
}

/// A noise that came back in 10 of 100, and from the rule on in 4.
fn ruled(record: &mut Record, jobs: u64) {
    for number in 0..jobs {
        let closed = number * DAYS / jobs;
        let chance = if closed < RULE { 0.10 } else { 0.04 };
        record.chain("noise.ruled", "Ilse", closed, chance);
        record.chain("noise.other", "Ilse", closed, 0.06);
    }
}

/// An operation whose guide time of 1.2 h takes 1.9 h on the mean, whoever does it.
fn short_guide(record: &mut Record, jobs: u64) {
    for number in 0..jobs {
        let closed = number * DAYS / jobs;
        let name = TECHNICIANS[record.dice.below(4) as usize].0;
        let job = record.chain("suspension.knock", name, closed, 0.02);
        let minutes = 94 + record.dice.below(41) as i64;
        record.labor(job, name, Activity::Repair, closed, minutes);
        record.rows.operations.push(OperationRow {
            job,
            code: "arm bushes".to_owned(),
            flat_rate_hundredths: Some(120),
            billed_hundredths: Some(120),
            labor_amount_minor: Some(16_800),
            payer: Some(Payer::Customer),
        });
    }
}

/// About a hundred thousand jobs; made once.
pub fn record() -> History {
    static RECORD: OnceLock<History> = OnceLock::new();
    RECORD.get_or_init(made).clone()
}

fn made() -> History {
    let mut record = Record { rows: Rows::default(), dice: Dice(20_260_101), next: 0 };
    people(&mut record, 48_000);
    lots(&mut record, 8_000);
    cleaned(&mut record, 9_000);
    benched(&mut record, 4_000);
    lives(&mut record, 6_000);
    checked(&mut record, 3_000);
    ruled(&mut record, 8_000);
    short_guide(&mut record, 2_000);
    History::new(facts(), record.rows, 7).unwrap()
}
