//! Labor of several shops: each is its own report, and all of them together are
//! the ratios of their sums.

use analytics::figure::Query;
use analytics::history::{History, ShopFacts};
use analytics::labor::{GroupLabor, labor, labor_of_group};
use analytics::words::{Activity, Disposition, PartRole, Payer};

use crate::shop::{Shop, day, facts, until};

fn near(ours: f64, theirs: f64) {
    assert!((ours - theirs).abs() < 1e-12, "{ours} against {theirs}");
}

/// Jobs of an hour and a half of flat-rate and that many minutes on the clock,
/// the last one a comeback of the first.
fn shop(first: u128, minutes: &[i64], facts: ShopFacts) -> History {
    let mut shop = Shop::starting_at(first);
    let mut jobs = Vec::new();
    for (number, minutes) in (0..).zip(minutes) {
        jobs.push(shop.job("engine.tick", 10 + number * 3));
        shop.operation("cover", 150, 100, Payer::Customer);
        shop.labor("Mirela", Activity::Repair, *minutes);
    }
    shop.part("LFT-1", PartRole::Suspect, Disposition::ReplacedNew).unit_cost_minor = Some(1_000);
    let last = *jobs.last().unwrap();
    shop.link(jobs[0], last, day(9 + 3 * (minutes.len() as u64 - 1)), "workmanship");
    shop.history(facts)
}

fn two(second: ShopFacts) -> (History, History) {
    let north = shop(1, &[90, 60, 30, 45], facts());
    (north, shop(1_000, &[120, 75, 15], second))
}

fn group(north: &History, south: &History) -> GroupLabor {
    labor_of_group(&[(north, until(100)), (south, until(99))])
}

#[test]
fn a_shop_s_line_is_its_own_report() {
    let (north, south) = two(facts());
    let group = group(&north, &south);
    for (of, (history, query)) in
        group.shops.iter().zip([(&north, until(100)), (&south, until(99))])
    {
        let own = labor(history, &query).unwrap();
        assert_eq!((&of.labor, &of.comebacks), (&own.total, &own.comebacks));
        let share = analytics::comeback::comebacks(history, &query).unwrap().total.share;
        assert_eq!(of.share, share);
        assert_eq!(of.head.as_of, query.as_of);
    }
}

/// By hand: 4.5 h credited over 3.75 h in the north (the comeback's 45 minutes
/// without flat-rate), 3.0 over 3.5 in the south.
#[test]
fn all_shops_are_the_ratio_of_their_sums() {
    let (north, south) = two(facts());
    let group = group(&north, &south);
    let total = &group.total;
    near(total.labor.flat_rate_hours, 7.5);
    near(total.labor.clock_hours, 7.25);
    near(total.labor.efficiency.value.unwrap(), 7.5 / 7.25);
    near(total.labor.efficiency_without_comebacks.value.unwrap(), 7.5 / 6.25);
    assert_eq!((total.labor.count, total.labor.comebacks), (7, 2));
    near(total.labor.comeback_hours, 1.0);
    near(total.comebacks.clock_hours, 1.0);
    // An hour at 90.00, two parts at 10.00, twice 60.00 besides.
    assert_eq!((total.comebacks.count, total.comebacks.total_minor), (2, Some(23_000)));
    assert_eq!(total.currency.as_deref(), Some("USD"));
    // Two of seven came back by day 60, and all were followed so long.
    let share = total.share.as_ref().unwrap();
    assert_eq!((share.count, share.returns), (7, 2));
    near(share.share.unwrap(), 2.0 / 7.0);
    // Its jobs lie in several shops: no one list has them.
    assert!(total.labor.jobs.is_empty() && share.jobs.is_empty());
}

#[test]
fn what_cannot_be_added_up_is_absent() {
    let other = ShopFacts { currency: "CAD".to_owned(), window_days: 90, ..facts() };
    let (north, south) = two(other);
    let group = group(&north, &south);
    let total = &group.total;
    assert_eq!((total.currency.as_ref(), total.share.as_ref()), (None, None));
    assert_eq!(total.comebacks.total_minor, None);
    assert_eq!(total.labor.labor_amount_minor, None);
    assert_eq!(total.labor.effective_labor_rate.value, None);
    // Hours are hours everywhere.
    near(total.labor.efficiency.value.unwrap(), 7.5 / 7.25);
    // With one window asked of all the share can be told.
    let asked = |day| Query { window_days: Some(60), ..until(day) };
    let one = labor_of_group(&[(&north, asked(100)), (&south, asked(99))]);
    assert!(one.total.share.is_some());
}

#[test]
fn no_shop_has_nothing() {
    let none = labor_of_group(&[]);
    assert!(none.shops.is_empty());
    assert_eq!((none.total.labor.count, none.total.share), (0, None));
}
