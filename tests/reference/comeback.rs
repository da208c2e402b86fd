//! Comebacks: shares, groups, chains, selectors, and free slices.

use analytics::comeback::{By, ComebackTally, comebacks, comebacks_from};
use analytics::figure::Query;
use analytics::history::{History, Rows};
use analytics::select::{Selector, Term, select};
use analytics::slice::{SliceError, column_names, slice};
use analytics::words::{JobKind, LinkState, Outcome, PartRole};
use proptest::prelude::*;

use crate::shop::{Shop, day, facts, selected, until};
use crate::world::world;

fn near(ours: f64, theirs: f64) {
    assert!((ours - theirs).abs() <= 1e-8, "{ours} against {theirs}");
}

fn within(as_of: u64, window: i32) -> Query {
    Query { window_days: Some(window), ..until(as_of) }
}

/// Ten repairs as on day 100, days to return (R) or to that day:
/// 6R 10 13R 21R 25 28 30 30 30 30.
fn ten_repairs() -> Shop {
    let mut shop = Shop::default();
    for (days, back) in [
        (6, true),
        (10, false),
        (13, true),
        (21, true),
        (25, false),
        (28, false),
        (30, false),
        (30, false),
        (30, false),
        (30, false),
    ] {
        shop.job("engine.tick", if back { 50 } else { 100 - days });
        if back {
            shop.comeback(days, "workmanship");
        }
    }
    shop
}

/// 30-day share and log-log interval: lifelines 0.30.3 KaplanMeierFitter
/// (survival 0.675, 0.29058536 to 0.88249673); closed windows 3 of 7:
/// scipy 1.17.1 binomtest(3, 7).proportion_ci(method="wilson").
#[test]
fn the_share_follows_recent_repairs_as_far_as_it_can() {
    let history = ten_repairs().history(facts());
    let report = comebacks(&history, &within(100, 30)).unwrap();
    let total = &report.total;
    assert_eq!((total.count, total.share.count, total.share.returns), (10, 10, 3));
    near(total.share.share.unwrap(), 0.325);
    let interval = total.share.interval.clone().unwrap();
    near(interval.low, 1.0 - 0.882_496_73);
    near(interval.high, 1.0 - 0.290_585_36);
    assert_eq!((interval.method, total.share.too_few), ("log-log", false));
    let closed = &total.closed_window;
    assert_eq!((closed.count, closed.returns), (7, 3));
    let interval = closed.interval.clone().unwrap();
    near(interval.low, 0.158_219_855_251_469_7);
    near(interval.high, 0.749_541_635_472_342_8);
    let steps: Vec<(i32, i64)> = report.curve.iter().map(|p| (p.days, p.at_risk)).collect();
    assert_eq!(steps, [(6, 10), (13, 8), (21, 7)]);
    assert_eq!((report.chains.chains, report.chains.visits), (3, 3));
    assert_eq!(report.head.change_no, 7);
    for share in [&total.share, closed, &total.seen_again] {
        assert!(report.head.definitions.contains_key(share.definition));
    }
}

/// On day 60 only the return on day 56 has happened: by hand 1 of the 3 jobs
/// closed by then, and no window of 30 days has ended.
#[test]
fn a_return_after_the_as_of_has_not_happened() {
    let history = ten_repairs().history(facts());
    let report = comebacks(&history, &within(60, 10)).unwrap();
    assert_eq!((report.total.count, report.total.share.returns), (3, 1));
    near(report.total.share.share.unwrap(), 1.0 / 3.0);
    assert_eq!(report.returns.len(), 1);
    let early = comebacks(&history, &within(60, 30)).unwrap();
    assert_eq!(early.total.share.share, None);
    assert_eq!(early.total.closed_window.share, None);
    assert!(early.total.share.too_few);
}

#[test]
fn only_undecided_proposals_of_the_same_complaint_are_possible_returns() {
    let mut shop = Shop::default();
    for (state, same) in [
        (LinkState::Confirmed, true),
        (LinkState::Proposed, true),
        (LinkState::Proposed, false),
        (LinkState::Rejected, true),
    ] {
        for _ in 0..5 {
            shop.job("brakes.noise", 10);
            shop.comeback(20, "workmanship");
            let link = shop.rows.returns.last_mut().unwrap();
            (link.state, link.same_complaint) = (state, same);
        }
    }
    let report = comebacks(&shop.history(facts()), &until(100)).unwrap();
    // By hand: 5 of 20 are confirmed, 5 more may be.
    near(report.total.share.share.unwrap(), 0.25);
    near(report.total.possible.share.unwrap(), 0.5);
    assert_eq!(report.returns.len(), 5);
}

#[test]
fn only_repaired_complaints_enter_the_share() {
    let mut shop = Shop::default();
    for (number, outcome) in (0_u64..).zip(Outcome::ALL) {
        shop.job("engine.tick", 10 + number);
        shop.last_job().outcome = *outcome;
        shop.comeback(3, "workmanship");
    }
    for kind in JobKind::ALL {
        shop.job("engine.tick", 40);
        shop.last_job().kind = *kind;
    }
    let history = shop.clone().history(facts());
    let report = comebacks(&history, &until(200)).unwrap();
    assert_eq!((report.total.count, report.total.share.returns), (2, 1));
    let outcomes: Vec<(Outcome, i64)> =
        report.outcomes.iter().map(|line| (line.outcome, line.count)).collect();
    assert_eq!(outcomes.len(), Outcome::ALL.len());
    assert_eq!(outcomes[0], (Outcome::Repaired, 2));
    for line in &report.outcomes {
        assert_eq!(selected(&history, &line.jobs, day(200)), line.count);
    }
    assert_eq!(report.returns.iter().filter(|line| line.counted).count(), 1);

    let mut later = facts();
    later.links_from = Some(day(11));
    let history = shop.history(later);
    let report = comebacks(&history, &until(200)).unwrap();
    assert_eq!((report.total.count, report.total.share.returns), (1, 0));
    assert_eq!(selected(&history, &report.total.jobs, day(200)), 1);
}

/// One vehicle back twice for one vibration, three repairs in all.
#[test]
fn a_chain_is_one_complaint_and_as_many_visits_as_it_took() {
    let mut shop = Shop::default();
    let mut ids = Vec::new();
    for (closed, technician) in [(10, "Ilse"), (30, "Tomas"), (55, "Mirela")] {
        ids.push(shop.job("steering.vibration", closed));
        let job = shop.last_job();
        job.vehicle = "ZZDB2E7B5ST000233".to_owned();
        job.technician = Some(technician.to_owned());
        job.opened_on = day(closed - 1);
    }
    shop.link(ids[0], ids[1], day(29), "misdiagnosis");
    shop.link(ids[1], ids[2], day(54), "misdiagnosis");
    let history = shop.history(facts());
    let report = comebacks(&history, &until(200)).unwrap();
    let chains = report.chains;
    assert_eq!((chains.chains, chains.visits, chains.most_visits), (1, 2, 2));
    let told: Vec<(&str, i64, i32)> = report
        .returns
        .iter()
        .map(|line| (line.technician.as_deref().unwrap(), line.visit, line.days))
        .collect();
    assert_eq!(told, [("Ilse", 2, 24), ("Ilse", 1, 19)]);
    // Two of the three came back; of first repairs, the only one did.
    near(report.total.share.share.unwrap(), 2.0 / 3.0);
    assert_eq!((report.total.first_repairs.count, report.total.first_repairs.returns), (1, 1));
    assert_eq!(selected(&history, &report.total.first_repairs.jobs, day(200)), 1);
}

/// Ilse's repair comes back twice; Kofi, a trainee whom Tomas answers for, and
/// then Mirela mend it. By hand: Ilse's are three jobs and two returns, whoever
/// mended; what Mirela repairs besides is hers.
#[test]
fn a_comeback_is_never_of_who_mends_it() {
    let mut shop = Shop::default();
    let mut ids = Vec::new();
    for (closed, technician) in [(10, "Ilse"), (30, "Kofi"), (55, "Mirela")] {
        ids.push(shop.job("steering.vibration", closed));
        shop.last_job().technician = Some(technician.to_owned());
        if technician == "Kofi" {
            shop.last_job().supervisor = Some("Tomas".to_owned());
        }
    }
    shop.link(ids[0], ids[1], day(29), "misdiagnosis");
    shop.link(ids[1], ids[2], day(54), "misdiagnosis");
    shop.job("steering.vibration", 60);
    let history = shop.history(facts());
    let query = Query { by: Some("technician".to_owned()), ..until(200) };
    let report = comebacks(&history, &query).unwrap();
    let counts: Vec<(&str, i64, i64, i64)> = report
        .groups
        .iter()
        .map(|group| {
            let opened = selected(&history, &group.figures.jobs, day(200));
            let share = &group.figures.share;
            (group.group.as_deref().unwrap(), share.count, share.returns, opened)
        })
        .collect();
    assert_eq!(counts, [("Ilse", 3, 2, 3), ("Mirela", 1, 0, 1)]);
    // The job itself is still answered for by who led it.
    assert_eq!(selected(&history, "technician=Tomas", day(200)), 1);
    assert_eq!(selected(&history, "answers=Tomas", day(200)), 0);
}

/// Links that lead in a ring are no chain, and the report ends.
#[test]
fn a_ring_of_links_ends() {
    let mut shop = Shop::default();
    let ids: Vec<_> = (0..3).map(|number| shop.job("engine.tick", 10 + number)).collect();
    for (earlier, later) in [(0, 1), (1, 2), (2, 0)] {
        shop.link(ids[earlier], ids[later], day(20), "workmanship");
    }
    let history = shop.history(facts());
    let query = Query { by: Some("technician".to_owned()), ..until(100) };
    let report = comebacks(&history, &query).unwrap();
    assert_eq!(report.groups[0].figures.count, 3);
    assert_eq!(selected(&history, &report.groups[0].figures.jobs, day(100)), 3);
}

/// A selector inside another holds for its own part.
#[test]
fn a_selector_may_hold_another() {
    use analytics::words::Disposition::CleanedReused;
    let mut shop = Shop::default();
    for parts in [&["A-1"][..], &["A-1", "B-2"], &["B-2"], &[]] {
        shop.job("engine.rough-idle", 10);
        for part in parts {
            shop.part(part, PartRole::Suspect, CleanedReused);
        }
    }
    let history = shop.history(facts());
    for (selector, count) in [
        ("part=A-1&part=B-2", 0),
        ("part=A-1&also=part%3DB-2", 1),
        ("part=A-1&except=part%3DB-2", 1),
        ("except=part%3DA-1%26part%3DB-2", 4),
        ("also=", 4),
        ("except=", 0),
    ] {
        assert_eq!(selected(&history, selector, day(100)), count, "{selector}");
    }
}

/// Ten vehicles: two come back, three are seen for an oil change, five never.
#[test]
fn customers_lost_are_named_not_guessed() {
    let mut shop = Shop::default();
    for number in 0..10 {
        shop.job("engine.tick", 10);
        let vehicle = shop.last_job().vehicle.clone();
        if number < 2 {
            shop.comeback(20, "workmanship");
        } else if number < 5 {
            shop.job("", 80);
            let job = shop.last_job();
            (job.vehicle, job.kind) = (vehicle, JobKind::Maintenance);
        }
    }
    let report = comebacks(&shop.history(facts()), &until(100)).unwrap();
    let (seen, worst) = (&report.total.seen_again, &report.total.if_unseen_returned);
    assert_eq!((seen.count, seen.returns), (5, 2));
    assert_eq!((worst.count, worst.returns), (10, 7));
}

/// Ten vehicles handed over on day 10, the window 30 days, looked at on day 100.
/// Two came back and three were here for oil. Of the other five one customer said
/// on day 40, when the window was over, that it holds, and one on day 60: seven are
/// known of. One said so on day 39, a day too early; one on day 101, later than
/// anybody looks; one was never called: had these three come back, it were five of
/// ten. A window of 29 days was over on day 39: then eight are known of, and four.
#[test]
fn who_says_that_it_holds_is_known_until_that_day() {
    let mut shop = Shop::default();
    let calls = [Some(40), Some(60), Some(39), Some(101), None];
    for number in 0..10 {
        shop.job("engine.tick", 10);
        let vehicle = shop.last_job().vehicle.clone();
        if number < 2 {
            shop.comeback(20, "workmanship");
        } else if number < 5 {
            shop.job("", 80);
            let job = shop.last_job();
            (job.vehicle, job.kind) = (vehicle, JobKind::Maintenance);
        } else {
            shop.last_job().holds_on = calls[number - 5].map(day).into_iter().collect();
        }
    }
    let history = shop.history(facts());
    for (window, known, returned) in [(30, 7, 5), (29, 8, 4)] {
        let report = comebacks(&history, &within(100, window)).unwrap();
        let (seen, worst) = (&report.total.seen_again, &report.total.if_unseen_returned);
        assert_eq!((seen.count, seen.returns), (known, 2), "{window}");
        assert_eq!((worst.count, worst.returns), (10, returned), "{window}");
        let selector = Selector::parse(&seen.jobs).unwrap();
        assert_eq!(select(&history, &selector, day(100), window).len() as i64, known);
    }
}

/// Handed over on day 10, and asked on days 61 and 200, in the other order too: with a
/// window of 50 days nothing is known on day 60, and it is from day 61 on; with one of
/// 100 days it is known on day 200 alone. Seen again on day 90, it is known of by then.
#[test]
fn each_call_is_known_from_its_own_day() {
    let mut shop = Shop::default();
    for days in [[61, 200], [200, 61]] {
        shop.job("engine.tick", 10);
        shop.last_job().holds_on = days.map(day).to_vec();
    }
    let known = |shop: Shop, as_of: u64, window: i32| {
        let history = shop.history(facts());
        let report = comebacks(&history, &within(as_of, window)).unwrap();
        let seen = &report.total.seen_again;
        let selector = Selector::parse(&seen.jobs).unwrap();
        assert_eq!(select(&history, &selector, day(as_of), window).len() as i64, seen.count);
        seen.count
    };
    for (as_of, window, count) in
        [(60, 50, 0), (61, 50, 2), (100, 50, 2), (200, 50, 2), (199, 100, 0), (200, 100, 2)]
    {
        assert_eq!(known(shop.clone(), as_of, window), count, "{window} days, by day {as_of}");
    }
    let vehicle = shop.last_job().vehicle.clone();
    shop.job("", 90);
    let job = shop.last_job();
    (job.vehicle, job.kind) = (vehicle, JobKind::Maintenance);
    for (as_of, window, count) in [(89, 70, 0), (90, 70, 1), (200, 70, 2), (199, 100, 1)] {
        assert_eq!(known(shop.clone(), as_of, window), count, "{window} days, by day {as_of}");
    }
}

#[test]
fn people_stand_by_name_and_other_groups_by_size() {
    let mut shop = Shop::default();
    for (technician, symptom, jobs) in [("Tomas", "b", 2), ("Ilse", "a", 3), ("Mirela", "c", 4)] {
        for _ in 0..jobs {
            shop.job(symptom, 10);
            shop.last_job().technician = Some(technician.to_owned());
        }
    }
    let history = shop.history(facts());
    let names = |by: &str| -> Vec<String> {
        let query = Query { by: Some(by.to_owned()), ..until(100) };
        let groups = comebacks(&history, &query).unwrap().groups;
        groups.into_iter().map(|group| group.group.unwrap()).collect()
    };
    assert_eq!(names("technician"), ["Ilse", "Mirela", "Tomas"]);
    assert_eq!(names("symptom"), ["c", "a", "b"]);
    let unknown = Query { by: Some("color".to_owned()), ..until(100) };
    assert_eq!(comebacks(&history, &unknown), Err("color".to_owned()));
    assert_eq!(slice(&history, &unknown), Err(SliceError::UnknownColumn("color".to_owned())));
}

#[test]
fn a_selected_job_tells_its_story() {
    let mut shop = ten_repairs();
    shop.last_job().complaint = Some("ticks when warm, \"worse\" uphill".to_owned());
    let last = shop.last_job().clone();
    let history = shop.history(facts());
    let selector = Selector::new().with(Term::Returned(true));
    let lines = select(&history, &selector, day(60), 30);
    assert_eq!(lines.len(), 1);
    assert_eq!((lines[0].days_to_return, lines[0].returned_on), (Some(6), Some(day(56))));
    let all = select(&history, &Selector::new(), day(100), 30);
    let line = all.iter().find(|line| line.order_no == last.order_no).unwrap();
    assert_eq!(line.complaint, last.complaint);
    // The id as RFC 9562 writes a UUID.
    assert_eq!(line.job_id, uuid_text(last.id));
}

fn uuid_text(id: u128) -> String {
    let hex = format!("{id:032x}");
    [&hex[..8], &hex[8..12], &hex[12..16], &hex[16..20], &hex[20..]].join("-")
}

/// Two shops in one, with nothing between them.
pub fn together(first: &Rows, second: &Rows) -> Rows {
    let mut rows = first.clone();
    let far = 1_000_000;
    rows.jobs.extend(second.jobs.iter().cloned().map(|mut job| {
        job.id += far;
        job.vehicle = format!("other {}", job.vehicle);
        job
    }));
    rows.parts.extend(second.parts.iter().cloned().map(|mut part| {
        part.job += far;
        part
    }));
    rows.returns.extend(second.returns.iter().cloned().map(|mut link| {
        link.id += far;
        link.earlier += far;
        link.later += far;
        link
    }));
    rows
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Every count of every group opens to as many jobs, free slices come to
    /// the same counts as the tallies, and shares stay between 0 and 1.
    #[test]
    fn counts_selectors_and_slices_agree(
        world in world(40), as_of in 30_u64..200, window in 1_i32..90, from in 0_u64..60,
    ) {
        let history = History::new(facts(), world.rows(None), 1).unwrap();
        let as_of_day = day(as_of);
        for by in By::ALL {
            let query = Query {
                from: Some(day(from)), by: Some(by.as_str().to_owned()), ..within(as_of, window)
            };
            let report = comebacks(&history, &query).unwrap();
            // A free slice by technician is of who answers for the job itself.
            let column = if by == By::Technician { "answers" } else { by.as_str() };
            let free = slice(&history, &Query { by: Some(column.to_owned()), ..query }).unwrap();
            for group in &report.groups {
                let figures = &group.figures;
                let count = |jobs: &str| {
                    let selector = Selector::parse(jobs).unwrap();
                    select(&history, &selector, as_of_day, window).len() as i64
                };
                prop_assert_eq!(count(&figures.jobs), figures.count, "{}", &figures.jobs);
                prop_assert_eq!(count(&figures.first_repairs.jobs), figures.first_repairs.count);
                let closed = &figures.closed_window;
                prop_assert_eq!(count(&closed.jobs), closed.count);
                let seen = &figures.seen_again;
                prop_assert_eq!(count(&seen.jobs), seen.count, "{}", &seen.jobs);
                prop_assert_eq!(count(&format!("{}&returned=true", closed.jobs)), closed.returns);
                for share in [&figures.share, &figures.possible, closed, &figures.first_repairs] {
                    prop_assert!(share.share.is_none_or(|share| (0.0..=1.0).contains(&share)));
                }
                prop_assert!(figures.possible.returns >= figures.share.returns);
                let line = free.lines.iter().find(|line| line.values == [group.group.clone()]);
                let line = line.unwrap();
                prop_assert_eq!(line.count, figures.count);
                prop_assert_eq!(line.closed_window.count, closed.count);
                prop_assert_eq!(line.closed_window.returns, closed.returns);
            }
            let grouped = free.lines.iter().filter(|line| line.values[0].is_some());
            let known = report.groups.iter().filter(|group| group.group.is_some());
            prop_assert_eq!(grouped.count(), known.count());
        }
    }

    /// A slice by any column, or by two of one frame, opens to its jobs.
    #[test]
    fn every_slice_opens_to_its_jobs(world in world(30), window in 1_i32..90) {
        let history = History::new(facts(), world.rows(None), 1).unwrap();
        let columns = column_names();
        let two = ["part,role", "symptom,technician", "check,finding", "operation,payer"];
        for by in columns.iter().copied().chain(two) {
            let query = Query { by: Some(by.to_owned()), ..within(150, window) };
            for line in slice(&history, &query).unwrap().lines {
                let jobs = &line.closed_window.jobs;
                let selector = Selector::parse(jobs).unwrap();
                let count = select(&history, &selector, day(150), window).len() as i64;
                prop_assert_eq!(count, line.count, "{}", jobs);
            }
        }
        let all = slice(&history, &within(150, window)).unwrap();
        let total = comebacks(&history, &within(150, window)).unwrap().total;
        prop_assert_eq!(all.lines[0].count, total.count);
        prop_assert_eq!(all.lines[0].closed_window.returns, total.closed_window.returns);
    }

    #[test]
    fn tallies_of_two_shops_add(first in world(25), second in world(25)) {
        let (first, second) = (first.rows(None), second.rows(None));
        let tally = |rows: Rows, by| ComebackTally::of(&History::new(facts(), rows, 1).unwrap(), by);
        for by in [None, Some(By::Symptom), Some(By::Supplier), Some(By::Week)] {
            let whole = tally(together(&first, &second), by);
            let mut added = tally(first.clone(), by);
            added.add(&tally(together(&Rows::default(), &second), by));
            prop_assert_eq!(&added, &whole);
        }
    }
}

#[test]
fn a_tally_made_once_serves_every_as_of() {
    let history = ten_repairs().history(facts());
    let tally = ComebackTally::of(&history, None);
    for as_of in [60, 80, 100] {
        let query = within(as_of, 30);
        assert_eq!(comebacks_from(&tally, &history, &query), comebacks(&history, &query).unwrap());
    }
}

/// A part's terms speak of one and the same part.
#[test]
fn terms_on_parts_hold_for_one_part() {
    use analytics::words::Disposition::{CleanedReused, ReplacedNew};
    let mut shop = Shop::default();
    shop.job("engine.rough-idle", 10);
    shop.part("IAV-100", PartRole::Suspect, CleanedReused);
    shop.part("GASKET-7", PartRole::Bystander, ReplacedNew);
    let history = shop.history(facts());
    for (selector, count) in [
        ("part=IAV-100&disposition=cleaned_reused", 1),
        ("part=IAV-100&disposition=replaced", 0),
        ("part=GASKET-7&disposition=replaced&role=bystander", 1),
        ("part=unknown", 0),
    ] {
        assert_eq!(selected(&history, selector, day(100)), count, "{selector}");
    }
}
