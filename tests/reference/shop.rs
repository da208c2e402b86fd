//! A small shop to put jobs into: every value that a test does not care about
//! is the same everywhere.

use std::collections::{BTreeMap, BTreeSet};

use analytics::figure::Query;
use analytics::history::{
    AttendanceRow, CheckRow, History, JobId, JobRow, LaborRow, OperationRow, PartPolicy,
    PartReturnRow, PartRow, PlannedVisitRow, ReturnRow, Rows, ShopFacts, ToldReturn,
};
use analytics::select::{Selector, select};
use analytics::words::{
    Activity, CauseState, Curable, Disposition, Finding, JobKind, LinkState, Outcome, PartRole,
    Payer, Told, WorkedAs,
};
use chrono::{Days, NaiveDate};

/// The day every test counts from.
pub fn day(number: u64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 1, 1).unwrap() + Days::new(number)
}

/// Labor cost 90.00 an hour, the rest of a return 60.00, window 60 days.
pub fn facts() -> ShopFacts {
    ShopFacts {
        code: "sycamores".to_owned(),
        name: "Four Sycamores Motor Works".to_owned(),
        currency: "USD".to_owned(),
        labor_cost_minor_per_hour: 9_000,
        posted_rate_minor_per_hour: 14_000,
        window_days: 60,
        week_start: 1,
        ceiling: 0.1,
        return_extra_minor: 6_000,
        return_clocked_minor: 0,
        links_from: None,
        assumed_cleaned_suspect: 0.3,
        assumed_bystander_tested: 0.03,
        assumed_bystander_untested: 0.06,
        assumed_replaced: 0.03,
        part_policies: std::iter::once((
            "IAV-100".to_owned(),
            PartPolicy {
                access_minutes: Some(30),
                clean_minutes: Some(20),
                fit_minutes: Some(10),
                cost_minor: Some(8_500),
            },
        ))
        .collect(),
        check_minutes: BTreeMap::new(),
        free_looks: BTreeSet::new(),
        trained_checks: BTreeSet::new(),
        check_access: BTreeMap::new(),
        check_plans: Vec::new(),
    }
}

/// Everything up to a day, with the shop's window.
pub fn until(number: u64) -> Query {
    Query { as_of: day(number), from: None, to: None, window_days: None, by: None }
}

/// How many jobs a report's selector leads to.
pub fn selected(history: &History, selector: &str, as_of: NaiveDate) -> i64 {
    let selector = Selector::parse(selector).unwrap();
    i64::try_from(select(history, &selector, as_of, 60).len()).unwrap()
}

/// Rows of a shop while a test writes them.
#[derive(Debug, Clone, Default)]
pub struct Shop {
    pub rows: Rows,
    pub next: u128,
}

impl Shop {
    /// A shop whose ids begin above `first`.
    pub fn starting_at(first: u128) -> Self {
        Self { next: first, ..Self::default() }
    }

    pub fn history(self, facts: ShopFacts) -> History {
        History::new(facts, self.rows, 7).unwrap()
    }

    /// Takes over another shop's rows.
    pub fn absorb(&mut self, other: Self) {
        let theirs = other.rows;
        self.rows.jobs.extend(theirs.jobs);
        self.rows.checks.extend(theirs.checks);
        self.rows.parts.extend(theirs.parts);
        self.rows.labor.extend(theirs.labor);
        self.rows.operations.extend(theirs.operations);
        self.rows.returns.extend(theirs.returns);
        self.rows.part_returns.extend(theirs.part_returns);
        self.rows.planned_visits.extend(theirs.planned_visits);
        self.rows.pay_backs.extend(theirs.pay_backs);
        self.rows.attendance.get_or_insert_default().extend(theirs.attendance.unwrap_or_default());
    }

    fn id(&mut self) -> u128 {
        self.next += 1;
        self.next
    }

    /// A repaired complaint, closed on a day; led by Mirela.
    pub fn job(&mut self, symptom: &str, closed: u64) -> JobId {
        let id = self.id();
        self.rows.jobs.push(JobRow {
            model_year: None,
            holds_on: Vec::new(),
            id,
            order_no: format!("{id:06}"),
            job_no: 1,
            vehicle: format!("vehicle {id}"),
            model: None,
            engine: None,
            kind: JobKind::Complaint,
            outcome: Outcome::Repaired,
            symptom: Some(symptom.to_owned()),
            complaint: None,
            system: symptom.split_once('.').map(|(system, _)| system.to_owned()),
            cause: None,
            cause_state: None,
            cause_curable: None,
            technician: Some("Mirela".to_owned()),
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

    /// The job written last.
    pub fn last_job(&mut self) -> &mut JobRow {
        self.rows.jobs.last_mut().unwrap()
    }

    /// Confirms the cause of the job written last.
    pub fn cause(&mut self, curable: Curable) {
        let job = self.last_job();
        job.cause = Some("lifter-worn".to_owned());
        job.cause_state = Some(CauseState::Confirmed);
        job.cause_curable = Some(curable);
    }

    /// The next check of the job written last, normal.
    pub fn check(&mut self, check: &str, minutes: Option<i32>) -> &mut CheckRow {
        let job = self.last_job().id;
        let seq = 1 + self.rows.checks.iter().filter(|row| row.job == job).count();
        self.rows.checks.push(CheckRow {
            reading: None,
            unit: None,
            job,
            seq: i32::try_from(seq).unwrap(),
            check: check.to_owned(),
            finding: Some(Finding::Normal),
            minutes,
            at_close: false,
        });
        self.rows.checks.last_mut().unwrap()
    }

    /// A part of the job written last.
    pub fn part(&mut self, part: &str, role: PartRole, disposition: Disposition) -> &mut PartRow {
        let (id, job) = (self.id(), self.last_job().id);
        self.rows.parts.push(PartRow {
            id,
            job,
            part_no: Some(part.to_owned()),
            name: "part".to_owned(),
            position: None,
            disposition,
            role: Some(role),
            supplier: None,
            lot: None,
            quantity_hundredths: 100,
            unit_cost_minor: None,
            bench_reading: None,
            bench_unit: None,
        });
        self.rows.parts.last_mut().unwrap()
    }

    /// The part written last comes back some days after its job's closing.
    pub fn part_return(&mut self, after: u64, state: LinkState) {
        let later_opened_on = self.last_job().closed_on + Days::new(after);
        let (part_use, later) = (self.rows.parts.last().unwrap().id, self.id());
        self.rows.part_returns.push(PartReturnRow { part_use, later, later_opened_on, state });
    }

    /// The job written last comes back some days after its closing; the later
    /// job is still open.
    pub fn comeback(&mut self, after: u64, reason: &str) {
        let (earlier, opened) = {
            let job = self.last_job();
            (job.id, job.closed_on + Days::new(after))
        };
        let later = self.id();
        self.link(earlier, later, opened, reason);
    }

    /// The job written last is told not to have held.
    pub fn told(&mut self, after: u64, told: Told, reason: Option<&str>) {
        let job = self.last_job();
        job.told = Some(ToldReturn {
            told,
            told_on: job.closed_on + Days::new(after),
            reason: reason.map(str::to_owned),
        });
    }

    /// A second visit that was planned when the earlier job ended.
    pub fn planned(&mut self, earlier: JobId, later: JobId, opened: NaiveDate) {
        let row = PlannedVisitRow { earlier, later, later_opened_on: opened };
        self.rows.planned_visits.push(row);
    }

    /// Hours that somebody was there on a day.
    pub fn attended(&mut self, technician: &str, on: u64, hours: i64) {
        self.rows.attendance.get_or_insert_default().push(AttendanceRow {
            technician: technician.to_owned(),
            worked_on: day(on),
            minutes: hours * 60,
        });
    }

    /// A confirmed link between two jobs.
    pub fn link(&mut self, earlier: JobId, later: JobId, opened: NaiveDate, reason: &str) {
        let id = self.id();
        self.rows.returns.push(ReturnRow {
            id,
            earlier,
            later,
            later_order_no: format!("{later:06}"),
            later_job_no: 1,
            later_opened_on: opened,
            later_odometer: None,
            state: LinkState::Confirmed,
            same_complaint: true,
            reason: Some(reason.to_owned()),
        });
    }

    /// Minutes of a technician on the job written last.
    pub fn labor(&mut self, technician: &str, activity: Activity, minutes: i64) {
        let (job, started_on) = (self.last_job().id, self.last_job().closed_on);
        self.rows.labor.push(LaborRow {
            job,
            technician: technician.to_owned(),
            activity: Some(activity),
            worked_as: WorkedAs::Lead,
            started_on,
            minutes,
        });
    }

    /// An operation of the job written last: flat-rate and billed hundredths
    /// of an hour, and the amount at 140.00 an hour.
    pub fn operation(&mut self, code: &str, flat: i64, billed: i64, payer: Payer) {
        let job = self.last_job().id;
        self.rows.operations.push(OperationRow {
            job,
            code: code.to_owned(),
            flat_rate_hundredths: Some(flat),
            billed_hundredths: Some(billed),
            labor_amount_minor: Some(billed * 140),
            payer: Some(payer),
        });
    }
}
