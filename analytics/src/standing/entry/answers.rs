//! Who answers for a comeback: whoever answers for the first job of its chain.

use super::Linked;
use crate::hashed::HashMap;
use crate::history::NONE;

/// Who answers for each job that is the repair of a comeback. `own` has by row who
/// answers for the job itself, or, before the rows that the links lead from, for the
/// first job of its chain. Links stand in the order of the later row, each once. A ring has no first job; the row stands for it at which
/// the ring is closed.
pub(super) fn answering(own: &[u32], links: &[Linked]) -> Vec<(u32, u32)> {
    let of = |row: u32| own.get(row as usize).copied().unwrap_or(NONE);
    let earlier = |row: u32| {
        let at = links.binary_search_by_key(&row, |link| link.later).ok()?;
        links.get(at).map(|link| link.earlier)
    };
    // Every row is walked once: what a way has reached is known to the next.
    let mut known: HashMap<u32, u32> =
        HashMap::with_capacity_and_hasher(links.len(), crate::hashed::Hasher::default());
    let mut way = Vec::new();
    for link in links {
        let mut at = link.later;
        let answers = loop {
            if let Some(answers) = known.get(&at) {
                break *answers;
            }
            match earlier(at) {
                Some(before) => {
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
    links.iter().filter_map(|link| Some((link.later, *known.get(&link.later)?))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn answers(own: &[u32], links: &[(u32, u32)]) -> Vec<(u32, u32)> {
        let links: Vec<Linked> =
            links.iter().map(|&(later, earlier)| Linked { later, earlier }).collect();
        answering(own, &links)
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
