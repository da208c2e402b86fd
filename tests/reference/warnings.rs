//! Early warnings: the exact test against scipy, the scan by hand, and a planted
//! lot in the demo's proportions.

use analytics::history::{CheckRow, History};
use analytics::stats::stratified::{Stratum, at_least};
use analytics::warning::{
    Planned, Scan, Warning, WarningKind, WarningState, WarningsQuery, WarningsReport, chances,
    warnings,
};
use analytics::words::{Disposition, Finding, PartRole, Payer};

use crate::shop::{Shop, day, facts, selected};

/// The last day of the 41st week that the tests' shops write.
const END: u64 = 40 * 7 + 6;
const COIL: &str = "COIL-1";

fn near(ours: f64, theirs: f64, within: f64) {
    assert!((ours - theirs).abs() <= within, "{ours} against {theirs}");
}

/// scipy 1.17.1: `numpy.convolve` of `hypergeom(units, events, own).pmf` over the
/// strata, summed from the count on. The first is story 4: 6 of 22 and 3 of 118.
#[test]
fn the_exact_test_agrees_with_scipy() {
    type Case<'a> = (i64, &'a [(i64, i64, i64)], f64);
    let cases: [Case<'_>; 5] = [
        (6, &[(140, 9, 22)], 0.000_482_542_389_663_821_75),
        (
            4,
            &[(30, 1, 10), (29, 1, 9), (28, 1, 9), (27, 1, 8), (26, 1, 7)],
            0.032_951_244_158_140_706,
        ),
        (3, &[(60, 4, 12), (25, 2, 20), (400, 11, 30)], 0.701_303_437_020_967_8),
        (5, &[(72, 6, 12)], 0.000_310_063_611_043_671_6),
        (12, &[(1000, 40, 60), (500, 30, 45)], 0.003_429_335_730_421_284_6),
    ];
    for (count, strata, theirs) in cases {
        let strata = strata.iter().map(|&(units, events, own)| Stratum { units, events, own });
        near(at_least(count, strata).unwrap(), theirs, 1e-12);
    }
}

/// A shop with a job at its beginning, so that its record is long enough.
fn opened() -> Shop {
    let mut shop = Shop::default();
    shop.job("engine.tick", 0);
    shop
}

fn report(history: &History) -> WarningsReport {
    report_at(history, END)
}

fn report_at(history: &History, end: u64) -> WarningsReport {
    let query = WarningsQuery {
        as_of: day(end),
        week_from: day(end - 6),
        window_days: None,
        planned: Planned::new(),
    };
    warnings(history, &query)
}

/// One group, warned of or not.
fn found<'a>(report: &'a WarningsReport, kind: WarningKind, group: &[&str]) -> Option<&'a Warning> {
    let all = report.warnings.iter().chain(&report.next);
    let mut all = all.filter(|one| one.kind == kind);
    all.find(|one| one.group.iter().map(String::as_str).eq(group.iter().copied()))
}

/// Coils of one day: of a lot ten, back after 10, 20, 30 and 40 days; of others
/// twenty, one of them back after 15.
fn coils(end_of_window: u64) -> Shop {
    let mut shop = opened();
    for number in 0..30_u64 {
        let own = number < 10;
        shop.job("engine.misfire", end_of_window - 60);
        let row = shop.part(COIL, PartRole::Suspect, Disposition::ReplacedNew);
        row.supplier = Some(if own { "Quarry Lane" } else { "Northgate" }.to_owned());
        row.lot = Some(if own { "Q17" } else { "NC41" }.to_owned());
        match number {
            0..4 => shop.comeback(10 * (number + 1), "misdiagnosis"),
            10 => shop.comeback(15, "misdiagnosis"),
            _ => {}
        }
    }
    shop
}

/// By hand: 10/30 + 9/29 + 9/28 + 8/27 + 7/26 = 1.5306 of the five returns are
/// expected of the lot; four or more by chance in .03295 (scipy, above).
#[test]
fn a_lot_is_held_against_the_same_part_of_the_same_age() {
    let history = coils(END).history(facts());
    let report = report(&history);
    let lot = found(&report, WarningKind::Lot, &["Quarry Lane", "Q17"]).unwrap();
    assert_eq!((lot.count, lot.returns), (10, 4));
    near(lot.expected, 1.530_633_797_875_177_2, 1e-12);
    near(lot.p, 0.032_951_244_158_140_706, 1e-12);
    // Two lots were looked at, and the lots are one of six questions.
    assert_eq!(lot.looked_at, 2);
    near(lot.q, 12.0 * lot.p, 1e-12);
    assert_eq!(lot.state, WarningState::NoEvidence);
    assert_eq!(lot.group_key, "supplier=Quarry%20Lane&lot=Q17");
    assert!(lot.kind.takes(&lot.group_key));
    assert_eq!(selected(&history, &lot.jobs, day(END)), lot.count);
    assert_eq!(selected(&history, &lot.returned_jobs, day(END)), lot.returns);
    assert!(lot.evidence.starts_with("4 of 10 came back so far, 1.5 expected"), "{}", lot.evidence);
}

/// Half of the window is over: the later returns have not happened, and the jobs
/// count for as long as they were out.
#[test]
fn what_has_not_happened_yet_is_not_counted() {
    let history = coils(END + 35).history(facts());
    let report = report(&history);
    // After 25 days two of the lot are back, which is no ground to warn.
    assert_eq!(found(&report, WarningKind::Lot, &["Quarry Lane", "Q17"]), None);
    assert!(!report.not_yet && report.looked_at > 0);
    let later = report_at(&history, END + 7);
    let lot = found(&later, WarningKind::Lot, &["Quarry Lane", "Q17"]).unwrap();
    // By hand: 10/30 + 9/29 + 9/28 + 8/27.
    assert_eq!((lot.count, lot.returns), (10, 3));
    near(lot.expected, 10.0 / 30.0 + 9.0 / 29.0 + 9.0 / 28.0 + 8.0 / 27.0, 1e-12);
}

#[test]
fn a_record_too_short_says_not_yet() {
    let mut shop = Shop::default();
    shop.job("engine.tick", 0);
    let history = shop.history(facts());
    let at = |from: u64| {
        let query = WarningsQuery {
            as_of: day(from + 6),
            week_from: day(from),
            window_days: None,
            planned: Planned::new(),
        };
        warnings(&history, &query).not_yet
    };
    assert!(at(13 * 7 - 1) && !at(13 * 7));
    let query = WarningsQuery {
        as_of: day(1),
        week_from: day(200),
        window_days: None,
        planned: Planned::new(),
    };
    assert!(warnings(&history, &query).not_yet);
    let empty = Shop::default().history(facts());
    assert!(report(&empty).not_yet);
}

/// Twelve jobs of a model came back, as all jobs of the symptom do; of another
/// symptom nobody comes back. A mix of symptoms is no warning.
#[test]
fn a_harder_mix_is_no_warning() {
    let mut shop = opened();
    for number in 0..80_u64 {
        let hard = number % 2 == 0;
        shop.job(if hard { "charge.flat" } else { "brakes.noise" }, END - 60);
        let job = shop.last_job();
        // The Surf is nearly always the hard one.
        let surf = hard && number < 60;
        job.model = Some(if surf { "Surf" } else { "Corva" }.to_owned());
        job.model_year = Some(if surf { 2019 } else { 2020 });
        if hard && number % 4 == 0 {
            shop.comeback(20, "workmanship");
        }
    }
    let history = shop.history(facts());
    let report = report(&history);
    let surf = found(&report, WarningKind::Model, &["Surf"]).unwrap();
    // By hand: 30 of the 40 hard jobs, half of which came back: 20 x 30/40.
    assert_eq!((surf.count, surf.returns), (30, 15));
    near(surf.expected, 15.0, 1e-12);
    assert_eq!(surf.state, WarningState::NoEvidence);
    let year = found(&report, WarningKind::ModelYear, &["Surf", "2019"]).unwrap();
    assert_eq!((year.count, year.group_key.as_str()), (30, "model=Surf&model_year=2019"));
    assert_eq!(selected(&history, &year.jobs, day(END)), 30);
}

/// Whose first job here is half a year old at most is looked at as somebody new;
/// a trainee's jobs stand with the supervisor, who is not.
#[test]
fn somebody_new_is_looked_at_and_a_trainee_is_not() {
    let mut shop = opened();
    for number in 0..60_u64 {
        shop.job("engine.misfire", END - 60);
        let job = shop.last_job();
        match number {
            0..15 => job.technician = Some("Nils".to_owned()),
            15..30 => {
                job.technician = Some("Kofi".to_owned());
                job.supervisor = Some("Mirela".to_owned());
            }
            _ => {}
        }
        if number % 3 == 0 {
            shop.comeback(20, "workmanship");
        }
    }
    let history = shop.history(facts());
    let report = report(&history);
    let new = found(&report, WarningKind::NewTechnician, &["Nils"]).unwrap();
    assert_eq!((new.count, new.returns), (15, 5));
    assert_eq!(selected(&history, &new.jobs, day(END)), 15);
    for other in ["Kofi", "Mirela"] {
        assert_eq!(found(&report, WarningKind::NewTechnician, &[other]), None);
    }
}

/// A check that three in four jobs have is usual: the others are a group. One
/// that one in four have is not. What came back did so in the week looked at.
#[test]
fn a_usual_check_left_out_is_a_group() {
    let mut shop = opened();
    for number in 0..80_u64 {
        shop.job("charge.flat", END - 22);
        let job = shop.last_job().id;
        let mut seq = 0;
        let mut check = |name: &str, done: bool| {
            seq += 1;
            CheckRow {
                job,
                seq,
                check: name.to_owned(),
                finding: Some(if done { Finding::Normal } else { Finding::NotDone }),
                minutes: Some(6),
                at_close: false,
                reading: None,
                unit: None,
            }
        };
        let rows = [
            check("battery.terminals", number % 4 != 0),
            check("charge.output", number % 4 == 0),
            check("road-test", true),
        ];
        shop.rows.checks.extend(rows);
        if number % 8 == 0 || number == 1 {
            shop.comeback(20, "misdiagnosis");
        }
    }
    let history = shop.history(facts());
    let report = report(&history);
    let skipped =
        found(&report, WarningKind::SkippedCheck, &["charge.flat", "battery.terminals"]).unwrap();
    // By hand: 20 without it, 10 of them back, of 11 in all: 11 x 20/80.
    assert_eq!((skipped.count, skipped.returns), (20, 10));
    near(skipped.expected, 2.75, 1e-12);
    assert_eq!(skipped.state, WarningState::New);
    assert_eq!(selected(&history, &skipped.jobs, day(END)), 20);
    let unusual = ["charge.flat", "charge.output"];
    assert_eq!(found(&report, WarningKind::SkippedCheck, &unusual), None);
    // The shop's plan asks for it, whatever most do.
    let asked = std::iter::once("charge.output".to_owned()).collect();
    let query = WarningsQuery {
        as_of: day(END),
        week_from: day(END - 6),
        window_days: None,
        planned: Planned::from([("charge.flat".to_owned(), asked)]),
    };
    let planned = warnings(&history, &query);
    assert_eq!(found(&planned, WarningKind::SkippedCheck, &unusual), None);
    assert_eq!(planned.looked_at, report.looked_at + 1);
    // A week on it is told again, as what still stands.
    let later = report_at(&history, END + 7);
    let again =
        found(&later, WarningKind::SkippedCheck, &["charge.flat", "battery.terminals"]).unwrap();
    assert_eq!(again.state, WarningState::Standing);
}

/// Checks typed in at close have no order, whatever was said while the work ran
/// of one that was not made: such jobs skipped nothing. Where nothing was made at
/// all, and somebody said so, it was skipped.
#[test]
fn checks_typed_in_at_close_skip_nothing() {
    let mut shop = opened();
    for number in 0..50_u64 {
        shop.job("charge.flat", END - 22);
        match number {
            0..10 => {
                shop.check("battery.terminals", None).at_close = true;
                shop.check("charge.output", None).finding = Some(Finding::NotDone);
            }
            10..20 => {
                shop.check("road-test", Some(15));
            }
            20..22 => {
                shop.check("battery.terminals", None).finding = Some(Finding::NotDone);
            }
            _ => {
                shop.check("battery.terminals", Some(6));
            }
        }
        if (10..15).contains(&number) {
            shop.comeback(20, "misdiagnosis");
        }
    }
    let history = shop.history(facts());
    let report = report(&history);
    let skipped =
        found(&report, WarningKind::SkippedCheck, &["charge.flat", "battery.terminals"]).unwrap();
    // By hand: twelve without it, five of them back, of forty with an order.
    assert_eq!((skipped.count, skipped.returns), (12, 5));
    near(skipped.expected, 1.5, 1e-12);
    assert_eq!(selected(&history, &skipped.jobs, day(END)), 12);
    assert_eq!(selected(&history, &skipped.returned_jobs, day(END)), 5);
}

/// Ten jobs with a coil and a plug of the lot stand for the coil, ten with a plug
/// alone for the plug; ten coils and ten plugs are of others.
#[test]
fn a_lot_of_two_parts_is_not_held_against_itself() {
    let mut shop = opened();
    for number in 0..40_u64 {
        shop.job("engine.misfire", END - 60);
        let own = number < 20;
        let parts: &[&str] = match number {
            0..10 => &[COIL, "PLUG-1"],
            20..30 => &[COIL],
            _ => &["PLUG-1"],
        };
        for part in parts {
            let row = shop.part(part, PartRole::Suspect, Disposition::ReplacedNew);
            row.supplier = Some(if own { "Quarry Lane" } else { "Northgate" }.to_owned());
            row.lot = Some(if own { "Q17" } else { "NC41" }.to_owned());
        }
        if number < 4 || number == 10 {
            shop.comeback(20, "misdiagnosis");
        }
    }
    let history = shop.history(facts());
    let report = report(&history);
    let lot = found(&report, WarningKind::Lot, &["Quarry Lane", "Q17"]).unwrap();
    // By hand: four of the coils' twenty jobs, one of the plugs' other twenty.
    assert_eq!((lot.count, lot.returns), (20, 5));
    near(lot.expected, 4.0 * 10.0 / 20.0 + 10.0 / 20.0, 1e-12);
    assert_eq!(selected(&history, &lot.jobs, day(END)), lot.count);
    // The same jobs stand among the plugs of their supplier.
    let plugs = found(&report, WarningKind::Supplier, &["PLUG-1", "Quarry Lane"]).unwrap();
    assert_eq!((plugs.count, plugs.returns), (20, 5));
    near(plugs.expected, 5.0 * 20.0 / 30.0, 1e-12);
}

/// An operation's jobs, each once however often it was charged.
#[test]
fn an_operation_counts_its_jobs_once() {
    let mut shop = opened();
    for number in 0..40_u64 {
        shop.job("engine.misfire", END - 22);
        let code = if number < 12 { "coil-replace" } else { "plugs-replace" };
        shop.operation(code, 100, 100, Payer::Customer);
        shop.operation(code, 50, 50, Payer::Customer);
        if number < 6 {
            shop.comeback(20, "workmanship");
        }
    }
    let history = shop.history(facts());
    let report = report(&history);
    let operation = found(&report, WarningKind::Operation, &["coil-replace"]).unwrap();
    assert_eq!((operation.count, operation.returns), (12, 6));
    near(operation.expected, 6.0 * 12.0 / 40.0, 1e-12);
    assert_eq!(operation.state, WarningState::New);
    assert_eq!(selected(&history, &operation.jobs, day(END)), 12);
    let keys = chances(&Scan::of(&history, None, &Planned::new()), day(END), day(END - 6));
    assert!(keys.iter().any(|(kind, key, q)| *kind == WarningKind::Operation
        && key == "operation=coil-replace"
        && (q - operation.q).abs() < 1e-15));
}
