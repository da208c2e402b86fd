//! The planted stories, counted.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::RangeInclusive;

use analytics::words::{Activity, Disposition, JobKind, PartRole};
use chrono::{Datelike, NaiveDate, Timelike, Weekday};

use super::super::{
    COLD_SPELL, EASY, HARD, MEDIUM, MIRELA_AWAY, MIX_WEEKS, MONDAY_WEEKS, RULE_WEEK,
};
use super::{Book, Line, each, local};
use crate::import::records::{PartRecord, Visit};

fn median(mut values: Vec<i32>) -> i32 {
    values.sort_unstable();
    assert!(values.len() % 2 == 1);
    values[values.len() / 2]
}

#[test]
fn story_1_idle_air_valves() {
    each(|book| {
        let lines = book.lines();
        let group = |role, replaced: bool| {
            let mut found = (0, 0);
            for line in &lines {
                for part in line.parts.iter().filter(|p| p.part_no.as_deref() == Some("IAV-100")) {
                    let fits = part.role == Some(role)
                        && if replaced {
                            part.disposition.is_replaced()
                        } else {
                            part.disposition == Disposition::CleanedReused
                        };
                    if !fits {
                        continue;
                    }
                    found.0 += 1;
                    assert!(line.closed + chrono::Days::new(60) <= book.plan.end);
                    let back =
                        book.back.get(&(line.job.order_no.clone(), 1)).map(|b| &book.visits[*b]);
                    let returned = back.is_some_and(|visit| {
                        visit.parts.iter().any(|p| {
                            p.part_no == part.part_no
                                && p.position == part.position
                                && p.role == Some(PartRole::Suspect)
                        })
                    });
                    found.1 += usize::from(returned && line.within(60));
                }
            }
            found
        };
        assert_eq!(group(PartRole::Suspect, false), (38, 9));
        assert_eq!(group(PartRole::Bystander, false), (96, 4));
        assert_eq!(group(PartRole::Suspect, true), (60, 2));
        // Access 30 minutes, part 85.00.
        let mut access: Vec<i64> = Vec::new();
        for line in &lines {
            let valve = line.parts.iter().find(|p| p.part_no.as_deref() == Some("IAV-100"));
            if let Some(valve) = valve {
                access.push(
                    line.labor
                        .iter()
                        .filter(|l| {
                            matches!(l.activity, Some(Activity::Access | Activity::Reassembly))
                        })
                        .map(|l| (l.ended_at - l.started_at).num_minutes())
                        .sum(),
                );
                assert!(valve.unit_cost_minor.is_none_or(|cost| cost == 8_500));
            }
        }
        assert_eq!(access.len(), 38 + 96 + 60 + 15);
        assert!(access.iter().all(|minutes| *minutes == 30));
    });
}

#[test]
fn a_valve_cleaned_in_passing_comes_back_with_another_complaint() {
    each(|book| {
        for line in book.repaired() {
            let passing = line.parts.iter().any(|p| {
                p.part_no.as_deref() == Some("IAV-100") && p.role == Some(PartRole::Bystander)
            });
            if let (true, Some(back)) = (passing, book.back.get(&(line.job.order_no.clone(), 1))) {
                let later = &book.visits[*back].jobs[0];
                assert_ne!(later.symptom, line.job.symptom);
                assert_eq!(later.comeback_reason.as_deref(), Some("part-reused-failed"));
            }
        }
    });
}

#[test]
fn story_2_battery_runs_down() {
    each(|book| {
        let lines: Vec<Line<'_>> = book
            .lines()
            .into_iter()
            .filter(|line| line.job.symptom.as_deref() == Some("charge.battery-flat"))
            .collect();
        assert_eq!(lines.len(), 120);
        let (first, skipped): (Vec<&Line<'_>>, Vec<&Line<'_>>) =
            lines.iter().partition(|l| l.checks[0].check == "terminals-resting-voltage");
        assert!(
            skipped
                .iter()
                .all(|l| { l.checks.iter().all(|c| c.check != "terminals-resting-voltage") })
        );
        let figures = |group: &[&Line<'_>]| {
            let minutes =
                group.iter().map(|l| l.checks.iter().filter_map(|c| c.minutes).sum()).collect();
            let wrong = group.iter().filter(|l| {
                let back = book.back.get(&(l.job.order_no.clone(), 1));
                let misled = back.is_some_and(|back| {
                    book.visits[*back].jobs[0].comeback_reason.as_deref() == Some("misdiagnosis")
                });
                misled && l.within(60)
            });
            (group.len(), median(minutes), wrong.count())
        };
        assert_eq!(figures(&first), (79, 34, 2));
        assert_eq!(figures(&skipped), (41, 71, 6));
        let late = |group: &[&Line<'_>]| {
            let opened = group.iter().map(|l| local(l.order.opened_at));
            opened.filter(|at| at.weekday() == Weekday::Fri && at.hour() >= 15).count()
        };
        assert!(late(&skipped) >= 31, "{}", late(&skipped));
        assert!(late(&first) <= 12, "{}", late(&first));
        assert!(lines.iter().all(|l| l.closed + chrono::Days::new(60) <= book.plan.end));
    });
}

#[test]
fn story_3_bushes() {
    each(|book| {
        let lines: Vec<Line<'_>> = book
            .lines()
            .into_iter()
            .filter(|line| line.job.operation.as_deref() == Some("front-lower-arm-bushes"))
            .collect();
        assert_eq!(lines.len(), 41);
        assert!(lines.iter().all(|l| l.job.flat_rate_hundredths == Some(120)));
        // 41 x 1.9 h = 77.9 h; 41 x 1.2 h = 49.2 h; 28.7 h lost.
        assert_eq!(lines.iter().map(Line::minutes).sum::<i64>(), 4_674);
        let who: BTreeSet<&str> =
            lines.iter().flat_map(|l| l.labor.iter().map(|l| l.technician.as_str())).collect();
        assert_eq!(who.len(), 4);
        assert!(
            lines
                .iter()
                .all(|l| { l.labor.iter().all(|l| l.activity != Some(Activity::Diagnosis)) })
        );
        assert!(lines.iter().all(|l| l.closed + chrono::Days::new(60) <= book.plan.end));
    });
}

/// Flat-rate over clock hours by technician outside the bushes, the flat-rate
/// shared by clock; comebacks crediting none where `without`.
fn efficiency(book: &Book, without: bool) -> BTreeMap<String, f64> {
    let mut sums: BTreeMap<String, (f64, f64)> = BTreeMap::new();
    for line in book.lines() {
        if line.job.operation.as_deref() == Some("front-lower-arm-bushes") {
            continue;
        }
        let clock = line.minutes() as f64 / 60.0;
        let credits = !(without && line.job.returned_from_order.is_some());
        let flat = line.job.flat_rate_hundredths.unwrap() as f64 / 100.0;
        for labor in &line.labor {
            let own = (labor.ended_at - labor.started_at).num_minutes() as f64 / 60.0;
            let sum = sums.entry(labor.technician.clone()).or_default();
            sum.0 += if credits { flat * own / clock } else { 0.0 };
            sum.1 += own;
        }
    }
    sums.into_iter().map(|(name, (flat, clock))| (name, flat / clock)).collect()
}

#[test]
fn story_3_the_same_people_elsewhere() {
    each(|book| {
        for without in [false, true] {
            let by_name = efficiency(book, without);
            assert_eq!(by_name.len(), 4);
            for (name, share) in by_name {
                assert!((1.05..=1.18).contains(&share), "{name} {share} {without}");
            }
        }
    });
}

#[test]
fn story_4_coils() {
    each(|book| {
        let lines = book.lines();
        let group = |wanted: &dyn Fn(&PartRecord) -> bool, days: i64| {
            let found: Vec<&Line<'_>> = lines
                .iter()
                .filter(|l| {
                    l.parts.iter().any(|p| p.part_no.as_deref() == Some("COIL-20") && wanted(p))
                })
                .collect();
            (found.len(), found.iter().filter(|l| l.within(days)).count())
        };
        let quarry = |p: &PartRecord| p.supplier.as_deref() == Some("Quarry Lane Auto Parts");
        assert_eq!(group(&|p| quarry(p) && p.lot.as_deref() == Some("Q17"), 45), (22, 6));
        assert_eq!(group(&quarry, 60), (22, 6));
        assert_eq!(group(&|p| p.supplier.is_some() && !quarry(p), 60), (118, 3));
        let lots = lines.iter().flat_map(|l| &l.parts).filter(|p| p.lot.as_deref() == Some("Q17"));
        assert_eq!(lots.count(), 22);
        for line in lines.iter().filter(|l| l.parts.iter().any(|p| p.lot.as_deref() == Some("Q17")))
        {
            assert!(line.closed + chrono::Days::new(60) <= book.plan.end);
            if let Some(back) = book.back.get(&(line.job.order_no.clone(), 1)) {
                let reason = book.visits[*back].jobs[0].comeback_reason.clone();
                assert_eq!(reason.as_deref(), Some("misdiagnosis"));
            }
        }
    });
}

#[test]
fn story_5_job_mix() {
    each(|book| {
        let lines = book.closed_in(MIX_WEEKS);
        let mut found: BTreeMap<&str, [[usize; 2]; 3]> = BTreeMap::new();
        for line in &lines {
            let symptom = line.job.symptom.as_deref().unwrap();
            let class = [EASY, MEDIUM, HARD].iter().position(|c| c.contains(&symptom));
            if let Some(class) = class {
                let by_class = found.entry(line.job.technician.as_deref().unwrap()).or_default();
                by_class[class][0] += 1;
                by_class[class][1] += usize::from(line.within(60));
            }
        }
        let expected = BTreeMap::from([
            ("Mirela Voss", [[300, 4], [80, 4], [10, 1]]),
            ("Tomas Adeyo", [[150, 2], [120, 5], [30, 4]]),
            ("Ilse Hartigan", [[40, 1], [70, 2], [120, 12]]),
        ]);
        assert_eq!(found, expected);
        let (_, last) = book.plan.days(MIX_WEEKS);
        assert!(last + chrono::Days::new(60) <= book.plan.end);
    });
}

#[test]
fn story_6_mondays() {
    each(|book| {
        let lines = book.closed_in(1..=MONDAY_WEEKS);
        let (monday, other): (Vec<&Line<'_>>, Vec<&Line<'_>>) =
            lines.iter().partition(|l| l.closed.weekday() == Weekday::Mon);
        let counts =
            |group: &[&Line<'_>]| (group.len(), group.iter().filter(|l| l.within(60)).count());
        assert_eq!(counts(&monday), (95, 7));
        assert_eq!(counts(&other), (805, 33));
        assert!(lines.iter().all(|l| l.days.is_none_or(|days| days <= 60)));
    });
}

#[test]
fn story_7_preparation() {
    each(|book| {
        let mut rounds: Vec<(String, NaiveDate, Vec<f64>)> = Vec::new();
        for line in book.lines() {
            let cells: Vec<f64> = line
                .checks
                .iter()
                .filter(|c| c.unit.as_deref() == Some("1"))
                .filter_map(|c| c.reading)
                .collect();
            if !cells.is_empty() {
                assert_eq!(line.job.kind, Some(JobKind::Preparation));
                assert!(line.checks.iter().any(|c| c.unit.as_deref() == Some("[degF]")));
                rounds.push((line.order.make.clone().unwrap(), line.closed, cells));
            }
        }
        let of = |make: &str| -> Vec<&(String, NaiveDate, Vec<f64>)> {
            rounds.iter().filter(|(m, ..)| m == make).collect()
        };
        let haddenby = of("Haddenby");
        assert_eq!(haddenby[0].2, [1.276, 1.272, 1.274, 1.246, 1.275, 1.273]);
        let corvane = of("Corvane");
        assert_eq!(corvane[0].2[..6], [1.254; 6]);
        assert_eq!(corvane[0].2.len(), 12);
        let lirren = of("Lirren");
        assert_eq!((lirren[1].1 - lirren[0].1).num_days(), 46);
        for (arrived, stood) in lirren[0].2.iter().zip(&lirren[1].2) {
            assert!((arrived - stood - 0.046).abs() < 1e-9);
        }
        assert_eq!(rounds.len(), 4);
    });
}

#[test]
fn story_8_fix_what_returns() {
    each(|book| {
        let visits: Vec<&Visit> = book
            .visits
            .iter()
            .filter(|v| v.order.vin.as_deref() == Some("ZZDB2E7B5ST000233"))
            .collect();
        assert_eq!(visits.len(), 3);
        assert!(visits.iter().all(|v| v.jobs[0].symptom.as_deref() == Some("steering.vibration")));
        let causes: Vec<&str> = visits.iter().filter_map(|v| v.jobs[0].cause.as_deref()).collect();
        assert_eq!(causes, ["wheel-balance", "rotor-out-of-true", "wheel-bent"]);
        for pair in visits.windows(2) {
            assert_eq!(pair[1].jobs[0].returned_from_order.as_ref(), Some(&pair[0].order.order_no));
        }
    });
}

#[test]
fn story_9_pressure_first() {
    each(|book| {
        let (rule, _) = book.plan.days(RULE_WEEK..=RULE_WEEK);
        let mut found: BTreeMap<(bool, bool), (usize, usize)> = BTreeMap::new();
        for line in book.lines() {
            if line.job.symptom.as_deref() != Some("cooling.coolant-loss") {
                continue;
            }
            // The look under the hood is free.
            let first = line.checks.iter().find(|c| c.check != "visual-under-hood");
            let kept = first.is_some_and(|check| check.check == "cooling-pressure");
            let count = found.entry((line.closed >= rule, kept)).or_default();
            count.0 += 1;
            count.1 += usize::from(line.within(60));
            assert!(line.closed + chrono::Days::new(60) <= book.plan.end);
        }
        let expected = [
            ((false, true), (14, 1)),
            ((false, false), (38, 14)),
            ((true, true), (50, 2)),
            ((true, false), (8, 1)),
        ];
        assert_eq!(found, BTreeMap::from(expected));
    });
}

#[test]
fn cold_spell_doubles_starting_complaints() {
    each(|book| {
        // Against the work that a week brings by its open days, since the
        // holidays fall into the cold of some ends only.
        let weeks = crate::demo::calendar::weeks(book.plan.days(1..=1).0, book.plan.end);
        let start = |run: RangeInclusive<usize>| {
            let weight: u32 = weeks[run.start() - 1..*run.end()].iter().map(|w| w.weight()).sum();
            let start = book.closed_in(run).into_iter().filter(|l| {
                let symptom = l.job.symptom.as_deref().unwrap();
                symptom.starts_with("start.") || symptom.starts_with("charge.")
            });
            start.count() as f64 / f64::from(weight)
        };
        let cold = start(COLD_SPELL);
        let others = start(8..=15);
        assert!((1.8..=2.2).contains(&(cold / others)), "{cold} {others}");
    });
}

#[test]
fn apprentice_does_more_while_mirela_is_away() {
    each(|book| {
        let (first, last) = book.plan.days(MIRELA_AWAY);
        let mut inside: BTreeMap<&str, i64> = BTreeMap::new();
        let mut outside: BTreeMap<&str, i64> = BTreeMap::new();
        for labor in book.visits.iter().flat_map(|v| &v.labor) {
            let away = (first..=last).contains(&local(labor.started_at).date());
            let sums = if away { &mut inside } else { &mut outside };
            *sums.entry(labor.technician.as_str()).or_default() +=
                (labor.ended_at - labor.started_at).num_minutes();
        }
        assert_eq!(inside.get("Mirela Voss"), None);
        let kofi = |sums: &BTreeMap<&str, i64>| {
            sums["Kofi Marrable"] as f64 / sums.values().sum::<i64>() as f64
        };
        assert!(kofi(&inside) > kofi(&outside) * 1.5, "{} {}", kofi(&inside), kofi(&outside));
    });
}
