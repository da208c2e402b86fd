//! No record makes a report fail: empty ones, records at the edges of what rows
//! may say, and rows made of any bytes at all.

use analytics::history::{
    AttendanceRow, CheckRow, History, HistoryError, JobRow, LaborRow, Odometer, OperationRow,
    PartReturnRow, PartRow, PayBackRow, PlannedVisitRow, ReturnRow, Rows, ToldReturn,
};
use analytics::words::{
    Activity, CauseState, Curable, Disposition, Finding, JobKind, LinkState, Outcome, PartRole,
    Payer, Told, WorkedAs,
};
use chrono::{Days, NaiveDate};

use crate::every::{Asked, every_report};
use crate::shop::{Shop, day, facts};

fn asked(as_of: NaiveDate, window_days: Option<i32>) -> Asked {
    Asked { as_of, from: None, window_days }
}

/// Every report, at every edge of as-of and window: that it is made is the test.
fn all_reports(rows: Rows) {
    let history = History::new(facts(), rows, 1).unwrap();
    for window in [None, Some(0), Some(1), Some(400)] {
        for as_of in [day(0), day(60), day(500), NaiveDate::from_ymd_opt(2200, 12, 31).unwrap()] {
            assert!(!every_report(&history, asked(as_of, window)).is_empty());
        }
    }
}

#[test]
fn nothing_has_reports() {
    all_reports(Rows::default());
}

#[test]
fn one_job_has_reports() {
    let mut shop = Shop::default();
    shop.job("symptom 1", 10);
    all_reports(shop.rows);
}

#[test]
fn all_followed_and_none_back() {
    let mut shop = Shop::default();
    for number in 0..200 {
        shop.job("symptom 1", number);
        shop.part("part 1", PartRole::Suspect, Disposition::CleanedReused).bench_reading =
            Some(1.0);
    }
    all_reports(shop.rows);
}

#[test]
fn all_back_on_the_day_of_the_hand_over() {
    let mut shop = Shop::default();
    for number in 0..60 {
        shop.job("symptom 1", number);
        shop.part("part 1", PartRole::Suspect, Disposition::CleanedReused).bench_reading =
            Some(number as f64);
        shop.part_return(0, LinkState::Confirmed);
        shop.comeback(0, "workmanship");
    }
    all_reports(shop.rows);
}

#[test]
fn days_to_come_have_reports() {
    let mut shop = Shop::default();
    for number in 0..40 {
        shop.job("symptom 1", 30_000 + number);
        shop.comeback(20_000, "workmanship");
    }
    all_reports(shop.rows);
}

#[test]
fn what_no_record_can_say_is_refused() {
    let refused = |spoil: fn(&mut Shop)| {
        let mut shop = Shop::default();
        shop.job("symptom 1", 10);
        shop.part("part 1", PartRole::Suspect, Disposition::CleanedReused);
        shop.labor("Mirela", Activity::Repair, 30);
        spoil(&mut shop);
        match History::new(facts(), shop.rows, 1) {
            Err(HistoryError::OutOfBounds(what)) => what,
            other => panic!("{:?}", other.map(|history| history.change_no())),
        }
    };
    assert_eq!(refused(|shop| shop.last_job().closed_on = NaiveDate::MAX), "closing day");
    assert_eq!(refused(|shop| shop.last_job().opened_on = NaiveDate::MIN), "opening day");
    assert_eq!(refused(|shop| shop.last_job().sublet_cost_minor = i64::MAX), "sublet cost");
    assert_eq!(
        refused(|shop| shop.rows.labor.last_mut().unwrap().minutes = i64::MAX),
        "minutes of labor"
    );
    for odd in [f64::INFINITY, f64::NEG_INFINITY, f64::NAN] {
        let mut shop = Shop::default();
        shop.job("symptom 1", 10);
        shop.part("part 1", PartRole::Suspect, Disposition::CleanedReused);
        shop.rows.parts.last_mut().unwrap().bench_reading = Some(odd);
        let made = History::new(facts(), shop.rows, 1).map(|history| history.change_no());
        assert_eq!(made, Err(HistoryError::OutOfBounds("bench reading")));
    }
}

/// Bytes read as numbers; 0 once they are used up.
struct Bytes<'a>(std::slice::Iter<'a, u8>);

impl Bytes<'_> {
    fn byte(&mut self) -> u8 {
        self.0.next().copied().unwrap_or(0)
    }

    fn below(&mut self, n: usize) -> usize {
        usize::from(self.byte()) % n
    }

    fn left(&self) -> bool {
        !self.0.as_slice().is_empty()
    }

    fn one_of<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.below(list.len())]
    }

    fn maybe<T>(&mut self, value: impl FnOnce(&mut Self) -> T) -> Option<T> {
        (!self.byte().is_multiple_of(4)).then(|| value(self))
    }

    fn name(&mut self, what: &str) -> Option<String> {
        self.maybe(|bytes| format!("{what} {}", bytes.below(4)))
    }

    /// A day, mostly within two years, seldom at an edge of what a row may say.
    fn day(&mut self) -> NaiveDate {
        match self.byte() {
            0 => NaiveDate::from_ymd_opt(1900, 1, 1).unwrap(),
            1 => NaiveDate::from_ymd_opt(2200, 12, 31).unwrap(),
            high => day(u64::from(high % 3) * 256 + u64::from(self.byte())),
        }
    }

    fn after(&mut self, from: NaiveDate) -> NaiveDate {
        match self.byte() {
            0 => self.day(),
            days => (from + Days::new(u64::from(days)))
                .min(NaiveDate::from_ymd_opt(2200, 12, 31).unwrap()),
        }
    }

    fn amount(&mut self) -> i64 {
        match self.byte() {
            0 => 1_000_000_000_000,
            1 => -1_000_000_000_000,
            small => i64::from(small) * 97,
        }
    }

    fn minutes(&mut self) -> i64 {
        match self.byte() {
            0 => 100_000_000,
            small => i64::from(small),
        }
    }

    fn reading(&mut self) -> f64 {
        match self.byte() {
            0 => f64::MAX,
            1 => f64::MIN,
            2 => f64::MIN_POSITIVE,
            3 => -0.0,
            small => f64::from(small % 20) / 7.0,
        }
    }

    fn odometer(&mut self) -> Option<Odometer> {
        let (series, km) = (u32::from(self.byte() % 2), self.amount());
        self.maybe(|_| Odometer { series, km })
    }

    fn job(&mut self, id: u128, rows: &mut Rows) {
        let closed_on = self.day();
        rows.jobs.push(JobRow {
            model_year: None,
            holds_on: Vec::new(),
            id,
            order_no: format!("{}", self.below(9)),
            job_no: i32::from(self.byte()),
            vehicle: format!("vehicle {}", self.below(6)),
            model: self.name("model"),
            engine: self.name("engine"),
            kind: self.one_of(&[JobKind::Complaint, JobKind::Complaint, JobKind::Maintenance]),
            outcome: self.one_of(&[Outcome::Repaired, Outcome::Repaired, Outcome::Declined]),
            symptom: self.name("symptom"),
            complaint: None,
            system: self.name("system"),
            cause: self.name("cause"),
            cause_state: self.maybe(|b| b.one_of(CauseState::ALL)),
            cause_curable: self.maybe(|b| b.one_of(&[Curable::Yes, Curable::No])),
            technician: self.name("technician"),
            opened_on: self.maybe(Self::day).unwrap_or(closed_on),
            opened_minute: i32::from(self.byte()),
            closed_on,
            odometer_in: self.odometer(),
            odometer_out: self.odometer(),
            odometer_in_miles: self.byte().is_multiple_of(2),
            supervisor: self.name("technician"),
            failed_proofs: u32::from(self.byte() % 3),
            sublet_cost_minor: self.amount(),
            told: self.maybe(|b| ToldReturn {
                told: b.one_of(&[Told::NotFixed, Told::FixedElsewhere]),
                told_on: b.after(closed_on),
                reason: b.name("reason"),
            }),
        });
    }

    fn part(&mut self, id: u128, job: u128, rows: &mut Rows) {
        rows.parts.push(PartRow {
            id,
            job,
            part_no: self.name("part"),
            name: "part".to_owned(),
            position: self.name("position"),
            disposition: self.one_of(Disposition::ALL),
            role: self.maybe(|b| b.one_of(PartRole::ALL)),
            supplier: self.name("supplier"),
            lot: self.name("lot"),
            quantity_hundredths: if self.byte() == 0 { 100_000_000 } else { 100 },
            unit_cost_minor: self.maybe(Self::amount),
            bench_reading: self.maybe(Self::reading),
            bench_unit: None,
        });
        if let Some(later_opened_on) = self.maybe(Self::day) {
            let state = self.one_of(LinkState::ALL);
            rows.part_returns.push(PartReturnRow {
                part_use: id,
                later: 1,
                later_opened_on,
                state,
            });
        }
    }

    fn work(&mut self, job: u128, rows: &mut Rows) {
        rows.checks.push(CheckRow {
            reading: None,
            unit: None,
            job,
            seq: i32::from(self.byte()),
            check: format!("check {}", self.below(16)),
            finding: self.maybe(|b| b.one_of(Finding::ALL)),
            minutes: self.maybe(|b| i32::try_from(b.minutes()).unwrap()),
            at_close: self.byte().is_multiple_of(3),
        });
        rows.labor.push(LaborRow {
            job,
            technician: self.name("technician").unwrap_or_default(),
            activity: self.maybe(|b| b.one_of(Activity::ALL)),
            worked_as: self.one_of(&[WorkedAs::Lead, WorkedAs::Helper, WorkedAs::Trainee]),
            started_on: self.day(),
            minutes: self.minutes(),
        });
        rows.operations.push(OperationRow {
            job,
            code: format!("operation {}", self.below(3)),
            flat_rate_hundredths: self.maybe(|b| b.minutes().min(100_000_000)),
            billed_hundredths: self.maybe(|b| b.minutes().min(100_000_000)),
            labor_amount_minor: self.maybe(Self::amount),
            payer: self.maybe(|b| b.one_of(Payer::ALL)),
        });
    }

    fn link(&mut self, id: u128, jobs: u128, rows: &mut Rows) {
        let (earlier, later) = (u128::from(self.byte()) % jobs, u128::from(self.byte()) % jobs);
        let later_opened_on = self.day();
        if self.byte().is_multiple_of(8) {
            rows.planned_visits.push(PlannedVisitRow { earlier, later, later_opened_on });
        }
        rows.returns.push(ReturnRow {
            id,
            earlier,
            later,
            later_order_no: format!("{later}"),
            later_job_no: 1,
            later_opened_on,
            later_odometer: self.odometer(),
            state: self.one_of(LinkState::ALL),
            same_complaint: self.byte().is_multiple_of(2),
            reason: self.name("reason"),
        });
    }

    fn rows(mut self) -> Rows {
        let mut rows = Rows::default();
        let jobs = 1 + u128::from(self.byte() % 60);
        for id in 0..jobs {
            self.job(id, &mut rows);
        }
        let mut next = 1_000;
        while self.left() {
            next += 1;
            let job = u128::from(self.byte()) % jobs;
            match self.below(5) {
                0 => self.part(next, job, &mut rows),
                1 => self.work(job, &mut rows),
                2 => self.link(next, jobs, &mut rows),
                3 => rows.pay_backs.push(PayBackRow {
                    job,
                    paid_on: self.day(),
                    amount_minor: self.amount(),
                }),
                _ => rows.attendance.get_or_insert_default().push(AttendanceRow {
                    technician: self.name("technician").unwrap_or_default(),
                    worked_on: self.day(),
                    minutes: self.minutes(),
                }),
            }
        }
        rows
    }
}

/// The target for any fuzzer: bytes to rows to every report.
fn reports_of_bytes(bytes: &[u8]) {
    let rows = Bytes(bytes.iter()).rows();
    let history = History::new(facts(), rows, 1).unwrap();
    let window = Some(i32::from(bytes.first().copied().unwrap_or(0)) * 2);
    let as_of = day(u64::from(bytes.last().copied().unwrap_or(0)) * 3);
    every_report(&history, asked(as_of, window));
}

/// Which bytes made a report fail is said before it does.
struct Failing<'a>(&'a [u8]);

impl Drop for Failing<'_> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            let hex: String = self.0.iter().map(|byte| format!("{byte:02x}")).collect();
            println!("these bytes fail: {hex}");
        }
    }
}

/// `ONETRIP_FUZZ_RUNS` says how many byte strings are tried, of fixed seeds;
/// `ONETRIP_FUZZ_BYTES` names a file to try alone, as another fuzzer found it.
#[test]
fn rows_of_any_bytes_have_reports() {
    if let Ok(path) = std::env::var("ONETRIP_FUZZ_BYTES") {
        reports_of_bytes(&std::fs::read(path).unwrap());
        return;
    }
    let runs: u64 = std::env::var("ONETRIP_FUZZ_RUNS").map_or(60, |runs| runs.parse().unwrap());
    for seed in 0..runs {
        // Steele, Lea and Flood, "Fast splittable pseudorandom number
        // generators", OOPSLA 2014: SplitMix64.
        let mut state = seed;
        let mut next = || {
            state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = state;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            z ^ (z >> 31)
        };
        let length = next() % 4_000;
        let bytes: Vec<u8> = (0..length).map(|_| next() as u8).collect();
        let _told = Failing(&bytes);
        reports_of_bytes(&bytes);
    }
    println!("fuzzed: {runs} records");
}
