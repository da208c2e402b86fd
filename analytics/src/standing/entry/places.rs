//! Groups as small integers, in the order of first sight.

use std::hash::{BuildHasher, Hash, RandomState};

use crate::hashed::HashMap;
use crate::history::NONE;

/// What has been seen, each thing once, with its place.
#[derive(Debug, Clone)]
pub(in crate::standing) struct Places<K> {
    places: HashMap<K, u32>,
    seen: Vec<K>,
}

impl<K> Default for Places<K> {
    fn default() -> Self {
        Self { places: HashMap::default(), seen: Vec::new() }
    }
}

impl<K: Hash + Eq + Clone> Places<K> {
    /// The place of a thing, given where it has none yet.
    pub fn of(&mut self, thing: K) -> u32 {
        if let Some(place) = self.places.get(&thing) {
            return *place;
        }
        let place = next_place(self.seen.len());
        self.seen.push(thing.clone());
        self.places.insert(thing, place);
        place
    }

    /// What has been seen, by place.
    pub fn seen(&self) -> &[K] {
        &self.seen
    }
}

/// No history has as many rows, let alone as many groups of them.
fn next_place(seen: usize) -> u32 {
    u32::try_from(seen).unwrap_or(NONE)
}

/// Lists of places, each once: they may be nearly as many as there are jobs, so that
/// all stand in one column.
#[derive(Debug, Clone, Default)]
pub(in crate::standing) struct Lists {
    numbers: Vec<u32>,
    /// Where the numbers of each list end.
    ends: Vec<usize>,
    hasher: RandomState,
    /// By hash, the list seen last.
    last: HashMap<u64, u32>,
    /// By place, the list of the same hash that was seen before.
    before: Vec<u32>,
}

impl Lists {
    /// The place of a list, given where it has none yet.
    pub fn of(&mut self, list: &[u32]) -> u32 {
        let hash = self.hasher.hash_one(list);
        let mut at = self.last.get(&hash).copied().unwrap_or(NONE);
        while at != NONE {
            if self.get(at) == list {
                return at;
            }
            at = self.before.get(at as usize).copied().unwrap_or(NONE);
        }
        let place = next_place(self.ends.len());
        self.numbers.extend_from_slice(list);
        self.ends.push(self.numbers.len());
        self.before.push(self.last.insert(hash, place).unwrap_or(NONE));
        place
    }

    /// How many have been seen.
    pub const fn len(&self) -> usize {
        self.ends.len()
    }

    /// The list of a place.
    pub fn get(&self, place: u32) -> &[u32] {
        let at = place as usize;
        let start = at.checked_sub(1).map_or(Some(0), |before| self.ends.get(before).copied());
        let range = start.zip(self.ends.get(at).copied()).map(|(start, end)| start..end);
        range.and_then(|range| self.numbers.get(range)).unwrap_or_default()
    }

    /// All of them, by place.
    pub fn iter(&self) -> impl Iterator<Item = (u32, &[u32])> {
        (0_u32..).take(self.len()).map(|place| (place, self.get(place)))
    }
}

/// A column from a row on.
pub(super) fn tail<T>(column: &[T], from: usize) -> &[T] {
    column.get(from..).unwrap_or_default()
}

/// Writes over one row of a column.
pub(super) fn set<T>(column: &mut [T], row: u32, value: T) {
    if let Some(slot) = column.get_mut(row as usize) {
        *slot = value;
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn a_list_keeps_its_place(
            lists in proptest::collection::vec(proptest::collection::vec(0_u32..3, 0..4), 0..80),
        ) {
            let (mut seen, mut places) = (Lists::default(), BTreeMap::new());
            for list in &lists {
                let next = u32::try_from(places.len()).unwrap();
                let expected = *places.entry(list.clone()).or_insert(next);
                prop_assert_eq!(seen.of(list), expected);
                prop_assert_eq!(seen.get(expected), list.as_slice());
            }
            let all: BTreeMap<Vec<u32>, u32> =
                seen.iter().map(|(place, list)| (list.to_vec(), place)).collect();
            prop_assert_eq!(all, places);
        }
    }
}
