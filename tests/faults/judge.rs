//! Whether what was promised is there, once each.

use std::collections::{BTreeMap, BTreeSet};

use super::support::{Place, Shops};
use super::writer::{Kind, Writer};

/// Where each kind of write leaves its key.
const MARKS: [(Kind, &str); 5] = [
    (Kind::Open, "SELECT complaint AS line FROM job"),
    (Kind::Check, "SELECT position AS line FROM job_check"),
    (Kind::Part, "SELECT name AS line FROM part_use"),
    (Kind::Proof, "SELECT note AS line FROM proof"),
    (Kind::Close, "SELECT correction AS line FROM job WHERE correction IS NOT NULL"),
];

/// What was acknowledged is there exactly once, asking again is answered as before,
/// and the record is sound.
pub fn judge(shops: &Shops, writers: &[Writer]) {
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
    whole_orders(shops, writers.len());
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

/// Of what was acknowledged, how much is not there. A record that cannot be read has
/// lost all of it.
pub fn lost(place: &Place, writers: &[Writer]) -> usize {
    let asked = || writers.iter().flat_map(|writer| &writer.promised).map(|promise| &promise.asked);
    let missing = |(kind, sql): (Kind, &str)| {
        let kept: BTreeSet<String> = place.lines(sql).into_iter().collect();
        asked().filter(|asked| asked.kind == kind && !kept.contains(&asked.key)).count()
    };
    let read = || MARKS.into_iter().map(missing).sum();
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(read)).unwrap_or_else(|_| asked().count())
}

/// No order without its job or its vehicle, no number missing or twice.
fn whole_orders(shops: &Shops, writers: usize) {
    let orders = shops.place.count("FROM repair_order");
    assert_eq!(shops.place.count("FROM job"), orders);
    assert_eq!(shops.place.count("FROM vehicle"), i64::try_from(writers).unwrap());
    let numbers = shops.place.lines("SELECT order_no AS line FROM repair_order");
    let numbers: BTreeSet<i64> = numbers.iter().map(|number| number.parse().unwrap()).collect();
    assert!(numbers.into_iter().eq(1..=orders), "the numbers have a gap");
}
