//! The reports find what was planted in a hundred thousand jobs, and nothing
//! where nothing was. Every expected number is a chance that the record was
//! made with, or follows from one by hand.

use analytics::comeback::{self, comebacks};
use analytics::compare::{self, CompareReport, compare};
use analytics::effect::{self, EffectQuery, effect};
use analytics::figure::{Query, Share};
use analytics::labor::labor;
use analytics::path::check_orders;
use analytics::repeats::repeats;
use analytics::reuse::{AdviceQuery, DecidedBy, HeldRole, Overrides, Verdict, advise};
use analytics::select::Selector;

use crate::planted::{self, AS_OF, REASONS, RULE, SHARES};
use crate::shop::{day, until};

/// Four standard errors: a right estimate misses by more once in sixteen
/// thousand tries, and the record is the same every time.
#[track_caller]
fn near(what: &str, estimate: Option<f64>, error: Option<f64>, truth: f64) {
    let (estimate, error) = (estimate.unwrap(), error.unwrap());
    assert!(error > 0.0, "{what}");
    assert!(
        (estimate - truth).abs() < 4.0 * error,
        "{what}: {estimate} +- {error}, planted {truth}"
    );
    println!("planted: {what}: {estimate:.4} +- {error:.4}, true {truth:.4}");
}

#[track_caller]
fn near_share(what: &str, share: &Share, truth: f64) {
    near(what, share.share, share.standard_error, truth);
}

fn by(word: &str) -> Query {
    Query { by: Some(word.to_owned()), ..until(AS_OF) }
}

/// Each symptom's share is that of its technicians, mixed: a quarter of the jobs
/// are each one's, and only Mirela's come back half as often again.
#[test]
fn shares_are_those_planted() {
    let report = comebacks(&planted::record(), &by("symptom")).unwrap();
    let group = |name: &str| {
        let found = report.groups.iter().find(|group| group.group.as_deref() == Some(name));
        found.unwrap().figures.clone()
    };
    for (place, (symptom, share)) in SHARES.into_iter().enumerate() {
        let weights = planted::TECHNICIANS.map(|(_, mix, own)| (mix[place] as f64, own));
        let jobs: f64 = weights.iter().map(|(weight, _)| weight).sum();
        let mixed: f64 = weights.iter().map(|(weight, own)| weight * own).sum();
        near_share(symptom, &group(symptom).first_repairs, share * mixed / jobs);
    }
    near_share("noise.other", &group("noise.other").share, 0.06);
    near_share("idle.uneven", &group("idle.uneven").share, 0.02);
}

#[test]
fn reasons_are_those_planted() {
    let report = comebacks(&planted::record(), &by("symptom")).unwrap();
    let total = report.total.share.share.unwrap();
    assert_eq!(report.reasons.len(), REASONS.len());
    for (reason, hundredths) in REASONS {
        let line = report.reasons.iter().find(|line| line.reason.as_deref() == Some(reason));
        near_share(reason, &line.unwrap().share, total * hundredths as f64 / 100.0);
    }
}

/// Who is above what the mix lets expect.
fn above(report: &CompareReport) -> Vec<&str> {
    let groups = report.groups.iter();
    let above = groups.filter(|group| group.answer == compare::Answer::MoreThanExpected);
    above.filter_map(|group| group.group.as_deref()).collect()
}

/// Ilse has the hard jobs and the highest raw share, Mirela half as many
/// comebacks again as her jobs let expect.
#[test]
fn the_one_who_differs_is_found_and_not_the_one_with_the_hard_jobs() {
    let report = compare(&planted::record(), &by("technician")).unwrap();
    let raw = |name: &str| {
        let found = report.groups.iter().find(|group| group.group.as_deref() == Some(name));
        found.unwrap().share.share.unwrap()
    };
    for other in ["Kofi", "Mirela", "Tomas"] {
        assert!(raw("Ilse") > raw(other), "{other}");
    }
    assert_eq!(above(&report), ["Mirela"]);
}

#[test]
fn the_bad_lot_is_found_and_no_other() {
    let report = compare(&planted::record(), &by("lot")).unwrap();
    assert_eq!(above(&report), ["L07"]);
    let named = report.groups.iter().filter(|group| group.group.is_some());
    assert_eq!(named.count(), 10);
}

/// 24 of 100 cleaned suspects come back, 4 of cleaned bystanders, 3 of replaced
/// ones: over and under the shop's limit of 10 %.
#[test]
fn the_part_to_replace_and_the_part_to_clean_are_told_apart() {
    let history = planted::record();
    let advice = |role| {
        let question = AdviceQuery {
            part: "air valve".to_owned(),
            role,
            cause_curable: None,
            bench_tested: None,
            as_of: day(AS_OF),
            window_days: None,
            overrides: Overrides::default(),
        };
        advise(&history, &question)
    };
    let suspect = advice(HeldRole::Suspect);
    assert_eq!(suspect.verdict, Verdict::Replace);
    assert!(suspect.decided_by.contains(&DecidedBy::Ceiling));
    assert!(suspect.clean.interval.low < 0.24 && 0.24 < suspect.clean.interval.high);
    assert!(suspect.replace.interval.low < 0.03 && 0.03 < suspect.replace.interval.high);
    let bystander = advice(HeldRole::Bystander);
    assert_eq!(bystander.verdict, Verdict::CleanAndReuse);
    assert!(bystander.clean.interval.low < 0.04 && 0.04 < bystander.clean.interval.high);
}

/// By hand, sums of chance times minutes so far: in the order of c/p 33.7
/// minutes, in the order of falling chance, which the shop keeps, 36.3.
#[test]
fn the_quickest_order_of_checks_is_found() {
    let report = check_orders(&planted::record(), &until(AS_OF), Some(&[]));
    let line = report.symptoms.iter().find(|line| line.symptom == "crank.none").unwrap();
    assert_eq!(line.advised.checks, planted::CHECKS.map(|(check, _, _)| check));
    let minutes = |planned: Option<f64>| planned.unwrap();
    assert!((minutes(line.advised.expected_minutes) - 33.7).abs() < 1.5);
    let habit = line.habit.as_ref().unwrap();
    assert_eq!(habit.checks[..2], ["terminals", "starter"]);
    assert!((minutes(habit.expected_minutes) - 36.3).abs() < 1.5);
    let saved = line.saved.as_ref().unwrap();
    assert!((saved.minutes - 2.6).abs() < 1.0, "{}", saved.minutes);
}

fn rule_about(symptom: &str) -> EffectQuery {
    EffectQuery {
        figures: until(AS_OF),
        jobs: Selector::parse(&format!("symptom={symptom}")).unwrap(),
        start: day(RULE),
        review: day(AS_OF),
        withdrawn: None,
        kept: None,
        not_known: None,
    }
}

#[test]
fn a_rule_that_works_is_told_from_one_that_does_nothing() {
    let history = planted::record();
    let works = effect(&history, &rule_about("noise.ruled"));
    assert_eq!(works.verdict, effect::Verdict::FewerComebacks);
    let interval = works.beside_untouched.interval.clone().unwrap();
    assert!(interval.low < -0.06 && -0.06 < interval.high, "{interval:?}");
    let nothing = effect(&history, &rule_about("suspension.knock"));
    assert_eq!(nothing.verdict, effect::Verdict::NoEvidence);
}

/// A repair that comes back with chance p is repaired again and comes back with
/// chance p: p + p^2 + ... visits a vehicle, all within a year but for chains
/// longer than six.
#[test]
fn visits_of_a_vehicle_are_those_planted() {
    let report = repeats(&planted::record(), &by("model")).unwrap();
    for (model, chance) in [("noise.other", 0.06_f64), ("idle.uneven", 0.02)] {
        let group = report.groups.iter().find(|group| group.group.as_deref() == Some(model));
        let points = &group.unwrap().figures.points;
        let year = &points.iter().find(|point| point.days == 365).unwrap().visits;
        near(model, year.value, year.standard_error, chance / (1.0 - chance));
    }
}

/// A guide time of 1.2 h for work that takes 1.9 h on the mean.
#[test]
fn the_short_guide_time_shows() {
    let report = labor(&planted::record(), &by("operation")).unwrap();
    let line = report.lines.iter().find(|line| line.group.as_deref() == Some("arm bushes"));
    // A few of the jobs are repairs of comebacks and credit no hours: without them.
    let ratio = &line.unwrap().efficiency_without_comebacks;
    near("arm bushes", ratio.value, ratio.standard_error, 1.2 / 1.9);
    assert_eq!(comeback::By::parse("operation"), None);
}
