//! Seeded chance. Every part of the generator has a stream of its own, so that
//! a change in one part leaves the others as they were.

use rand::{Rng, SeedableRng, seq::SliceRandom};
use rand_chacha::ChaCha8Rng;

/// A stream of seeded chance.
pub(super) struct Dice(ChaCha8Rng);

impl Dice {
    /// The stream of that number under a seed.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Self(rng)
    }

    /// A whole number from `low` to `high`, both included.
    pub fn between(&mut self, low: i32, high: i32) -> i32 {
        self.0.random_range(low..=high.max(low))
    }

    /// A place in a list of `len`; 0 where it is empty.
    pub fn place(&mut self, len: usize) -> usize {
        if len == 0 { 0 } else { self.0.random_range(0..len) }
    }

    /// True that many times in a hundred.
    pub fn percent(&mut self, share: u32) -> bool {
        self.0.random_range(0..100) < share
    }

    /// One of a list.
    pub fn pick<'a, T>(&mut self, list: &'a [T]) -> Option<&'a T> {
        let place = self.place(list.len());
        list.get(place)
    }

    /// One of a list, by weight.
    pub fn weighted<T>(&mut self, list: impl IntoIterator<Item = (u32, T)>) -> Option<T> {
        let list: Vec<(u32, T)> = list.into_iter().collect();
        let total: u32 = list.iter().map(|(weight, _)| weight).sum();
        if total == 0 {
            return None;
        }
        let mut left = self.0.random_range(0..total);
        for (weight, item) in list {
            if left < weight {
                return Some(item);
            }
            left -= weight;
        }
        None
    }

    /// Brings a list into chance order.
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        list.shuffle(&mut self.0);
    }

    /// `minutes` give or take 15 %, at least 2; 0 stays 0.
    pub fn about(&mut self, minutes: i32) -> i32 {
        if minutes == 0 {
            return 0;
        }
        let hundredths = minutes * self.between(85, 115);
        ((hundredths + 50) / 100).max(2)
    }

    /// Places of `count` things over slots by weight, evenly but not regularly;
    /// in ascending order.
    pub fn spread(&mut self, count: usize, weights: &[u32]) -> Vec<usize> {
        let total: u64 = weights.iter().copied().map(u64::from).sum();
        let steps = (count as u64).max(1) * 1000;
        (0..count as u64)
            .map(|i| {
                let at = (i * 1000 + self.0.random_range(0..1000)) * total;
                let mut reached = 0;
                weights
                    .iter()
                    .position(|weight| {
                        reached += u64::from(*weight) * steps;
                        at < reached
                    })
                    .unwrap_or(0)
            })
            .collect()
    }
}
