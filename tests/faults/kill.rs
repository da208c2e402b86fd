//! The server is killed while eight people write, again and again. What was
//! acknowledged is there exactly once; what was not answered is there exactly
//! once after it was asked again under its key.

use std::collections::{BTreeMap, BTreeSet};
use std::time::{Duration, Instant};

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::writer::{Kind, Writer};
use crate::support::{Place, Shops};

const WRITERS: usize = 8;
const KILLS: usize = 50;
const LONGEST_MILLIS: u64 = 2_000;

#[test]
fn sqlite_keeps_every_promise() {
    keeps_every_promise(Place::sqlite());
}

#[test]
fn postgres_keeps_every_promise() {
    if let Some(place) = Place::postgres() {
        keeps_every_promise(place);
    }
}

fn keeps_every_promise(place: Place) {
    let seed: u64 = uuid::Uuid::new_v4().as_u64_pair().0;
    println!("seed {seed}");
    let mut dice = ChaCha8Rng::seed_from_u64(seed);
    let mut shops = Shops::open(place);
    let people = ["technician", "helper", "adviser", "manager"];
    let mut writers: Vec<Writer> = (0..WRITERS)
        .map(|number| {
            let client = shops.person(&format!("{}.north", people[number % people.len()]));
            Writer::new(client, number, ChaCha8Rng::seed_from_u64(dice.random()))
        })
        .collect();
    let mut slowest = Duration::ZERO;
    for _ in 0..KILLS {
        let moment = Duration::from_millis(dice.random_range(0..=LONGEST_MILLIS));
        std::thread::scope(|scope| {
            for writer in &mut writers {
                scope.spawn(|| writer.write());
            }
            std::thread::sleep(moment);
            shops.kill();
        });
        let start = Instant::now();
        shops.restart();
        slowest = slowest.max(start.elapsed());
        for writer in &mut writers {
            writer.move_to(shops.base());
        }
    }
    for writer in &mut writers {
        assert!(writer.settle(), "the server runs");
    }
    judge(&shops, &writers);
    let writes: usize = writers.iter().map(|writer| writer.promised.len()).sum();
    let repeated: usize = writers.iter().map(|writer| writer.repeated).sum();
    println!(
        "{KILLS} kills, {writes} writes, {repeated} asked again, ready after at most {slowest:?}"
    );
    assert!(repeated >= KILLS, "the kills met too little work: {repeated}");
}

/// Where each kind of write leaves its key.
const MARKS: [(Kind, &str); 5] = [
    (Kind::Open, "SELECT complaint AS line FROM job"),
    (Kind::Check, "SELECT position AS line FROM job_check"),
    (Kind::Part, "SELECT name AS line FROM part_use"),
    (Kind::Proof, "SELECT note AS line FROM proof"),
    (Kind::Close, "SELECT correction AS line FROM job WHERE correction IS NOT NULL"),
];

fn judge(shops: &Shops, writers: &[Writer]) {
    let mut promised: BTreeMap<Kind, Vec<&str>> = BTreeMap::new();
    for asked in writers.iter().flat_map(|writer| &writer.promised).map(|promise| &promise.asked) {
        promised.entry(asked.kind).or_default().push(&asked.key);
    }
    for (kind, sql) in MARKS {
        let mut kept = shops.place.lines(sql);
        kept.sort();
        let mut owed = promised.remove(&kind).unwrap_or_default();
        owed.sort_unstable();
        assert_eq!(kept.len(), owed.len(), "{kind:?}: kept against promised");
        assert!(kept.iter().eq(owed.iter()), "{kind:?}: one is lost and another is there twice");
    }
    let handed_over = promised.remove(&Kind::HandOver).unwrap_or_default().len();
    let closed = shops.place.count("FROM repair_order WHERE status = 'closed'");
    assert_eq!(usize::try_from(closed).unwrap(), handed_over);
    whole_orders(shops);
    for writer in writers {
        for promise in writer.promised.iter().rev().take(10) {
            writer.ask_again(promise);
        }
    }
    if matches!(shops.place, Place::Sqlite(_)) {
        let said = shops.place.lines("SELECT integrity_check AS line FROM pragma_integrity_check");
        assert_eq!(said, ["ok"]);
        assert_eq!(shops.place.count("FROM pragma_foreign_key_check"), 0);
    }
}

/// No order without its job or its vehicle, no number missing or twice.
fn whole_orders(shops: &Shops) {
    let orders = shops.place.count("FROM repair_order");
    assert_eq!(shops.place.count("FROM job"), orders);
    assert_eq!(shops.place.count("FROM vehicle"), i64::try_from(WRITERS).unwrap());
    let numbers = shops.place.lines("SELECT order_no AS line FROM repair_order");
    let numbers: BTreeSet<i64> = numbers.iter().map(|number| number.parse().unwrap()).collect();
    assert!(numbers.into_iter().eq(1..=orders), "the numbers have a gap");
}
