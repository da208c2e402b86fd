//! The weekly review: is this week different?

use analytics::figure::Query;
use analytics::weekly::{Answer, WeekQuery, WeeklyReview, weekly};
use analytics::words::{JobKind, LinkState, Outcome};

use crate::shop::{Shop, day, facts, selected};

fn near(ours: f64, theirs: f64) {
    assert!((ours - theirs).abs() <= 1e-12, "{ours} against {theirs}");
}

/// Each week, on its fourth day, `jobs` repairs are handed over, and
/// `returning` of them come back ten days later.
fn steady(weeks: u64, jobs: u64, returning: u64) -> Shop {
    let mut shop = Shop::default();
    for week in 0..weeks {
        for number in 0..jobs {
            shop.job(["engine.tick", "brakes.noise"][usize::from(number % 2 == 1)], week * 7 + 3);
            if number < returning {
                shop.comeback(10, "workmanship");
            }
        }
    }
    shop
}

fn review(shop: Shop, week: u64) -> WeeklyReview {
    review_as_of(shop, week, week * 7 + 6)
}

fn review_as_of(shop: Shop, week: u64, as_of: u64) -> WeeklyReview {
    let query = WeekQuery { as_of: day(as_of), week_from: day(week * 7), window_days: None };
    weekly(&shop.history(facts()), &query)
}

/// Every week's jobs at an age of ten days are the ten of the week before, and
/// one of them comes back: one is expected, exactly. Probabilities: scipy
/// 1.17.1 poisson.sf(0, 1), poisson.cdf(1, 1).
#[test]
fn a_week_like_the_others_is_within_the_usual() {
    let review = review(steady(60, 10, 1), 55);
    let arrivals = &review.arrivals;
    assert_eq!((arrivals.observed, arrivals.weeks_learned), (1, 52));
    near(arrivals.expected.unwrap(), 1.0);
    near(arrivals.probability_at_least.unwrap(), 0.632_120_558_828_557_7);
    near(arrivals.probability_at_most.unwrap(), 0.735_758_882_342_884_7);
    assert_eq!(arrivals.answer, Answer::WithinTheUsual);
    // Twice .0190 for four or more, twice .0037 for five or more.
    assert_eq!((arrivals.normal_low, arrivals.normal_high), (Some(0), Some(4)));
    let systems: Vec<(&str, i64, f64)> = arrivals
        .systems
        .iter()
        .map(|line| (line.system.as_deref().unwrap(), line.observed, line.expected))
        .collect();
    assert_eq!(systems, [("brakes", 0, 0.0), ("engine", 1, 1.0)]);
    assert_eq!(review.by_system[0].name.as_deref(), Some("engine"));
    assert_eq!((review.comebacks.len(), review.chains.visits), (1, 1));
    assert!(!review.partial);
}

/// Five where one is expected: scipy 1.17.1 poisson.sf(4, 1) = 0.0037.
#[test]
fn five_where_one_is_usual_is_more_than_usual() {
    let mut shop = steady(60, 10, 1);
    let week: u64 = 55;
    let closed = day((week - 1) * 7 + 3);
    let quiet: Vec<_> = shop
        .rows
        .jobs
        .iter()
        .filter(|job| job.closed_on == closed)
        .skip(1)
        .take(4)
        .map(|job| job.id)
        .collect();
    for (number, id) in (0_u128..).zip(quiet) {
        shop.link(id, 900_000 + number, day(week * 7 + 6), "parts failure");
    }
    let review = review(shop, week);
    assert_eq!(review.arrivals.observed, 5);
    near(review.arrivals.expected.unwrap(), 1.0);
    near(review.arrivals.probability_at_least.unwrap(), 0.003_659_846_827_343_713);
    assert_eq!(review.arrivals.answer, Answer::MoreThanUsual);
    let reasons: Vec<(&str, i64)> =
        review.by_reason.iter().map(|r| (r.name.as_deref().unwrap(), r.count)).collect();
    assert_eq!(reasons, [("parts failure", 4), ("workmanship", 1)]);
}

/// None where six are expected: scipy 1.17.1 poisson.cdf(0, 6) = 0.0025.
#[test]
fn none_where_six_are_usual_is_fewer_than_usual() {
    let mut shop = steady(60, 40, 6);
    let week = day(55 * 7);
    shop.rows.returns.retain(|link| link.later_opened_on < week);
    let review = review(shop, 55);
    near(review.arrivals.expected.unwrap(), 6.0);
    near(review.arrivals.probability_at_most.unwrap(), 0.002_478_752_176_666_357);
    assert_eq!(review.arrivals.answer, Answer::FewerThanUsual);
    // Twice .0174 for one or fewer; twice .0201 for twelve or more, .0088 for
    // thirteen or more (sums of exp(-6) 6^k / k! in Python 3).
    let arrivals = &review.arrivals;
    assert_eq!((arrivals.normal_low, arrivals.normal_high), (Some(1), Some(12)));
}

#[test]
fn what_is_usual_takes_half_a_year_to_learn() {
    // The first hand-over is on day 3: 26 weeks before it is week 27's first.
    assert_eq!(review(steady(40, 10, 1), 26).arrivals.answer, Answer::NotYet);
    let known = review(steady(40, 10, 1), 27).arrivals;
    assert_eq!((known.answer, known.weeks_learned), (Answer::WithinTheUsual, 26));
    let unbegun = review_as_of(steady(60, 10, 1), 55, 54 * 7).arrivals;
    assert_eq!((unbegun.answer, unbegun.expected), (Answer::NotYet, None));
    assert_eq!((unbegun.normal_low, unbegun.normal_high), (None, None));
}

/// Half a week is held against half a week: up to its third day nobody comes
/// back, because returns fall on the seventh.
#[test]
fn a_week_that_is_not_over_is_cut_at_the_as_of() {
    let review = review_as_of(steady(60, 10, 1), 55, 55 * 7 + 2);
    assert!(review.partial);
    assert_eq!(review.week_to, day(55 * 7 + 2));
    assert_eq!(review.arrivals.observed, 0);
    near(review.arrivals.expected.unwrap(), 0.0);
    assert!(review.closed.is_empty());
}

#[test]
fn the_last_weeks_stand_beside_each_other() {
    let shop = steady(60, 10, 1);
    let history = shop.history(facts());
    let query = WeekQuery { as_of: day(55 * 7 + 6), week_from: day(55 * 7), window_days: None };
    let review = weekly(&history, &query);
    assert_eq!(review.cohorts.len(), 12);
    let newest = &review.cohorts[0];
    assert_eq!(newest.week_from, Some(day(55 * 7)));
    assert_eq!((newest.figures.count, newest.followed_days), (10, 0));
    // Closed three days ago: nobody can say anything about 60 days.
    assert_eq!(newest.figures.share.share, None);
    // Eleven weeks back all ten windows have ended, and one came back.
    let oldest = &review.cohorts[11];
    assert_eq!(oldest.followed_days, 60);
    near(oldest.figures.share.share.unwrap(), 0.1);
    near(oldest.share_30.share.unwrap(), 0.1);
    assert_eq!((oldest.figures.closed_window.count, oldest.figures.closed_window.returns), (10, 1));
    let middle = &review.cohorts[2];
    assert_eq!(middle.followed_days, 14);
    near(middle.so_far.as_ref().unwrap().share.unwrap(), 0.1);
    assert_eq!(middle.figures.share.share, None);
    for cohort in review.cohorts.iter().chain([&review.overall]) {
        assert_eq!(selected(&history, &cohort.figures.jobs, query.as_of), cohort.figures.count);
    }
    assert_eq!(review.overall.figures.count, 560);
    assert_eq!(review.overall.figures.share.returns, 55);
}

#[test]
fn every_outcome_of_the_week_has_its_line() {
    let mut shop = steady(2, 2, 0);
    shop.job("engine.tick", 9);
    shop.last_job().outcome = Outcome::NotReproduced;
    shop.job("", 10);
    shop.last_job().kind = JobKind::Maintenance;
    shop.job("engine.tick", 2);
    shop.comeback(9, "workmanship");
    shop.rows.returns.last_mut().unwrap().state = LinkState::Proposed;
    let history = shop.history(facts());
    let query = WeekQuery { as_of: day(13), week_from: day(7), window_days: Some(30) };
    let review = weekly(&history, &query);
    let closed: Vec<(JobKind, Outcome, i64)> =
        review.closed.iter().map(|line| (line.kind, line.outcome, line.count)).collect();
    assert_eq!(
        closed,
        [
            (JobKind::Complaint, Outcome::Repaired, 2),
            (JobKind::Complaint, Outcome::NotReproduced, 1),
            (JobKind::Maintenance, Outcome::Repaired, 1),
        ]
    );
    for line in &review.closed {
        assert_eq!(selected(&history, &line.jobs, query.as_of), line.count);
    }
    let undecided = &review.undecided;
    assert_eq!((undecided.of_the_week, undecided.all, undecided.same_complaint), (1, 1, 1));
    assert_eq!(review.head.window_days, 30);
    let asked = Query {
        as_of: query.as_of,
        from: Some(day(7)),
        to: Some(day(13)),
        window_days: Some(30),
        by: None,
    };
    assert_eq!((review.head.from, review.head.to), (asked.from, asked.to));
}
