//! The record as a whole: numbers, times, links, vehicles.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use analytics::words::{JobKind, Outcome};
use chrono::{DateTime, Datelike, Timelike, Utc};

use super::super::{DemoPlan, open_today, shared, sister_technicians, sister_visits, visits};
use super::{Book, each, ends, local};
use crate::domain::vin;
use crate::import::records::Visit;

/// From when to when somebody works.
type Span = (DateTime<Utc>, DateTime<Utc>);

#[test]
fn orders_and_times_are_in_order() {
    each(|book| {
        let numbers: Vec<u64> =
            book.visits.iter().map(|v| v.order.order_no.parse().unwrap()).collect();
        let expected: Vec<u64> = (1_001..1_001 + numbers.len() as u64).collect();
        assert_eq!(numbers, expected);
        assert!(book.visits.windows(2).all(|w| w[0].order.opened_at <= w[1].order.opened_at));
        for visit in &book.visits {
            let closed = visit.order.closed_at.unwrap();
            assert!(visit.order.opened_at < closed);
            assert!(local(closed).date() <= book.plan.end);
            for labor in &visit.labor {
                assert!(visit.order.opened_at < labor.started_at, "{}", visit.order.order_no);
                assert!(labor.started_at < labor.ended_at);
                assert!(labor.ended_at < closed);
                let (from, to) = (local(labor.started_at).time(), local(labor.ended_at).time());
                assert!(from.hour() >= 8 && to.hour() < 19, "{from} {to}");
            }
            assert!(visit.order.odometer_in <= visit.order.odometer_out);
        }
        let mut by_vehicle: HashMap<&str, &Visit> = HashMap::new();
        for visit in &book.visits {
            let before = by_vehicle.insert(visit.order.vin.as_deref().unwrap(), visit);
            if let Some(before) = before {
                assert!(before.order.closed_at.unwrap() < visit.order.opened_at);
                assert!(before.order.odometer_out <= visit.order.odometer_in);
            }
        }
    });
}

#[test]
fn nobody_is_at_two_jobs_at_once() {
    each(|book| {
        let today = book.plan.end + chrono::Days::new(1);
        let open = open_today(&book.plan, today);
        let mut by_name: BTreeMap<&str, Vec<Span>> = BTreeMap::new();
        let all = book.visits.iter().chain(open.iter().map(|(visit, _)| visit));
        for labor in all.flat_map(|v| &v.labor) {
            by_name.entry(&labor.technician).or_default().push((labor.started_at, labor.ended_at));
        }
        assert_eq!(by_name.len(), 4);
        for (name, mut spans) in by_name {
            spans.sort_unstable();
            for pair in spans.windows(2) {
                assert!(pair[0].1 <= pair[1].0, "{name} {:?}", pair);
            }
        }
    });
}

#[test]
fn links_lead_to_earlier_jobs_of_the_same_vehicle() {
    each(|book| {
        let by_no: HashMap<&str, &Visit> =
            book.visits.iter().map(|v| (v.order.order_no.as_str(), v)).collect();
        let mut earlier = BTreeSet::new();
        for visit in &book.visits {
            for job in visit.jobs.iter().filter(|j| j.comeback_reason.is_some()) {
                let first = by_no[job.returned_from_order.as_deref().unwrap()];
                assert_eq!(first.order.vin, visit.order.vin);
                assert!(first.order.closed_at.unwrap() < visit.order.opened_at);
                // A job has one later job.
                assert!(earlier.insert(first.order.order_no.clone()));
            }
        }
        let share = earlier.len() as f64 / book.repaired().len() as f64;
        assert!((0.035..=0.05).contains(&share), "{share}");
    });
}

#[test]
fn what_comes_back_does_so_by_plan_only() {
    each(|book| {
        let mut seen: HashMap<(String, String), String> = HashMap::new();
        let mut chance = 0;
        for line in book.repaired() {
            let key = (line.order.vin.clone().unwrap(), line.job.symptom.clone().unwrap());
            let before = seen.insert(key, line.job.order_no.clone());
            if before.is_some() && line.job.returned_from_order.is_none() {
                chance += 1;
            }
        }
        assert!(chance <= 3, "{chance} chance repeats of a symptom");
    });
}

#[test]
fn planted_vehicles_are_apart() {
    each(|book| {
        let planted = |v: &Visit| {
            let part = |no: &str| v.parts.iter().any(|p| p.part_no.as_deref() == Some(no));
            part("IAV-100") || part("COIL-20")
        };
        let vins: BTreeSet<&str> = book
            .visits
            .iter()
            .filter(|v| planted(v))
            .filter_map(|v| v.order.vin.as_deref())
            .collect();
        assert_eq!(vins.len(), 38 + 96 + 60 + 22 + 118);
        let stories =
            ["charge.battery-flat", "suspension.knock", "steering.play", "cooling.coolant-loss"];
        for visit in book.visits.iter().filter(|v| vins.contains(v.order.vin.as_deref().unwrap())) {
            let job = &visit.jobs[0];
            let other = stories.contains(&job.symptom.as_deref().unwrap_or_default());
            assert!(planted(visit) || other || job.returned_from_order.is_some());
        }
        let all: BTreeSet<&str> =
            book.visits.iter().filter_map(|v| v.order.vin.as_deref()).collect();
        assert!((880..=920).contains(&all.len()), "{}", all.len());
        assert!(all.iter().all(|vin| vin::warning(vin).is_none()));
    });
}

#[test]
fn about_three_thousand_complaints() {
    each(|book| {
        let complaints =
            book.lines().iter().filter(|l| l.job.kind == Some(JobKind::Complaint)).count();
        assert!((2_900..=3_200).contains(&complaints), "{complaints}");
    });
}

#[test]
fn codes_are_those_of_the_starting_lists() {
    use crate::codes::starting::{CAUSES, CHECKS, COMEBACK_REASONS, SYMPTOMS, SYSTEMS, WHENS};
    let sizes = [SYSTEMS.len(), SYMPTOMS.len(), CAUSES.len(), CHECKS.len()];
    assert_eq!(sizes, [18, 60, 93, 53]);
    assert_eq!((COMEBACK_REASONS.len(), WHENS.len()), (18, 21));
    assert!(SYMPTOMS.iter().all(|s| SYSTEMS.iter().any(|system| system.code == s.system)));
    let book = Book::new(ends()[0]);
    for line in book.lines() {
        let symptom = line.job.symptom.as_deref();
        assert!(symptom.is_none_or(|s| SYMPTOMS.iter().any(|c| c.code == s)), "{symptom:?}");
        let cause = line.job.cause.as_deref();
        assert!(cause.is_none_or(|s| CAUSES.iter().any(|c| c.code == s)), "{cause:?}");
        let reason = line.job.comeback_reason.as_deref();
        assert!(reason.is_none_or(|s| COMEBACK_REASONS.iter().any(|c| c.code == s)), "{reason:?}");
        for check in line.checks {
            assert!(CHECKS.iter().any(|c| c.code == check.check), "{}", check.check);
        }
    }
}

#[test]
fn open_orders_of_today() {
    each(|book| {
        let today = book.plan.end + chrono::Days::new(1);
        let open = open_today(&book.plan, today);
        assert_eq!(open.len(), 8);
        let next = 1_001 + book.visits.len();
        for ((visit, promised), order_no) in open.iter().zip(next..) {
            assert_eq!(visit.order.order_no, order_no.to_string());
            assert_eq!(visit.order.closed_at, None);
            assert!(local(visit.order.opened_at).date() <= book.plan.end);
            assert!(local(*promised).date() >= today);
            assert_eq!(visit.jobs[0].outcome, None);
        }
        let back = open.iter().filter(|(visit, _)| {
            book.visits.iter().any(|before| {
                let days = visit.order.opened_at - before.order.closed_at.unwrap();
                before.order.vin == visit.order.vin
                    && before.jobs[0].symptom == visit.jobs[0].symptom
                    && before.jobs[0].outcome == Some(Outcome::Repaired)
                    && days.num_days() <= 60
                    && !book.back.contains_key(&(before.order.order_no.clone(), 1))
            })
        });
        assert_eq!(back.count(), 2);
    });
}

#[test]
fn a_seed_makes_one_record() {
    let plan = DemoPlan::standard(ends()[0]);
    let other = DemoPlan { seed: 2, ..plan };
    let count = |plan: &DemoPlan| visits(plan).map(|v| v.labor.len()).collect::<Vec<_>>();
    assert_eq!(count(&plan), count(&plan));
    assert_ne!(count(&plan), count(&other));
}

#[test]
fn a_large_record_streams_in_order() {
    let plan = DemoPlan { jobs: 40_000, ..DemoPlan::standard(ends()[0]) };
    let mut complaints = 0;
    let mut last = None;
    let mut links = 0;
    let mut busy: HashMap<String, DateTime<Utc>> = HashMap::new();
    let mut spans: Vec<(String, DateTime<Utc>, DateTime<Utc>)> = Vec::new();
    let mut days = BTreeSet::new();
    for (visit, order_no) in visits(&plan).zip(1_001u64..) {
        assert_eq!(visit.order.order_no, order_no.to_string());
        assert!(last.is_none_or(|at| at <= visit.order.opened_at));
        last = Some(visit.order.opened_at);
        days.insert(visit.order.opened_at.date_naive().year());
        for job in &visit.jobs {
            complaints += usize::from(job.kind == Some(JobKind::Complaint));
            links += usize::from(job.returned_from_order.is_some());
            assert_eq!(job.comeback_reason.is_some(), job.returned_from_order.is_some());
        }
        spans.extend(visit.labor.into_iter().map(|l| (l.technician, l.started_at, l.ended_at)));
    }
    spans.sort_by_key(|(_, started_at, _)| *started_at);
    for (name, start, end) in spans {
        let until = busy.entry(name).or_insert(start);
        assert!(*until <= start);
        *until = end;
    }
    assert!((36_000..=44_000).contains(&complaints), "{complaints}");
    let share = links as f64 / complaints as f64;
    assert!((0.03..=0.05).contains(&share), "{share}");
    assert!(days.len() >= 10);
}

#[test]
fn more_than_fifty_thousand_jobs_are_shared_by_sister_shops() {
    assert_eq!(shared(3_000, None), (1, 3_000));
    assert_eq!(shared(50_000, None), (1, 50_000));
    assert_eq!(shared(50_001, None), (2, 25_001));
    assert_eq!(shared(1_000_000, None), (20, 50_000));
    // No more shops and crews than have names of their own.
    assert_eq!(shared(100_000_000, None), (20, 62_400));
    assert_eq!(shared(100_000_000, Some(1)), (1, 1_248_000));
    assert_eq!(shared(6_000, Some(2)), (2, 3_000));
    assert_eq!(shared(1, Some(3)), (3, 3_000));
    for (jobs, shops) in [(1_000_000, 20), (100_000_000, 19), (100_000_000, 13), (9_000, 3)] {
        let (shops, jobs) = shared(jobs, Some(shops));
        let plan = DemoPlan { jobs, ..DemoPlan::standard(ends()[0]) };
        let mut names: BTreeSet<String> = BTreeSet::new();
        let mut count = 0;
        for number in 1..shops {
            let crew = sister_technicians(&plan, number);
            count += crew.len();
            names.extend(crew);
        }
        assert_eq!(names.len(), count, "{shops} shops of {jobs}");
    }
}

#[test]
fn sister_shops_write_down_more() {
    let plan = DemoPlan::standard(ends()[0]);
    let made: Vec<Visit> = sister_visits(&plan, 1).collect();
    let other: Vec<Visit> = sister_visits(&plan, 2).collect();
    assert_ne!(made.len(), 0);
    let vins = |visits: &[Visit]| -> BTreeSet<String> {
        visits.iter().filter_map(|visit| visit.order.vin.clone()).collect()
    };
    assert!(vins(&made).is_disjoint(&vins(&other)));
    let jobs = made.iter().map(|visit| visit.jobs.len()).sum::<usize>() as f64;
    let each = |count: fn(&Visit) -> usize| made.iter().map(count).sum::<usize>() as f64 / jobs;
    assert!((2_850.0..=3_150.0).contains(&jobs), "{jobs}");
    let (checks, parts) = (each(|v| v.checks.len()), each(|v| v.parts.len()));
    let labor = each(|v| v.labor.len());
    assert!((3.3..=3.9).contains(&checks), "{checks}");
    assert!((0.9..=1.1).contains(&parts), "{parts}");
    assert!((1.9..=2.1).contains(&labor), "{labor}");
    for visit in &made {
        let closed = visit.order.closed_at.unwrap();
        assert!(visit.labor.iter().all(|labor| labor.started_at > visit.order.opened_at));
        assert!(visit.labor.iter().all(|labor| labor.ended_at < closed));
    }
}
