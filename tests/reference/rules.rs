//! Shop rules: what each kind is about and what keeps it, by hand; what their
//! comebacks cost; and that one job alone says what the whole record says.

use analytics::effect::{
    EffectQuery, Rule, RuleSelectors, RuleSpan, Stands, compliance, effect, evidence, not_followed,
    plan_review, stands,
};
use analytics::figure::Query;
use analytics::history::{History, JobId, Reading, ReadingRow, Rows, RuleAnswerRow, ShopFacts};
use analytics::select::Selector;
use analytics::stats::poisson::mean_reaching;
use analytics::words::{Activity, Disposition, LinkState, PartRole};
use proptest::prelude::*;

use crate::shop::{Shop, day, facts, selected, until};
use crate::world::world;

fn symptom_first() -> Rule {
    Rule::CheckFirst { symptom: "engine.tick".into(), check: "oil-pressure".into() }
}

/// The shop's free looks are to look and to ask.
fn looking() -> ShopFacts {
    let free_looks = ["look", "ask"].map(str::to_owned).into_iter().collect();
    ShopFacts { free_looks, ..facts() }
}

/// How the jobs stand, in the order they were written in.
fn standing(history: &History, jobs: &[JobId], rule: &RuleSelectors) -> Vec<Stands> {
    let all = stands(history, rule);
    jobs.iter().map(|job| all[history.job_row(*job).unwrap() as usize]).collect()
}

/// One after another: the check alone; after two free looks; after another check;
/// never; all typed in at close; none made; another complaint.
#[test]
fn a_check_leads_where_only_free_looks_stand_before_it() {
    use Stands::{Kept, NotAbout, NotKept, NotKnown};
    let mut shop = Shop::default();
    let mut jobs = Vec::new();
    let paths: [&[&str]; 6] = [
        &["oil-pressure", "compression"],
        &["look", "ask", "oil-pressure"],
        &["compression", "oil-pressure"],
        &["look"],
        &["oil-pressure"],
        &[],
    ];
    for (number, path) in paths.iter().enumerate() {
        jobs.push(shop.job("engine.tick", 10));
        for check in *path {
            shop.check(check, Some(5)).at_close = number == 4;
        }
    }
    jobs.push(shop.job("brakes.noise", 10));
    shop.check("compression", Some(5));
    let history = shop.history(looking());
    let rule = symptom_first().selectors();
    let expected = [Kept, Kept, NotKept, NotKept, NotKnown, NotKnown, NotAbout];
    assert_eq!(standing(&history, &jobs, &rule), expected);
    let span = RuleSpan { from: day(10), to: day(20) };
    let kept = compliance(&history, &rule, "none", span);
    let counts = [&kept.about, &kept.kept, &kept.without_reason, &kept.not_known];
    assert_eq!(counts.map(|jobs| jobs.count), [6, 2, 2, 2]);
    for jobs in counts {
        assert_eq!(selected(&history, &jobs.jobs, day(20)), jobs.count, "{}", jobs.jobs);
    }
    assert_eq!(kept.share, Some(0.5));
    let after = RuleSpan { from: day(11), to: day(20) };
    assert_eq!(compliance(&history, &rule, "none", after).about.count, 0);
}

/// By hand, limits 13.5 to 14.8 V: inside; outside; outside and then inside; inside
/// and then outside; inside in another unit; not read; before it left inside, after
/// a check outside; before it left one of two places outside; the same, but inside as
/// a whole.
#[test]
fn the_last_reading_in_the_unit_counts() {
    use Stands::{Kept, NotKept};
    let mut shop = Shop::default();
    let mut jobs = Vec::new();
    let checks: [&[(f64, &str)]; 9] = [
        &[(13.5, "V")],
        &[(15.1, "V")],
        &[(15.1, "V"), (14.8, "V")],
        &[(14.1, "V"), (13.4, "V")],
        &[(14.1, "mV")],
        &[],
        &[(15.1, "V")],
        &[(14.0, "V")],
        &[],
    ];
    for read in checks {
        jobs.push(shop.job("start.slow", 10));
        shop.check("charging", Some(5));
        for (reading, unit) in read {
            let check = shop.check("charging", Some(5));
            (check.reading, check.unit) = (Some(*reading), Some((*unit).to_owned()));
        }
    }
    let leaving = |job: usize, place: &str, reading: f64| ReadingRow {
        job: jobs[job],
        line: "charging".to_owned(),
        place: (!place.is_empty()).then(|| place.to_owned()),
        reading,
        unit: Some("V".to_owned()),
    };
    shop.rows.readings = vec![
        leaving(6, "left", 14.2),
        leaving(7, "left", 14.2),
        leaving(7, "right", 12.0),
        leaving(8, "right", 12.0),
        leaving(8, "", 13.6),
    ];
    let history = shop.history(facts());
    let rule = |symptom: Option<&str>, high: Option<f64>| Rule::ReadingLimit {
        check: "charging".into(),
        symptom: symptom.map(str::to_owned),
        unit: "V".into(),
        low: Reading::new(13.5),
        high: high.and_then(Reading::new),
    };
    let expected = [Kept, NotKept, Kept, NotKept, NotKept, NotKept, Kept, NotKept, Kept];
    for about in [None, Some("start.slow")] {
        let rule = rule(about, Some(14.8)).selectors();
        assert_eq!(standing(&history, &jobs, &rule), expected);
    }
    // Without a high limit 15.1 is inside.
    let open = standing(&history, &jobs, &rule(None, None).selectors());
    assert_eq!((open[1], open[3]), (Kept, NotKept));
    let elsewhere = rule(Some("brakes.noise"), None).selectors();
    assert!(stands(&history, &elsewhere).iter().all(|one| *one == Stands::NotAbout));
}

#[test]
fn parts_keep_a_rule_by_what_was_done_with_them() {
    use Stands::{Kept, NotAbout, NotKept};
    let mut shop = Shop::default();
    let mut jobs = Vec::new();
    let uses = [
        (PartRole::Suspect, Disposition::ReplacedNew, None),
        (PartRole::Suspect, Disposition::CleanedReused, Some(11.0)),
        (PartRole::Suspect, Disposition::TestedLeft, None),
        (PartRole::Bystander, Disposition::CleanedReused, None),
    ];
    for (role, disposition, reading) in uses {
        jobs.push(shop.job("engine.tick", 10));
        shop.part("V-1", role, disposition).bench_reading = reading;
    }
    let history = shop.history(facts());
    let replace = Rule::ReplaceSuspect { part: "V-1".into(), symptom: None }.selectors();
    let said = standing(&history, &jobs, &replace);
    assert_eq!(said, [Kept, NotKept, NotKept, NotAbout]);
    let test = Rule::CleanAndTest { part: "V-1".into() }.selectors();
    assert_eq!(standing(&history, &jobs, &test), [NotAbout, Kept, NotAbout, NotKept]);
    let elsewhere = Rule::ReplaceSuspect { part: "V-1".into(), symptom: Some("x.y".into()) };
    let said = standing(&history, &jobs, &elsewhere.selectors());
    assert!(said.iter().all(|one| *one == NotAbout));
}

/// Two of the part on each job: one replaced and one cleaned; one replaced and one that
/// tested good; both replaced; one replaced and a cleaned one that was only in the way;
/// one read and one not; both read.
#[test]
fn every_one_of_a_job_s_parts_keeps_the_rule() {
    use Disposition::{CleanedReused, ReplacedNew, TestedLeft};
    use PartRole::{Bystander, Suspect};
    use Stands::{Kept, NotAbout, NotKept};
    let mut shop = Shop::default();
    let mut jobs = Vec::new();
    let pairs = [
        [(Suspect, ReplacedNew, None), (Suspect, CleanedReused, None)],
        [(Suspect, ReplacedNew, None), (Suspect, TestedLeft, None)],
        [(Suspect, ReplacedNew, None), (Suspect, ReplacedNew, None)],
        [(Suspect, ReplacedNew, None), (Bystander, CleanedReused, None)],
        [(Bystander, CleanedReused, Some(11.0)), (Bystander, CleanedReused, None)],
        [(Suspect, CleanedReused, Some(11.0)), (Bystander, CleanedReused, Some(12.0))],
    ];
    for pair in pairs {
        jobs.push(shop.job("engine.tick", 10));
        for (role, disposition, reading) in pair {
            shop.part("V-1", role, disposition).bench_reading = reading;
        }
    }
    let history = shop.history(facts());
    let replace = Rule::ReplaceSuspect { part: "V-1".into(), symptom: None }.selectors();
    let said = standing(&history, &jobs, &replace);
    assert_eq!(said, [NotKept, Kept, Kept, Kept, NotAbout, NotKept]);
    let test = Rule::CleanAndTest { part: "V-1".into() }.selectors();
    let said = standing(&history, &jobs, &test);
    assert_eq!(said, [NotKept, NotAbout, NotAbout, NotKept, NotKept, Kept]);
    let span = RuleSpan { from: day(10), to: day(20) };
    for rule in [&replace, &test] {
        let figures = compliance(&history, rule, "none", span);
        for jobs in [&figures.kept, &figures.without_reason] {
            assert_eq!(selected(&history, &jobs.jobs, day(20)), jobs.count, "{}", jobs.jobs);
        }
    }
}

#[test]
fn a_rule_in_words_goes_by_what_is_said() {
    use Stands::{Kept, NotKept, NotKnown};
    let mut shop = Shop::default();
    let jobs: Vec<JobId> = (0..5).map(|_| shop.job("engine.tick", 10)).collect();
    let said = |job: usize, rule: &str, kept: Option<bool>, reasoned: bool| RuleAnswerRow {
        job: jobs[job],
        rule: rule.to_owned(),
        kept,
        reasoned,
    };
    shop.rows.rule_answers = vec![
        said(0, "one", Some(true), false),
        said(1, "one", Some(false), true),
        said(2, "one", Some(false), false),
        said(3, "one", None, true),
        said(4, "another", Some(true), false),
    ];
    let history = shop.history(facts());
    let rule = Rule::FreeText { id: "one".into(), about: Selector::default() }.selectors();
    let expected = [Kept, NotKept, NotKept, NotKnown, NotKnown];
    assert_eq!(standing(&history, &jobs, &rule), expected);
    let span = RuleSpan { from: day(10), to: day(10) };
    let kept = compliance(&history, &rule, "one", span);
    let counts = [&kept.kept, &kept.with_reason, &kept.without_reason, &kept.not_known];
    assert_eq!(counts.map(|jobs| jobs.count), [1, 1, 1, 2]);
    let missed = not_followed(&history, &rule, "one", span);
    assert_eq!(missed.len(), 1);
    assert_eq!(missed[0].order_no, format!("{:06}", jobs[2]));
}

/// A job closed on a day that came back after ten days as a job with so many
/// minutes on the clock and a part of that cost, closed two days later.
fn came_back(shop: &mut Shop, closed: u64, (minutes, part): (i64, i64)) -> JobId {
    let first = shop.job("engine.tick", closed);
    let later = shop.job("engine.tick", closed + 12);
    shop.last_job().opened_on = day(closed + 10);
    shop.labor("Mirela", Activity::Repair, minutes);
    shop.part("V-1", PartRole::Bystander, Disposition::ReplacedNew).unit_cost_minor = Some(part);
    shop.link(first, later, day(closed + 10), "workmanship");
    later
}

/// By hand, labor 90.00 an hour and 60.00 for the rest of a return, window 30 days,
/// start on day 100, review on day 200. Before (day 0 to 99): 2 h and a part of 85.00
/// is 180 + 85 + 60 = 325.00; 1 h and 15.00 is 90 + 15 + 60 = 165.00. The later jobs
/// are of the complaint, too, so 2 + 2 + 6 sound ones are 10 jobs and 2 returns:
/// 490.00, 4,900.00 for a hundred, 245.00 each. After: one of 30 min without a part is
/// 45 + 60 = 105.00, of which a supplier paid 5.00 back by the review and 50.00 later:
/// 100.00; one was told, not seen. 1 + 1 + 1 + 5 = 8 jobs, 2 returns, one without a
/// cost: 1,250.00 for a hundred, 100.00 each. A job closed on day 180 has no window
/// that has ended.
#[test]
fn what_the_comebacks_cost_is_worked_by_hand() {
    let mut shop = Shop::default();
    for _ in 0..6 {
        shop.job("engine.tick", 40);
    }
    came_back(&mut shop, 50, (120, 8_500));
    came_back(&mut shop, 60, (60, 1_500));
    for _ in 0..5 {
        shop.job("engine.tick", 120);
    }
    let later = came_back(&mut shop, 130, (30, 0));
    let paid = |on: u64, amount_minor: i64| analytics::history::PayBackRow {
        job: later,
        paid_on: day(on),
        amount_minor,
    };
    shop.rows.pay_backs = vec![paid(150, 500), paid(210, 5_000)];
    shop.job("engine.tick", 135);
    shop.told(5, analytics::words::Told::FixedElsewhere, None);
    came_back(&mut shop, 180, (600, 90_000));
    let history = shop.history(facts());
    let query = EffectQuery {
        figures: Query { window_days: Some(30), ..until(240) },
        jobs: Selector::parse("symptom=engine.tick").unwrap(),
        start: day(100),
        review: day(200),
        withdrawn: None,
        kept: None,
        not_known: None,
    };
    let cost = effect(&history, &query).cost.unwrap();
    let before = &cost.before;
    assert_eq!((before.jobs_count, before.returns, before.not_priced), (10, 2, 0));
    assert_eq!((before.total.count, before.total.total_minor), (2, Some(49_000)));
    assert_eq!(before.per_hundred_jobs_minor, Some(490_000.0));
    assert_eq!(before.per_return_minor, Some(24_500.0));
    let after = &cost.after;
    assert_eq!((after.jobs_count, after.returns, after.not_priced), (8, 2, 1));
    assert_eq!((after.total.count, after.total.total_minor), (1, Some(10_000)));
    assert_eq!(after.per_hundred_jobs_minor, Some(125_000.0));
    assert_eq!(after.per_return_minor, Some(10_000.0));
    for cell in [before, after] {
        let opened = analytics::select::select(
            &history,
            &Selector::parse(&cell.jobs).unwrap(),
            day(200),
            30,
        );
        assert_eq!(opened.len() as i64, cell.returns, "{}", cell.jobs);
    }
}

/// The mean at which 10 or more come in four cases of five, from sums of
/// exp(-m) m^k / k! in Python 3 with 50 digits (half the 80 % point of chi-square at
/// 20 degrees of freedom, 25.0375 in printed tables); 1 or more in half is log 2.
#[test]
fn the_mean_that_reaches_a_count() {
    for (k, probability, mean) in [
        (10, 0.8, 12.518_752_819_818_704),
        (1, 0.5, std::f64::consts::LN_2),
        (3, 0.95, 6.295_793_621_871_99),
    ] {
        let ours = mean_reaching(k, probability).unwrap();
        assert!((ours - mean).abs() < 1e-9, "{k}: {ours} against {mean}");
    }
    assert_eq!(
        [mean_reaching(0, 0.5), mean_reaching(3, 1.0), mean_reaching(3, f64::NAN)],
        [None; 3]
    );
}

/// By hand: a job every third day for 150 days is 50 in 150; 12.52 jobs take 37.56
/// days, so 38 after the window of 60: day 150 + 98. In the 98 days before the start
/// jobs are closed on days 54 to 147: 32. One job in ten days would take 126 days.
#[test]
fn a_review_waits_for_ten_windows() {
    let mut shop = Shop::default();
    for number in 0..50 {
        shop.job("engine.tick", 3 * number);
    }
    for number in 0..15 {
        shop.job("brakes.noise", 10 * number);
    }
    let history = shop.history(facts());
    let plan =
        |jobs: &str| plan_review(&history, &Selector::parse(jobs).unwrap(), day(150), day(149));
    let often = plan("symptom=engine.tick");
    assert_eq!((often.day, often.jobs, often.days), (day(248), 50, 150));
    assert_eq!((often.before, often.too_few), (32, false));
    assert!((often.expected_after - 38.0 / 3.0).abs() < 1e-12);
    assert_eq!(plan("symptom=brakes.noise").day, day(150 + 60 + 126));
    // What never comes is never judged: two years on, and it says so.
    let never = plan("symptom=body.rattle");
    assert_eq!((never.day, never.jobs, never.too_few), (day(150 + 730), 0, true));
    // What comes each day is judged after a month of jobs.
    let all = plan("");
    assert_eq!(all.day, day(150 + 60 + 30));
}

/// By hand: three jobs on days 100 to 140 of a record of 150 days are 3 in 150, for the
/// plan of the review and for what lies ahead of it alike, not 3 in the 50 days since the
/// first of them: in the 39 closing days whose windows end by day 248 less than one comes.
#[test]
fn the_pace_is_that_of_the_record() {
    let mut shop = Shop::default();
    for number in 0..50 {
        shop.job("engine.tick", 3 * number);
    }
    for on in [100, 120, 140] {
        shop.job("brakes.noise", on);
    }
    let history = shop.history(facts());
    let jobs = Selector::parse("symptom=brakes.noise").unwrap();
    let plan = plan_review(&history, &jobs, day(150), day(149));
    let query = EffectQuery {
        figures: until(149),
        jobs,
        start: day(150),
        review: day(248),
        withdrawn: None,
        kept: None,
        not_known: None,
    };
    let ahead = effect(&history, &query).ahead.unwrap();
    assert_eq!((ahead.pace_jobs, ahead.pace_days), (3, 150));
    assert_eq!((plan.jobs, plan.days), (3, 150));
    assert!((ahead.expected_after - 39.0 * 3.0 / 150.0).abs() < 1e-12, "{ahead:?}");
}

/// 9 of 38 cleaned suspects came back, and 2 of 60 new ones; one is too young.
#[test]
fn evidence_is_what_came_back_either_way() {
    let mut shop = Shop::default();
    let mut use_part = |count: usize, back: usize, disposition| {
        for number in 0..count {
            shop.job("engine.tick", 10);
            shop.part("V-1", PartRole::Suspect, disposition);
            if number < back {
                shop.part_return(20, LinkState::Confirmed);
            }
        }
    };
    use_part(38, 9, Disposition::CleanedReused);
    use_part(60, 2, Disposition::ReplacedNew);
    shop.job("engine.tick", 60);
    shop.part("V-1", PartRole::Suspect, Disposition::CleanedReused);
    let history = shop.history(facts());
    let rule = Rule::ReplaceSuspect { part: "V-1".into(), symptom: None };
    let same = |_: &str, code: &str| code.to_owned();
    let found = evidence(&history, &rule, day(100), &same);
    let pair = |share: &analytics::figure::Share| (share.returns, share.count);
    assert_eq!(pair(&found.otherwise), (9, 38));
    assert_eq!(pair(found.as_asked.as_ref().unwrap()), (2, 60));
    assert_eq!(selected(&history, &found.otherwise.jobs, day(100)), 38);
}

/// With readings, some of them outside limits, and answers on some of the jobs.
fn said_and_read(mut rows: Rows) -> Rows {
    for check in &mut rows.checks {
        let turn = i32::try_from(check.job % 5).unwrap() - check.seq;
        check.reading = (turn != 1).then(|| f64::from(turn));
        check.unit = check.reading.map(|_| if turn == 2 { "A" } else { "V" }.to_owned());
    }
    for job in rows.jobs.iter().map(|row| row.id) {
        if job % 3 == 0 {
            let kept = [Some(true), Some(false), None][(job / 3 % 3) as usize];
            let reasoned = kept.is_none() || job % 2 == 0;
            rows.rule_answers.push(RuleAnswerRow { job, rule: "rule".into(), kept, reasoned });
        }
        if job % 7 == 0 {
            rows.readings.push(ReadingRow {
                job,
                line: "check 1".to_owned(),
                place: None,
                reading: (job % 4) as f64 - 1.0,
                unit: Some("V".to_owned()),
            });
        }
    }
    rows
}

/// Rows of one job, whatever hangs on it.
fn alone(rows: &Rows, id: JobId) -> Rows {
    let mut one = Rows { attendance: None, ..rows.clone() };
    one.jobs.retain(|row| row.id == id);
    one.checks.retain(|row| row.job == id);
    one.parts.retain(|row| row.job == id);
    one.labor.retain(|row| row.job == id);
    one.operations.retain(|row| row.job == id);
    one.readings.retain(|row| row.job == id);
    one.rule_answers.retain(|row| row.job == id);
    one.returns.clear();
    one.part_returns.clear();
    one.planned_visits.clear();
    one.pay_backs.clear();
    one
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// The page in hand goes by one job's rows, the report by all: they agree on
    /// every closed job, and every job of a rule is in exactly one group.
    #[test]
    fn one_job_alone_says_what_the_whole_record_says(
        world in world(25), kind in 0_usize..5, check in 0_usize..3, free in any::<bool>(),
    ) {
        let mut facts = facts();
        if free {
            facts.free_looks.insert("check 0".to_owned());
        }
        let named = format!("check {check}");
        let rule = match kind {
            0 => Rule::ReplaceSuspect { part: "part 1".into(), symptom: None },
            1 => Rule::CleanAndTest { part: "part 1".into() },
            2 => Rule::CheckFirst { symptom: "symptom 1".into(), check: named },
            3 => Rule::ReadingLimit {
                check: named, symptom: None, unit: "V".into(), low: Reading::new(0.0), high: None,
            },
            _ => Rule::FreeText { id: "rule".into(), about: Selector::default() },
        };
        let rule = rule.selectors();
        let rows = said_and_read(world.rows(None));
        let history = History::new(facts.clone(), rows.clone(), 1).unwrap();
        let whole = stands(&history, &rule);
        for job in &rows.jobs {
            let one = History::new(facts.clone(), alone(&rows, job.id), 1).unwrap();
            let row = history.job_row(job.id).unwrap() as usize;
            prop_assert_eq!(stands(&one, &rule), [whole[row]]);
        }
        let span = RuleSpan { from: day(0), to: day(3_000) };
        let kept = compliance(&history, &rule, "rule", span);
        let count = |what: Stands| whole.iter().filter(|one| **one == what).count() as i64;
        prop_assert_eq!(kept.kept.count, count(Stands::Kept));
        prop_assert_eq!(
            kept.with_reason.count + kept.without_reason.count, count(Stands::NotKept)
        );
        prop_assert_eq!(kept.not_known.count, count(Stands::NotKnown));
        prop_assert_eq!(kept.about.count, whole.len() as i64 - count(Stands::NotAbout));
    }
}
