//! Another shop's thing takes as long as none: how long an answer takes tells nothing.

use std::time::Instant;

use rand::Rng;

use super::scale::{dice, trials};
use super::support::visit::{open, text};
use super::support::{Place, Shops};

/// How often one of the first takes longer than one of the others (Mann and Whitney);
/// a half where nothing tells them apart. Equal ones count half.
pub fn chance<T: Ord + Copy>(one: &[T], other: &[T]) -> f64 {
    let mut sorted = other.to_vec();
    sorted.sort_unstable();
    let below = |value: T| sorted.partition_point(|n| *n < value);
    let upto = |value: T| sorted.partition_point(|n| *n <= value);
    let won: usize = one.iter().map(|n| below(*n) + upto(*n)).sum();
    won as f64 / (2 * one.len() * other.len()) as f64
}

#[test]
fn the_chance_is_that_of_its_definition() {
    assert!((chance(&[1, 2, 3], &[1, 2, 3]) - 0.5).abs() < 1e-9);
    assert!((chance(&[4, 5], &[1, 2, 3]) - 1.0).abs() < 1e-9);
    assert!((chance(&[1, 3], &[2]) - 0.5).abs() < 1e-9);
}

fn foreign_takes_as_long_as_none(test: &str, place: Place) {
    let shops = Shops::open(place);
    let pairs = trials(60, 2_000);
    let mut dice = dice(test);
    let south = shops.person("manager.south");
    let (order, job) = open(&south, "TI 1", "engine.stalls");
    let vehicle = text(&south.get(&format!("orders/{order}")).json()["vehicle_id"]).to_owned();
    let manager = shops.person("manager.north");
    for (kind, id) in [("orders", &order), ("jobs", &job), ("vehicles", &vehicle)] {
        let timed = |id: &str| {
            let begun = Instant::now();
            let answer = manager.get(&format!("{kind}/{id}")).expect(404);
            (begun.elapsed().as_nanos(), answer.body)
        };
        timed(id);
        let (mut foreign, mut none) = (Vec::new(), Vec::new());
        for _ in 0..pairs {
            // As old as the other, so that it lies among the same rows.
            let made_up = format!("{}{:012x}", &id[..24], dice.random_range(0..1_u64 << 48));
            let first = dice.random_bool(0.5);
            let one = first.then(|| timed(id));
            let other = timed(&made_up);
            let one = one.unwrap_or_else(|| timed(id));
            assert_eq!(one.1, other.1);
            foreign.push(one.0);
            none.push(other.0);
        }
        let chance = chance(&foreign, &none);
        println!(
            "{test}: {kind}: {pairs} pairs, one is later than the other {chance:.3} of the time"
        );
        // Few pairs say nothing, and a machine at work says less.
        assert!(pairs < 1_000 || (0.45..=0.55).contains(&chance), "{kind}: {chance}");
    }
    // A difference would be seen; that too is of times, which few pairs say nothing of.
    let begun = |path: &str| {
        let begun = Instant::now();
        manager.get(path);
        begun.elapsed().as_nanos()
    };
    let small: Vec<u128> = (0..pairs).map(|_| begun("/livez")).collect();
    let large: Vec<u128> = (0..pairs).map(|_| begun("reports/weekly")).collect();
    assert!(pairs < 1_000 || chance(&large, &small) > 0.9);
}

#[test]
fn foreign_takes_as_long_as_none_on_sqlite() {
    foreign_takes_as_long_as_none("foreign_takes_as_long_as_none_on_sqlite", Place::sqlite());
}

#[test]
fn foreign_takes_as_long_as_none_on_postgres() {
    if let Some(place) = Place::postgres() {
        foreign_takes_as_long_as_none("foreign_takes_as_long_as_none_on_postgres", place);
    }
}
