//! The same group in several shops. Each shop has places of its own; what two of
//! them have in common is the text.

use std::collections::{BTreeMap, BTreeSet};

use super::entry::{Cell, Lists};
use super::tally::Rows;
use crate::history::NONE;
use crate::reuse::Choice;
use crate::words::PartRole;

/// Where the sums of a group stand: the shop, and the group's place in it.
pub(super) type Stands = Vec<(usize, u32)>;

/// The groups of all shops, in the order of their keys.
pub(super) type Pool<K> = BTreeMap<K, Stands>;

fn pooled<'a, K: Ord>(shops: &[Rows<'a>], keys: impl Fn(&Rows<'a>) -> Vec<Option<K>>) -> Pool<K> {
    let mut pool: Pool<K> = BTreeMap::new();
    for (shop, rows) in shops.iter().enumerate() {
        for (place, key) in (0_u32..).zip(keys(rows)) {
            if let Some(key) = key {
                pool.entry(key).or_default().push((shop, place));
            }
        }
    }
    pool
}

/// Codes of texts by what they say; `None` where a job has none.
fn texts<'a>(rows: &Rows<'a>, codes: &[u32]) -> Vec<Option<Option<&'a str>>> {
    codes.iter().map(|code| Some(rows.history.text(*code))).collect()
}

pub(super) fn symptoms<'a>(shops: &[Rows<'a>]) -> Pool<Option<&'a str>> {
    pooled(shops, |rows| texts(rows, rows.entry.symptoms.seen()))
}

pub(super) fn people<'a>(shops: &[Rows<'a>]) -> Pool<Option<&'a str>> {
    pooled(shops, |rows| texts(rows, rows.entry.people.seen()))
}

/// Weeks by their first days, of each shop in the order of its places.
pub(super) fn weeks(shops: &[Vec<i32>]) -> Pool<i32> {
    let mut pool: Pool<i32> = BTreeMap::new();
    for (shop, weeks) in shops.iter().enumerate() {
        for (place, week) in (0_u32..).zip(weeks) {
            pool.entry(*week).or_default().push((shop, place));
        }
    }
    pool
}

/// Part, choice and role.
pub(super) fn cells<'a>(shops: &[Rows<'a>]) -> Pool<(&'a str, Option<PartRole>, Choice)> {
    pooled(shops, |rows| {
        let cells = rows.entry.cells.seen().iter();
        cells
            .map(|&Cell { part, choice, role }| Some((rows.history.text(part)?, role, choice)))
            .collect()
    })
}

/// Texts of all shops as numbers in their order, so that orders of checks compare
/// as numbers and not text by text.
struct Ranks<'a> {
    texts: Vec<&'a str>,
    /// By shop, the rank of each place.
    of_places: Vec<Vec<u32>>,
}

impl<'a> Ranks<'a> {
    fn of(shops: &[Rows<'a>], codes: impl Fn(&Rows<'a>) -> &'a [u32]) -> Self {
        let text = |rows: &Rows<'a>, code: u32| rows.history.text(code).unwrap_or_default();
        let seen = shops.iter().flat_map(|rows| codes(rows).iter().map(|code| text(rows, *code)));
        let texts: Vec<&str> = seen.collect::<BTreeSet<_>>().into_iter().collect();
        let rank = |text: &str| {
            texts.binary_search(&text).ok().and_then(|at| u32::try_from(at).ok()).unwrap_or(NONE)
        };
        let of_shop =
            |rows: &Rows<'a>| codes(rows).iter().map(|code| rank(text(rows, *code))).collect();
        let of_places = shops.iter().map(of_shop).collect();
        Self { texts, of_places }
    }

    fn text(&self, rank: u32) -> &'a str {
        self.texts.get(rank as usize).copied().unwrap_or_default()
    }

    fn rank(&self, shop: usize, place: u32) -> u32 {
        self.of_places
            .get(shop)
            .and_then(|ranks| ranks.get(place as usize))
            .copied()
            .unwrap_or(NONE)
    }
}

/// Symptoms with an order of checks, each once.
pub(super) struct PooledOrders<'a> {
    symptoms: Ranks<'a>,
    checks: Ranks<'a>,
    /// Rank of the symptom and ranks of the checks.
    orders: Lists,
    /// Where each stands.
    stands: Vec<Stands>,
}

impl<'a> PooledOrders<'a> {
    pub fn of(shops: &[Rows<'a>]) -> Self {
        let mut pooled = Self {
            symptoms: Ranks::of(shops, |rows| rows.entry.symptoms.seen()),
            checks: Ranks::of(shops, |rows| rows.entry.checks.seen()),
            orders: Lists::default(),
            stands: Vec::new(),
        };
        let mut key = Vec::new();
        for (shop, rows) in shops.iter().enumerate() {
            for (place, order) in rows.entry.orders.iter() {
                key.clear();
                key.extend(order.first().map(|symptom| pooled.symptoms.rank(shop, *symptom)));
                key.extend(order.iter().skip(1).map(|check| pooled.checks.rank(shop, *check)));
                let at = pooled.orders.of(&key) as usize;
                if at == pooled.stands.len() {
                    pooled.stands.push(Stands::new());
                }
                if let Some(stands) = pooled.stands.get_mut(at) {
                    stands.push((shop, place));
                }
            }
        }
        pooled
    }

    /// Symptom, checks and where they stand, in the order of their texts.
    pub fn iter(&self) -> impl Iterator<Item = (&'a str, Vec<&'a str>, &Stands)> {
        let mut orders: Vec<(&[u32], &Stands)> =
            self.orders.iter().map(|(_, order)| order).zip(&self.stands).collect();
        orders.sort_unstable_by_key(|(order, _)| *order);
        orders.into_iter().map(|(order, stands)| {
            let symptom = order.first().map_or("", |symptom| self.symptoms.text(*symptom));
            let checks = order.iter().skip(1).map(|check| self.checks.text(*check)).collect();
            (symptom, checks, stands)
        })
    }
}
