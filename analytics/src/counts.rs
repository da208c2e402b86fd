//! How often each fact occurs: the form in which a tally keeps its cases.

/// Facts in ascending order, each once, with its count. Counts add up, so a
/// tally of two shops is the sum of theirs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Counts<K>(Vec<(K, i64)>);

impl<K> Default for Counts<K> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<K: Ord + Copy> Counts<K> {
    /// Counts single facts, in any order.
    pub fn of(mut facts: Vec<K>) -> Self {
        // Ordering once is quicker than a tree lookup for each of a million.
        order(&mut facts);
        let mut counts: Vec<(K, i64)> = Vec::new();
        for fact in facts {
            match counts.last_mut() {
                Some((last, count)) if *last == fact => *count += 1,
                _ => counts.push((fact, 1)),
            }
        }
        Self(counts)
    }

    /// Adds another tally's counts.
    pub fn add(&mut self, other: &Self) {
        let mut merged: Vec<(K, i64)> = Vec::with_capacity(self.0.len() + other.0.len());
        let (mut ours, mut theirs) = (self.0.iter().peekable(), other.0.iter().peekable());
        while let Some(&&next) = match (ours.peek(), theirs.peek()) {
            (Some(a), Some(b)) if b.0 < a.0 => theirs.peek(),
            (Some(_), _) => ours.peek(),
            (None, _) => theirs.peek(),
        } {
            let mut count = 0;
            for side in [&mut ours, &mut theirs] {
                count += side.next_if(|entry| entry.0 == next.0).map_or(0, |entry| entry.1);
            }
            merged.push((next.0, count));
        }
        self.0 = merged;
    }

    /// The facts of a stretch of days, where days are what facts are ordered by.
    pub fn between(&self, day: impl Fn(&K) -> i32, (first, last): (i32, i32)) -> Self {
        let start = self.0.partition_point(|(fact, _)| day(fact) < first);
        let end = self.0.partition_point(|(fact, _)| day(fact) <= last);
        Self(self.0.get(start..end).unwrap_or_default().to_vec())
    }

    /// Facts and their counts, ascending.
    pub fn iter(&self) -> impl Iterator<Item = (K, i64)> + '_ {
        self.0.iter().copied()
    }
}

/// Sorts. Facts of jobs come in the order of closing, so that most are a few places
/// from their own: moving each back is then quicker than any sort. Where they are
/// farther off it is left after some moves for each.
fn order<K: Ord>(facts: &mut [K]) {
    let mut moves = 8 * facts.len();
    for at in 1..facts.len() {
        let mut place = at;
        while place > 0 && facts.get(place - 1) > facts.get(place) {
            if moves == 0 {
                facts.sort_unstable();
                return;
            }
            facts.swap(place - 1, place);
            (place, moves) = (place - 1, moves - 1);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Held against the library's, for facts nearly in order and in none.
        #[test]
        fn facts_are_put_in_order(
            mut facts in proptest::collection::vec((0_i32..400, 0_i32..4), 0..200),
            nearly in any::<bool>(),
        ) {
            if nearly {
                facts.sort_by_key(|fact| fact.0);
            }
            let mut sorted = facts.clone();
            sorted.sort_unstable();
            order(&mut facts);
            prop_assert_eq!(facts, sorted);
        }

        #[test]
        fn counts_of_parts_add_to_the_whole(
            facts in proptest::collection::vec((0_i32..6, 0_i32..4), 0..60),
            cut in 0_usize..60,
        ) {
            let cut = cut.min(facts.len());
            let mut added = Counts::of(facts[cut..].to_vec());
            added.add(&Counts::of(facts[..cut].to_vec()));
            let whole = Counts::of(facts.clone());
            prop_assert_eq!(&added, &whole);
            let total: i64 = whole.iter().map(|(_, count)| count).sum();
            prop_assert_eq!(total as usize, facts.len());
        }
    }
}
