//! Groups as small integers, in the order of first sight.

use std::borrow::Borrow;
use std::collections::HashMap;
use std::hash::Hash;

use crate::history::NONE;

/// What has been seen, each thing once, with its place.
#[derive(Debug, Clone)]
pub(in crate::standing) struct Places<K> {
    places: HashMap<K, u32>,
    seen: Vec<K>,
}

impl<K> Default for Places<K> {
    fn default() -> Self {
        Self { places: HashMap::new(), seen: Vec::new() }
    }
}

impl<K: Hash + Eq + Clone> Places<K> {
    /// The place of a thing, given where it has none yet.
    pub fn of(&mut self, thing: K) -> u32 {
        match self.places.get(&thing) {
            Some(place) => *place,
            None => self.give(thing),
        }
    }

    /// What has been seen, by place.
    pub fn seen(&self) -> &[K] {
        &self.seen
    }

    fn give(&mut self, thing: K) -> u32 {
        // No history has as many rows, let alone as many groups of them.
        let place = u32::try_from(self.seen.len()).unwrap_or(NONE);
        self.seen.push(thing.clone());
        self.places.insert(thing, place);
        place
    }
}

impl Places<Box<[u32]>> {
    /// The same, where the thing is at hand as a slice.
    pub fn of_slice(&mut self, thing: &[u32]) -> u32 {
        match self.places.get(Borrow::<[u32]>::borrow(&thing)) {
            Some(place) => *place,
            None => self.give(thing.into()),
        }
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
