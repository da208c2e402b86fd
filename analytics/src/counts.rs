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
        // Sorting once is quicker than a tree lookup for each of a million.
        facts.sort_unstable();
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

    /// Facts and their counts, ascending.
    pub fn iter(&self) -> impl Iterator<Item = (K, i64)> + '_ {
        self.0.iter().copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
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
