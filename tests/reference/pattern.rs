//! When parts come back: lives fitted through a shop's record, against scipy.
//!
//! Expected numbers: scipy 1.17.1. The shape is the root of the likelihood
//! equation by `optimize.brentq` (`stats.weibull_min.fit` of `CensoredData`
//! gives the same to 7 digits), errors are those of the observed information of
//! the two logarithms, written out in numpy, intervals normal on the
//! logarithmic scale.

use analytics::comeback::{By, ComebackTally};
use analytics::figure::Query;
use analytics::history::{History, PartPolicy, ShopFacts};
use analytics::pattern::{
    Estimated, Hint, NoFit, PartTiming, PatternQuery, PatternReport, Timing, pattern, pattern_from,
};
use analytics::reuse::ReuseTally;
use analytics::words::{Disposition, LinkState, Outcome, PartRole};
use proptest::prelude::*;
use serde_json::json;

use crate::bench::cut;
use crate::files::{close, table, tell};
use crate::planted;
use crate::shop::{Shop, day, facts, selected, until};

const PART: &str = "IAV-100";

fn ask(as_of: u64) -> PatternQuery {
    PatternQuery { figures: until(as_of), part: None, role: None }
}

/// A part put on, closed on a day; back after so many days, if at all.
fn fit_one(shop: &mut Shop, closed: u64, back: Option<u64>) {
    shop.job("engine.idle-rough", closed);
    shop.part(PART, PartRole::Suspect, Disposition::ReplacedNew);
    if let Some(after) = back {
        shop.part_return(after, LinkState::Confirmed);
    }
}

fn one(report: &PatternReport) -> &PartTiming {
    assert_eq!(report.parts.len(), 1);
    &report.parts[0]
}

fn check(what: &str, ours: &Estimated, theirs: [f64; 4]) {
    let case = json!({ "case": "scipy", "tolerance": { "rel": 1e-8 } });
    let numbers = [ours.value, ours.standard_error, ours.interval.low, ours.interval.high];
    for (ours, theirs) in numbers.into_iter().zip(theirs) {
        close(&case, what, ours, theirs);
    }
}

/// Weeks to relapse of 23 patients, five of them followed without one: `aml`
/// of the R package survival, taken as days.
#[test]
fn days_between_early_and_wear_are_no_evidence() {
    let (header, rows) = table("aml.csv");
    let column = |name: &str| header.iter().position(|column| column == name).unwrap();
    let (time, status) = (column("time"), column("status"));
    let mut shop = Shop::default();
    for row in &rows {
        let days: u64 = row[time].parse().unwrap();
        let back = row[status] == "1";
        fit_one(&mut shop, if back { 300 } else { 500 - days }, back.then_some(days));
    }
    let history = shop.history(facts());
    let report = pattern(&history, &ask(500));
    let line = one(&report);
    let timing = &line.timing;
    assert_eq!((timing.count, timing.returns, timing.followed_days), (23, 18, 161));
    check(
        "shape",
        timing.shape.as_ref().unwrap(),
        [
            1.096_609_085_802_788,
            0.185_858_756_567_103,
            0.786_658_016_897_738,
            1.528_683_953_171_422,
        ],
    );
    check(
        "scale",
        timing.scale_days.as_ref().unwrap(),
        [38.186_810_995_728, 8.289_459_143_513, 24.953_849_005_857, 58.437_178_716_647],
    );
    check(
        "B10",
        timing.b10_days.as_ref().unwrap(),
        [4.905_591_935_144, 2.133_988_611_141, 2.091_264_716_908, 11.507_310_403_881],
    );
    let case = json!({ "case": "scipy", "tolerance": { "rel": 1e-8 } });
    close(&case, "likelihood ratio", timing.shape_p.unwrap(), 0.597_633_043_856_4);
    assert_eq!((timing.hint, timing.no_fit), (Some(Hint::NoEvidence), None));
    assert_eq!((timing.b10_extrapolated, line.replacement.is_none()), (false, true));
    assert_eq!(selected(&history, &timing.jobs, day(500)), 23);
    tell("pattern, no evidence");
}

/// Hours to failure of the NIST handbook's example (section 8.2.2.1 example,
/// 10 of 20 by 500 hours) taken as days, each twice, and stopped at day 400.
fn worn() -> Shop {
    let mut shop = Shop::default();
    for _ in 0..2 {
        for days in [54, 187, 216, 240, 244, 335, 361, 373, 375, 386] {
            fit_one(&mut shop, 50, Some(days));
        }
        for _ in 0..10 {
            fit_one(&mut shop, 50, None);
        }
    }
    shop
}

/// A return ten times as dear as a replacement in time: (30 + 10) minutes at
/// 1.50 and 85.00 are 145.00, and 1305.00 more.
fn dear_returns() -> ShopFacts {
    ShopFacts { return_extra_minor: 130_500, ..facts() }
}

/// Age: the least of (planned R + failure (1 - R)) / integral of R by scipy
/// `optimize.minimize_scalar` over `integrate.quad`.
#[test]
fn a_part_that_wears_has_an_age_to_replace_it_at() {
    let history = worn().history(dear_returns());
    let report = pattern(&history, &ask(450));
    let line = one(&report);
    let timing = &line.timing;
    assert_eq!((timing.count, timing.returns, timing.followed_days), (40, 20, 400));
    check(
        "shape",
        timing.shape.as_ref().unwrap(),
        [2.372_844_630_908_477, 0.498_899_681_417_28, 1.571_451_255_763_543, 3.582_924_778_468_547],
    );
    check(
        "scale",
        timing.scale_days.as_ref().unwrap(),
        [475.558_308_614_586, 50.601_108_734_297, 386.040_507_889_167, 585.834_129_503_57],
    );
    check(
        "B10",
        timing.b10_days.as_ref().unwrap(),
        [184.215_401_696_952, 32.631_500_789_368, 130.180_524_147_803, 260.678_887_602_571],
    );
    assert_eq!(timing.hint, Some(Hint::Wear));
    // By hand: the tenth and the eighteenth of twenty, each day standing twice.
    assert_eq!((timing.half_back_days, timing.nine_in_ten_back_days), (Some(244), Some(375)));
    assert!(timing.scale_extrapolated && !timing.b10_extrapolated);
    let age = line.replacement.as_ref().unwrap();
    assert_eq!((age.planned_minor, age.return_minor), (14_500.0, 145_000.0));
    // A minimum is found to the root of the precision.
    let case = json!({ "case": "scipy", "tolerance": { "rel": 1e-6 } });
    close(&case, "age", age.days, 165.674_091_8);
    close(&case, "saving", age.saving, 0.554_957_304_17);
    close(&case, "returned before", age.returned_before, 0.078_648_743_28);
    assert!(!age.extrapolated);
    tell("pattern, wear and age replacement");
    // What is cleaned is followed by a new part, of whose life this says nothing.
    let mut cleaned = worn();
    for part in &mut cleaned.rows.parts {
        part.disposition = Disposition::CleanedReused;
    }
    let report = pattern(&cleaned.history(dear_returns()), &ask(450));
    assert_eq!(one(&report).timing.hint, Some(Hint::Wear));
    assert!(one(&report).replacement.is_none());
}

/// Proposals end 400 days after the hand-over: what is followed longer, and
/// what is linked later, changes nothing.
#[test]
fn nothing_is_followed_past_400_days() {
    let life = |history: &History, as_of| {
        let line = one(&pattern(history, &ask(as_of))).clone();
        (Timing { jobs: String::new(), ..line.timing }, line.replacement)
    };
    let history = worn().history(dear_returns());
    let by_450 = life(&history, 450);
    assert_eq!(by_450, life(&history, 900));
    let mut shop = worn();
    shop.part_return(401, LinkState::Confirmed);
    assert_eq!(by_450, life(&shop.history(dear_returns()), 900));
}

/// A planned replacement nearly as dear as a return: the best age by scipy
/// saves less than any digit shows, and is none.
#[test]
fn an_age_that_saves_nothing_is_not_named() {
    let report = pattern(&worn().history(facts()), &ask(450));
    let line = one(&report);
    assert_eq!((line.timing.hint, line.replacement.is_none()), (Some(Hint::Wear), true));
    let unknown = ShopFacts { part_policies: Default::default(), ..dear_returns() };
    let report = pattern(&worn().history(unknown), &ask(450));
    assert!(one(&report).replacement.is_none());
}

#[test]
fn returns_at_once_hint_at_the_work() {
    let mut shop = Shop::default();
    // Days and how many; day 0 counts as half a day.
    for (days, count) in [(0, 6), (1, 6), (2, 4), (5, 3), (20, 2), (90, 1)] {
        for _ in 0..count {
            fit_one(&mut shop, 100, Some(days));
        }
    }
    for _ in 0..60 {
        fit_one(&mut shop, 100, None);
    }
    let report = pattern(&shop.history(dear_returns()), &ask(300));
    let line = one(&report);
    let timing = &line.timing;
    assert_eq!((timing.hint, line.replacement.is_none()), (Some(Hint::Early), true));
    check(
        "shape",
        timing.shape.as_ref().unwrap(),
        [0.238_266_406_278_111, 0.048_120_615_782_46, 0.160_381_017_135_828, 0.353_975_061_229_388],
    );
    // 63 % by day 22380: nothing of the kind was followed.
    check(
        "scale",
        timing.scale_days.as_ref().unwrap(),
        [22_380.009_225_402_7, 30_828.321_521_923_8, 1_504.303_636_293_43, 332_954.598_290_555],
    );
    assert_eq!((timing.followed_days, timing.b10_extrapolated), (200, false));
    assert!(timing.scale_extrapolated);
    // By hand: the eleventh and the twentieth of 22.
    assert_eq!((timing.half_back_days, timing.nine_in_ten_back_days), (Some(1), Some(20)));
    tell("pattern, early");
}

#[test]
fn too_few_returns_and_one_day_only_have_no_shape() {
    let of = |backs: &[u64]| {
        let mut shop = Shop::default();
        for back in backs {
            fit_one(&mut shop, 10, Some(*back));
        }
        one(&pattern(&shop.history(dear_returns()), &ask(300))).timing.clone()
    };
    let few = of(&[1, 2, 3, 4, 5, 6, 7, 8, 9]);
    assert_eq!((few.no_fit, few.too_few, few.returns), (Some(NoFit::TooFew), true, 9));
    assert_eq!((few.shape, few.hint, few.b10_days), (None, None, None));
    assert_eq!((few.half_back_days, few.nine_in_ten_back_days), (None, None));
    let alike = of(&[30; 12]);
    assert_eq!((alike.half_back_days, alike.nine_in_ten_back_days), (Some(30), Some(30)));
    assert_eq!((alike.no_fit, alike.too_few, alike.hint), (Some(NoFit::NoShape), false, None));
}

/// Seals that fail early, sensors that fail by chance, pumps that wear: shapes
/// 0.6, 1 and 3. For a pump with a return five times as dear as a replacement in
/// time (75 minutes at 1.50 and 60.00 are 172.50, and 690.00 more) the best age
/// is 0.503 of its scale of 500 days, and saves 1 - 0.541 (scipy, the same
/// integral as above at the true life).
#[test]
fn the_planted_lives_are_found() {
    let mut history = planted::record();
    let pump = PartPolicy {
        access_minutes: Some(60),
        fit_minutes: Some(15),
        cost_minor: Some(6_000),
        clean_minutes: None,
    };
    history.set_facts(ShopFacts {
        return_extra_minor: 69_000,
        part_policies: std::iter::once(("pump".to_owned(), pump)).collect(),
        ..facts()
    });
    let report = pattern(&history, &ask(planted::AS_OF));
    let hints = [Hint::Early, Hint::NoEvidence, Hint::Wear];
    for ((part, shape, _), hint) in planted::LIVES.into_iter().zip(hints) {
        let line = report.parts.iter().find(|line| line.part == part).unwrap();
        assert_eq!(line.timing.hint, Some(hint), "{part}: {:?}", line.timing.shape);
        let range = &line.timing.shape.as_ref().unwrap().interval;
        assert!(range.low / 1.05 < shape && shape < range.high * 1.05, "{part}: {range:?}");
        assert_eq!(line.replacement.is_some(), hint == Hint::Wear);
        if let Some(age) = &line.replacement {
            assert!((age.days / (0.503 * 500.0) - 1.0).abs() < 0.05, "{age:?}");
            assert!((age.saving - (1.0 - 0.541)).abs() < 0.03, "{age:?}");
        }
    }
}

/// Symptoms have their comebacks' days, unless a part or a role is asked for.
#[test]
fn symptoms_have_the_days_of_their_comebacks() {
    let mut shop = Shop::default();
    for (closed, back) in [(10, Some(5)), (11, Some(30)), (12, None)] {
        shop.job("engine.tick", closed);
        if let Some(after) = back {
            shop.comeback(after, "workmanship");
        }
    }
    shop.job("engine.stalls", 12);
    shop.last_job().outcome = Outcome::Declined;
    let history = shop.history(facts());
    let report = pattern(&history, &ask(100));
    assert_eq!(report.symptoms.len(), 1);
    let line = &report.symptoms[0];
    assert_eq!(line.symptom.as_deref(), Some("engine.tick"));
    assert_eq!((line.timing.count, line.timing.returns), (3, 2));
    assert_eq!(selected(&history, &line.timing.jobs, day(100)), 3);
    let query = PatternQuery { role: Some(PartRole::Suspect), ..ask(100) };
    assert_eq!(pattern(&history, &query).symptoms, []);
}

type Numbers = (u64, u8, u8, u64);

fn some_parts() -> impl Strategy<Value = Vec<Numbers>> {
    proptest::collection::vec((0_u64..300, 0_u8..3, 0_u8..3, 0_u64..500), 0..80)
}

fn random_shop(jobs: &[Numbers], first_id: u128) -> Shop {
    let mut shop = Shop::starting_at(first_id);
    for &(closed, role, done, after) in jobs {
        shop.job("engine.tick", closed);
        let done =
            [Disposition::CleanedReused, Disposition::RemovedRefitted, Disposition::AdjustedReused]
                [usize::from(done)];
        let held = [PartRole::Suspect, PartRole::Bystander][usize::from(role) % 2];
        shop.part(PART, held, done).role = (role < 2).then_some(held);
        if after % 7 == 3 {
            shop.last_job().outcome = Outcome::Declined;
        }
        if after < 250 {
            shop.part_return(after, LinkState::Confirmed);
            shop.comeback(after, "workmanship");
        }
    }
    shop
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn tallies_add_and_lines_open(a in some_parts(), b in some_parts()) {
        let mut both = random_shop(&a, 0);
        both.absorb(random_shop(&b, 1_000_000));
        let history = both.history(facts());
        let tallies = |history: &History| {
            (ReuseTally::of(history), ComebackTally::of(history, Some(By::Symptom)))
        };
        let (mut uses, mut comebacks) = tallies(&random_shop(&a, 0).history(facts()));
        let theirs = tallies(&random_shop(&b, 1_000_000).history(facts()));
        uses.add(&theirs.0);
        comebacks.add(&theirs.1);
        let figures = Query { from: Some(day(20)), to: Some(day(220)), ..until(400) };
        let query = PatternQuery { figures, ..ask(400) };
        let report = pattern_from((&uses, &comebacks), &facts(), 7, &query);
        prop_assert_eq!(&report, &pattern(&history, &query));
        let inside = |job: &&Numbers| (20..=220).contains(&job.0) && job.3 % 7 != 3;
        let jobs = a.iter().chain(&b).filter(inside).count();
        prop_assert_eq!(report.parts.iter().map(|line| line.timing.count).sum::<i64>(), jobs as i64);
        let timings = report.parts.iter().map(|line| &line.timing);
        for timing in timings.chain(report.symptoms.iter().map(|line| &line.timing)) {
            prop_assert_eq!(selected(&history, &timing.jobs, day(400)), timing.count);
            prop_assert_eq!(timing.too_few, timing.returns < 10);
            prop_assert_eq!(timing.no_fit.is_none(), timing.shape.is_some());
            let (half, most) = (timing.half_back_days, timing.nine_in_ten_back_days);
            prop_assert_eq!((half.is_none(), most.is_none()), (timing.too_few, timing.too_few));
            prop_assert!(half <= most && most.is_none_or(|day| day <= timing.followed_days));
            let estimates = [&timing.shape, &timing.scale_days, &timing.b10_days];
            for estimate in estimates.into_iter().flatten() {
                let range = &estimate.interval;
                prop_assert!(range.low <= estimate.value && estimate.value <= range.high);
            }
        }
    }

    #[test]
    fn a_record_cut_at_the_day_says_the_same(jobs in some_parts(), as_of in 0_u64..500) {
        let today = pattern(&random_shop(&jobs, 0).history(facts()), &ask(as_of));
        let then = pattern(&cut(random_shop(&jobs, 0), as_of).history(facts()), &ask(as_of));
        prop_assert_eq!(today, then);
    }
}
