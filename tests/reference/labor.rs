//! Labor: ratios of sums against a published example, and their splits by hand.

use analytics::figure::Query;
use analytics::labor::{By, LaborLine, LaborReport, LaborTally, labor, labor_from};
use analytics::stats::ratio::RatioSums;
use analytics::words::{Activity, Disposition, PartRole, Payer};
use proptest::prelude::*;

use crate::files::{case, close, table, tell};
use crate::shop::{Shop, day, facts, selected, until};

fn near(ours: f64, theirs: f64, within: f64) {
    assert!((ours - theirs).abs() <= within, "{ours} against {theirs}");
}

#[test]
fn a_ratio_of_sums_agrees_with_the_reference() {
    let case = case("o36-ratio-of-sums");
    let (header, rows) = table(case["input"].as_str().unwrap());
    let expected = &case["expected"];
    let at = |key: &str| header.iter().position(|name| expected[key] == name.as_str()).unwrap();
    let (over, under) = (at("numerator"), at("denominator"));
    let mut sums = RatioSums::default();
    for row in &rows {
        sums += RatioSums::of(row[over].parse().unwrap(), row[under].parse().unwrap());
    }
    assert_eq!(Some(sums.cases), expected["n"].as_i64());
    close(&case, "ratio", sums.ratio().unwrap(), expected["ratio"].as_f64().unwrap());
    let error = expected["se_linearized_n_minus_1"].as_f64().unwrap();
    close(&case, "standard error", sums.standard_error().unwrap(), error);
    tell("o36-ratio-of-sums");
}

fn by(history: &analytics::history::History, by: &str) -> LaborReport {
    labor(history, &Query { by: Some(by.to_owned()), ..until(400) }).unwrap()
}

fn line<'a>(report: &'a LaborReport, group: &str) -> &'a LaborLine {
    report.lines.iter().find(|line| line.group.as_deref() == Some(group)).unwrap()
}

/// By hand: 41 x 1.2 h of flat-rate over 41 x 1.9 h is 63.2 %, 28.7 h lost.
/// Standard error: std(x - r u, ddof=1) sqrt(41)/sum(u) with numpy 2.4.6, over
/// clock minutes 84 and 144 in turn and 114 for the last.
#[test]
fn a_guide_time_that_is_too_short_shows() {
    let mut shop = Shop::default();
    for number in 0..41_u64 {
        shop.job("suspension.knock", number * 8);
        shop.operation("front lower arm bushes", 120, 120, Payer::Customer);
        let minutes = if number == 40 { 114 } else { [84, 144][usize::from(number % 2 == 1)] };
        shop.labor(
            ["Mirela", "Tomas", "Ilse", "Kofi"][number as usize % 4],
            Activity::Repair,
            minutes,
        );
    }
    let report = by(&shop.history(facts()), "operation");
    let bushes = line(&report, "front lower arm bushes");
    assert_eq!(bushes.count, 41);
    near(bushes.efficiency.value.unwrap(), 1.2 / 1.9, 1e-12);
    near(bushes.efficiency.value.unwrap(), 0.632, 5e-4);
    near(bushes.lost_hours, 28.7, 1e-9);
    near(bushes.efficiency.standard_error.unwrap(), 0.02595685793162, 1e-12);
    near(bushes.effective_labor_rate.value.unwrap(), 14_000.0, 1e-9);
    assert_eq!(bushes.jobs, "operation=front%20lower%20arm%20bushes&closed_to=2027-02-05");
}

#[test]
fn a_comeback_credits_no_flat_rate_hours() {
    let mut shop = Shop::default();
    let first = shop.job("engine.tick", 10);
    shop.operation("lifters", 300, 300, Payer::Customer);
    shop.labor("Mirela", Activity::Repair, 180);
    let second = shop.job("engine.tick", 40);
    shop.operation("lifters", 300, 300, Payer::OwnGuarantee);
    shop.operation("seals", 20, 20, Payer::Supplier);
    shop.labor("Tomas", Activity::Repair, 120);
    shop.part("LFT-1", PartRole::Suspect, Disposition::ReplacedNew).unit_cost_minor = Some(6_000);
    shop.part("LFT-1", PartRole::Bystander, Disposition::CleanedReused).unit_cost_minor =
        Some(6_000);
    shop.link(first, second, day(38), "workmanship");
    let report = by(&shop.history(facts()), "technician");
    // By hand: 3.0 h over 3 + 2 h, and 3.0 over 3.
    near(report.total.efficiency.value.unwrap(), 0.6, 1e-12);
    near(report.total.efficiency_without_comebacks.value.unwrap(), 1.0, 1e-12);
    near(report.total.lost_hours, 2.0, 1e-12);
    let tomas = line(&report, "Tomas");
    assert_eq!((tomas.efficiency.value, tomas.efficiency_without_comebacks.value), (None, None));
    assert_eq!((tomas.comebacks, tomas.comeback_hours), (1, 2.0));
    assert!(tomas.comeback_jobs.starts_with("credited=Tomas&first_repair=false&clocked=true"));
    // 2 h at 90.00, one part at 60.00, 60.00 besides, less 0.2 h at 140.00.
    let cost = &report.comebacks;
    assert_eq!((cost.count, cost.labor_minor, cost.parts_minor), (1, Some(18_000), Some(6_000)));
    assert_eq!(
        (cost.extra_minor, cost.paid_back_minor, cost.total_minor),
        (Some(6_000), Some(2_800), Some(27_200))
    );
}

#[test]
fn flat_rate_goes_by_clock_share_and_people_stand_by_name() {
    let mut shop = Shop::default();
    shop.job("engine.tick", 10);
    shop.operation("cover", 150, 150, Payer::Customer);
    shop.labor("Tomas", Activity::Repair, 30);
    shop.labor("Adeyo", Activity::Repair, 60);
    shop.job("engine.tick", 11);
    shop.operation("cover", 100, 100, Payer::Customer);
    let report = by(&shop.history(facts()), "technician");
    let names: Vec<_> = report.lines.iter().map(|line| line.group.as_deref().unwrap()).collect();
    assert_eq!(names, ["Adeyo", "Mirela", "Tomas"]);
    near(line(&report, "Adeyo").flat_rate_hours, 1.0, 1e-12);
    near(line(&report, "Tomas").flat_rate_hours, 0.5, 1e-12);
    // No clock, no ratio: the hours stand beside it, with who led the job.
    let mirela = line(&report, "Mirela");
    assert_eq!((mirela.efficiency.value, mirela.unclocked), (None, 1));
    near(mirela.unclocked_flat_rate_hours, 1.0, 1e-12);
}

#[test]
fn diagnosis_has_an_operation_of_its_own() {
    let mut shop = Shop::default();
    shop.job("engine.tick", 10);
    shop.operation("diagnosis", 50, 50, Payer::Customer);
    shop.operation("lifters", 300, 300, Payer::Maker);
    shop.operation("cover", 100, 100, Payer::Customer);
    shop.labor("Mirela", Activity::Diagnosis, 45);
    shop.labor("Mirela", Activity::Access, 100);
    shop.labor("Mirela", Activity::Repair, 140);
    let history = shop.history(facts());
    let report = by(&history, "operation");
    // By hand: 240 minutes go 3 : 1.
    near(line(&report, "diagnosis").clock_hours, 0.75, 1e-12);
    near(line(&report, "lifters").clock_hours, 3.0, 1e-12);
    near(line(&report, "cover").clock_hours, 1.0, 1e-12);
    near(report.total.diagnosis_share.unwrap(), 45.0 / 285.0, 1e-12);
    // One job is one case of its payer, whatever its operations.
    let payers = by(&history, "payer");
    assert_eq!(line(&payers, "customer").count, 1);
    near(line(&payers, "customer").clock_hours, 1.75, 1e-12);
}

#[test]
fn without_an_operation_of_diagnosis_the_hours_are_for_all_of_the_work() {
    let mut shop = Shop::default();
    shop.job("engine.tick", 10);
    shop.operation("lifters", 300, 300, Payer::Customer);
    shop.operation("cover", 100, 100, Payer::Customer);
    shop.labor("Mirela", Activity::Diagnosis, 40);
    shop.labor("Mirela", Activity::Repair, 160);
    let report = by(&shop.history(facts()), "operation");
    // By hand: 200 minutes go 3 : 1, and so do the 40 of diagnosis in them.
    near(line(&report, "lifters").clock_hours, 2.5, 1e-12);
    near(line(&report, "lifters").diagnosis_share.unwrap(), 0.2, 1e-12);
    near(line(&report, "cover").clock_hours, 50.0 / 60.0, 1e-12);
    assert_eq!(report.lines.len(), 2);
}

#[test]
fn weeks_start_on_the_shops_day() {
    let mut shop = Shop::default();
    // 2026-01-04 was a Sunday, 2026-01-05 a Monday (date -d 2026-01-05 +%u: 1).
    for closed in [3, 4] {
        shop.job("engine.tick", closed);
        shop.operation("cover", 100, 100, Payer::Customer);
        shop.labor("Mirela", Activity::Repair, 60);
    }
    let report = by(&shop.history(facts()), "week");
    let weeks: Vec<_> = report.lines.iter().map(|line| line.group.as_deref().unwrap()).collect();
    assert_eq!(weeks, ["2025-12-29", "2026-01-05"]);
    assert_eq!(report.lines[1].jobs, "closed_from=2026-01-05&closed_to=2026-01-11");
}

#[test]
fn a_column_labor_does_not_have_is_named() {
    let history = Shop::default().history(facts());
    let query = Query { by: Some("moon".to_owned()), ..until(1) };
    assert_eq!(labor(&history, &query), Err("moon".to_owned()));
}

type JobNumbers = (u64, Vec<(u8, i64)>, Vec<(u8, u8, i64)>, bool);

fn some_jobs() -> impl Strategy<Value = Vec<JobNumbers>> {
    let operations = proptest::collection::vec((0_u8..3, 0_i64..400), 0..4);
    let labor = proptest::collection::vec((0_u8..3, 0_u8..5, 1_i64..200), 0..5);
    proptest::collection::vec((0_u64..150, operations, labor, proptest::bool::ANY), 0..25)
}

fn random_shop(jobs: &[JobNumbers], first_id: u128) -> Shop {
    let mut shop = Shop::starting_at(first_id);
    let mut before = None;
    for (closed, operations, labor, back) in jobs {
        let id = shop.job("engine.tick", *closed);
        for (operation, flat) in operations {
            let code = ["diagnosis", "lifters", "cover"][usize::from(*operation)];
            shop.operation(code, *flat, *flat, Payer::ALL[usize::from(*operation)]);
        }
        for (technician, activity, minutes) in labor {
            let activity = Activity::from_code(*activity).unwrap();
            shop.labor(["Mirela", "Tomas", "Ilse"][usize::from(*technician)], activity, *minutes);
        }
        if let (Some(earlier), true) = (before, back) {
            shop.link(earlier, id, day(*closed), "workmanship");
        }
        before = Some(id);
    }
    shop
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn tallies_add_and_groups_make_the_total(a in some_jobs(), b in some_jobs()) {
        let mut both = random_shop(&a, 0);
        both.absorb(random_shop(&b, 1_000_000));
        let (both, first, second) = (
            both.history(facts()),
            random_shop(&a, 0).history(facts()),
            random_shop(&b, 1_000_000).history(facts()),
        );
        for by in [By::Technician, By::Operation, By::Symptom, By::Payer, By::Week] {
            let whole = LaborTally::of(&both, by);
            let mut sum = LaborTally::of(&first, by);
            sum.add(&LaborTally::of(&second, by)).unwrap();
            prop_assert_eq!(&sum, &whole);
            let query = Query { from: Some(day(20)), to: Some(day(120)), ..until(180) };
            let report = labor_from(&whole, &facts(), 1, &query);
            let clocked = |line: &&LaborLine| line.group.is_some() && line.unclocked == 0;
            for line in report.lines.iter().filter(clocked) {
                prop_assert_eq!(selected(&both, &line.jobs, day(180)), line.count, "{}", &line.jobs);
            }
            // Whoever was clocked on a comeback, it opens to exactly these.
            let named = report.lines.iter().filter(|line| line.group.is_some());
            for line in named.chain([&report.total]) {
                let opened = selected(&both, &line.comeback_jobs, day(180));
                prop_assert_eq!(opened, line.comebacks, "{}", &line.comeback_jobs);
            }
            let total = |figure: fn(&LaborLine) -> f64| {
                let sum: f64 = report.lines.iter().map(figure).sum();
                (sum - figure(&report.total)).abs()
            };
            prop_assert!(total(|line| line.flat_rate_hours) < 1e-9, "{:?}", by);
            prop_assert!(total(|line| line.clock_hours) < 1e-9, "{:?}", by);
            prop_assert!(total(|line| line.billed_hours) < 1e-9, "{:?}", by);
            prop_assert!(total(|line| line.labor_amount_minor.unwrap() as f64) < 1e-9, "{:?}", by);
            prop_assert!(total(|line| line.unclocked_flat_rate_hours) < 1e-9, "{:?}", by);
        }
    }
}
