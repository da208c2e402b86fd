//! How often the weekly review and the early warnings raise anything in shops
//! where nothing changes, and whether they do where something has.

use std::collections::{BTreeMap, HashSet};
use std::f64::consts::TAU;

use analytics::history::{CheckRow, History, JobId};
use analytics::warning::{LIMIT, Planned, Scan, WarningKind, chances};
use analytics::weekly::{Alarm, AlarmDirection, AlarmSource, Signals, WeekAnswer, Weeks};
use analytics::words::{Disposition, Finding, PartRole, Payer};

use crate::shop::{Shop, day, facts, selected};

/// Two years, looked at from the 27th week on.
pub const WEEKS: u64 = 104;
const FIRST_REVIEWED: u64 = 26;
/// The early warnings begin with the 14th.
const FIRST_SCANNED: u64 = 13;
const SEEDS: u64 = 200;

/// A symptom, and how much likelier than the usual it is to come back.
const SYMPTOMS: [(&str, f64); 8] = [
    ("engine.tick", 1.6),
    ("engine.misfire", 1.2),
    ("charge.flat", 2.0),
    ("charge.light", 0.8),
    ("brakes.noise", 0.6),
    ("brakes.pull", 0.4),
    ("cooling.leak", 1.0),
    ("steering.play", 0.4),
];

/// Steele, Lea and Flood (2014) OOPSLA 453-472: SplitMix64, from memory.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, end: u64) -> u64 {
        self.next() % end
    }

    /// Above 0, at most 1.
    fn unit(&mut self) -> f64 {
        ((self.next() >> 11) + 1) as f64 / (1_u64 << 53) as f64
    }

    fn name(&mut self, prefix: &str, count: u64) -> String {
        format!("{prefix} {}", self.below(count))
    }
}

/// A shop of one size, in which every day brings back a job still out with one
/// and the same chance, whatever the week.
#[derive(Debug, Clone, Copy)]
pub struct Kind {
    pub per_week: u64,
    /// Share of all jobs that comes back within the 60 days of the window.
    pub share: f64,
    /// More work in summer than in winter.
    pub seasonal: bool,
    /// Lots that parts are taken from.
    pub lots: u64,
}

fn kinds() -> Vec<Kind> {
    let mut kinds = Vec::new();
    for per_week in [20, 60, 150] {
        for share in [0.02, 0.04, 0.08] {
            let kind = |seasonal| Kind { per_week, share, seasonal, lots: 30 };
            kinds.extend([false, true].map(kind));
        }
    }
    kinds
}

/// How many times likelier a job is to come back than where nothing changes.
/// Gets the week of its closing, its technician and its lot.
type Effect = fn(u64, &str, &str) -> f64;

/// Nothing changes.
pub fn none(_: u64, _: &str, _: &str) -> f64 {
    1.0
}

/// A shop while its two years are written.
struct Writer {
    shop: Shop,
    dice: Dice,
    /// For what changes no return: models, years, operations, checks, new people.
    beside: Dice,
    kind: Kind,
    effect: Effect,
}

impl Writer {
    /// A job, and what comes back of it.
    fn job(&mut self, symptom: usize, opened: u64, stay: u64, back_for: Option<JobId>) {
        let (closed, last) = (opened + stay, WEEKS * 7 - 1);
        if closed > last {
            return;
        }
        let (code, risk) = SYMPTOMS[symptom];
        let id = self.shop.job(code, closed);
        let technician = self.dice.name("technician", 6);
        let engine = self.dice.name("engine", 5);
        let job = self.shop.last_job();
        job.opened_on = day(opened);
        (job.technician, job.engine) = (Some(technician.clone()), Some(engine));
        let part = format!("part {symptom} {}", self.dice.below(3));
        let (supplier, lot) =
            (self.dice.name("supplier", 4), self.dice.name("lot", self.kind.lots));
        let row = self.shop.part(&part, PartRole::Suspect, Disposition::ReplacedNew);
        (row.supplier, row.lot) = (Some(supplier), Some(lot.clone()));
        self.particulars(symptom, closed / 7);
        if let Some(earlier) = back_for {
            self.shop.link(earlier, id, day(opened), "workmanship");
        }
        let times = (self.effect)(closed / 7, &technician, &lot);
        let hazard = -(1.0 - (self.kind.share * risk * times).min(0.95)).ln() / 60.0;
        let after = (-self.dice.unit().ln() / hazard) as u64;
        if after <= 400 && closed + after <= last {
            let stay = self.dice.below(3);
            self.job(symptom, closed + after, stay, Some(id));
        }
    }
}

impl Writer {
    /// What else a job has in common with others. From week 52 and from week 78
    /// on a new one takes a part of two people's jobs.
    fn particulars(&mut self, symptom: usize, week: u64) {
        let model = self.beside.name("model", 6);
        let year = 2016 + self.beside.below(9);
        let operation = format!("operation {symptom} {}", self.beside.below(2));
        let joins = self.beside.below(3) == 0;
        let checks: Vec<i32> = (1..5).filter(|_| self.beside.below(10) < 8).collect();
        let job = self.shop.last_job();
        job.model = Some(model);
        job.model_year = Some(i32::try_from(year).unwrap());
        for (from, old, new) in
            [(52, "technician 4", "technician 6"), (78, "technician 5", "technician 7")]
        {
            if joins && week >= from && job.technician.as_deref() == Some(old) {
                job.technician = Some(new.to_owned());
            }
        }
        self.shop.operation(&operation, 100, 100, Payer::Customer);
        let job = self.shop.last_job().id;
        self.shop.rows.checks.extend(checks.into_iter().map(|seq| CheckRow {
            job,
            seq,
            check: format!("check {symptom} {seq}"),
            finding: Some(Finding::Normal),
            minutes: Some(10),
            at_close: false,
            reading: None,
            unit: None,
        }));
    }
}

/// The two years of a shop.
pub fn written(kind: Kind, seed: u64, effect: Effect) -> Shop {
    let (dice, beside) = (Dice(seed), Dice(!seed));
    let mut writer = Writer { shop: Shop::default(), dice, beside, kind, effect };
    for week in 0..WEEKS {
        let season = if kind.seasonal { 0.4 * (TAU * week as f64 / 52.0).sin() } else { 0.0 };
        let jobs = (kind.per_week as f64 * (1.0 + season)).round() as u64;
        for _ in 0..jobs {
            let symptom = writer.dice.below(SYMPTOMS.len() as u64) as usize;
            let opened = week * 7 + writer.dice.below(6);
            writer.job(symptom, opened, 0, None);
        }
    }
    writer.shop
}

/// Each reviewed week as it stands at its end.
fn reviewed(history: &History) -> Vec<Signals> {
    let weeks = Weeks::of(history, None);
    let review = |week: u64| weeks.signals(day(week * 7 + 6), day(week * 7));
    (FIRST_REVIEWED..WEEKS).map(review).collect()
}

/// What each week from the 14th on newly warns of: a group that was warned of at the end
/// of the week before still stands and is not raised again.
fn warned(history: &History) -> Vec<Vec<WarningKind>> {
    let planned = Planned::new();
    let scan = Scan::of(history, None, &planned);
    let mut before: HashSet<(WarningKind, String)> = HashSet::new();
    let mut weeks = Vec::new();
    for week in FIRST_SCANNED..WEEKS {
        let all = chances(&scan, day(week * 7 + 6), day(week * 7));
        let raised = all.into_iter().filter(|(.., chance)| *chance < LIMIT);
        let now: HashSet<(WarningKind, String)> =
            raised.map(|(kind, key, _)| (kind, key)).collect();
        weeks.push(now.difference(&before).map(|(kind, _)| *kind).collect());
        before = now;
    }
    weeks
}

/// Weeks reviewed and weeks with an alarm, in all and by rule.
#[derive(Debug, Clone, Default)]
struct Count {
    weeks: u64,
    any: u64,
    rules: BTreeMap<&'static str, u64>,
}

impl Count {
    /// The review of a week, and the kinds of what its scan newly warns of.
    fn take(&mut self, signals: Option<&Signals>, new: &[WarningKind]) {
        let alarms = signals.map_or(&[][..], |signals| &signals.alarms);
        self.weeks += 1;
        self.any += u64::from(!alarms.is_empty() || !new.is_empty());
        let mut rules: Vec<&str> = alarms.iter().map(|alarm| alarm.rule).collect();
        rules.extend(new.iter().map(|kind| kind.as_str()));
        rules.sort_unstable();
        rules.dedup();
        for rule in rules {
            *self.rules.entry(rule).or_default() += 1;
        }
        if let Some(signals) = signals {
            assert_eq!(signals.answer == WeekAnswer::LookIntoIt, !alarms.is_empty());
        }
    }

    fn add(&mut self, other: &Self) {
        self.weeks += other.weeks;
        self.any += other.any;
        for (rule, count) in &other.rules {
            *self.rules.entry(rule).or_default() += count;
        }
    }

    fn share(&self) -> f64 {
        self.any as f64 / self.weeks as f64
    }

    fn tell(&self, what: &str) {
        let percent = |count: u64| 100.0 * count as f64 / self.weeks as f64;
        let rules: Vec<String> = self
            .rules
            .iter()
            .map(|(rule, count)| format!("{rule} {:.2} %", percent(*count)))
            .collect();
        let any = percent(self.any);
        println!("alarms: {what}: {any:.2} % of {} weeks ({})", self.weeks, rules.join(", "));
    }
}

/// The weeks that the review looks at, and those before it, which the early
/// warnings have to themselves.
#[derive(Debug, Clone, Default)]
struct Both {
    reviewed: Count,
    before: Count,
}

/// By place of the kind of shop.
fn counted(seeds: std::ops::RangeInclusive<u64>, step: usize) -> BTreeMap<usize, Both> {
    let kinds = kinds();
    let mut counts: BTreeMap<usize, Both> = BTreeMap::new();
    for seed in seeds.step_by(step) {
        let place = seed as usize % kinds.len();
        let history = written(kinds[place], seed, none).history(facts());
        let count = counts.entry(place).or_default();
        let warned = warned(&history);
        let (early, late) = warned.split_at((FIRST_REVIEWED - FIRST_SCANNED) as usize);
        early.iter().for_each(|new| count.before.take(None, new));
        for (signals, new) in reviewed(&history).iter().zip(late) {
            count.reviewed.take(Some(signals), new);
        }
    }
    counts
}

/// At most 5 % of the weeks of a shop without any effect may raise an alarm,
/// all rules and groups together, early warnings and good news included, whatever
/// the shop's size.
#[test]
fn steady_shops_raise_few_alarms() {
    // Two at a time; counts add, so that the order never shows.
    let counts = std::thread::scope(|scope| {
        let halves = [1, 2].map(|first| scope.spawn(move || counted(first..=SEEDS, 2)));
        halves.map(|half| half.join().unwrap())
    });
    let (mut all, mut by_size): (Count, BTreeMap<u64, Count>) = Default::default();
    let mut before = Count::default();
    for (place, kind) in kinds().into_iter().enumerate() {
        let mut own = Count::default();
        for both in counts.iter().filter_map(|half| half.get(&place)) {
            own.add(&both.reviewed);
            before.add(&both.before);
        }
        let Kind { per_week, share, seasonal, .. } = kind;
        let season = if seasonal { "seasonal" } else { "even" };
        own.tell(&format!("{per_week} jobs a week, {:.0} % back, {season}", 100.0 * share));
        by_size.entry(per_week).or_default().add(&own);
        all.add(&own);
    }
    for (per_week, count) in &by_size {
        count.tell(&format!("{per_week} jobs a week"));
        assert!(count.share() <= 0.05, "{per_week} jobs a week: {count:?}");
    }
    all.tell("all shops");
    before.tell("all shops, before the review speaks");
    assert!(before.share() <= 0.05, "{before:?}");
    assert_eq!(all.weeks, SEEDS * (WEEKS - FIRST_REVIEWED));
    assert!(all.share() <= 0.05, "{all:?}");
    // A review that never speaks would keep any budget.
    assert!(all.rules.len() >= 3, "{all:?}");
}

/// The first alarm for more comebacks of a group, with the week after the
/// change in which it was raised; its jobs are those it counts.
fn found(kind: Kind, seed: u64, effect: Effect, since: u64, group: &str) -> Option<(u64, Alarm)> {
    let history = written(kind, seed, effect).history(facts());
    let weeks = (FIRST_REVIEWED..WEEKS).zip(reviewed(&history)).filter(|(week, _)| *week >= since);
    let mut raised = weeks
        .flat_map(|(week, signals)| signals.alarms.into_iter().map(move |alarm| (week, alarm)));
    let (week, alarm) = raised.find(|(_, alarm)| {
        alarm.source == AlarmSource::Mover
            && alarm.direction == AlarmDirection::More
            && alarm.evidence.starts_with(&format!("{group}:"))
    })?;
    assert_eq!(selected(&history, &alarm.jobs, day(week * 7 + 6)), alarm.count);
    Some((week - since, alarm))
}

/// One lot of six comes back at 27 %, 6.75 times the usual 4 %, for the eight
/// weeks from week 60 on. Their windows are closed from 9 to 16 weeks later.
#[test]
fn a_bad_lot_is_found() {
    let kind = Kind { per_week: 60, share: 0.04, seasonal: false, lots: 6 };
    let bad: Effect = |week, _, lot| {
        if (60..68).contains(&week) && lot == "lot 3" { 6.75 } else { 1.0 }
    };
    let late: Vec<Option<u64>> =
        (1..=10).map(|seed| Some(found(kind, seed, bad, 60, "lot lot 3")?.0)).collect();
    println!("alarms: a bad lot is found after so many weeks: {late:?}");
    assert!(late.iter().all(|late| late.is_some_and(|late| late <= 20)), "{late:?}");
}

/// The same lot is warned of while its windows run.
#[test]
fn a_bad_lot_is_warned_of_early() {
    let kind = Kind { per_week: 60, share: 0.04, seasonal: false, lots: 6 };
    let bad: Effect = |week, _, lot| {
        if (60..68).contains(&week) && lot == "lot 3" { 6.75 } else { 1.0 }
    };
    let find = |seed| {
        let history = written(kind, seed, bad).history(facts());
        let planned = Planned::new();
        let scan = Scan::of(&history, None, &planned);
        (60..80).find(|week| {
            let all = chances(&scan, day(week * 7 + 6), day(week * 7));
            let lots = all.iter().filter(|(kind, ..)| *kind == WarningKind::Lot);
            lots.into_iter().any(|(_, key, q)| *q < LIMIT && key.ends_with("&lot=lot%203"))
        })
    };
    let late: Vec<Option<u64>> = (1..=10).map(|seed| Some(find(seed)? - 60)).collect();
    println!("alarms: a bad lot is warned of after so many weeks: {late:?}");
    assert!(late.iter().flatten().count() >= 7, "{late:?}");
}

/// One of six people in a shop of 150 jobs a week has twice the comebacks from
/// week 60 on, 16 % for 8 %.
#[test]
fn a_person_whose_comebacks_double_is_found() {
    let kind = Kind { per_week: 150, share: 0.08, seasonal: false, lots: 30 };
    let double: Effect = |week, technician, _| {
        if week >= 60 && technician == "technician 2" { 2.0 } else { 1.0 }
    };
    let find = |seed| Some(found(kind, seed, double, 60, "technician technician 2")?.0);
    let late: Vec<Option<u64>> = (1..=10).map(find).collect();
    println!("alarms: doubled comebacks are found after so many weeks: {late:?}");
    assert!(late.iter().flatten().count() >= 8, "{late:?}");
}
