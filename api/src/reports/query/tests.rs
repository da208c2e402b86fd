use analytics::history::{CheckRow, JobRow, LaborRow, OperationRow, PartRow, Rows, ShopFacts};
use analytics::words::{CauseState, Disposition, Finding, JobKind, Outcome, Payer, WorkedAs};
use std::collections::{BTreeMap, BTreeSet};

use analytics::history::History;

use super::run::{only_own, without_costs};
use super::*;
use crate::codes::merge::Standing;
use crate::domain::ids::{GroupId, ShopPublicId};

pub(crate) fn shop() -> Shop {
    Shop {
        id: 1,
        public_id: ShopPublicId::make(),
        group_id: GroupId::make(),
        code: "FOUR".to_owned(),
        name: "Test".to_owned(),
        time_zone: "America/Chicago".to_owned(),
        currency: "USD".to_owned(),
        labor_cost_minor: 9000,
        posted_rate_minor: 14_000,
        window_days: 60,
        week_start: 1,
        ceiling_permille: 100,
        return_diagnosis_minor: 6000,
        return_proof_minor: 0,
        return_transport_minor: 0,
        return_bay_minor: 0,
        return_goodwill_minor: 0,
        assumed_cleaned_suspect_permille: 300,
        assumed_bystander_tested_permille: 30,
        assumed_bystander_untested_permille: 60,
        assumed_replaced_permille: 30,
        links_from: None,
        version: 1,
        date_style: None,
        follow_up_days: None,
        follow_up_intermittent_days: None,
    }
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// 2026-10-14 00:30 in UTC: by the wall clock of the shop still the evening of
/// Tuesday the 13th.
fn now() -> UtcStamp {
    UtcStamp::parse("2026-10-14T00:30:00Z").unwrap()
}

fn faults(name: ReportName, query: &ReportQuery) -> Vec<(String, &'static str)> {
    match resolve(name, query, &shop(), now()) {
        Err(Refusal::Invalid(faults)) => {
            faults.into_iter().map(|fault| (fault.pointer, fault.code)).collect()
        }
        other => panic!("{other:?}"),
    }
}

fn asked(pairs: &str) -> ReportQuery {
    actix_web::web::Query::<ReportQuery>::from_query(pairs).unwrap().into_inner()
}

#[test]
fn days_are_those_of_the_shop() {
    let resolved = resolve(ReportName::Weekly, &ReportQuery::default(), &shop(), now()).unwrap();
    assert_eq!(resolved.figures.as_of, day("2026-10-12"));
    // `cal -m 10 2026`: the Monday of the last week over by the 12th.
    assert_eq!(resolved.week_from, day("2026-10-05"));
    assert_eq!(resolved.figures.window_days, None);
}

#[test]
fn a_week_ends_where_the_shop_s_week_ends() {
    let sunday = Shop { week_start: 7, ..shop() };
    let last = |as_of: &str, shop: &Shop| {
        let query = asked(&format!("as_of={as_of}"));
        resolve(ReportName::Weekly, &query, shop, now()).unwrap().week_from
    };
    // A Saturday and the Sunday after it, by `cal`.
    assert_eq!(last("2026-10-10", &sunday), day("2026-10-04"));
    assert_eq!(last("2026-10-11", &sunday), day("2026-10-04"));
    assert_eq!(last("2026-10-10", &shop()), day("2026-09-28"));
    assert_eq!(last("2026-10-11", &shop()), day("2026-10-05"));
}

#[test]
fn a_named_week_is_the_period_of_other_reports() {
    let query = asked("week=2026-W41");
    let resolved = resolve(ReportName::Labor, &query, &shop(), now()).unwrap();
    // ISO 8601: week 41 of 2026 runs from October 5 to 11.
    assert_eq!(resolved.figures.from, Some(day("2026-10-05")));
    assert_eq!(resolved.figures.to, Some(day("2026-10-11")));
    assert_eq!(resolved.figures.by.as_deref(), Some("technician"));
}

#[test]
fn every_fault_is_told_by_its_parameter() {
    let query = asked("as_of=2026-10-14&window=401&from=2026-13-01&by=color&role=villain");
    assert_eq!(
        faults(ReportName::Comebacks, &query),
        [
            ("/role".to_owned(), "not_taken"),
            ("/as_of".to_owned(), "range"),
            ("/from".to_owned(), "value"),
            ("/window".to_owned(), "value"),
            ("/by".to_owned(), "value"),
            ("/role".to_owned(), "value"),
        ]
    );
}

#[test]
fn today_may_be_the_as_of_and_tomorrow_not() {
    assert!(resolve(ReportName::Reuse, &asked("as_of=2026-10-13"), &shop(), now()).is_ok());
    assert_eq!(
        faults(ReportName::Reuse, &asked("as_of=2026-10-14")),
        [("/as_of".to_owned(), "range")]
    );
}

#[test]
fn a_week_that_has_not_begun_is_refused() {
    // Week 42 of 2026 runs from October 12 to 18; the shop has the 13th.
    assert!(resolve(ReportName::Weekly, &asked("week=2026-W42"), &shop(), now()).is_ok());
    assert!(resolve(ReportName::Labor, &asked("from=2026-10-13"), &shop(), now()).is_ok());
    for (name, query, field) in [
        (ReportName::Weekly, "week=2026-W43", "/week"),
        (ReportName::Labor, "week=2026-W43", "/week"),
        (ReportName::Paths, "from=2026-10-14", "/from"),
        (ReportName::Weekly, "week=2026-W42&as_of=2026-10-11", "/week"),
    ] {
        assert_eq!(faults(name, &asked(query)), [(field.to_owned(), "range")], "{query}");
    }
}

#[test]
fn no_record_reaches_back_before_1980() {
    let query = |day: &str| asked(&format!("as_of={day}"));
    assert!(resolve(ReportName::Comebacks, &query("1980-01-01"), &shop(), now()).is_ok());
    assert_eq!(
        faults(ReportName::Comebacks, &query("1979-12-31")),
        [("/as_of".to_owned(), "range")]
    );
}

#[test]
fn a_period_runs_forward_and_beside_no_week() {
    assert_eq!(
        faults(ReportName::Labor, &asked("from=2026-02-01&to=2026-01-31")),
        [("/from".to_owned(), "range")]
    );
    assert_eq!(
        faults(ReportName::Labor, &asked("week=2026-W41&to=2026-01-31")),
        [("/week".to_owned(), "value")]
    );
    assert_eq!(
        faults(ReportName::Weekly, &asked("week=2026-W54")),
        [("/week".to_owned(), "value")]
    );
}

#[test]
fn a_misspelled_parameter_is_no_parameter() {
    assert!(actix_web::web::Query::<ReportQuery>::from_query("windows=30").is_err());
}

#[test]
fn particulars_need_their_part() {
    assert_eq!(
        faults(ReportName::Reuse, &asked("access_minutes=240&part_cost=1.005")),
        [("/part_cost".to_owned(), "value"), ("/part".to_owned(), "required")]
    );
    let query = asked("part=lifter&role=suspect&access_minutes=240&part_cost=60&tested=true");
    let part = resolve(ReportName::Reuse, &query, &shop(), now()).unwrap().part;
    assert_eq!(part.role, Some(PartRole::Suspect));
    assert_eq!(part.overrides.part_cost_minor, Some(6000));
    assert_eq!((part.overrides.access_minutes, part.tested), (Some(240), Some(true)));
}

#[test]
fn a_figure_s_selector_is_the_query_of_the_jobs_list() {
    let query =
        ReportQuery::of_jobs("as_of=2026-10-11&symptom=engine.tick&window=30&returned=true");
    assert_eq!(query.as_of.as_deref(), Some("2026-10-11"));
    let resolved = resolve(ReportName::Jobs, &query, &shop(), now()).unwrap();
    assert_eq!(resolved.select.to_string(), "symptom=engine.tick&returned=true");
    assert_eq!(resolved.figures.window_days, Some(30));
    assert_eq!(
        faults(ReportName::Jobs, &ReportQuery::of_jobs("color=red")),
        [("/select".to_owned(), "value")]
    );
}

pub(crate) fn facts() -> ShopFacts {
    ShopFacts {
        code: "FOUR".to_owned(),
        name: "Test".to_owned(),
        currency: "USD".to_owned(),
        labor_cost_minor_per_hour: 9000,
        posted_rate_minor_per_hour: 14_000,
        window_days: 60,
        week_start: 1,
        ceiling: 0.1,
        return_extra_minor: 6000,
        return_clocked_minor: 6000,
        links_from: None,
        assumed_cleaned_suspect: 0.3,
        assumed_bystander_tested: 0.03,
        assumed_bystander_untested: 0.06,
        assumed_replaced: 0.03,
        part_policies: BTreeMap::new(),
        check_minutes: BTreeMap::new(),
        free_looks: BTreeSet::new(),
        trained_checks: BTreeSet::new(),
        check_access: BTreeMap::new(),
        check_plans: Vec::new(),
    }
}

/// Twelve jobs of two technicians, one a week from June 2026, each with a
/// check, a valve cleaned as the suspect, an hour and a half on the clock and
/// one hour of flat-rate; every third came back after eight days.
pub(crate) fn history() -> History {
    let start = day("2026-06-01");
    let mut rows = Rows::default();
    for id in 1..=12_u8 {
        let closed_on = start + Duration::days(7 * i64::from(id));
        rows.jobs.push(job(u128::from(id), closed_on));
        add_work(&mut rows, u128::from(id), closed_on);
    }
    for id in [3_u128, 6, 9] {
        let earlier = rows.jobs.iter().find(|job| job.id == id).unwrap().closed_on;
        rows.returns.push(analytics::history::ReturnRow {
            id: 1000 + id,
            earlier: id,
            later: 100 + id,
            later_order_no: format!("9{id}"),
            later_job_no: 1,
            later_opened_on: earlier + Duration::days(8),
            later_odometer: None,
            state: analytics::words::LinkState::Confirmed,
            same_complaint: true,
            reason: Some("misdiagnosis".to_owned()),
        });
    }
    History::new(facts(), rows, 41).unwrap()
}

fn job(id: u128, closed_on: NaiveDate) -> JobRow {
    JobRow {
        model_year: None,
        holds_on: Vec::new(),
        id,
        order_no: (1000 + id).to_string(),
        job_no: 1,
        vehicle: format!("VIN{id}"),
        model: None,
        engine: None,
        kind: JobKind::Complaint,
        outcome: Outcome::Repaired,
        symptom: Some("engine.tick".to_owned()),
        complaint: Some("it ticks, \"loudly\",\nwhen cold".to_owned()),
        system: Some("engine".to_owned()),
        cause: Some("lifter-stuck".to_owned()),
        cause_state: Some(CauseState::Confirmed),
        cause_curable: None,
        technician: Some(if id.is_multiple_of(2) { "Ada" } else { "Ben" }.to_owned()),
        opened_on: closed_on,
        opened_minute: 480,
        closed_on,
        odometer_in: None,
        odometer_out: None,
        odometer_in_miles: false,
        supervisor: None,
        failed_proofs: 0,
        sublet_cost_minor: 0,
        told: None,
    }
}

fn add_work(rows: &mut Rows, job: u128, day: NaiveDate) {
    rows.checks.push(CheckRow {
        reading: None,
        unit: None,
        job,
        seq: 1,
        check: "listen".to_owned(),
        finding: Some(Finding::Abnormal),
        minutes: Some(10),
        at_close: false,
    });
    rows.parts.push(PartRow {
        id: 500 + job,
        job,
        part_no: Some("V-1".to_owned()),
        name: "valve".to_owned(),
        position: None,
        disposition: Disposition::CleanedReused,
        role: Some(PartRole::Suspect),
        supplier: None,
        lot: None,
        quantity_hundredths: 100,
        unit_cost_minor: None,
        bench_reading: None,
        bench_unit: None,
    });
    rows.labor.push(LaborRow {
        job,
        technician: if job.is_multiple_of(2) { "Ada" } else { "Ben" }.to_owned(),
        activity: None,
        worked_as: WorkedAs::Lead,
        started_on: day,
        minutes: 90,
    });
    rows.operations.push(OperationRow {
        job,
        code: "valve".to_owned(),
        flat_rate_hundredths: Some(100),
        billed_hundredths: Some(100),
        labor_amount_minor: Some(14_000),
        payer: Some(Payer::Customer),
    });
}

/// A list with a symptom that no job has, and one that was merged.
fn known() -> Known {
    let merged = Some("engine.tick".to_owned());
    let standings = [
        ("start.no-crank", Standing::default()),
        ("engine.tapping", Standing { retired: false, merged_into: merged }),
        ("engine.tick", Standing::default()),
    ];
    let list = standings.map(|(code, standing)| (code.to_owned(), standing));
    Known::of("symptom", list.into_iter().collect())
}

pub(crate) fn report(name: ReportName, query: &ReportQuery) -> Report {
    let mut query = query.clone();
    if name == ReportName::Effect {
        query.start.get_or_insert_with(|| "2026-06-01".to_owned());
        query.review.get_or_insert_with(|| "2026-09-01".to_owned());
    }
    if name == ReportName::Estimate {
        query.part.get_or_insert_with(|| "V-1".to_owned());
        query.role.get_or_insert_with(|| "suspect".to_owned());
    }
    answer(&history(), &known(), &shop(), now(), name, &query).unwrap()
}

#[test]
fn every_report_says_what_it_was_made_from() {
    for name in ReportName::ALL {
        let report = report(name, &ReportQuery::default());
        let head = report.head();
        assert_eq!((head.report, head.change_no), (name.as_str(), 41));
        assert_eq!((head.as_of, head.window_days), (day("2026-10-12"), 60));
        assert_eq!(ReportName::parse(name.as_str()), Some(name));
    }
}

#[test]
fn a_part_the_shop_never_saw_has_an_answer() {
    let query = asked("part=lifter&role=suspect&access_minutes=240&part_cost=60");
    let Report::Reuse(report) = report(ReportName::Reuse, &query) else { panic!() };
    assert_eq!(report.parts.len(), 1);
    let line = report.parts.first().unwrap();
    assert_eq!((line.part.as_str(), line.uses), ("lifter", 0));
    let costs = line.advice.as_ref().unwrap().costs.unwrap();
    assert_eq!((costs.access.minutes, costs.part.minor), (240.0, 6000.0));
}

#[test]
fn advice_on_a_part_that_was_seen_stands_with_its_cases() {
    let Report::Reuse(report) = report(ReportName::Reuse, &asked("part=V-1")) else { panic!() };
    let roles: Vec<(Option<PartRole>, i64)> =
        report.parts.iter().map(|line| (line.role, line.uses)).collect();
    assert_eq!(roles, [(Some(PartRole::Suspect), 12), (Some(PartRole::Bystander), 0)]);
    assert!(report.parts.iter().all(|line| line.advice.is_some()));
}

#[test]
fn a_figure_opens_to_its_jobs() {
    let Report::Comebacks(comebacks) = report(ReportName::Comebacks, &ReportQuery::default())
    else {
        panic!()
    };
    let selector = format!("{}&returned=true", comebacks.total.share.jobs);
    let Report::Jobs(jobs) = report(ReportName::Jobs, &ReportQuery::of_jobs(&selector)) else {
        panic!()
    };
    assert_eq!((comebacks.total.share.returns, jobs.count), (3, 3));
    let days: Vec<Option<i32>> = jobs.jobs.iter().map(|job| job.days_to_return).collect();
    assert_eq!(days, [Some(8); 3]);
}

#[test]
fn one_symptom_s_paths() {
    let Report::Paths(none) = report(ReportName::Paths, &asked("symptom=start.no-crank")) else {
        panic!()
    };
    let Report::Paths(one) = report(ReportName::Paths, &asked("symptom=engine.tick")) else {
        panic!()
    };
    assert_eq!((none.symptoms.len(), one.symptoms.len()), (0, 1));
}

#[test]
fn a_technician_sees_the_own_line_and_no_money() {
    let Report::Labor(mut labor) = report(ReportName::Labor, &ReportQuery::default()) else {
        panic!()
    };
    only_own(&mut labor, "Ada");
    // By hand: 6 jobs of 1.5 clock hours and 1 flat-rate hour, 1 / 1.5.
    assert_eq!((labor.lines.len(), labor.total.count), (1, 6));
    assert_eq!((labor.total.clock_hours, labor.total.flat_rate_hours), (9.0, 6.0));
    assert_eq!((labor.total.labor_amount_minor, labor.comebacks.total_minor), (None, None));
    assert!(labor.outcomes.is_empty());
    let text = serde_json::to_string(&labor).unwrap();
    assert!(!text.contains("Ben") && !text.contains("14000"), "{text}");
    only_own(&mut labor, "Cid");
    assert_eq!((labor.lines.len(), labor.total.count), (0, 0));
}

#[test]
fn a_merged_symptom_is_the_one_it_counts_as() {
    let Report::Paths(paths) = report(ReportName::Paths, &asked("symptom=engine.tapping")) else {
        panic!()
    };
    assert_eq!(paths.symptoms.first().unwrap().symptom, "engine.tick");
    let select = |text: &str| ReportQuery { select: Some(text.into()), ..ReportQuery::default() };
    let Report::Jobs(now) = report(ReportName::Jobs, &select("symptom=engine.tick")) else {
        panic!()
    };
    let Report::Jobs(before) = report(ReportName::Jobs, &select("symptom=engine.tapping")) else {
        panic!()
    };
    assert!(now.count > 0);
    assert_eq!(before, now);
}

#[test]
fn what_comes_first_is_a_list_of_known_checks() {
    let merged = Standing { retired: false, merged_into: Some("listen".to_owned()) };
    let known = Known::of("check", std::iter::once(("hearken".to_owned(), merged)).collect());
    let ask = |text: &str| {
        let query = ReportQuery { first: Some(text.to_owned()), ..ReportQuery::default() };
        answer(&history(), &known, &shop(), now(), ReportName::Checks, &query)
    };
    for text in ["listen", " hearken ", "hearken,listen"] {
        let Ok(Report::Checks(orders)) = ask(text) else { panic!("{text}") };
        assert_eq!(orders.first.unwrap(), ["listen"], "{text}");
    }
    // Nothing first is asked for by an empty one; without one nothing was asked.
    for text in ["", " "] {
        let Ok(Report::Checks(orders)) = ask(text) else { panic!("{text}") };
        assert_eq!(orders.first, Some(Vec::new()));
    }
    let Report::Checks(usual) = report(ReportName::Checks, &ReportQuery::default()) else {
        panic!("another report")
    };
    assert_eq!(usual.first, None);
    for (text, code) in [("no-such", "unknown_code"), ("listen,", "value"), (",", "value")] {
        match ask(text) {
            Err(Refusal::Invalid(faults)) => {
                let told: Vec<_> = faults.iter().map(|f| (f.pointer.as_str(), f.code)).collect();
                assert_eq!(told, [("/first", code)]);
            }
            other => panic!("{text}: {other:?}"),
        }
    }
    assert_eq!(
        faults(ReportName::Paths, &asked("first=listen")),
        [("/first".to_owned(), "not_taken")]
    );
}

#[test]
fn a_check_for_trained_people_cannot_come_first() {
    let mut history = history();
    let trained_checks = BTreeSet::from(["listen".to_owned()]);
    history.set_facts(analytics::history::ShopFacts { trained_checks, ..facts() });
    let query = ReportQuery { first: Some("listen".to_owned()), ..ReportQuery::default() };
    match answer(&history, &known(), &shop(), now(), ReportName::Checks, &query) {
        Err(Refusal::Invalid(faults)) => {
            assert_eq!(faults.iter().map(|fault| fault.code).collect::<Vec<_>>(), ["trained_only"]);
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_rule_has_a_start_and_a_review_day() {
    assert_eq!(
        faults(ReportName::Effect, &ReportQuery::default()),
        [("/start".to_owned(), "required"), ("/review".to_owned(), "required")]
    );
    let given = asked("start=2026-06-01");
    assert_eq!(faults(ReportName::Effect, &given), [("/review".to_owned(), "required")]);
}

#[test]
fn a_rule_is_about_jobs_as_they_were_done() {
    let ask = |select: &str, kept: &str| {
        let rule = asked("start=2026-06-01&review=2026-09-01");
        let query = ReportQuery { select: Some(select.into()), kept: Some(kept.into()), ..rule };
        faults(ReportName::Effect, &query)
    };
    let (select, kept) = (("/select".to_owned(), "value"), ("/kept".to_owned(), "value"));
    assert_eq!(
        ask("symptom=engine.tick&returned=true", "check=listen"),
        std::slice::from_ref(&select)
    );
    assert_eq!(ask("symptom=engine.tick", "except=told%3Dtrue"), std::slice::from_ref(&kept));
    assert_eq!(ask("cause_state=confirmed", "done=true"), [select, kept]);
    let sound = asked("start=2026-06-01&review=2026-09-01&select=symptom%3Dengine.tick");
    assert!(resolve(ReportName::Effect, &sound, &shop(), now()).is_ok());
    // The jobs list shows them as before.
    let jobs = ReportQuery::of_jobs("symptom=engine.tick&returned=true");
    assert!(resolve(ReportName::Jobs, &jobs, &shop(), now()).is_ok());
}

#[test]
fn what_was_never_there_is_refused() {
    let told = |name, known: &Known, query: &ReportQuery| -> Vec<String> {
        match answer(&history(), known, &shop(), now(), name, query) {
            Err(Refusal::Invalid(faults)) => faults.into_iter().map(|f| f.pointer).collect(),
            _ => Vec::new(),
        }
    };
    let select = ReportQuery { select: Some("symptom=no.such".into()), ..ReportQuery::default() };
    assert_eq!(told(ReportName::Paths, &known(), &asked("symptom=no.such")), ["/symptom"]);
    assert_eq!(told(ReportName::Jobs, &known(), &select), ["/select"]);
    assert_eq!(told(ReportName::Reuse, &known(), &asked("part=nope")), ["/part"]);
    // What only the record has is known, too.
    let nothing = Known::default();
    assert!(told(ReportName::Paths, &nothing, &asked("symptom=engine.tick")).is_empty());
    assert!(told(ReportName::Reuse, &nothing, &asked("part=V-1")).is_empty());
}

#[test]
fn without_costs_no_amount_is_left_nor_what_amounts_make() {
    let query = asked("part=V-1&access_minutes=240&part_cost=60");
    let mut reuse = report(ReportName::Reuse, &query);
    let text = reuse.written().json().unwrap();
    let gap = "\"break_even_gap\":";
    assert!(!text.contains(&format!("{gap}null")) && text.contains("\"minor\":6000.0"), "{text}");
    assert!(text.contains("Counting customer and shop together, "), "{text}");
    without_costs(&mut reuse);
    let text = reuse.written().json().unwrap();
    assert!(!text.contains("minor") && !text.contains(&format!("{gap}0.")), "{text}");
    assert!(!text.contains("Counting") && !text.contains("USD)"), "{text}");
    assert!(reuse.head().definitions.contains_key("costs"));
}
