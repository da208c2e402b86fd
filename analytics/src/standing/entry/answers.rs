//! Who answers for a comeback: whoever answers for the first job of its chain.

use std::collections::{BTreeMap, HashMap};

use crate::history::NONE;

/// Who answers for each job that is the repair of a comeback. `own` has by row who
/// answers for the job itself, or, before the rows that `earlier` leads from, for the
/// first job of its chain. A ring has no first job; the row stands for it at which
/// the ring is closed.
pub(super) fn answering(own: &[u32], earlier: &BTreeMap<u32, u32>) -> Vec<(u32, u32)> {
    let of = |row: u32| own.get(row as usize).copied().unwrap_or(NONE);
    // Every row is walked once: what a way has reached is known to the next.
    let mut known: HashMap<u32, u32> = HashMap::with_capacity(earlier.len());
    let mut way = Vec::new();
    for &row in earlier.keys() {
        let mut at = row;
        let answers = loop {
            if let Some(answers) = known.get(&at) {
                break *answers;
            }
            match earlier.get(&at) {
                Some(&before) => {
                    // Until it is known where the way begins, it leads to itself.
                    known.insert(at, of(at));
                    way.push(at);
                    at = before;
                }
                None => break of(at),
            }
        };
        for passed in way.drain(..) {
            known.insert(passed, answers);
        }
    }
    earlier.keys().filter_map(|row| Some((*row, *known.get(row)?))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answers(own: &[u32], links: &[(u32, u32)]) -> Vec<(u32, u32)> {
        answering(own, &links.iter().copied().collect())
    }

    #[test]
    fn a_chain_is_answered_for_by_its_first_job() {
        // 0 <- 2 <- 3 and 0 <- 4; 6 leads to a row that is not there.
        let links = [(2, 0), (3, 2), (4, 0), (6, 99)];
        let expected = [(2, 10), (3, 10), (4, 10), (6, NONE)];
        assert_eq!(answers(&[10, 11, 12, 13, 14, 15, 16], &links), expected);
    }

    #[test]
    fn a_ring_ends() {
        // 1 -> 2 -> 3 -> 1, and 0 and 4 lead into it.
        let rows = answers(&[10, 11, 12, 13, 14], &[(0, 1), (1, 2), (2, 3), (3, 1), (4, 2)]);
        assert!(rows.iter().all(|(_, answers)| *answers == 11), "{rows:?}");
    }
}
