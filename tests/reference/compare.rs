//! Comparisons against the mix of symptoms: a worked table, planted records and
//! what must always hold.

use analytics::comeback::By;
use analytics::compare::{Answer, COLUMNS, CompareGroup, CompareReport, CompareTally, compare};
use analytics::figure::Query;
use analytics::history::{History, Rows};
use analytics::stats::funnel::limits;
use analytics::stats::rate::expected;
use analytics::words::{Disposition, LinkState, PartRole};
use proptest::prelude::*;
use serde_json::json;

use crate::comeback::together;
use crate::files::{close_within, tell};
use crate::shop::{Shop, day, facts, selected, until};
use crate::world::world;

fn by(column: &str, as_of: u64) -> Query {
    Query { by: Some(column.to_owned()), ..until(as_of) }
}

fn group<'a>(report: &'a CompareReport, name: &str) -> &'a CompareGroup {
    report.groups.iter().find(|group| group.group.as_deref() == Some(name)).unwrap()
}

fn near(what: &str, ours: f64, theirs: f64) {
    close_within(&json!({ "case": "comparison" }), what, (ours, theirs), (1e-10, 1e-10));
}

/// Jobs closed on one day, the first of them back after ten days.
fn jobs(shop: &mut Shop, technician: &str, symptom: &str, (jobs, returns): (i64, i64)) {
    for number in 0..jobs {
        shop.job(symptom, 10);
        shop.last_job().technician = Some(technician.to_owned());
        if number < returns {
            shop.comeback(10, "workmanship");
        }
    }
}

/// Three people's easy, medium and hard jobs at shop shares of 1.5 %, 4 % and
/// 11 %. By hand: 4.5 + 3.2 + 1.1, 2.25 + 4.8 + 3.3, 0.6 + 2.8 + 13.2.
#[test]
fn the_mix_lets_expect_its_returns() {
    for (mix, returns) in [([300, 80, 10], 8.8), ([150, 120, 30], 10.35), ([40, 70, 120], 16.6)] {
        near("expected", expected(mix.into_iter().zip([0.015, 0.04, 0.11])), returns);
    }
    assert_eq!(expected([]), 0.0);
    tell("expected-from-mix");
}

/// The same three and a fourth, so that all together come to 15 of 1000 easy,
/// 20 of 500 medium and 33 of 300 hard jobs: the shop's shares are the ones
/// above.
fn four_people() -> Shop {
    let mut shop = Shop::default();
    for (technician, easy, medium, hard) in [
        ("Mirela", (300, 5), (80, 3), (10, 1)),
        ("Tomas", (150, 2), (120, 5), (30, 4)),
        ("Ilse", (40, 0), (70, 2), (120, 13)),
        ("Kofi", (510, 8), (230, 10), (140, 15)),
    ] {
        jobs(&mut shop, technician, "easy", easy);
        jobs(&mut shop, technician, "medium", medium);
        jobs(&mut shop, technician, "hard", hard);
    }
    shop
}

/// Python 3.11: p by convolution of the symptoms' hypergeometric counts in exact
/// fractions, q as R's p.adjust "BH" is defined, the drawn ratio from its formula
/// with strength 10 (four groups). Exact limits: scipy 1.17.1, as in the
/// reference test of rates. Ilse's raw share is nearly three times Mirela's, and
/// she has fewer returns than her jobs let expect.
#[test]
fn who_looks_worst_need_not_be() {
    let history = four_people().history(facts());
    let report = compare(&history, &until(100)).unwrap();
    let names: Vec<&str> =
        report.groups.iter().map(|group| group.group.as_deref().unwrap()).collect();
    assert_eq!(names, ["Ilse", "Kofi", "Mirela", "Tomas"]);
    near("strength", report.strength.unwrap(), 10.0);
    for (name, raw, expected, ratio, p, drawn) in [
        ("Ilse", 15.0 / 230.0, 16.6, 0.9036144578313252, 0.7384133113685656, 0.9076305220883533),
        ("Kofi", 33.0 / 880.0, 32.25, 1.0232558139534884, 0.9484914622383408, 1.0229945126731121),
        ("Mirela", 9.0 / 390.0, 8.8, 1.0227272727272727, 1.0, 1.0221590909090907),
        ("Tomas", 11.0 / 300.0, 10.35, 1.0628019323671498, 0.9307351377743833, 1.060776063581113),
    ] {
        let group = group(&report, name);
        near(name, group.share.share.unwrap(), raw);
        near(name, group.expected, expected);
        near(name, group.ratio.unwrap(), ratio);
        near(name, group.p.unwrap(), p);
        near(name, group.q.unwrap(), 1.0);
        near(name, group.drawn.unwrap(), drawn);
        assert_eq!((group.answer, group.too_few), (Answer::NoEvidence, false));
        assert_eq!(selected(&history, &group.jobs, day(100)), group.share.count);
    }
    let exact = group(&report, "Ilse").interval.clone().unwrap();
    near("low", exact.low, 0.505_746_152_577_308_2);
    near("high", exact.high, 1.490_374_630_812_400_2);
    let byar = group(&report, "Ilse").byar.clone().unwrap();
    near("Byar low", byar.low, 0.505_377_350_193_617_2);
    near("Byar high", byar.high, 1.490_459_719_472_244_6);
    let total = report.total.unwrap();
    assert_eq!((total.count, total.returns), (1_800, 68));
    assert_eq!(selected(&history, &total.jobs, day(100)), 1_800);
    let ilse = report.groups.first().unwrap();
    for key in ["selection", "answer", ilse.definition, ilse.share.definition] {
        assert!(report.head.definitions.contains_key(key), "{key}");
    }
    tell("compared-by-technician");
}

/// From the fifth group on the strength is fitted. Python 3.11, from the
/// definition: beta-binomial likelihoods by math.lgamma at 2, 2.5 ... 20 jobs around
/// 30 of 200 weigh them to 12.824, of which one fifth counts beside four fifths of
/// 10. Four groups stay at 10.
#[test]
fn five_groups_have_a_strength_of_their_own() {
    let engines = [("A", 2), ("B", 4), ("C", 6), ("D", 3), ("E", 15)];
    for (count, strength) in [(5, 10.564_859_944_216_042), (4, 10.0)] {
        let mut shop = Shop::default();
        for (engine, returns) in engines.into_iter().take(count) {
            for number in 0..40 {
                shop.job("engine.tick", 10);
                shop.last_job().engine = Some(engine.to_owned());
                if number < returns {
                    shop.comeback(10, "workmanship");
                }
            }
        }
        let report = compare(&shop.history(facts()), &by("engine", 100)).unwrap();
        assert_eq!(report.groups.len(), count);
        near("strength", report.strength.unwrap(), strength);
    }
    tell("compared-strength");
}

/// Limits of a funnel: the definition worked in Python 3.11 with Poisson
/// probabilities summed in 50 digits.
#[test]
fn chance_alone_lets_them_lie_there() {
    for (expected, inner, outer) in [
        (0.5, (0.0, 3.720051822921999), (0.0, 6.951717961800733)),
        (3.0, (0.0, 2.1312800549526294), (0.0, 3.0421683148828134)),
        (8.8, (0.3426178828334745, 1.6602875676630615), (0.07275625008106773, 2.13937897839454)),
        (16.6, (0.5160089129313887, 1.4805454706807675), (0.30453344227512036, 1.8082894172333694)),
        (120.0, (0.820791275991044, 1.178758793111528), (0.7258859891189453, 1.2896608483817162)),
    ] {
        for (level, (low, high)) in [(0.95, inner), (0.998, outer)] {
            let ours = limits(expected, level).unwrap();
            near("low", ours.0, low);
            near("high", ours.1, high);
        }
    }
    tell("funnel-limits");
}

/// One lot of a supplier: 6 of 22 against 3 of 118 from elsewhere. By hand 22 x
/// 9/140 are expected of it; p and q in Python as above: of two groups one has
/// too many where the other has too few.
#[test]
fn a_bad_lot_is_found() {
    let mut shop = Shop::default();
    for (lot, supplier, jobs, returns) in
        [("Q17", "Quarry Lane", 22, 6), ("R2", "Northgate", 118, 3)]
    {
        for number in 0..jobs {
            shop.job("engine.misfire", 10);
            // Two of a lot on one job are one job.
            for _ in 0..2 {
                let part = shop.part("COIL-4", PartRole::Suspect, Disposition::ReplacedNew);
                (part.lot, part.supplier) = (Some(lot.to_owned()), Some(supplier.to_owned()));
            }
            if number < returns {
                shop.comeback(30, "part");
            }
        }
    }
    // Without a lot, without a supplier: in no group.
    shop.job("brakes.noise", 10);
    let history = shop.history(facts());
    for (column, bad, good) in [("lot", "Q17", "R2"), ("supplier", "Quarry Lane", "Northgate")] {
        let report = compare(&history, &by(column, 100)).unwrap();
        assert_eq!(report.groups.len(), 2);
        assert_eq!(report.groups[0].group.as_deref(), Some(good));
        let bad = group(&report, bad);
        near("expected", bad.expected, 198.0 / 140.0);
        near("p", bad.p.unwrap(), 0.0009650847793276437);
        near("q", bad.q.unwrap(), 0.0009650847793276437);
        assert_eq!((bad.answer, bad.others), (Answer::MoreThanExpected, Some(118)));
        assert_eq!(group(&report, good).answer, Answer::FewerThanExpected);
        assert_eq!(selected(&history, &bad.jobs, day(100)), 22);
    }
    tell("compared-by-lot");
}

/// Coils of two lots, and jobs of the same complaint without a coil, of which
/// many come back: lots are held against the same part, not against them. By
/// hand 20 x 5/40 of each lot. All coils are of one supplier: it is compared with
/// nobody, and 5 are expected of its 40 x 5/40.
#[test]
fn lots_are_held_against_the_same_part() {
    let mut shop = Shop::default();
    for (lot, jobs, returns) in [(Some("A"), 20, 4), (Some("B"), 20, 1), (None, 60, 30)] {
        for number in 0..jobs {
            shop.job("engine.misfire", 10);
            if let Some(lot) = lot {
                let part = shop.part("COIL-4", PartRole::Suspect, Disposition::ReplacedNew);
                (part.lot, part.supplier) = (Some(lot.to_owned()), Some("Northgate".to_owned()));
            }
            if number < returns {
                shop.comeback(30, "part");
            }
        }
    }
    let history = shop.history(facts());
    let lots = compare(&history, &by("lot", 100)).unwrap();
    near("lot A", group(&lots, "A").expected, 2.5);
    near("lot B", group(&lots, "B").expected, 2.5);
    assert_eq!(lots.total.unwrap().count, 100);
    let suppliers = compare(&history, &by("supplier", 100)).unwrap();
    let northgate = group(&suppliers, "Northgate");
    near("supplier", northgate.expected, 5.0);
    assert_eq!((northgate.others, northgate.answer), (Some(0), Answer::TooFew));
    tell("lots-by-part");
}

/// Two suppliers' coils come back alike, 5 of 40 each; of 60 jobs of the same
/// complaint without a coil, 39 do. By symptom 40 x 49/140 = 14 would be expected
/// of each, and 5 be remarkably few; by part it is 40 x 10/80 = 5. The tails of
/// the hypergeometric count lie even around its mean, each above a half, so p is
/// 1.
#[test]
fn a_supplier_is_not_good_because_other_work_comes_back() {
    let mut shop = Shop::default();
    for (supplier, jobs, returns) in
        [(Some("Northgate"), 40, 5), (Some("Quarry Lane"), 40, 5), (None, 60, 39)]
    {
        for number in 0..jobs {
            shop.job("engine.misfire", 10);
            if let Some(supplier) = supplier {
                // Two of a supplier's on one job are one job, and stand for the
                // first by name.
                for part in ["COIL-4", "PLUG-4"] {
                    let part = shop.part(part, PartRole::Suspect, Disposition::ReplacedNew);
                    part.supplier = Some(supplier.to_owned());
                }
            }
            if number < returns {
                shop.comeback(30, "part");
            }
        }
    }
    let history = shop.history(facts());
    let report = compare(&history, &by("supplier", 100)).unwrap();
    assert_eq!(report.groups.len(), 2);
    for name in ["Northgate", "Quarry Lane"] {
        let group = group(&report, name);
        assert_eq!((group.share.returns, group.share.count), (5, 40));
        near("expected", group.expected, 5.0);
        near("p", group.p.unwrap(), 1.0);
        assert_eq!((group.answer, group.others), (Answer::NoEvidence, Some(40)));
        assert_eq!(selected(&history, &group.jobs, day(100)), 40);
    }
    assert_eq!(report.total.unwrap().count, 140);
    assert!(report.head.definitions["expected"].contains("the part"));
    tell("suppliers-by-part");
}

/// Ilse's repair comes back twice and is mended by others: a chain counts once.
#[test]
fn a_chain_counts_once_and_to_its_first_job() {
    let mut shop = Shop::default();
    let mut ids = Vec::new();
    for (closed, technician) in [(10, "Ilse"), (30, "Tomas"), (55, "Mirela")] {
        ids.push(shop.job("steering.vibration", closed));
        shop.last_job().technician = Some(technician.to_owned());
    }
    shop.link(ids[0], ids[1], day(29), "misdiagnosis");
    shop.link(ids[1], ids[2], day(54), "misdiagnosis");
    let history = shop.history(facts());
    let report = compare(&history, &until(200)).unwrap();
    assert_eq!(report.groups.len(), 1);
    let ilse = group(&report, "Ilse");
    assert_eq!((ilse.share.count, ilse.share.returns, ilse.answer), (1, 1, Answer::TooFew));
    assert_eq!((ilse.p, ilse.q), (None, None));
}

/// 16 of 40 jobs of one engine may have come back, none of 40 of the other. In
/// Python 0.0000047 that they part so by chance: were they confirmed, there
/// would be evidence.
#[test]
fn what_hangs_on_proposals_is_not_answered() {
    let mut shop = Shop::default();
    for (engine, proposed) in [("E1", 16), ("E2", 0)] {
        for number in 0..40 {
            shop.job("engine.tick", 10);
            shop.last_job().engine = Some(engine.to_owned());
            if number < proposed {
                shop.comeback(20, "workmanship");
                shop.rows.returns.last_mut().unwrap().state = LinkState::Proposed;
            }
        }
    }
    let answers = |shop: &Shop| -> Vec<Answer> {
        let report = compare(&shop.clone().history(facts()), &by("engine", 100)).unwrap();
        report.groups.iter().map(|group| group.answer).collect()
    };
    assert_eq!(answers(&shop), [Answer::UndecidedProposals; 2]);
    for link in &mut shop.rows.returns {
        link.state = LinkState::Confirmed;
    }
    assert_eq!(answers(&shop), [Answer::MoreThanExpected, Answer::FewerThanExpected]);
    for link in &mut shop.rows.returns {
        link.state = LinkState::Rejected;
    }
    assert_eq!(answers(&shop), [Answer::NoEvidence; 2]);
}

/// Nobody else has jobs of these symptoms: there is nothing to compare with.
#[test]
fn a_symptom_of_one_alone_is_no_comparison() {
    let mut shop = Shop::default();
    jobs(&mut shop, "Ilse", "easy", (30, 3));
    jobs(&mut shop, "Tomas", "hard", (30, 9));
    let report = compare(&shop.history(facts()), &until(100)).unwrap();
    for (name, returns) in [("Ilse", 3.0), ("Tomas", 9.0)] {
        let group = group(&report, name);
        near(name, group.expected, returns);
        assert_eq!((group.answer, group.others), (Answer::TooFew, Some(0)));
    }
    tell("compared-alone");
}

#[test]
fn other_columns_are_refused() {
    let history = Shop::default().history(facts());
    for column in ["symptom", "week", "color"] {
        assert_eq!(compare(&history, &by(column, 100)), Err(column.to_owned()));
    }
    for column in COLUMNS {
        let report = compare(&history, &by(column.as_str(), 100)).unwrap();
        assert!(report.groups.is_empty() && report.funnel.is_empty());
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Every line opens to its jobs; of columns that put each job into one group
    /// as much is expected as was seen; intervals hold what was seen.
    #[test]
    fn lines_open_and_add_up(
        world in world(40), as_of in 60_u64..250, window in 1_i32..60, from in 0_u64..40,
    ) {
        let history = History::new(facts(), world.rows(None), 1).unwrap();
        for column in COLUMNS {
            let query = Query {
                from: Some(day(from)), window_days: Some(window), ..by(column.as_str(), as_of)
            };
            let report = compare(&history, &query).unwrap();
            let open = |jobs: &str| {
                let selector = analytics::select::Selector::parse(jobs).unwrap();
                let lines = analytics::select::select(&history, &selector, day(as_of), window);
                i64::try_from(lines.len()).unwrap()
            };
            for group in &report.groups {
                prop_assert_eq!(open(&group.jobs), group.share.count, "{}", &group.jobs);
                prop_assert_eq!(open(&format!("{}&returned=true", group.jobs)), group.share.returns);
                prop_assert_eq!(group.ratio.is_some(), group.expected > 0.0);
                for interval in [&group.interval, &group.byar].into_iter().flatten() {
                    let ratio = group.ratio.unwrap();
                    prop_assert!(interval.low <= ratio + 1e-12 && ratio <= interval.high + 1e-12);
                }
                // Drawn to 1: between it and the ratio.
                if let (Some(drawn), Some(ratio)) = (group.drawn, group.ratio) {
                    prop_assert!(drawn >= ratio.min(1.0) - 1e-9 && drawn <= ratio.max(1.0) + 1e-9);
                }
                prop_assert_eq!(group.p.is_none(), group.too_few);
            }
            let total = report.total.unwrap();
            prop_assert_eq!(open(&total.jobs), total.count);
            if matches!(column, By::Technician | By::Engine | By::Model) {
                let seen: i64 = report.groups.iter().map(|group| group.share.returns).sum();
                let expected: f64 = report.groups.iter().map(|group| group.expected).sum();
                prop_assert_eq!(seen, total.returns);
                prop_assert!((seen as f64 - expected).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn tallies_of_two_shops_add(first in world(25), second in world(25)) {
        let (first, second) = (first.rows(None), second.rows(None));
        for column in COLUMNS {
            let tally = |rows: Rows| CompareTally::of(&History::new(facts(), rows, 1).unwrap(), column);
            let mut added = tally(first.clone());
            added.add(&tally(together(&Rows::default(), &second)));
            prop_assert_eq!(&added, &tally(together(&first, &second)));
        }
    }
}
